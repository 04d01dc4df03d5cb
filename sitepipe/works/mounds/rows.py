"""Rows of crests: parallel lines cut to pieces that fit the ground they may stand on."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class RowRules:
    """How mounds stand to each other. Lengths in m, of the foot, not the crest.

    Parameters
    ----------
    base : float
        Width of the foot.
    between, gap : float
        Free ground between two rows, and between two mounds in line.
    longest, shortest : float
    """

    base: float
    between: float
    gap: float
    longest: float
    shortest: float

    @property
    def spacing(self) -> float:
        """From crest to crest. [m]."""
        return self.base + self.between


def crest_rows(allowed: BaseGeometry, bearing: float, offset: float, rules: RowRules) -> FloatArray:
    """Crests of all mounds that fit, in rows of one bearing.

    Parameters
    ----------
    allowed : polygon
        Where a crest may run: ground for mounds, drawn in by half a base. [m]
    bearing : float
        Of the rows, clockwise from north. [deg]
    offset : float
        Shift of all rows to the right, as a share of their spacing. [1]
    rules : RowRules

    Returns
    -------
    (mounds, 4) float array
        x and y of both ends of each crest. [m]

    Examples
    --------
    A field of 10 x 5 m drawn in by 1 m: one row along it, and no room for a second.

    >>> rules = RowRules(base=2.0, between=4.0, gap=1.0, longest=12.0, shortest=3.0)
    >>> crest_rows(shapely.box(1.0, 1.0, 9.0, 4.0), 90.0, 0.5, rules).round(1).tolist()
    [[1.0, 3.0, 9.0, 3.0]]
    """
    if allowed.is_empty:
        return np.empty((0, 4))
    forward = np.array([math.sin(math.radians(bearing)), math.cos(math.radians(bearing))])
    right = np.array([forward[1], -forward[0]])
    west, south, east, north = allowed.bounds
    corners = np.array([(west, south), (west, north), (east, south), (east, north)])
    along, across = corners @ forward, corners @ right
    first = math.ceil(across.min() / rules.spacing - offset)
    last = math.floor(across.max() / rules.spacing - offset)
    at = (np.arange(first, last + 1) + offset) * rules.spacing
    if not at.size:
        return np.empty((0, 4))
    starts = forward * (along.min() - 1.0) + np.outer(at, right)
    ends = forward * (along.max() + 1.0) + np.outer(at, right)
    lines = shapely.linestrings(np.stack([starts, ends], axis=1))
    crests: list[tuple[float, float, float, float]] = []
    # All rows in one go: a large field has tens of thousands of corners, and each row alone would pass them all.
    for piece in shapely.get_parts(shapely.intersection(allowed, shapely.multilinestrings(lines))):
        if piece.geom_type == "LineString" and piece.length > 0.0:
            crests.extend(_cut(shapely.get_coordinates(piece), rules))
    return np.array(crests).reshape(-1, 4)


def _cut(ends: FloatArray, rules: RowRules) -> list[tuple[float, float, float, float]]:
    start, end = ends[0], ends[-1]
    length = float(np.hypot(*(end - start)))
    step = rules.gap + rules.base
    count = max(1, math.ceil((length + step) / (rules.longest - rules.base + step)))
    crest = (length - (count - 1) * step) / count
    while count > 1 and crest + rules.base < rules.shortest:
        count -= 1
        crest = min((length - (count - 1) * step) / count, rules.longest - rules.base)
    if crest + rules.base < rules.shortest or crest <= 0.0:
        return []
    slack = 0.5 * (length - count * crest - (count - 1) * step)
    way = (end - start) / length
    cuts = []
    for number in range(count):
        at = slack + number * (crest + step)
        cuts.append((*(start + way * at), *(start + way * (at + crest))))
    return cuts
