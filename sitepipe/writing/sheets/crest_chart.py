"""A simple chart of the mounds' crests over the years: built, sunk, topped up. Lengths in px."""

from __future__ import annotations

import math

from sitepipe.mapping.mounds import crest_years
from sitepipe.saying import say_length
from sitepipe.units import FOOT, Units
from sitepipe.works.jobs.record import YearOfWork
from sitepipe.works.mounds.record import Mound
from sitepipe.writing.sheets.pen import SOFT, Pen

HEIGHT, LEFT, BOTTOM, TOP = 190.0, 64.0, 30.0, 12.0
SIZE = 14.0

Series = tuple[int, tuple[tuple[float, float], ...], float]
"""Number of a mound, its crest as (year, height m), and the height at which it is to stand. [m]"""


def crest_series(mounds: tuple[Mound, ...], years: tuple[YearOfWork, ...]) -> tuple[Series, ...]:
    """Return the crest of every mound from the day it is built, half a year into its first year.

    Returns
    -------
    tuple of (number, ((year, height m), ...), finished height m)
    """
    found = []
    for mound in mounds:
        course = crest_years(mound, years)
        if course:
            found.append((mound.number, tuple(course), mound.height.finished))
    return tuple(found)


def draw_crests(pen: Pen, series: tuple[Series, ...], units: Units, left: float, top: float, width: float) -> None:
    """Draw the crests as lines over the years, each with its mound's number at its end.

    Ends that would stand on each other are moved apart, upwards.
    """
    if not series:
        return
    last = max(course[-1][0] for _, course, _ in series)
    step = FOOT if units is Units.IMPERIAL else 0.2
    highest = step * math.ceil(max(height for _, course, _ in series for _, height in course) / step)
    ground, right = top + HEIGHT - BOTTOM, left + width - 40.0

    def at(year: float, height: float) -> tuple[float, float]:
        across = left + LEFT + (right - left - LEFT) * year / last
        return across, ground - (ground - top - TOP) * height / highest

    for k in range(round(highest / step) + 1):
        pen.stroke([[at(0.0, k * step), at(last, k * step)]], 1.4 if k == 0 else 0.5, grey=SOFT)
        label = "ground" if k == 0 else say_length(k * step, units)
        pen.write((left + LEFT - 8.0, at(0.0, k * step)[1] + 5.0), label, SIZE, anchor="end")
    for year in range(1, int(last) + 1):
        pen.write((at(year, 0.0)[0], ground + 20.0), f"year {year}" if year == 1 else str(year), SIZE, anchor="middle")
    taken = math.inf
    for number, course, _ in sorted(series, key=lambda one: one[1][-1][1]):
        pen.stroke([[at(*place) for place in course]], 1.4)
        x, y = at(*course[-1])
        taken = min(y + 5.0, taken - SIZE)
        pen.write((x + 6.0, taken), str(number), SIZE)
