"""Lines of lowest ground: found among levels, and given the cross-section that other heights know."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.grid import Grid
from sitepipe.reading.levels import FEWEST_POINTS, Level, columns_of
from sitepipe.reading.sampling import bilinear

ON_DITCH = 0.5
"""Levels this near a drawn ditch were taken in it; own choice. [m]"""
LOW, NEIGHBOURS, FEWEST_OF_DITCH = 0.15, 8, 3
"""Levels on three lines running that lie this far below the plane through their eight neighbours, each by its own, are
the bottom of a ditch; own choice. [m]"""

CROSSED = 0.7
"""A line runs through the cells whose middle lies so many cells from it: half a diagonal."""
BANK = 1.5
"""So many cells from the line other heights show the section beside it; own choice."""
SHOWN = 1.0 / 3.0
"""Other heights show a ditch if they have so much of its depth; less is a furrow or their noise; own choice."""
STATIONS = 25
"""Places along a bottom at which other heights are asked."""


def find_bottoms(
    points: tuple[Level, ...], apart: FloatArray, widest: float, drawn: Sequence[BaseGeometry]
) -> tuple[LineString, ...]:
    """Find lines of lowest ground: levels on a drawn ditch, and three or more in a row that lie low among others."""
    rows = list(_rows_on(points, drawn))
    taken = {number for row in rows for number in row}
    row: list[int] = []
    for number in np.nonzero(_lies_low(points, apart))[0].tolist():
        if number in taken:
            continue
        if row and (number != row[-1] + 1 or apart[row[-1], number] > widest):
            rows.append(row)
            row = []
        row.append(number)
    rows.append(row)
    rows = [row for row in rows if len(row) >= FEWEST_OF_DITCH or (len(row) > 1 and row[0] in taken)]
    if len(points) - sum(map(len, rows)) < FEWEST_POINTS:
        return ()
    return tuple(LineString([(points[one].x, points[one].y, points[one].height) for one in row]) for row in rows)


def _rows_on(points: tuple[Level, ...], drawn: Sequence[BaseGeometry]) -> Iterator[list[int]]:
    places = shapely.points([(point.x, point.y) for point in points])
    free = np.ones(len(points), dtype=np.bool_)
    for line in drawn:
        on = np.nonzero(free & shapely.dwithin(places, line, ON_DITCH))[0]
        free[on] = False
        if line.geom_type == "LineString":
            yield on[np.argsort(shapely.line_locate_point(line, places[on]), kind="stable")].tolist()


def _lies_low(points: tuple[Level, ...], apart: FloatArray) -> BoolArray:
    """Mark levels that lie clearly below the plane through their neighbours."""
    x, y, height, error = columns_of(points)
    low = np.zeros(len(points), dtype=np.bool_)
    for number, near in enumerate(np.argsort(apart, axis=1, kind="stable")[:, :NEIGHBOURS]):
        terms = np.column_stack([np.ones(near.size), x[near] - x[number], y[near] - y[number]])
        plane = np.linalg.lstsq(terms, height[near], rcond=None)[0][0]
        low[number] = height[number] < plane - max(LOW, 4.0 * float(error[number]))
    return low


def heights_along(bottom: LineString, places: BaseGeometry) -> tuple[FloatArray, FloatArray]:
    """Return the height of the line where it is nearest to each place [m], and where that is (places, 2)."""
    corners = np.asarray(bottom.coords)
    reached = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners[:, :2], axis=0).T)))
    along = shapely.line_locate_point(shapely.force_2d(bottom), places)
    foot = np.column_stack([np.interp(along, reached, corners[:, axis]) for axis in (0, 1)])
    return np.interp(along, reached, corners[:, 2]), foot


def is_shown(bottom: LineString, level: FloatArray, others: FloatArray, noise: float, grid: Grid) -> bool:
    """Tell whether other heights show the ditch whose bottom was levelled.

    Parameters
    ----------
    level : (rows, columns) float array
        The ground as if there were no ditch. [m]
    others : (rows, columns) float array
        Other heights, brought to that level; NaN where unknown. [m]
    noise : float
        What these lie below it where there is no ditch. [m]
    """
    spots = shapely.line_interpolate_point(bottom, np.linspace(0.0, 1.0, STATIONS), normalized=True)
    bed, foot = heights_along(bottom, spots)
    depth, seen = (_at(level, foot, grid) - surface for surface in (bed, _at(others, foot, grid)))
    known = np.isfinite(seen)
    if 2 * int(known.sum()) < STATIONS:
        return False
    return bool(np.median(seen[known]) - noise > SHOWN * max(float(np.median(depth[known])), LOW))


def dug(
    level: FloatArray, bottom: LineString, others: FloatArray, noise: float, grid: Grid, reach: float
) -> FloatArray:
    """Dig a ditch whose bottom was levelled into ground without it, with the sides that other heights show.

    Their depth below the ground is stretched, so that the bottom is exact and the banks stay where they are; nothing is
    dug lower than the bottom. The cells that the line crosses show no section of their own: it rises evenly from the
    bottom to the bank, and along the line by its mean, so that water runs there as along the bottom.

    Parameters
    ----------
    level, others, noise
        As in ``is_shown``. [m]
    reach : float
        How far from the line it may reach: half of its greatest width. [m]
    """
    x, y = np.meshgrid(grid.x, grid.y)
    spots = shapely.points(x, y)
    near = np.isfinite(level) & np.isfinite(others) & shapely.dwithin(spots, bottom, reach)
    bed, foot = heights_along(bottom, spots[near])
    there = _at(level, foot, grid)
    stretch = (there - bed) / np.maximum(there - _at(others, foot, grid) - noise, SHOWN * (there - bed))
    cut = np.nan_to_num(stretch) * np.maximum(level[near] - others[near] - noise, 0.0)
    found = level.copy()
    found[near] = np.maximum(level[near] - cut, np.minimum(bed, level[near]))
    off = np.column_stack([x[near], y[near]]) - foot
    far = np.hypot(*off.T)
    crossed = far <= CROSSED * grid.cell
    if not crossed.any():
        return found
    outwards = (off * (grid.cell / np.maximum(far, 1e-6 * grid.cell))[:, None])[crossed]
    bank, beyond = (
        np.nan_to_num(np.maximum(_at(found, foot[crossed] + cells * outwards, grid) - bed[crossed], 0.0))
        for cells in (BANK, BANK + 1.0)
    )
    # The bank led on inwards meets the bottom at its edge; of a V half a cell off, as its tip is never seen.
    steep = max(float(np.median(beyond) - np.median(bank)), 1e-6)
    flat = grid.cell * float(np.clip(2.0 * (BANK - 0.5 - float(np.median(bank)) / steep), 0.0, BANK - 0.5))
    rise = bank * np.maximum(far[crossed] - flat, 0.0) / (BANK * grid.cell - flat)
    half = 0.5 * grid.cell
    holds_line = shapely.intersects(
        shapely.box(x[near] - half, y[near] - half, x[near] + half, y[near] + half)[crossed], bottom
    )
    if holds_line.any():
        mean = float(rise[holds_line].mean())
        rise = np.where(holds_line, mean, np.maximum(rise, mean))
    found[tuple(axis[crossed] for axis in np.nonzero(near))] = bed[crossed] + rise
    return found


def _at(heights: FloatArray, places: FloatArray, grid: Grid) -> FloatArray:
    return bilinear(heights, (places[:, 0] - grid.west) / grid.cell, (grid.north - places[:, 1]) / grid.cell)
