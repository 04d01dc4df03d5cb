"""What to do on a day, in sentences: console and the printed sheet take them from here."""

from __future__ import annotations

import calendar

from sitepipe.analysis import Analysis
from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.hazards import near_work
from sitepipe.answers.jobs import say_job
from sitepipe.answers.names import capital, count, ended, joined
from sitepipe.answers.report import Passage
from sitepipe.answers.where import say_place
from sitepipe.saying import NO_BREAK, say_hours, say_work
from sitepipe.works.jobs.ready import Day, Share, Waits
from sitepipe.works.jobs.record import Job

WAITS = {
    Waits.FOR_THE_PLAN: "for another plan: this one sends its water onto others",
    Waits.FOR_OTHERS: "until what comes before is ticked",
    Waits.FOR_ITS_MONTHS: "until their months",
    Waits.FOR_DRY_GROUND: "until the ground is dry enough to bear",
    Waits.FOR_TWO: "until two can come",
    Waits.FOR_TIME: "for another day",
}
MOST_WAITING = 3
"""Waiting jobs that are named for each reason."""


def title(day: Day) -> str:
    """Say the day, the crew and the hours."""
    on = (
        f"{calendar.day_name[day.on.weekday()]} {day.on.day}{NO_BREAK}{calendar.month_name[day.on.month]} {day.on.year}"
    )
    return f"{on}, {count(day.people, 'person', 'people')}, {say_hours(day.hours)}"


def today(analysis: Analysis, day: Day) -> tuple[Passage, ...]:
    """Say what is done on a day, with what, where not to walk, and what waits for what."""
    passages = (
        Passage("Stop first", stops(analysis)),
        Passage("Do", tuple(said(share, analysis) for share in day.shares) or ("Nothing is ready today.",)),
        Passage("Bring", (f"{capital(joined(tools))}.",) if (tools := tools_of(day, analysis)) else ()),
        Passage("Walk", (_walk(analysis),)),
        Passage("Keep off", keep_off(analysis)),
        Passage("Waits", _waiting(day)),
        Passage("Before the first spade", (before_the_first_spade(day),)),
    )
    return tuple(passage for passage in passages if passage.sentences)


def said(share: Share, analysis: Analysis) -> str:
    """Say one job of the day: how much, how long, what it comes near to."""
    job = share.job
    begun = "" if share.is_finished else f", of {say_work(job.people_hours)}: go on with it another day"
    words = say_job(job, analysis)
    much = f" {ended(capital(words.quantity))}" if words.quantity else ""
    near = [capital(text) for thing in job.things for text in near_work(analysis, thing)]
    sentences = [
        f"{job.number}. {ended(words.title)}{much} {capital(say_work(share.people_hours))} of work{begun}.",
        *near,
    ]
    return " ".join(sentences)


def tools_of(day: Day, analysis: Analysis) -> list[str]:
    """Return what to bring, each tool once, in the order in which it is needed."""
    return list(dict.fromkeys(tool for share in day.shares for tool in say_job(share.job, analysis).tools))


def _walk(analysis: Analysis) -> str:
    if not analysis.plan.paths:
        return "On the firm ground from the gate; there is no path."
    return "On the paths, and where none is laid yet along their pegs; barrows nowhere else."


def stops(analysis: Analysis) -> tuple[str, ...]:
    """Return what must be cleared up before anything is begun."""
    return tuple(caution.text for caution in cautions_of(analysis) if caution.is_stop)


def keep_off(analysis: Analysis) -> tuple[str, ...]:
    """Name all soft ground, flooded or soaked: boots and barrows press it shut for years."""
    units = analysis.settings.units
    return tuple(f"{say_place(place, analysis.site, units)}." for place in analysis.wetness.soggy_places)


def _waiting(day: Day) -> tuple[str, ...]:
    told = []
    for reason, words in WAITS.items():
        jobs: list[Job] = [job for job, why in day.waiting if why is reason]
        if jobs:
            named = [f"{job.number}" for job in jobs[:MOST_WAITING]]
            more = f" and {len(jobs) - MOST_WAITING} more" if len(jobs) > MOST_WAITING else ""
            told.append(
                f"Job{'s' if len(jobs) > 1 else ''} {', '.join(named) if more else joined(named)}{more}: {words}."
            )
    return tuple(told)


NO_MARK = "No mark on the ground, no digging."
STOP = "Stop where a boot sinks an inch (2 to 3 cm); after rain carry nothing over the grass."


def wet_month(month: int) -> str:
    """Say what a wet month forbids."""
    return f"{calendar.month_name[month]} is a wet month: no truck and no laden barrow on ground that does not bear."


def before_the_first_spade(day: Day) -> str:
    """Say what holds before anyone digs, and when to stop."""
    marks = [NO_MARK] if any(share.job.digs for share in day.shares) else []
    wet = [wet_month(day.on.month)] if day.is_wet else []
    return " ".join([*marks, *wet, STOP])
