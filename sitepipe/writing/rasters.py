"""Every layer as a cloud-optimised GeoTIFF with its title, unit and source inside."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import rasterio
import rasterio.shutil
from rasterio.crs import CRS
from rasterio.errors import RasterioError
from rasterio.io import MemoryFile
from rasterio.transform import Affine

from sitepipe.analysis import Analysis
from sitepipe.answers.layers import rasters
from sitepipe.arrays import Float32Array, FloatArray
from sitepipe.errors import WritingError
from sitepipe.fields import Layer
from sitepipe.grid import Grid

_BY_NUMBER = {"zone"}
"""Layers whose numbers are names: an overview must pick one, not blend two."""


def write_layers(analysis: Analysis, folder: Path) -> list[str]:
    """Write every layer that the analysis holds; return their names.

    Raises
    ------
    WritingError
        If a file does not read back as it was written.
    """
    folder.mkdir()
    names = []
    for name, layer, values in rasters(analysis):
        write_layer(folder / f"{name}.tif", name, layer, values, analysis.site.grid)
        names.append(name)
    return names


def write_layer(path: Path, name: str, layer: Layer, values: FloatArray, grid: Grid) -> None:
    """Write one layer as 32-bit floats, NaN where unknown, and read it back."""
    pixels = values.astype(np.float32)
    profile = {
        "driver": "GTiff",
        "width": grid.columns,
        "height": grid.rows,
        "count": 1,
        "dtype": "float32",
        "nodata": float("nan"),
        "crs": CRS.from_wkt(grid.crs),
        "transform": Affine(*grid.transform),
    }
    try:
        with MemoryFile() as memory:
            with memory.open(**profile) as plain:
                plain.write(pixels, 1)
                plain.set_band_description(1, layer.title)
                plain.units = (layer.unit,)
                plain.update_tags(TITLE=layer.title, UNIT=layer.unit, MEANING=layer.meaning, SOURCE=layer.source)
            with memory.open() as plain:
                rasterio.shutil.copy(
                    plain,
                    path,
                    driver="COG",
                    compress="DEFLATE",
                    predictor="FLOATING_POINT",
                    blocksize=256,
                    resampling="NEAREST" if name in _BY_NUMBER else "AVERAGE",
                    num_threads=1,
                )
        _check(path, pixels)
    except RasterioError as error:
        raise WritingError(f"layers/{path.name} could not be written ({error}). Is the disk full?") from error


def _check(path: Path, pixels: Float32Array) -> None:
    """Read a layer again: a full disk or a killed writer leaves files that open and hold zeros."""
    with rasterio.open(path, driver="GTiff") as written:
        if not np.array_equal(written.read(1), pixels, equal_nan=True):
            raise WritingError(f"layers/{path.name} does not read back as it was written. Is the disk full?")
