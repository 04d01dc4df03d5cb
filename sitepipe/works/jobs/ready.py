"""Which jobs are ready on a day: what comes before is done, season, ground and crew fit, and there is time.

``mapping/assets/ready.js`` says the same on the page, and a test holds both to one answer.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sitepipe.works.jobs.record import Job, Task


class Waits(StrEnum):
    """Why a job is not for today."""

    FOR_THE_PLAN = "for a plan that keeps its water"
    FOR_OTHERS = "for other jobs"
    FOR_ITS_MONTHS = "for its months"
    FOR_DRY_GROUND = "for dry ground"
    FOR_TWO = "for two people"
    FOR_TIME = "for another day"


@dataclass(frozen=True, slots=True)
class Share:
    """A job of today, and the hours of work that the day has for it; fewer where it goes on later. [h]."""

    job: Job
    people_hours: float

    @property
    def is_finished(self) -> bool:
        """Whether the day has time for all of it."""
        return self.people_hours >= self.job.people_hours - 1e-9


@dataclass(frozen=True, slots=True)
class Day:
    """What a crew does on a day, in order, and why each other job is not for that day."""

    on: date
    people: int
    hours: float
    is_wet: bool
    shares: tuple[Share, ...]
    waiting: tuple[tuple[Job, Waits], ...]


def jobs_of_day(
    jobs: Sequence[Job], on: date, crew: tuple[int, float], done: Collection[int], wet_months: Collection[int]
) -> Day:
    """Choose the jobs of a day, in the order of the plan.

    Parameters
    ----------
    jobs : sequence of Job
    on : date
    crew : (people, hours)
        How many come, and for how long. [h]
    done : collection of int
        Numbers of the jobs that are ticked.
    wet_months : collection of int
        Months (1 to 12) in which the ground is wet, and soft ground does not bear.

    Returns
    -------
    Day
        A job finished today lets the next begin, but one that asks others does not: they take days to answer. The last
        job is begun even if the day is too short for it.
    """
    people, hours = crew
    is_wet = on.month in wet_months
    left, over = people * hours, set(done)
    shares: list[Share] = []
    waiting: list[tuple[Job, Waits]] = []
    for job in jobs:
        if job.number in over:
            continue
        reason = _reason_to_wait(job, over, people, on.month, is_wet)
        if reason is None and left <= 0.0:
            reason = Waits.FOR_TIME
        if reason is not None:
            waiting.append((job, reason))
            continue
        share = Share(job, min(left, job.people_hours))
        left -= share.people_hours
        shares.append(share)
        if share.is_finished and job.task is not Task.ASK:
            over.add(job.number)
    return Day(on, people, hours, is_wet, tuple(shares), tuple(waiting))


def _reason_to_wait(job: Job, over: Collection[int], people: int, month: int, is_wet: bool) -> Waits | None:
    reasons = (
        (Waits.FOR_THE_PLAN, job.is_held),
        (Waits.FOR_OTHERS, not set(job.after) <= set(over)),
        (Waits.FOR_ITS_MONTHS, bool(job.months) and month not in job.months),
        (Waits.FOR_DRY_GROUND, job.is_soft and is_wet),
        (Waits.FOR_TWO, people < job.least_people),
    )
    return next((reason for reason, holds in reasons if holds), None)
