"""Which jobs a crew does on a day, on a list that is worked out by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from sitepipe.works.jobs.ready import Day, Waits, jobs_of_day
from sitepipe.works.jobs.record import Job, Task

APRIL, JULY = date(2027, 4, 10), date(2027, 7, 10)
WET = (11, 12, 1, 2, 3, 4, 5)


def job(number: int, hours: float, task: Task, after: tuple[int, ...] = (), least: int = 1) -> Job:
    return Job(task, None, 3, hours, number=number, after=after, least_people=least)


JOBS = (
    job(1, 1.0, Task.ASK),
    job(2, 6.0, Task.STAKE, (1,), least=2),
    job(3, 1.0, Task.TAKE_CHIPS),
    job(4, 8.0, Task.LAY_PATHS, (2, 3)),
    job(5, 10.0, Task.BUILD_MOUND, (2, 4)),
    job(6, 10.0, Task.BUILD_MOUND, (2, 4, 5)),
    replace(job(7, 2.0, Task.LOOK_AGAIN, (4, 5)), months=WET),
)


def told(day: Day) -> list[tuple[int, float]]:
    return [(share.job.number, share.people_hours) for share in day.shares]


def reasons(day: Day) -> dict[int, Waits]:
    return {waiting.number: reason for waiting, reason in day.waiting}


def test_before_anyone_has_asked_only_what_needs_no_answer_is_ready() -> None:
    day = jobs_of_day(JOBS, APRIL, (4, 5.0), (), WET)
    assert told(day) == [(1, 1.0), (3, 1.0)]
    assert set(reasons(day).values()) == {Waits.FOR_OTHERS}


def test_a_job_that_is_finished_lets_the_next_begin_and_the_last_is_shared_out() -> None:
    # Four for five hours are 20: stakes 6, chips 1, the path 8, and 5 of the mound's 10.
    day = jobs_of_day(JOBS, JULY, (4, 5.0), (1,), WET)
    assert told(day) == [(2, 6.0), (3, 1.0), (4, 8.0), (5, 5.0)]
    assert [share.is_finished for share in day.shares] == [True, True, True, False]
    assert reasons(day) == {6: Waits.FOR_OTHERS, 7: Waits.FOR_OTHERS}


def test_nothing_is_begun_when_the_day_is_over() -> None:
    day = jobs_of_day(JOBS, JULY, (1, 1.0), (1, 2, 4), WET)
    assert told(day) == [(3, 1.0)]
    assert reasons(day)[5] is Waits.FOR_TIME


@pytest.mark.parametrize(("on", "is_ready"), [(APRIL, True), (JULY, False)])
def test_one_looks_again_in_the_wet_months(on: date, is_ready: bool) -> None:
    day = jobs_of_day(JOBS, on, (4, 8.0), (1, 2, 3, 4, 5, 6), WET)
    assert told(day) == ([(7, 2.0)] if is_ready else [])
    assert is_ready or reasons(day) == {7: Waits.FOR_ITS_MONTHS}


def test_one_alone_stakes_nothing() -> None:
    assert reasons(jobs_of_day(JOBS, JULY, (1, 8.0), (1, 3), WET))[2] is Waits.FOR_TWO


def test_what_pushes_water_waits_for_another_plan_and_soft_ground_for_a_dry_month() -> None:
    held = [replace(one, is_held=one.number > 2) for one in JOBS]
    day = jobs_of_day(held, JULY, (4, 9.0), (1,), WET)
    assert told(day) == [(2, 6.0)]
    assert set(reasons(day).values()) == {Waits.FOR_THE_PLAN}
    soft = [replace(one, is_soft=one.number == 5) for one in JOBS]
    assert reasons(jobs_of_day(soft, APRIL, (4, 9.0), (1, 2, 3, 4), WET))[5] is Waits.FOR_DRY_GROUND
    assert 5 not in reasons(jobs_of_day(soft, JULY, (4, 9.0), (1, 2, 3, 4), WET))


def test_what_is_ticked_is_not_done_again() -> None:
    day = jobs_of_day(JOBS, JULY, (9, 9.0), tuple(range(1, 8)), WET)
    assert not day.shares
    assert not day.waiting
