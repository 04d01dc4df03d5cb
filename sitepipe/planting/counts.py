"""How many plants a piece of ground takes, by formula and by setting them out one by one."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from sitepipe.arrays import FloatArray

SLIDES = 4
"""Steps in which a lattice is slid, each way."""


def plants_per_area(spacing: float, triangular: bool) -> float:
    """Plants on a square metre of endless ground.

    Parameters
    ----------
    spacing : float
        Distance to the next plant. [m]
    triangular : bool
        True for rows shifted by half a space, sqrt(3) / 2 apart.

    Returns
    -------
    float
        1 / s2 for squares, 2 / (sqrt(3) s2) for triangles. [1/m2]

    Examples
    --------
    >>> plants_per_area(0.5, triangular=False)
    4.0
    """
    return (2.0 / math.sqrt(3.0) if triangular else 1.0) / (spacing * spacing)


def set_out(
    outline: Polygon | MultiPolygon, in_row: float, row: float, setback: float, triangular: bool = False
) -> FloatArray:
    """Set plants out on a lattice along the long side of a piece of ground.

    Parameters
    ----------
    outline : polygon
        [m]
    in_row, row : float
        Distance in the row and between the rows. [m]
    setback : float
        Least distance from a plant to the edge. [m]
    triangular : bool
        Whether every other row is shifted by half a space.

    Returns
    -------
    (plants, 2) float array
        Places, row by row; the lattice is slid (four steps each way) to where most plants fit, and then towards the
        middle while none falls out. [m]

    Examples
    --------
    >>> from shapely import box
    >>> len(set_out(box(0, 0, 2, 1), in_row=1.0, row=1.0, setback=0.0))
    2
    """
    room = outline.buffer(-setback) if setback > 1e-6 else outline
    if room.is_empty:
        return np.empty((0, 2))
    angle = _long_axis(room)
    along = np.array([math.cos(angle), math.sin(angle)])
    across = np.array([-along[1], along[0]])
    corners = shapely.get_coordinates(room)
    reach = (corners @ along).min(), (corners @ along).max(), (corners @ across).min(), (corners @ across).max()
    shapely.prepare(room)
    best = np.empty((0, 2))
    for slide_row in range(SLIDES):
        v = np.arange(reach[2] + (slide_row + 0.5) / SLIDES * row, reach[3], row)
        for slide in range(SLIDES):
            u = np.arange(reach[0] - in_row + (slide + 0.5) / SLIDES * in_row, reach[1] + in_row, in_row)
            grid_u, grid_v = np.meshgrid(u, v)
            if triangular:
                grid_u[1::2] += in_row / 2.0
            places = grid_u.ravel()[:, None] * along + grid_v.ravel()[:, None] * across
            inside = places[shapely.contains_xy(room, places)]
            if len(inside) > len(best):
                best = inside
    return _towards_middle(best, room)


def _towards_middle(places: FloatArray, room: Polygon | MultiPolygon) -> FloatArray:
    if not len(places):
        return places
    away = shapely.get_coordinates(room.centroid)[0] - places.mean(axis=0)
    for share in (1.0, 0.5, 0.25):
        moved: FloatArray = places + share * away
        if shapely.contains_xy(room, moved).all():
            return moved
    return places


def _long_axis(outline: Polygon | MultiPolygon) -> float:
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(outline))
    sides = np.diff(corners[:3], axis=0)
    longest = sides[int(np.argmax(np.hypot(sides[:, 0], sides[:, 1])))]
    return math.atan2(float(longest[1]), float(longest[0])) % math.pi
