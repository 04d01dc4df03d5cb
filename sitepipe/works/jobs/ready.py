"""Which jobs are ready on a day: what comes before is done, the crew is large enough, and there is time."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from sitepipe.works.jobs.record import Job, Task

PAIR = 2
"""Two hold the tapes, two set a post: a job listed for two is none for one."""


class Waits(StrEnum):
    """Why a job is not for today."""

    FOR_OTHERS = "for other jobs"
    FOR_A_WET_SPELL = "for a wet spell"
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
        Months (1 to 12) in which the ground is wet: only then is there a wet spell to look again after.

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
        reason = _reason_to_wait(job, over, people, is_wet)
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


def _reason_to_wait(job: Job, over: Collection[int], people: int, is_wet: bool) -> Waits | None:
    if not set(job.after) <= set(over):
        return Waits.FOR_OTHERS
    if job.task is Task.LOOK_AGAIN and not is_wet:
        return Waits.FOR_A_WET_SPELL
    return Waits.FOR_TWO if people < PAIR == job.people else None
