"""What do I do today? Jobs in order, with what to keep off."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from typing import Any

from shapely import union_all

from sitepipe.answers.cautions import by_hand
from sitepipe.answers.jobs import say_job
from sitepipe.answers.names import capital, count, ended, joined
from sitepipe.answers.today import NO_MARK, STOP, WAITS, stops, wet_month
from sitepipe.answers.where import from_standpoint
from sitepipe.answers.works import DAY
from sitepipe.mapping.frame import smooth_area
from sitepipe.mapping.marks import Drawn, ring_size
from sitepipe.mapping.parts import DIG_CAUTION, near_part
from sitepipe.mapping.standing import buried_lines, fixed_points
from sitepipe.mapping.structures import path_marks
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.mapping.water import shores
from sitepipe.saying import say_work
from sitepipe.site import Kind
from sitepipe.works.jobs.record import Job, Task

SOFT_RIM = 1.0
"""Ground this far around standing water is soft too. [m]; common practice, no source."""
MOST_SAID = 120
"""A longer first sentence of a job waits for its card. [characters]"""
LEAST_SOFT, LEAST_SOFT_SHARE = 5.0, 1.0 / 800.0
"""A smaller soft place is not drawn: least area [m2], and least share of the parcel."""


def today_view(desk: Desk) -> View:
    """Draw the jobs and the ground to keep off."""
    plan = desk.analysis.plan
    view = View("Today", "What do I do today?", _answer(desk), "Tick what is done; ticks stay on this device")
    view.add_legend("job", "Job of the day")
    soaked = [place.outline for place in desk.analysis.wetness.soggy_places]
    soft = smooth_area(union_all([shores(desk)["stands-5"].buffer(SOFT_RIM), *soaked]), 0.1)
    soft = soft.intersection(desk.analysis.site.parcel)
    least = max(LEAST_SOFT, LEAST_SOFT_SHARE * desk.analysis.site.parcel.area)
    areas = [area for area in desk.frame.areas(soft) if ring_size(area[0]) >= least]
    if areas:
        view.marks.append(Drawn("soft-ground", area=areas, thing="soft"))
        view.cards["soft"] = _soft_card()
    view.marks += [replace(mark, thing="") for mark in path_marks(desk)]
    first = set(plan.years[0].builds) if plan.years else {mound.number for mound in plan.mounds}
    view.marks += [
        Drawn("stake-out", area=desk.frame.areas(mound.outline)) for mound in plan.mounds if mound.number in first
    ]
    view.marks += [*buried_lines(desk), *fixed_points(desk)]
    view.add_legend_of_drawn(
        (
            ("path", "Walk here"),
            ("stake-out", "Stake out"),
            ("soft-ground", "Soft: keep off"),
            ("buried", "Pipe: don’t dig"),
        )
    )
    for job in plan.jobs:
        _add_job(view, desk, job)
    view.day = _day(desk)
    view.caution = _caution(desk)
    return view


def _answer(desk: Desk) -> str:
    jobs = desk.analysis.plan.jobs
    if not jobs:
        return "No jobs are planned. Watch where water stands after rain, and note it."
    has_soft = bool(desk.analysis.wetness.soggy_places) or not shores(desk)["stands-5"].is_empty
    return "Keep off the hatched ground: it is soft." if has_soft else ""


def _day(desk: Desk) -> dict[str, Any] | None:
    """Return what the page chooses the jobs of a day by, as ``works/jobs/ready.py`` does; None without jobs."""
    analysis, settings = desk.analysis, desk.analysis.settings
    wet = sorted(settings.water_table.wet_at(analysis.site.latitude))
    jobs = [
        {
            "number": job.number,
            "hours": job.people_hours,
            "after": job.after,
            "months": job.months,
            "least_people": job.least_people,
            "is_soft": job.is_soft,
            "is_held": job.is_held,
            "asks": job.task is Task.ASK,
            "digs": job.digs,
            "tools": say_job(job, analysis).tools,
        }
        for job in analysis.plan.jobs
    ]
    return (
        {
            "people": settings.jobs.people,
            "hours": DAY,
            "wet": wet,
            "wet_said": {month: wet_month(month) for month in wet},
            "waits": {reason.value: words for reason, words in WAITS.items()},
            "marks": NO_MARK,
            "stop": STOP,
            "stops": stops(analysis),
            "jobs": jobs,
        }
        if jobs
        else None
    )


def _soft_card() -> Card:
    return Card(
        "Soft ground: keep off",
        caution="Barrows and boots press wet soil shut, and it stays shut for years. Go round.",
        parts=(
            Part("Why.", "Water is likely to stand here after rain, or the ground stays soaked."),
            Part(
                "How sure.",
                strokes=(
                    (
                        "dashes",
                        "Worked out: standing water with its rim, and the wettest ground",
                    ),
                ),
            ),
        ),
    )


def _add_job(view: View, desk: Desk, job: Job) -> None:
    thing = f"job-{job.number}"
    who = "one person" if job.people == 1 else count(job.people, "person", "people")
    words = say_job(job, desk.analysis)
    each = job.people_hours / max(job.people, 1)
    dig = " After the marks." if job.digs else ""
    rest = f"{_first_words(words.detail)} {capital(say_work(job.people_hours))} of work, best by {who}.{dig}".strip()
    named = f"{desk.analysis.site.name}|{job.task}|{'|'.join(f'{thing.kind} {thing.number}' for thing in job.things)}"
    key = hashlib.sha256(named.encode()).hexdigest()[:12]
    view.places.append(Place(thing, job.place, 0.0, "jobs", f"{words.title}.", rest, key))
    parts = [Part("How.", words.detail), Part("Bring.", f"{capital(joined(words.tools))}.")]
    if words.quantity:
        parts.append(Part("How much.", ended(capital(words.quantity))))
    parts += near_part(desk, *job.things)
    parts.append(Part("How sure.", strokes=(("dots", "Hours are a rule of thumb"),)))
    where = from_standpoint(desk.analysis.site, job.place, desk.units) if job.place is not None else ""
    view.cards[thing] = Card(
        words.title,
        where,
        (("Takes", say_work(each)), ("People", str(job.people)), ("Work in all", say_work(job.people_hours))),
        None,
        words.caution,
        tuple(parts),
    )


def _first_words(detail: str) -> str:
    """Return the first sentence of a job, if a list has room for it; the card says all."""
    first = re.split(r"(?<=[.!?])\s", detail)[0]
    return first if len(first) <= MOST_SAID else ""


def _caution(desk: Desk) -> str:
    said = [DIG_CAUTION]
    if desk.analysis.site.of_kind(Kind.BURIED_LINE):
        said.append(f"Buried lines are drawn from memory: have them marked, and {by_hand(desk.units)}.")
    return " ".join(said)
