"""The site's own frame: the metric plane and the cell that everything is brought to."""

from __future__ import annotations

import os
from dataclasses import dataclass, replace

import numpy as np
from pyproj import CRS

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.coordinates import (
    LARGEST_DISTORTION,
    LOCAL_PLANE,
    distortion,
    in_metres,
    is_local,
    local_plane,
    metres_per_unit,
    move_points,
    short_name,
)
from sitepipe.reading.raster import Affine6, HeightRaster

MOST_CELLS = 16_000_000
"""Cells of a window, however much memory there is."""
BYTES_PER_CELL = 750
"""What a whole run takes at its peak, all layers of all stages included: measured at a million cells. [B]"""
SHARE_OF_MEMORY = 0.8
USUAL_MEMORY = 8 * 2**30
"""Where the system does not tell. [B]"""
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Frame:
    """How a raster's cells lie in the site's plane.

    Parameters
    ----------
    plane : CRS or None
        The metric system of the site; None for a plane tied to no place.
    wkt : str
    transform : six floats
        Of the source, lengths in metres where ``is_warped`` is false. [m]
    source_crs : CRS or None
        Horizontal system that ``transform`` is in.
    cell : float
        Of the site. [m]
    source_cell : float
        Side of a source cell, the longer one. [m]
    is_warped : bool
        Whether the heights must be sampled anew.
    reasons : tuple of str
        What the user should know of it.
    """

    plane: CRS | None
    wkt: str
    transform: Affine6
    source_crs: CRS | None
    cell: float
    source_cell: float
    is_warped: bool
    reasons: tuple[str, ...]


def choose_frame(raster: HeightRaster, longitude: float, latitude: float, cell: float | None) -> Frame:
    """Choose the plane and the cell for a raster.

    Parameters
    ----------
    longitude, latitude : float
        Of the parcel. [deg]
    cell : float or None
        As the user asks, None for the source's own. [m]
    """
    plane, reason = choose_plane(raster.name, raster.system, longitude, latitude)
    frame = frame_on(raster, plane, longitude, latitude, cell)
    return replace(frame, reasons=(*reason, *frame.reasons))


def choose_plane(name: str, crs: CRS | None, longitude: float, latitude: float) -> tuple[CRS | None, tuple[str, ...]]:
    """Choose the metric plane for heights in a coordinate system, and say so where it is another.

    A true projection in metres or feet is kept, in metres; degrees and stretched maps are left for the UTM zone.
    """
    if crs is None or is_local(crs):
        return None, ()
    if crs.is_geographic or distortion(crs, longitude, latitude) > LARGEST_DISTORTION:
        plane = local_plane(longitude, latitude)
        what = "degrees" if crs.is_geographic else "stretched"
        return plane, (
            f"{name} is in {short_name(crs)} ({what}); its heights are warped to {short_name(plane)}, in metres.",
        )
    factor = metres_per_unit(crs)
    if factor == 1.0:
        return crs, ()
    return in_metres(crs), (
        (
            f"{name} is in {short_name(crs)} with lengths in feet ({factor:.10g} m); the same projection is used "
            "in metres."
        ),
    )


def frame_on(raster: HeightRaster, plane: CRS | None, longitude: float, latitude: float, cell: float | None) -> Frame:
    """Say how a raster's cells lie in a plane that is already chosen."""
    transform, crs = raster.transform, raster.system
    source: CRS | None = None
    if crs is None or is_local(crs) or plane is None:
        transform = _scaled(transform, metres_per_unit(crs) if crs is not None else 1.0)
        sides = _sides(transform)
    elif plane in (crs, in_metres(crs)) and not crs.is_geographic:
        source = plane
        transform = _scaled(transform, metres_per_unit(crs))
        sides = _sides(transform)
    else:
        source = crs
        sides = _sides_on_ground(transform, crs, plane, longitude, latitude)
    reasons: list[str] = []
    # Files write 1.6 as 1.600000000000058.
    own = float(f"{np.sqrt(sides[0] * sides[1]):.12g}")
    is_turned = not raster.is_upright
    is_warped = plane is not source or is_turned or (cell is not None and abs(cell - own) > 1e-9)
    if is_turned:
        reasons.append(f"The cells of {raster.name} are turned or not square; its heights are sampled anew, north up.")
    chosen = cell if cell is not None else (_rounded(own) if is_warped else own)
    reasons.extend(_said_of_cell(raster.name, chosen, max(sides), cell is not None))
    wkt = plane.to_wkt() if plane is not None else LOCAL_PLANE
    return Frame(plane, wkt, transform, source, chosen, float(f"{max(sides):.12g}"), is_warped, tuple(reasons))


def bounds_in_frame(raster: HeightRaster, frame: Frame) -> Bounds:
    """Return the box, in the site's plane, that the raster reaches."""
    a, b, c, d, e, f = frame.transform
    steps = np.linspace(0.0, 1.0, 21)
    column = np.concatenate([steps, steps, np.zeros(21), np.ones(21)]) * raster.columns
    row = np.concatenate([np.zeros(21), np.ones(21), steps, steps]) * raster.rows
    x, y = moved(a * column + b * row + c, d * column + e * row + f, frame.source_crs, frame.plane)
    known = np.isfinite(x) & np.isfinite(y)
    if not known.any():
        raise InputError(f"{raster.name} lies where its coordinate system does not reach. Check the system it states")
    return float(x[known].min()), float(y[known].min()), float(x[known].max()), float(y[known].max())


def grid_for(frame: Frame, wanted: Bounds, reach: Bounds) -> Grid:
    """Return the grid that covers the wanted box as far as the raster reaches.

    Raises
    ------
    InputError
        If nothing is left, or if it has more cells than memory allows.
    """
    west, south, east, north = (
        max(wanted[0], reach[0]),
        max(wanted[1], reach[1]),
        min(wanted[2], reach[2]),
        min(wanted[3], reach[3]),
    )
    cell = frame.cell
    # A native grid keeps the source's own lines; a warped one lies on whole multiples of the cell.
    origin_x, origin_y = (0.0, 0.0) if frame.is_warped else (reach[0], reach[3])
    first, last = _cells_between(west - origin_x, east - origin_x, cell)
    top, bottom = _cells_between(origin_y - north, origin_y - south, cell)
    columns, rows = last - first, bottom - top
    if columns < 3 or rows < 3:
        raise InputError(
            f"of the heights only {max(columns, 0)} x {max(rows, 0)} cells of {cell:.3g} m touch the parcel: "
            "too few to see a slope. "
            "Bring finer heights, or heights that cover it"
        )
    refuse_what_cannot_fit(rows, columns, cell)
    return Grid(origin_x + first * cell, origin_y - top * cell, cell, rows, columns, frame.wkt)


def cells_that_fit() -> int:
    """Return how many cells a window may have on this machine."""
    try:
        memory = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    except (AttributeError, ValueError, OSError):
        memory = USUAL_MEMORY
    return min(MOST_CELLS, int(SHARE_OF_MEMORY * memory / BYTES_PER_CELL))


def refuse_what_cannot_fit(rows: int, columns: int, cell: float) -> None:
    """Raise with the memory needed and a cell that would fit, if a window has too many cells."""
    fitting = cells_that_fit()
    if rows * columns <= fitting:
        return
    coarser = cell * float(np.sqrt(rows * columns / fitting))
    fits = float(np.ceil(coarser * 20.0) / 20.0)
    raise InputError(
        f"the parcel and its margin need {columns:,} x {rows:,} cells of {cell:.3g} m, "
        f"{rows * columns * BYTES_PER_CELL / 2**30:,.1f} GiB at {BYTES_PER_CELL} bytes a cell; {fitting:,} "
        "cells fit. "
        f"Set cell = '{fits:g} m' under [ground] in site.toml"
    )


def moved(x: FloatArray, y: FloatArray, source: CRS | None, target: CRS | None) -> tuple[FloatArray, FloatArray]:
    """Carry points between two systems, or leave them where there is one only."""
    if source is None or target is None or source is target:
        return x, y
    return move_points(x, y, source, target)


def _cells_between(low: float, high: float, cell: float) -> tuple[int, int]:
    # A border that lies on a cell's edge to a thousandth of a cell does not ask for one cell more.
    return int(np.floor(low / cell + 1e-3)), int(np.ceil(high / cell - 1e-3))


def _scaled(transform: Affine6, factor: float) -> Affine6:
    a, b, c, d, e, f = transform
    return a * factor, b * factor, c * factor, d * factor, e * factor, f * factor


def _sides(transform: Affine6) -> tuple[float, float]:
    a, b, _, d, e, _ = transform
    return float(np.hypot(a, d)), float(np.hypot(b, e))


def _sides_on_ground(
    transform: Affine6, crs: CRS, plane: CRS, longitude: float, latitude: float
) -> tuple[float, float]:
    a, b, _, d, e, _ = transform
    here_x, here_y = move_points(np.array([longitude]), np.array([latitude]), CRS.from_epsg(4326), crs)
    x = here_x[0] + np.array([0.0, a, b])
    y = here_y[0] + np.array([0.0, d, e])
    east, north = move_points(x, y, crs, plane)
    return float(np.hypot(east[1] - east[0], north[1] - north[0])), float(
        np.hypot(east[2] - east[0], north[2] - north[0])
    )


def _rounded(length: float) -> float:
    return float(f"{length:.3g}")


def _said_of_cell(name: str, chosen: float, source: float, is_asked: bool) -> list[str]:
    if chosen < 0.99 * source:
        return [
            f"{name} has cells of {source:.3g} m; at {chosen:.3g} m they are drawn smoother, not known more finely."
        ]
    if is_asked and chosen > 1.01 * source:
        return [f"The cells of {name} ({source:.3g} m) are averaged to {chosen:.3g} m, as site.toml asks."]
    return []
