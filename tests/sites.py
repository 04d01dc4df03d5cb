"""A few hand-drawn sites: plane, bowl, valley, wall."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from shapely import Polygon, box
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray, frozen
from sitepipe.grid import Grid
from sitepipe.reading.features import feature_of
from sitepipe.reading.properties import Properties
from sitepipe.settings import DrawnSettings
from sitepipe.site import Feature, Ground, Kind, Site

PLANE_METRES = 'LOCAL_CS["drawn by hand",UNIT["metre",1]]'


def plane(rows: int, columns: int, cell: float, east: float = 0.0, north: float = 0.0) -> FloatArray:
    """Heights that rise by ``east`` and ``north`` metres per metre. [m]."""
    y, x = np.mgrid[rows - 1 : -1 : -1, 0:columns] * cell
    return np.asarray(100.0 + east * x + north * y, dtype=np.float64)


def bowl(size: int, cell: float, depth: float) -> FloatArray:
    """Heights of a round bowl in a level field. [m]."""
    y, x = np.mgrid[0:size, 0:size] - (size - 1) / 2.0
    distance = np.hypot(x, y) / ((size - 1) / 3.0)
    return np.asarray(100.0 - depth * np.clip(1.0 - distance**2, 0.0, None) + 0.0 * cell, dtype=np.float64)


def valley(rows: int, columns: int, cell: float, fall: float = 0.01, side: float = 0.05) -> FloatArray:
    """Heights of a straight valley that falls to the south. [m]."""
    y, x = np.mgrid[rows - 1 : -1 : -1, 0:columns] * cell
    return np.asarray(100.0 + fall * y + side * np.abs(x - (columns - 1) * cell / 2.0), dtype=np.float64)


def draw_thing(
    number: int,
    kind: Kind,
    name: str,
    geometry: BaseGeometry,
    height: float | None = None,
    width: float | None = None,
    attributes: Mapping[str, object] | None = None,
    settings: DrawnSettings | None = None,
) -> Feature:
    """Draw one thing, its sizes in metres, and resolve it as reading does."""
    values = {"name": name, "height": height, "width": width, **(attributes or {})}
    return feature_of(Properties(values, f"{kind} {number}"), number, kind, geometry, settings or DrawnSettings())


def make_site(
    elevation: FloatArray,
    cell: float = 1.0,
    features: tuple[Feature, ...] = (),
    parcel: Polygon | None = None,
    latitude: float = 42.5,
    height_error: float = 0.02,
) -> Site:
    """Make a site from heights drawn by hand; the parcel is all of it but a margin of a tenth on each side."""
    rows, columns = elevation.shape
    grid = Grid(0.0, rows * cell, cell, rows, columns, PLANE_METRES)
    if parcel is None:
        inset_x, inset_y = columns * cell / 10.0, rows * cell / 10.0
        parcel = box(inset_x, inset_y, columns * cell - inset_x, rows * cell - inset_y)
    return Site(
        name="Drawn by hand",
        grid=grid,
        elevation=frozen(elevation.astype(np.float64)),
        obstacle_height=frozen(np.zeros_like(elevation)),
        height_error=frozen(np.full_like(elevation, height_error)),
        parcel=parcel,
        features=features,
        ground=Ground("drawn by hand", cell, height_error, 10.0 * cell, "chosen for the test"),
        latitude=latitude,
        longitude=-73.0,
    )
