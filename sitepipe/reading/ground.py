"""Heights that are ready to be read on any window of the site's plane."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from pyproj import CRS

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.reading.coordinates import VerticalUnit, horizontal
from sitepipe.reading.frame import Bounds, Frame, bounds_in_frame, choose_frame, read_heights
from sitepipe.reading.raster import HeightRaster, describe_raster
from sitepipe.reading.vertical import called, choose_height_unit
from sitepipe.settings import Settings


@dataclass(frozen=True, slots=True)
class OpenGround:
    """A source of heights: where it reaches, its cell, its unit, and how to read it.

    Parameters
    ----------
    name : str
    frame : Frame
        The plane and the cell.
    reach : (west, south, east, north)
        In the plane. [m]
    unit : VerticalUnit
        Of the file.
    read : callable
        Grid -> heights, NaN where unknown. [m]
    date : str
        Of the file's making, empty where it does not say.
    assumptions, warnings : tuple of str
    """

    name: str
    frame: Frame
    reach: Bounds
    unit: VerticalUnit
    read: Callable[[Grid], FloatArray]
    date: str
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]


def describe_heights(path: Path) -> tuple[HeightRaster, CRS | None]:
    """Return what a height file says of itself and its horizontal system."""
    raster = describe_raster(path)
    return raster, horizontal(raster.crs) if raster.crs is not None else None


def open_raster(
    raster: HeightRaster, crs: CRS | None, longitude: float, latitude: float, settings: Settings
) -> OpenGround:
    """Make a height raster ready to be read around a place."""
    frame = choose_frame(raster, crs, longitude, latitude, settings.ground.cell)
    unit, warnings = choose_height_unit(raster.name, raster.crs, crs, raster.band_unit, settings.ground.unit)

    def read(grid: Grid) -> FloatArray:
        return read_heights(raster, frame, grid, unit.metres)

    said = (*frame.reasons, f"The heights of {raster.name} are in {called(unit.metres)} ({unit.source}).")
    return OpenGround(raster.name, frame, bounds_in_frame(raster, frame), unit, read, raster.date, said, warnings)
