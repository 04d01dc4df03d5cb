"""What is told of one parcel among many, taken from its summary, and the sentences of the region's page."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from sitepipe.answers.names import count, tame
from sitepipe.fields import CubicMetres, Data, HoursADay, Key, SquareMetres
from sitepipe.saying import say_area, say_hours
from sitepipe.units import Units


class State(StrEnum):
    """How a parcel fared."""

    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class ParcelAnswer:
    """One row over all parcels; where a parcel failed its numbers are unknown and ``reason`` says why.

    Parameters
    ----------
    wet_share : float or None
        Share of the parcel that is soft or flooded. [1]
    standing : float or None
        Where water likely stands after the larger storm. [m2]
    chance : float or None
        Of water in the likeliest of those places. [1]
    sun : float or None
        Season's mean. [h/day]
    mound_ground : float or None
        Ground for mounds. [m2]
    material : float or None
        That the plan takes in all. [m3]
    stop : str
        What must be cleared up before anything is begun.
    cautions : tuple of str
        Their topics.
    page : str
        Of the parcel, from the region's own; empty where there is none.
    """

    key: str
    state: State
    reason: str = ""
    area: SquareMetres | None = None
    wet_share: float | None = None
    standing: Annotated[SquareMetres | None, Key("standing_water")] = None
    chance: Annotated[float | None, Key("chance_of_standing_water")] = None
    sun: HoursADay | None = None
    mound_ground: SquareMetres | None = None
    material: CubicMetres | None = None
    stop: str = ""
    cautions: tuple[str, ...] = ()
    least_sure: str = ""
    page: str = ""


def answer_of(key: str, summary: Data, page: str) -> ParcelAnswer:
    """Return the row of a parcel from its ``summary.json``."""
    area = summary["site"]["parcel_area_m2"]
    places = summary["water"]["soggiest_places"]
    flooded = [place for place in places if place["depth_m"] is not None]
    return ParcelAnswer(
        key=key,
        state=State.DONE,
        area=area,
        wet_share=round(min(sum(place["area_m2"] for place in places) / area, 1.0), 4),
        standing=round(sum(place["area_m2"] for place in flooded) + 0.0, 4),
        chance=max((place["probability"] for place in flooded), default=0.0),
        sun=summary["sun"]["season_mean_h_per_day"],
        mound_ground=round(sum(zone["area_m2"] for zone in summary["zones"] if zone["use"] == "mound") + 0.0, 4),
        material=round(sum(quantity["volume_m3"] for quantity in summary["works"]["quantities"]) + 0.0, 4),
        stop=" ".join(caution["text"] for caution in summary["cautions"] if caution["is_stop"]),
        cautions=tuple(dict.fromkeys(caution["topic"] for caution in summary["cautions"])),
        least_sure=summary["least_sure"],
        page=page,
    )


@dataclass(frozen=True, slots=True)
class Question:
    """One question over all parcels: the sort of the page.

    Parameters
    ----------
    name : str
        Of the figure in a ``ParcelAnswer``.
    is_more_better : bool
    legend : str
        What the dots show.
    breaks : tuple of float
        From the best class down: a value at least (or, where less is better, at most) as good is of that class.
    classes : tuple of str
        One more than the breaks.
    """

    name: str
    asked: str
    is_more_better: bool
    legend: str
    words: str
    breaks: tuple[float, ...]
    classes: tuple[str, ...]


def questions(units: Units) -> tuple[Question, ...]:
    """Return what is asked of all parcels."""
    rooms = (200.0, 100.0, 40.0)
    said = [say_area(room, units) for room in rooms]
    tenths = "in 10"
    return (
        Question(
            "wet_share",
            "Where is the ground least wet?",
            False,
            "Of each parcel soft or flooded",
            "soft or flooded",
            (0.05, 0.2, 0.5),
            (f"½ {tenths} or less", f"up to 2 {tenths}", f"up to 5 {tenths}", "more"),
        ),
        Question(
            "sun",
            "Where is the most sun?",
            True,
            "Hours of sun a day in the season",
            "of sun",
            (8.0, 6.0, 4.0),
            ("8 or more", "6 to 8", "4 to 6", "under 4"),
        ),
        Question(
            "mound_ground",
            "Where is room for mounds?",
            True,
            "Ground for mounds",
            "for mounds",
            rooms,
            (f"{said[0]} or more", f"{said[1]} or more", f"{said[2]} or more", "less"),
        ),
    )


def say_figure(name: str, value: float | None, units: Units) -> str:
    """Say a figure of a parcel."""
    if value is None:
        return "not known"
    if name == "wet_share":
        tenths = value * 10.0
        return f"{tenths:.0f}\u00a0in\u00a010" if tenths >= 0.95 or value == 0.0 else "under\u00a01\u00a0in\u00a010"
    if name == "sun":
        return say_hours(value)
    return say_area(value, units)


def best(answers: Sequence[ParcelAnswer], question: Question, units: Units) -> str:
    """Say which parcel answers a question best, and how many have no answer."""
    known = [answer for answer in answers if getattr(answer, question.name) is not None]
    failed = sum(answer.state is State.FAILED for answer in answers)
    unread = f" {count(failed, 'parcel').capitalize()} could not be worked out." if failed else ""
    if not known:
        return f"No parcel has an answer.{unread}"
    sign = -1.0 if question.is_more_better else 1.0
    first = min(known, key=lambda answer: sign * getattr(answer, question.name))
    figure = say_figure(question.name, getattr(first, question.name), units)
    return f"Best at {tame(first.key)}: {figure} {question.words}.{unread}"


def rate(done: int, failed: int, of: int, seconds: float) -> str:
    """Say how far a region is, how fast it goes, and how long it will take."""
    told = f"{done + failed:,} of {of:,} parcels"
    if failed:
        told += f", {failed:,} failed"
    if seconds <= 0.0 or done + failed == 0:
        return told
    a_minute = 60.0 * (done + failed) / seconds
    left = (of - done - failed) / a_minute
    speed = f"{a_minute:,.0f} a minute" if a_minute >= 10 else f"{a_minute:.1f} a minute"
    return f"{told}; {speed}; {say_wait(60.0 * left)} left"


def say_wait(seconds: float) -> str:
    """Say a length of time roughly."""
    if seconds < 90.0:
        return f"{seconds:.0f} seconds"
    return f"{seconds / 60.0:.0f} minutes" if seconds < 5400.0 else f"{seconds / 3600.0:.1f} hours"


def say_size(size: float) -> str:
    """Say a size of memory or of files.

    Examples
    --------
    >>> say_size(3.2e9), say_size(7.4e8)
    ('3.2 GB', '740 MB')
    """
    return f"{size / 1e9:,.1f} GB" if size >= 1e9 else f"{size / 1e6:,.0f} MB"
