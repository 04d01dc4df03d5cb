"""What stands or lies on the ground already, as outlines and as masks of cells."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.site import Kind, Site

SOLID = (Kind.BUILDING, Kind.TREE, Kind.HEDGE, Kind.WALL, Kind.WATER)
"""What no work, no wheel and no snow goes through."""


def inside(geometry: BaseGeometry, x: FloatArray, y: FloatArray) -> BoolArray:
    """Tell which cells have their centre inside an outline.

    Parameters
    ----------
    geometry : polygon
        [m]
    x, y : (columns,), (rows,) float array
        Centres; x rises, y falls. [m]

    Returns
    -------
    (rows, columns) bool array
    """
    mask = np.zeros((y.size, x.size), np.bool_)
    if geometry.is_empty:
        return mask
    west, south, east, north = geometry.bounds
    left, right = int(np.searchsorted(x, west)), int(np.searchsorted(x, east, side="right"))
    top, bottom = int(np.searchsorted(-y, -north)), int(np.searchsorted(-y, -south, side="right"))
    if right > left and bottom > top:
        shapely.prepare(geometry)
        mesh_x, mesh_y = np.meshgrid(x[left:right], y[top:bottom])
        mask[top:bottom, left:right] = shapely.contains_xy(geometry, mesh_x, mesh_y)
    return mask


def inside_any(geometries: Iterable[BaseGeometry], x: FloatArray, y: FloatArray) -> BoolArray:
    """Tell which cells have their centre inside any of the outlines."""
    mask = np.zeros((y.size, x.size), np.bool_)
    for geometry in geometries:
        mask |= inside(geometry, x, y)
    return mask


def solids(site: Site) -> tuple[BaseGeometry, ...]:
    """Return the outlines of everything solid on and around the parcel."""
    return tuple(feature.footprint for feature in site.of_kind(*SOLID))


def drives(site: Site) -> tuple[BaseGeometry, ...]:
    """Return the outlines of roads and drives inside the parcel, where a barrow may go."""
    inner = (lane.intersection(site.parcel) for lane in lanes(site))
    return tuple(lane for lane in inner if not lane.is_empty)


def lanes(site: Site) -> tuple[BaseGeometry, ...]:
    """Return the outlines of roads and drives."""
    return tuple(feature.footprint for feature in site.of_kind(Kind.ROAD))
