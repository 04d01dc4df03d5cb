"""Bed plan: plants in blocks, tall kinds to the side where they shade the others least."""

from __future__ import annotations

import math
from typing import TypeAlias

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.ops import unary_union

from sitepipe.arrays import FloatArray

Outline: TypeAlias = Polygon | MultiPolygon

LOWEST_SUN = 2.0
"""A lower sun gives no light worth counting. [deg]"""
HALVINGS = 30
"""Of the reach of a bed, until a cut is good to a nanometre."""
TRIAL_HALVINGS = 10
"""While sides are only compared."""
SHADE_DETAIL = 0.1
"""Outlines are simplified by this much before their shadows are compared. [m]"""


def blocks(
    outline: Outline, shares: tuple[float, ...], bearing: float, halvings: int = HALVINGS
) -> tuple[Outline, ...]:
    """Cut a piece of ground into bands across a direction, each with its share of the area.

    Parameters
    ----------
    outline : polygon
        [m]
    shares : tuple of float
        Of the area, in the order of the bands; they add up to 1.
    bearing : float
        Direction in which the bands follow one another, clockwise from north. [deg]
    halvings : int
        Of the bed's reach, for each cut.

    Returns
    -------
    tuple of polygon
        A partition of the outline.

    Examples
    --------
    >>> from shapely import box
    >>> [round(part.area, 6) for part in blocks(box(0, 0, 4, 1), (0.25, 0.75), 90.0)]
    [1.0, 3.0]
    """
    angle = math.radians(90.0 - bearing)
    along = np.array([math.cos(angle), math.sin(angle)])
    reach = shapely.get_coordinates(outline) @ along
    low, high = float(reach.min()), float(reach.max())
    cuts = [low - 1.0]
    cuts.extend(_cut(outline, along, (low, high), float(share), halvings) for share in np.cumsum(shares)[:-1])
    cuts.append(high + 1.0)
    return tuple(_between(outline, along, cuts[k], cuts[k + 1]) for k in range(len(shares)))


def _cut(outline: Outline, along: FloatArray, reach: tuple[float, float], share: float, halvings: int) -> float:
    left, right = reach
    for _ in range(halvings):
        middle = (left + right) / 2.0
        if _between(outline, along, reach[0] - 1.0, middle).area < share * outline.area:
            left = middle
        else:
            right = middle
    return (left + right) / 2.0


def _between(outline: Outline, along: FloatArray, start: float, end: float) -> Outline:
    across = np.array([-along[1], along[0]])
    reach = shapely.get_coordinates(outline) @ across
    low, high = float(reach.min()) - 1.0, float(reach.max()) + 1.0
    corners = [start * along + low * across, end * along + low * across, end * along + high * across]
    corners.append(start * along + high * across)
    cut = outline.intersection(Polygon(corners))
    if isinstance(cut, Polygon | MultiPolygon):
        return cut
    # A cut along a side, or through a single corner, leaves lines and points beside the ground.
    ground = [piece for piece in getattr(cut, "geoms", ()) if isinstance(piece, Polygon)]
    return MultiPolygon(ground)


def shaded_hours(tall: Outline, others: Outline, height: float, sun: FloatArray) -> float:
    """Area-hours that a block of tall plants shades of the other blocks.

    Parameters
    ----------
    tall, others : polygon
        [m]
    height : float
        Of the tall plants. [m]
    sun : (instants, 3) float array
        Altitude and azimuth of the sun [deg], and the hours a day that the instant stands for [h].

    Returns
    -------
    float
        Shadow on level ground of a prism over the block's convex hull, cut with the other blocks. [m2 h/day]

    Examples
    --------
    A wall north of a bed at noon north of the tropics shades nothing of it:

    >>> from shapely import box
    >>> import numpy as np
    >>> shaded_hours(box(0, 1, 1, 2), box(0, 0, 1, 1), 2.0, np.array([[45.0, 180.0, 1.0]]))
    0.0
    """
    high = sun[sun[:, 0] > LOWEST_SUN]
    if height <= 0.0 or tall.is_empty or others.is_empty or not len(high):
        return 0.0
    reach = height / np.tan(np.radians(high[:, 0]))
    azimuth = np.radians(high[:, 1])
    shift = np.column_stack([-reach * np.sin(azimuth), -reach * np.cos(azimuth)])
    corners = shapely.get_coordinates(tall.convex_hull)
    both = np.concatenate([np.broadcast_to(corners, (len(high), *corners.shape)), corners + shift[:, None, :]], axis=1)
    shadows = shapely.convex_hull(shapely.multipoints(both))
    return float(shapely.area(shapely.intersection(shadows, others)) @ high[:, 2])


def order_by_shade(
    outline: Outline,
    shares: tuple[float, ...],
    heights: tuple[float, ...],
    sun: FloatArray,
    widths: tuple[float, ...] = (),
) -> tuple[float, tuple[Outline, ...]]:
    """Try the four sides for the tallest block and keep the side where the blocks shade one another least.

    Before that comes room: the sides are preferred from which the blocks are least too narrow for their plants.

    Parameters
    ----------
    outline : polygon
    shares, heights : tuple of float
        Share of the area and grown height [m] of each kind, tallest first.
    sun : (instants, 3) float array
        As for ``shaded_hours``.
    widths : tuple of float
        Least width of each block. [m]

    Returns
    -------
    (float, tuple of polygon)
        Bearing from the tallest block to the lowest [deg], and the blocks in the order of the shares.
    """
    best: tuple[float, float, float] | None = None
    plain = outline.simplify(SHADE_DETAIL)
    for bearing in _sides(outline):
        parts = blocks(plain, shares, bearing, halvings=TRIAL_HALVINGS)
        lost = 0.0
        for k, part in enumerate(parts[:-1]):
            rest = unary_union(parts[k + 1 :])
            lost += shaded_hours(part, rest, max(heights[k] - heights[-1], 0.0), sun)
        short = round(sum(max(width - _width(part), 0.0) for part, width in zip(parts, widths, strict=False)), 1)
        if best is None or (short, lost) < (best[0], best[1] - 1e-9):
            best = (short, lost, bearing)
    bearing = best[2] if best is not None else 180.0
    return bearing, blocks(outline, shares, bearing)


def _width(part: Outline) -> float:
    """Width of the widest place in a block. [m]."""
    return 2.0 * float(shapely.maximum_inscribed_circle(part, tolerance=0.01).length) if part.area > 0.0 else 0.0


def _sides(outline: Outline) -> tuple[float, ...]:
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))
    if len(corners) < 4:
        return (180.0,)
    side = corners[1] - corners[0]
    first = math.degrees(math.atan2(side[0], side[1]))
    bearings = [(first + turn) % 360.0 for turn in (0.0, 90.0, 180.0, 270.0)]
    return tuple(sorted(bearings, key=lambda bearing: (round(abs(bearing - 180.0), 6), bearing)))
