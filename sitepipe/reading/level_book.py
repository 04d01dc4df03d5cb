"""The level book: back, intermediate and fore sights reduced to heights, the loop closed and adjusted."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sitepipe.errors import InputError

THIRD_ORDER = 0.012
"""Allowance for a loop, third order; constant read at its source (checks 1.5). [m per root km]"""
LEAST_ALLOWANCE = 0.005
"""On short loops the reading itself is no better; trade 3.1: "12 mm sqrt(km) or 5 mm". [m]"""


@dataclass(frozen=True, slots=True)
class Sight:
    """One row of the book: what was read on the staff at a point. [m].

    A turning point has a fore sight, that ends a set-up, and a back sight, that opens the next.
    """

    point: str
    back: float | None = None
    middle: float | None = None
    fore: float | None = None
    known_height: float | None = None
    distance: float | None = None
    where: str = ""


@dataclass(frozen=True, slots=True)
class Reduced:
    """A point's height, and the set-up that it was read from, from 1 (0 for the bench mark itself)."""

    point: str
    height: float
    set_up: int


@dataclass(frozen=True, slots=True)
class LevelRun:
    """A reduced and adjusted book.

    Parameters
    ----------
    points : tuple of Reduced
        Adjusted, in the order of the book. [m]
    misclosure : float or None
        What was found minus what is known at the closing point; None if the run does not close. [m]
    allowance : float
        [m]
    length : float
        Of the run. [m]
    set_ups : int
    sum_back, sum_fore : float
        [m]
    start, end : float
        Height of the bench mark, and the height found at the end before adjustment. [m]
    """

    points: tuple[Reduced, ...]
    misclosure: float | None
    allowance: float
    length: float
    set_ups: int
    sum_back: float
    sum_fore: float
    start: float
    end: float

    @property
    def is_within_allowance(self) -> bool:
        """Whether the run closes well enough; an open run cannot say."""
        return self.misclosure is None or abs(self.misclosure) <= self.allowance + 1e-9

    @property
    def arithmetic(self) -> str:
        """The sums that a surveyor writes under the book."""
        return (
            f"back sights {self.sum_back:.3f} - fore sights {self.sum_fore:.3f} = "
            f"{self.sum_back - self.sum_fore:+.3f}; "
            f"{self.start:.3f} -> {self.end:.3f} m"
        )


def allowance(length: float, per_root_km: float = THIRD_ORDER, least: float = 0.0) -> float:
    """Largest misclosure of a loop.

    Parameters
    ----------
    length : float
        [m]
    per_root_km : float
        [m per root km]
    least : float
        Never less than this. [m]

    Examples
    --------
    >>> round(allowance(200.0) * 1000.0, 2)
    5.37
    """
    return max(per_root_km * float(np.sqrt(length / 1000.0)), least)


def heights_of_instrument(sights: Sequence[Sight], start: float) -> list[Reduced]:
    """Reduce by height of instrument: height + back sight = instrument; instrument - sight = height. [m].

    Examples
    --------
    >>> book = [Sight("mark", back=8.42), Sight("turn", fore=1.20)]
    >>> round(heights_of_instrument(book, 820.00)[-1].height, 2)
    827.22
    """
    reduced: list[Reduced] = []
    instrument, set_up = float("nan"), 0
    height = start
    for sight in sights:
        reading = sight.middle if sight.middle is not None else sight.fore
        if reading is not None:
            height = instrument - reading
        reduced.append(Reduced(sight.point, height, set_up))
        if sight.back is not None:
            instrument, set_up = height + sight.back, set_up + 1
    return reduced


def reduce_book(
    sights: Sequence[Sight],
    per_root_km: float = THIRD_ORDER,
    least: float = LEAST_ALLOWANCE,
    sight_length: float = 20.0,
) -> LevelRun:
    """Reduce a book, find its misclosure, and share it out evenly over the set-ups.

    Parameters
    ----------
    sights : sequence of Sight
        The first is the back sight on the bench mark, which counts as 0 where its height is not known. The run
        closes on it, or on any other point whose height is known.
    per_root_km, least : float
        Of the allowance. [m per root km], [m]
    sight_length : float
        Taken for a sight where no distances were written. [m]

    Raises
    ------
    InputError
        If the book does not begin with a back sight, or a row has no reading or too many.
    """
    _check_rows(sights)
    start = sights[0].known_height or 0.0
    reduced = heights_of_instrument(sights, start)
    known = {sight.point.lower(): sight.known_height for sight in sights if sight.known_height is not None}
    known[sights[0].point.lower()] = start
    set_ups = reduced[-1].set_up if sights[-1].back is None else reduced[-1].set_up + 1
    closing = next(
        (
            index
            for index in range(len(sights) - 1, 0, -1)
            if sights[index].fore is not None and sights[index].point.lower() in known
        ),
        None,
    )
    fores = [sight.fore for sight in sights if sight.fore is not None]
    backs = [sight.back for sight in sights if sight.back is not None]
    written = [sight.distance for sight in sights if sight.distance is not None]
    length = sum(written) if written else 2.0 * sight_length * max(set_ups, 1)
    misclosure, end = None, reduced[-1].height
    each = 0.0
    if closing is not None:
        end = reduced[closing].height
        misclosure = end - known[sights[closing].point.lower()]
        each = -misclosure / reduced[closing].set_up
    points = tuple(
        Reduced(one.point, one.height + each * min(one.set_up, reduced[closing].set_up if closing else 0), one.set_up)
        for one in reduced
    )
    return LevelRun(
        points=points,
        misclosure=misclosure,
        allowance=allowance(length, per_root_km, least),
        length=length,
        set_ups=set_ups,
        sum_back=float(sum(backs)),
        sum_fore=float(sum(fores)),
        start=start,
        end=end,
    )


def _check_rows(sights: Sequence[Sight]) -> None:
    for number, sight in enumerate(sights):
        where = f"{sight.where} ({sight.point})"
        readings = [sight.back, sight.middle, sight.fore]
        if all(reading is None for reading in readings):
            raise InputError(f"{where} has no reading. Write a back, intermediate or fore sight")
        if sight.middle is not None and (sight.fore is not None or sight.back is not None):
            raise InputError(f"{where} has an intermediate sight beside another. A turning point has a fore and a back")
        if number == 0 and (sight.back is None or sight.fore is not None or sight.middle is not None):
            raise InputError(f"{where} is the first row; it must be the back sight on the bench mark")
