"""What stands or lies on the ground already, as outlines and as masks of cells."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.drainage.record import FlowLine, Pond
from sitepipe.site import STANDING, Kind, Site
from sitepipe.works.land import Land

SOLID = (*STANDING, Kind.WATER)
"""What no work, no wheel and no snow goes through."""

POND_DEPTH = 0.03
"""Hollows shallower than this are levelled with a rake. [m]"""
FLOW_ROOM = 1.5
"""Kept from a flow line so that a swale fits between. [m]"""


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


def long_bearing(shape: BaseGeometry) -> float:
    """Bearing of the longer side of the smallest rectangle around a shape, 0 to 180. [deg].

    Examples
    --------
    >>> from shapely import box
    >>> long_bearing(box(0.0, 0.0, 10.0, 4.0))
    90.0
    """
    corners = shapely.get_coordinates(shapely.oriented_envelope(shape))[:3]
    east, north = max(np.diff(corners, axis=0), key=lambda side: float(np.hypot(*side)))
    return round(float(np.degrees(np.arctan2(east, north))), 6) % 180.0


def deep_hollows(land: Land) -> list[Pond]:
    """Return the hollows that nothing stands in."""
    return [pond for pond in land.drainage.ponds if pond.depth >= POND_DEPTH]


def running(land: Land) -> list[FlowLine]:
    """Return the flow lines with enough ground behind them to count."""
    least = land.settings.path.flow_area
    return [flow for flow in land.drainage.flow_lines if flow.upslope_area and max(flow.upslope_area) >= least]
