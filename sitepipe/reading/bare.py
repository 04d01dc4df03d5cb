"""The ground alone, before anything is drawn: for the page to draw on."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from pyproj import CRS
from shapely import box

from sitepipe.arrays import frozen
from sitepipe.errors import InputError, SettingsError
from sitepipe.grid import Grid
from sitepipe.reading.accuracy import height_error_of_source
from sitepipe.reading.coordinates import WGS84, horizontal, is_local, move_points
from sitepipe.reading.files import LARGEST_RASTER, find_file
from sitepipe.reading.frame import bounds_in_frame, choose_frame
from sitepipe.reading.heights import clean_heights
from sitepipe.reading.raster import HeightRaster, describe_raster
from sitepipe.reading.sampling import read_heights
from sitepipe.reading.vertical import choose_height_unit
from sitepipe.settings import Settings
from sitepipe.site import Ground, Site

MOST_CELLS_A_SIDE = 800
"""A picture to draw on needs no more."""
LARGEST_SIDE = 2000.0
"""Of a larger raster only the middle is shown. [m]"""


def read_bare_ground(folder: Path, settings: Settings) -> Site:
    """Read the heights of a site folder without a drawn layer; the parcel is all that is shown.

    Raises
    ------
    SettingsError
        If site.toml names no heights.
    InputError
        If they cannot be read.
    """
    if settings.elevation is None:
        raise SettingsError("site.toml: elevation is missing. Name the file of heights: elevation = 'elevation.tif'")
    raster = describe_raster(find_file(folder, settings.elevation, "elevation", LARGEST_RASTER))
    crs = horizontal(raster.crs) if raster.crs is not None else None
    longitude, latitude = _middle(raster, crs, settings)
    frame = choose_frame(raster, crs, longitude, latitude, None)
    west, south, east, north = bounds_in_frame(raster, frame)
    middle_x, middle_y = (west + east) / 2.0, (south + north) / 2.0
    half_x, half_y = min(east - west, LARGEST_SIDE) / 2.0, min(north - south, LARGEST_SIDE) / 2.0
    cell = max(frame.cell, 2.0 * max(half_x, half_y) / MOST_CELLS_A_SIDE)
    columns, rows = max(int(2.0 * half_x / cell), 1), max(int(2.0 * half_y / cell), 1)
    grid = Grid(middle_x - columns * cell / 2.0, middle_y + rows * cell / 2.0, cell, rows, columns, frame.wkt)
    unit, _ = choose_height_unit(raster.name, raster.crs, crs, raster.band_unit, settings.ground.unit)
    clean = clean_heights(
        read_heights(raster, replace(frame, is_warped=True, cell=cell), grid, unit.metres), raster.name, unit.metres
    )
    if not np.isfinite(clean.elevation).any():
        raise InputError(f"{raster.name} holds no known heights in its middle. Bring a file that covers the ground")
    accuracy = height_error_of_source(frame.source_cell, False, clean.step, settings.ground)
    return Site(
        name=settings.name,
        grid=grid,
        elevation=frozen(clean.elevation),
        obstacle_height=frozen(np.zeros(grid.shape)),
        height_error=frozen(np.full(grid.shape, accuracy.error)),
        parcel=box(*grid.bounds),
        features=(),
        ground=Ground(raster.name, frame.source_cell, accuracy.error, accuracy.correlation, accuracy.source),
        latitude=latitude,
        longitude=longitude,
    )


def _middle(raster: HeightRaster, crs: CRS | None, settings: Settings) -> tuple[float, float]:
    if crs is None or is_local(crs):
        return settings.longitude or 0.0, settings.latitude or 45.0
    middle = raster.corners.mean(axis=0)
    x, y = move_points(middle[:1], middle[1:], crs, CRS.from_user_input(WGS84))
    return float(x[0]), float(y[0])
