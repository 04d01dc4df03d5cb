"""What stands or lies on the ground already, as outlines and as masks of cells."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.site import Feature, Kind, Site

SOLID = (Kind.BUILDING, Kind.TREE, Kind.HEDGE, Kind.WALL, Kind.WATER)
"""What no work, no wheel and no snow goes through."""

_TRUNK = 0.5
_WALL_WIDTH = 0.3
_HEDGE_WIDTH = 1.0
_LANE_WIDTH = 3.0


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


def ground_taken(feature: Feature) -> BaseGeometry:
    """Return the ground that a feature stands on: a trunk, a hedge's width, a lane's width, a wall."""
    shape = feature.geometry
    if feature.kind is Kind.TREE:
        return shape.buffer(_TRUNK) if isinstance(shape, Point) else shape
    if shape.geom_type.endswith("Polygon"):
        return shape
    widths = {Kind.HEDGE: _HEDGE_WIDTH, Kind.WALL: _WALL_WIDTH, Kind.ROAD: _LANE_WIDTH}
    width = feature.width or widths.get(feature.kind, _WALL_WIDTH)
    return shape.buffer(width / 2.0, cap_style="flat" if isinstance(shape, LineString) else "round")


def crown(feature: Feature) -> BaseGeometry:
    """Return the ground below a tree's crown or a hedge: its width as drawn, else a third of its height each way."""
    shape = feature.geometry
    if feature.kind is not Kind.TREE or not isinstance(shape, Point):
        return ground_taken(feature)
    width = feature.width or 0.66 * (feature.height or 3.0)
    return shape.buffer(width / 2.0)


def solids(site: Site) -> tuple[BaseGeometry, ...]:
    """Return the outlines of everything solid on and around the parcel."""
    return tuple(ground_taken(feature) for feature in site.of_kind(*SOLID))


def drives(site: Site) -> tuple[BaseGeometry, ...]:
    """Return the outlines of roads and drives inside the parcel, where a barrow may go."""
    inner = (lane.intersection(site.parcel) for lane in lanes(site))
    return tuple(lane for lane in inner if not lane.is_empty)


def lanes(site: Site) -> tuple[BaseGeometry, ...]:
    """Return the outlines of roads and drives."""
    return tuple(ground_taken(feature) for feature in site.of_kind(Kind.ROAD))
