"""Interpreted wetlands on public heights."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np

from sitepipe.arrays import BoolArray, LongArray
from sitepipe.grid import Grid
from sitepipe.site import Site
from tests.sites import make_site


def interpreted_points(data: Path, error: float) -> tuple[Site, tuple[LongArray, LongArray], BoolArray]:
    """Return the ground, the rows and columns of 500 points on it, and which are wet (see the data's README)."""
    import rasterio

    folder = data / "wetland-points-25m"
    with rasterio.open(folder / "dem_25m_uint16.tif") as source:
        heights = source.read(1).astype(np.float64)
        heights[heights == source.nodata] = np.nan
        transform = source.transform
    points = json.loads((folder / "training_points.geojson").read_text())["features"]
    is_wet = np.array([point["properties"]["wet_class"] != "Upland" for point in points])
    grid = Grid(transform.c, transform.f, transform.a, heights.shape[0], heights.shape[1], "EPSG:3005")
    rows, columns = np.array([grid.cell_at(*point["geometry"]["coordinates"][:2]) for point in points]).T
    site = make_site(heights, transform.a, height_error=error)
    return replace(site, ground=replace(site.ground, vertical_error=error)), (rows, columns), is_wet
