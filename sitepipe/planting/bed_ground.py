"""Which part of a zone is set out: as much ground as its plants need, side by side, where one comes to it first."""

from __future__ import annotations

import math
from collections.abc import Sequence

import shapely
from shapely import Point, Polygon
from shapely.affinity import rotate

from sitepipe.planting.bed_plan import Outline
from sitepipe.terrain.outline import polygons_of

HALVINGS = 24
"""Of a bed's half width, until its area is right to a handful."""


def shares_of(needs: Sequence[float], area: float) -> tuple[float, tuple[float, ...]]:
    """Share ground out among kinds: each gets what its plants need, or an even part where there is too little.

    Parameters
    ----------
    needs : sequence of float
        Ground that all plants of a kind take. [m2]
    area : float
        Ground that there is. [m2]

    Returns
    -------
    (float, tuple of float)
        The ground that is set out [m2], and each kind's share of it; the shares add up to 1.

    Examples
    --------
    Ten square metres for kinds that want 1, 6 and 20: the first has enough, the others halve what is left.

    >>> shares_of((1.0, 6.0, 20.0), 10.0)
    (10.0, (0.1, 0.45, 0.45))
    >>> shares_of((1.0, 3.0), 10.0)
    (4.0, (0.25, 0.75))
    """
    got = [0.0] * len(needs)
    left = min(area, sum(needs))
    for place, (kind, need) in enumerate(sorted(enumerate(needs), key=lambda pair: pair[1])):
        got[kind] = min(need, left / (len(needs) - place))
        left -= got[kind]
    taken = sum(got)
    return taken, tuple(part / taken if taken > 0.0 else 1.0 / len(needs) for part in got)


def bed_beside(ground: Outline, start: Point, area: float) -> Outline:
    """Return the part of some ground that a square bed around a place covers, grown until it is large enough.

    Parameters
    ----------
    ground : polygon
        [m]
    start : point
        In it or on its edge, such as where a path comes nearest.
    area : float
        That the bed is to have. [m2]

    Returns
    -------
    polygon
        One piece, its straight sides along the ground's long side; all of the piece at the start if that is too small.

    Examples
    --------
    >>> from shapely import Point, box
    >>> bed_beside(box(0, 0, 10, 4), Point(0, 2), 12.0).bounds
    (0.0, 0.0, 3.0, 4.0)
    """
    turn = _long_way(ground)
    low, high = 0.0, math.hypot(*_size(ground)) + 1.0
    if _piece(ground, start, turn, high).area <= area:
        return _piece(ground, start, turn, high)
    for _ in range(HALVINGS):
        half = (low + high) / 2.0
        if _piece(ground, start, turn, half).area < area:
            low = half
        else:
            high = half
    return polygons_of(shapely.set_precision(_piece(ground, start, turn, high), 1e-4))


def _piece(ground: Outline, start: Point, turn: float, half: float) -> Outline:
    square = rotate(shapely.box(start.x - half, start.y - half, start.x + half, start.y + half), turn, origin=start)
    parts = shapely.get_parts(polygons_of(ground.intersection(square)))
    return min(parts, key=lambda part: (round(float(part.distance(start)), 6), -part.area), default=Polygon())


def _size(ground: Outline) -> tuple[float, float]:
    west, south, east, north = ground.bounds
    return east - west, north - south


def _long_way(ground: Outline) -> float:
    """Direction of the longest side of the ground's tightest box, against the clock from east. [deg]."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(ground))
    if len(corners) < 4:
        return 0.0
    sides = [corners[k + 1] - corners[k] for k in (0, 1)]
    across, up = max(sides, key=lambda side: round(math.hypot(*side), 6))
    return math.degrees(math.atan2(up, across)) % 180.0


def setback_of(ground: Outline, in_row: float, least: float) -> float:
    """Distance that a kind keeps from the edge: half its own room, less where the ground is narrow.

    Parameters
    ----------
    ground : polygon
        [m]
    in_row : float
        Distance in the row. [m]
    least : float
        That any plant keeps. [m]

    Examples
    --------
    >>> from shapely import box
    >>> setback_of(box(0, 0, 10, 10), 2.0, 0.15), round(setback_of(box(0, 0, 10, 2), 2.0, 0.15), 2)
    (1.0, 0.5)
    """
    if in_row / 2.0 <= least:
        return least
    narrow = float(shapely.maximum_inscribed_circle(ground, tolerance=0.01).length)
    return max(least, min(in_row / 2.0, narrow / 2.0))
