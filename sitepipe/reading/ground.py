"""Heights that are ready to be read on any window of the site's plane."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from pyproj import CRS

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.cloud import PointCloud, cloud_cell, read_cloud
from sitepipe.reading.coordinates import LOCAL_PLANE, VerticalUnit, is_local, metres_per_unit, move_points
from sitepipe.reading.frame import (
    Bounds,
    Frame,
    bounds_in_frame,
    choose_frame,
    choose_plane,
    frame_on,
)
from sitepipe.reading.notes import Notes
from sitepipe.reading.raster import HeightRaster
from sitepipe.reading.sampling import read_heights, tiles_under
from sitepipe.reading.source import HeightFile
from sitepipe.reading.survey import Survey
from sitepipe.reading.vertical import called, choose_height_unit
from sitepipe.settings import Settings

IDENTITY = (1.0, 0.0, 0.0, 0.0, -1.0, 0.0)
RIM = 2.0
"""Cells of unknown ground around a survey that stands alone."""


@dataclass(frozen=True, slots=True)
class ReadGround:
    """Heights on a grid, and the top of what stands on them where a point cloud shows it; NaN where unknown. [m]."""

    elevation: FloatArray
    top: FloatArray | None = None


@dataclass(frozen=True, slots=True)
class OpenGround:
    """A source of heights: where it reaches, its cell, its unit, and how to read it.

    Parameters
    ----------
    name, what : str
        Of the file, and what it is, in a phrase.
    frame : Frame
        The plane and the cell.
    reach : (west, south, east, north)
        In the plane. [m]
    unit : VerticalUnit
        Of the file.
    read : callable
        Grid -> heights.
    tiles : callable
        Grid -> names of the tiles that it meets; none where there are no tiles.
    is_measured : bool
        Whether it is a point cloud: measured, whatever its cells.
    date : str
        Of the file's making, empty where it does not say.
    notes : Notes
    """

    name: str
    what: str
    frame: Frame
    reach: Bounds
    unit: VerticalUnit
    read: Callable[[Grid], ReadGround]
    is_measured: bool
    date: str
    notes: Notes
    tiles: Callable[[Grid], tuple[str, ...]] = lambda _: ()


def open_heights(file: HeightFile, place: tuple[float, float], cell: float | None, settings: Settings) -> OpenGround:
    """Make a file of heights ready to be read around a place (longitude, latitude).

    Parameters
    ----------
    cell : float or None
        Of the site; None for the file's own. [m]
    """
    if isinstance(file, PointCloud):
        return _open_cloud(file, place, cell, settings)
    frame = choose_frame(file, *place, cell)
    unit, warnings = choose_height_unit(file.name, file.crs, file.band_unit, settings.ground.unit)

    def read(grid: Grid) -> ReadGround:
        return ReadGround(read_heights(file, frame, grid, unit.metres))

    return OpenGround(
        name=file.name,
        what=file.name,
        frame=frame,
        reach=bounds_in_frame(file, frame),
        unit=unit,
        read=read,
        is_measured=False,
        date=file.date,
        notes=Notes(
            (*frame.reasons, f"The heights of {file.name} are in {called(unit.metres)} ({unit.source})."),
            (*warnings, *_said_of_unknown(file)),
        ),
        tiles=partial(tiles_under, file, frame),
    )


def _said_of_unknown(file: HeightRaster) -> tuple[str, ...]:
    if file.unknown != 0.0:
        return ()
    return (f"{file.name} declares 0 as unknown: ground at exactly 0 stays blank, which matters near the sea.",)


def _open_cloud(cloud: PointCloud, place: tuple[float, float], cell: float | None, settings: Settings) -> OpenGround:
    crs = cloud.system
    plane, reasons = choose_plane(cloud.name, crs, *place)
    metres = metres_per_unit(crs) if not crs.is_geographic else 1.0
    unit, warnings = choose_height_unit(cloud.name, cloud.crs, "", settings.ground.unit)
    own = (
        plane is not None
        and metres_per_unit(plane) == 1.0
        and not crs.is_geographic
        and _is_same_projection(crs, plane)
    )
    natural = cloud_cell(cloud, metres)
    chosen = cell if cell is not None else natural
    corners_x, corners_y = np.array(cloud.bounds)[[0, 2, 2, 0]], np.array(cloud.bounds)[[1, 1, 3, 3]]
    if own or plane is None:
        x, y = corners_x * metres, corners_y * metres
    else:
        x, y = move_points(corners_x, corners_y, crs, plane)
    through = None if own else plane

    def read(grid: Grid) -> ReadGround:
        heights = read_cloud(cloud, through, metres, unit.metres, grid)
        return ReadGround(heights.ground, heights.top)

    wkt = plane.to_wkt() if plane is not None else LOCAL_PLANE
    points = f"{cloud.name} has ground points for cells of {natural:.3g} m"
    finer = f"{points}; at {chosen:.3g} m they are drawn smoother, not known more finely."
    said = (
        *reasons,
        *((finer,) if chosen < 0.99 * natural else ()),
        f"The ground of {cloud.name} is the plane through its ground points near each cell of {chosen:.3g} m.",
        f"The heights of {cloud.name} are in {called(unit.metres)} ({unit.source}).",
    )
    return OpenGround(
        name=cloud.name,
        what=f"{cloud.name}, {cloud.points:,} points",
        frame=Frame(plane, wkt, IDENTITY, plane, chosen, max(natural, chosen), is_warped=True, reasons=()),
        reach=(float(x.min()), float(y.min()), float(x.max()), float(y.max())),
        unit=unit,
        read=read,
        is_measured=True,
        date=cloud.date,
        notes=Notes(said, warnings),
    )


def _is_same_projection(crs: CRS, plane: CRS) -> bool:
    from sitepipe.reading.coordinates import in_metres

    return plane in (crs, in_metres(crs))


def open_survey_alone(survey: Survey, plane: CRS | None, cell: float | None) -> OpenGround:
    """Make a survey without any heights around it ready: all beyond the surveyed area is unknown."""
    chosen = cell if cell is not None else cell_of_survey(survey)
    west, south, east, north = survey.area.bounds
    rim = RIM * chosen

    def read(grid: Grid) -> ReadGround:
        return ReadGround(np.full(grid.shape, np.nan))

    return OpenGround(
        name=survey.name,
        what=f"{survey.name}, {len(survey.points)} levels",
        frame=Frame(
            plane, plane.to_wkt() if plane is not None else LOCAL_PLANE, IDENTITY, plane, chosen, chosen, True, ()
        ),
        reach=(west - rim, south - rim, east + rim, north + rim),
        unit=VerticalUnit(1.0, survey.name),
        read=read,
        is_measured=True,
        date="",
        notes=Notes(("There are no heights but the levels: beyond the surveyed area the ground stays blank.",)),
    )


def cell_of_survey(survey: Survey) -> float:
    """Return the cell that shows what levels at their spacing can: a quarter of it, from 0.25 to 1 m."""
    return float(np.clip(np.round(survey.spacing / 4.0 * 20.0) / 20.0, 0.25, 1.0))


def read_surface(
    file: HeightFile, ground: OpenGround, place: tuple[float, float], grid: Grid, settings: Settings
) -> FloatArray:
    """Read a surface model (buildings and trees included) onto the grid of the ground; NaN where unknown. [m].

    Raises
    ------
    InputError
        If it cannot be brought onto the ground's plane.
    SettingsError
        If the unit of its heights is open.
    """
    if isinstance(file, PointCloud):
        top = _open_cloud(file, place, grid.cell, settings).read(grid).top
        return np.full(grid.shape, np.nan) if top is None else top
    plane = ground.frame.plane
    if (plane is None) != (file.system is None or is_local(file.system)):
        raise InputError(
            f"{file.name} (surface) and {ground.name} cannot be laid on one another: only one of them says "
            "where on earth "
            "it lies. Bring both in a coordinate system"
        )
    frame = replace(frame_on(file, plane, *place, grid.cell), is_warped=True)
    unit, _ = choose_height_unit(file.name, file.crs, file.band_unit, settings.surface_unit)
    return read_heights(file, frame, grid, unit.metres)


def positions_grid(
    crs: CRS | None, plane: CRS | None, unit: float
) -> tuple[Callable[[float, float], tuple[float, float]], float]:
    """Return how x and y as written become a place on the plane, and what a bare unit of them is worth.

    Coordinates are in the system of the heights; without one, or where that is degrees, in the site's own plane.
    """
    if crs is None or plane is None or crs.is_geographic or is_local(crs):
        return (lambda x, y: (x, y)), unit
    own = crs

    def moved(x: float, y: float) -> tuple[float, float]:
        if _is_same_projection(own, plane):
            return x, y
        factor = metres_per_unit(own)
        east, north = move_points(np.array([x / factor]), np.array([y / factor]), own, plane)
        return float(east[0]), float(north[0])

    return moved, metres_per_unit(own)
