"""What one question of the page holds: marks, numbered places, a legend, an answer."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import Any

from shapely import Point

from sitepipe.analysis import Analysis
from sitepipe.mapping.frame import Frame
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.relief import DrawnGround
from sitepipe.units import Units

MOST_CLASSES = 8


@dataclass(frozen=True, slots=True)
class Part:
    """One paragraph of a card: a run-in head, and a sentence, strokes, or a table."""

    head: str
    text: str = ""
    strokes: tuple[tuple[str, str], ...] = ()
    table: tuple[tuple[str, ...], ...] = ()


@dataclass(frozen=True, slots=True)
class Card:
    """What is said of one thing, in the order in which it is read: numbers, section, caution, reasons.

    Parameters
    ----------
    numbers : tuple of (label, value)
        At most three.
    section : mapping or None
        A cross-section at true proportion, in m.
    """

    name: str
    where: str = ""
    numbers: tuple[tuple[str, str], ...] = ()
    section: dict[str, Any] | None = None
    caution: str = ""
    parts: tuple[Part, ...] = ()


@dataclass(frozen=True, slots=True)
class Place:
    """A numbered thing on the map and in the list.

    Parameters
    ----------
    anchor : point or None
        What the number stands at; None for a job without a place.
    reach : float
        Longest side of the thing: a ring sits on it only where that is long enough on the screen. [m]
    group : str
        Crowded places of one group share a bracketed ring.
    bold, rest : str
        The list entry, its first words bold.
    job : str
        Key under which a job is ticked off; empty for anything else.
    weight : int
        A phone's overview numbers the lightest first and leaves out what it has no room for.
    own : int
        The number that the thing has everywhere, on last year's print too; 0 for one that is only counted here.
    """

    thing: str
    anchor: Point | None
    reach: float
    group: str
    bold: str
    rest: str
    job: str = ""
    weight: int = 0
    own: int = 0


def rings_of(places: Sequence[Place]) -> list[int]:
    """Return the number in each place's ring: its own, else counted on from the highest that one has.

    Examples
    --------
    >>> places = [Place("", None, 0.0, "", "", "", own=own) for own in (1, 8, 0, 0)]
    >>> rings_of(places)
    [1, 8, 9, 10]
    """
    counted = itertools.count(1 + max((place.own for place in places), default=0))
    return [place.own or next(counted) for place in places]


@dataclass(slots=True)
class View:
    """One question with all that answers it; ``day`` is what the jobs of a day are chosen by."""

    word: str
    question: str
    answer: str
    caption: str
    legend: list[tuple[str, str]] = field(default_factory=list)
    marks: list[Drawn] = field(default_factory=list)
    places: list[Place] = field(default_factory=list)
    cards: dict[str, Card] = field(default_factory=dict)
    caution: str = ""
    quiet_ground: bool = False
    day: dict[str, Any] | None = None

    def add_legend(self, mark: str, text: str) -> None:
        """Add a class, if fewer than eight are there and this one is not."""
        if len(self.legend) < MOST_CLASSES and all(known != mark for known, _ in self.legend):
            self.legend.append((mark, text))

    def add_legend_of_drawn(self, classes: Iterable[tuple[str, str]]) -> None:
        """Add those of some classes that are drawn."""
        drawn = {one.mark for one in self.marks}
        for mark, text in classes:
            if mark in drawn:
                self.add_legend(mark, text)


@dataclass(frozen=True, slots=True)
class Desk:
    """What every view is drawn from."""

    analysis: Analysis
    frame: Frame
    ground: DrawnGround

    @property
    def units(self) -> Units:
        """How lengths are said."""
        return self.analysis.settings.units
