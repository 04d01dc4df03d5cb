"""``sitepipe today`` from the command line, and what it says."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
from shapely import Point

from sitepipe.answers.brief import WIDTH, lines_of
from sitepipe.answers.today import title, today
from sitepipe.commands.today import job_numbers
from sitepipe.errors import SettingsError
from sitepipe.saying import NO_BREAK
from sitepipe.works.jobs.ready import jobs_of_day
from sitepipe.works.jobs.record import Task
from sitepipe.works.water.record import Rise, RisesAt
from tests.mapping.drawn_analysis import make_analysis

DRAWN = make_analysis()
ON = date(2027, 4, 10)


def test_the_day_is_named_and_every_ready_job_and_soft_place_is_said() -> None:
    day = jobs_of_day(DRAWN.plan.jobs, ON, (4, 5.0), (), (4,))
    # 10 April 2027 is a Saturday (a perpetual calendar).
    assert title(day).replace(NO_BREAK, " ") == "Saturday 10 April 2027, four people, 5 hours"
    passages = {passage.heading: passage.sentences for passage in today(DRAWN, day)}
    assert len(passages["Do"]) == len(day.shares) > 0
    assert len(passages["Keep off"]) == len(DRAWN.wetness.soggy_places)
    assert "April is a wet month" in passages["Before the first spade"][0]
    assert max(map(len, lines_of(today(DRAWN, day)))) <= WIDTH


def test_while_the_plan_sends_water_onto_others_it_says_why_and_only_what_is_safe_is_ready() -> None:
    rise = Rise(RisesAt.NEXT_DOOR, Point(1.0, 1.0), 0.05, 0.05, fails=True)
    impact = DRAWN.plan.impact
    assert impact is not None
    held = tuple(replace(job, is_held=job.task in (Task.LAY_PATHS, Task.BUILD_MOUND)) for job in DRAWN.plan.jobs)
    failing = replace(DRAWN, plan=replace(DRAWN.plan, impact=replace(impact, rises=(rise,)), jobs=held))
    day = jobs_of_day(held, ON, (4, 9.0), (1,), (4,))
    passages = {passage.heading: " ".join(passage.sentences) for passage in today(failing, day)}
    assert "Do not build it so" in passages["Stop first"]
    assert [share.job.task for share in day.shares] == [Task.STAKE, Task.LOOK_AGAIN]
    assert "this one sends its water onto others" in passages["Waits"]


@pytest.mark.parametrize(("text", "numbers"), [("", set()), ("3", {3}), ("1, 2,5", {1, 2, 5})])
def test_ticks_are_numbers_with_commas(text: str, numbers: set[int]) -> None:
    assert job_numbers(text) == numbers


@pytest.mark.parametrize("text", ["one", "1;2", "1-3"])
def test_other_ticks_are_refused(text: str) -> None:
    with pytest.raises(SettingsError, match="write the numbers of jobs with commas"):
        job_numbers(text)
