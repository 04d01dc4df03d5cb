"""Site folders made for tests: a height raster, a drawn layer, and what goes wrong with them."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Site

UTM = "EPSG:32618"
WEST, NORTH = 512_000.0, 4_737_100.0
"""Corner of the invented ground, in the zone of its invented place."""

Ring = Sequence[tuple[float, float]]
Feature = tuple[Mapping[str, Any], Mapping[str, Any]]
"""(properties, geometry)."""


def slope(rows: int = 60, columns: int = 80, cell: float = 1.0) -> FloatArray:
    """Heights that fall 2 in 100 to the south and 1 in 100 to the west. [m]."""
    y, x = np.mgrid[rows - 1 : -1 : -1, 0:columns] * cell
    return np.asarray(100.0 + 0.01 * x + 0.02 * y, dtype=np.float64)


def write_heights(
    path: Path,
    heights: Any,
    crs: str | None = UTM,
    transform: Sequence[float] = (1.0, 0.0, WEST, 0.0, -1.0, NORTH),
    unit: str | None = None,
    **profile: Any,
) -> Path:
    """Write heights as a GeoTIFF (or another driver) and return its path."""
    import rasterio

    values = np.asarray(heights)
    stack = values if values.ndim == 3 else values[None]
    options = {
        "driver": "GTiff",
        "height": stack.shape[1],
        "width": stack.shape[2],
        "count": stack.shape[0],
        "dtype": stack.dtype,
        "crs": crs,
        "transform": rasterio.Affine(*transform),
    } | profile
    with rasterio.open(path, "w", **options) as target:
        target.write(stack)
        if unit is not None:
            target.units = (unit,) * stack.shape[0]
    return path


def ring(west: float, south: float, east: float, north: float) -> list[list[float]]:
    """Return the corners of a box, closed."""
    return [[west, south], [east, south], [east, north], [west, north], [west, south]]


PARCEL = ring(WEST + 20.0, NORTH - 40.0, WEST + 60.0, NORTH - 15.0)


def polygon(corners: Sequence[Sequence[float]] = tuple(PARCEL), **properties: Any) -> Feature:
    """Return a polygon with properties."""
    return properties, {"type": "Polygon", "coordinates": [[list(corner) for corner in corners]]}


def line(*places: tuple[float, float], **properties: Any) -> Feature:
    """Return a line with properties."""
    return properties, {"type": "LineString", "coordinates": [list(place) for place in places]}


def point(x: float, y: float, **properties: Any) -> Feature:
    """Return a point with properties."""
    return properties, {"type": "Point", "coordinates": [x, y]}


def write_drawing(path: Path, *features: Feature, crs: str | None = UTM) -> Path:
    """Write features as GeoJSON and return its path."""
    document: dict[str, Any] = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": dict(properties), "geometry": geometry}
            for properties, geometry in features
        ],
    }
    if crs is not None:
        document["crs"] = {"type": "name", "properties": {"name": crs}}
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def make_folder(folder: Path, heights: FloatArray | None = None) -> Path:
    """Make a plain site folder: a slope and a parcel."""
    write_heights(folder / "elevation.tif", slope() if heights is None else heights)
    write_drawing(folder / "parcel.geojson", polygon(kind="parcel"))
    return folder


def settings_of(**values: Any) -> Settings:
    """Return settings of a plain site folder, with changes."""
    plain = {"name": "Test", "elevation": "elevation.tif", "parcel": "parcel.geojson"}
    return make_settings(plain | values, "site.toml")


def read(folder: Path, **values: Any) -> Site:
    """Read a site folder with plain settings, with changes."""
    return read_site(open_folder(folder, settings_of(**values)))
