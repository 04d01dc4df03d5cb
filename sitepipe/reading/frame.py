"""The site's own frame: the metric plane and the cell that everything is brought to."""

from __future__ import annotations

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
from sitepipe.reading.raster import Affine6, HeightRaster, heights_by_window

MOST_CELLS = 16_000_000
"""Cells of a window: at 64 bytes a cell one GiB, which a small machine has."""
BYTES_PER_CELL = 64
MOST_SOURCE_CELLS = 4_000_000
"""Cells of the source read at one time while warping."""
KNOTS = 16
"""Coordinates are transformed exactly at every sixteenth cell, straight in between: off by 0.02 mm at 1 m cells."""

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


def choose_frame(raster: HeightRaster, crs: CRS | None, longitude: float, latitude: float, cell: float | None) -> Frame:
    """Choose the plane and the cell for a raster.

    Parameters
    ----------
    crs : CRS or None
        The raster's horizontal system, None or local where the site is tied to no place.
    longitude, latitude : float
        Of the parcel. [deg]
    cell : float or None
        As the user asks, None for the source's own. [m]
    """
    plane, reason = choose_plane(raster.name, crs, longitude, latitude)
    frame = frame_on(raster, crs, plane, longitude, latitude, cell)
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


def frame_on(
    raster: HeightRaster, crs: CRS | None, plane: CRS | None, longitude: float, latitude: float, cell: float | None
) -> Frame:
    """Say how a raster's cells lie in a plane that is already chosen."""
    transform = raster.transform
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
    x, y = _moved(a * column + b * row + c, d * column + e * row + f, frame.source_crs, frame.plane)
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


def refuse_what_cannot_fit(rows: int, columns: int, cell: float) -> None:
    """Raise with the memory needed and a cell that would fit, if a window has too many cells."""
    if rows * columns <= MOST_CELLS:
        return
    coarser = cell * float(np.sqrt(rows * columns / MOST_CELLS))
    fits = float(np.ceil(coarser * 20.0) / 20.0)
    raise InputError(
        f"the parcel and its margin need {columns:,} x {rows:,} cells of {cell:.3g} m, "
        f"{rows * columns * BYTES_PER_CELL / 2**30:,.1f} GiB at {BYTES_PER_CELL} bytes a cell; {MOST_CELLS:,} "
        "cells fit. "
        f"Set cell = '{fits:g} m' under [ground] in site.toml"
    )


def read_heights(raster: HeightRaster, frame: Frame, grid: Grid, metres: float) -> FloatArray:
    """Read a raster's heights onto the grid. [m].

    A native window is copied cell by cell. Otherwise each cell takes the bilinear value at its centre, or, where
    it is coarser than the source, the mean of such values at the centres of its equal parts.

    Parameters
    ----------
    metres : float
        What one unit of height is worth.
    """
    if not frame.is_warped:
        return _native(raster, frame, grid) * metres
    return _sampled(raster, frame, grid) * metres


def _native(raster: HeightRaster, frame: Frame, grid: Grid) -> FloatArray:
    a, _, c, _, e, f = frame.transform
    column = round((grid.west - c) / a)
    row = round((grid.north - f) / e) if e < 0.0 else round((grid.south - f) / e)
    with heights_by_window(raster) as read:
        heights: FloatArray = read(row, column, grid.rows, grid.columns)
    return np.ascontiguousarray(heights[::-1]) if e > 0.0 else heights


def _sampled(raster: HeightRaster, frame: Frame, grid: Grid) -> FloatArray:
    parts = max(1, round(grid.cell / frame.source_cell))
    heights = np.full(grid.shape, np.nan)
    with heights_by_window(raster) as read:
        step = max(1, min(grid.rows, MOST_SOURCE_CELLS // (grid.columns * parts * parts)))
        first = 0
        while first < grid.rows:
            rows = min(step, grid.rows - first)
            column, row = _source_places(frame, grid, first, rows, parts)
            west, east = np.floor(np.nanmin(column)) - 1, np.ceil(np.nanmax(column)) + 2
            top, bottom = np.floor(np.nanmin(row)) - 1, np.ceil(np.nanmax(row)) + 2
            left, right = int(max(west, 0)), int(min(east, raster.columns))
            upper, lower = int(max(top, 0)), int(min(bottom, raster.rows))
            if (right - left) * (lower - upper) > MOST_SOURCE_CELLS and rows > 1:
                step = max(1, rows // 2)
                continue
            if right > left and lower > upper:
                block = read(upper, left, lower - upper, right - left)
                values = bilinear(block, column - left, row - upper)
                heights[first : first + rows] = _mean_of_parts(values, parts)
            first += rows
    return heights


def _source_places(frame: Frame, grid: Grid, first: int, rows: int, parts: int) -> tuple[FloatArray, FloatArray]:
    fine = grid.cell / parts
    count_y, count_x = rows * parts, grid.columns * parts
    y: FloatArray = grid.north - first * grid.cell - (np.arange(count_y, dtype=np.float64) + 0.5) * fine
    x: FloatArray = grid.west + (np.arange(count_x, dtype=np.float64) + 0.5) * fine
    if frame.plane is frame.source_crs:
        map_x, map_y = np.broadcast_to(x, (count_y, count_x)), np.broadcast_to(y[:, None], (count_y, count_x))
    else:
        map_x, map_y = _bent(x, y, frame)
    a, b, c, d, e, f = frame.transform
    scale = a * e - b * d
    east, north = map_x - c, map_y - f
    return (e * east - b * north) / scale, (a * north - d * east) / scale


def _bent(x: FloatArray, y: FloatArray, frame: Frame) -> tuple[FloatArray, FloatArray]:
    knots_x, weight_x = _knots(x.size)
    knots_y, weight_y = _knots(y.size)
    grid_x, grid_y = np.meshgrid(np.interp(knots_x, np.arange(x.size), x), np.interp(knots_y, np.arange(y.size), y))
    moved = _moved(grid_x.ravel(), grid_y.ravel(), frame.plane, frame.source_crs)
    bent = [weight_y @ values.reshape(grid_x.shape) @ weight_x.T for values in moved]
    return bent[0], bent[1]


def _knots(count: int) -> tuple[FloatArray, FloatArray]:
    knots = np.unique(np.append(np.arange(0, count, KNOTS), count - 1)).astype(np.float64)
    weights = np.stack([np.interp(np.arange(count), knots, unit) for unit in np.eye(knots.size)], axis=1)
    return knots, weights


def bilinear(heights: FloatArray, column: FloatArray, row: FloatArray) -> FloatArray:
    """Return the height at places given in cells from the raster's corner, between the four nearest centres.

    Unknown neighbours are left out of the mean; a place is unknown where they would weigh half or more, or
    where it lies outside the raster.

    Examples
    --------
    >>> float(bilinear(np.array([[0.0, 2.0], [4.0, 6.0]]), np.array([[1.0]]), np.array([[1.0]]))[0, 0])
    3.0
    """
    rows, columns = heights.shape
    is_inside = (column >= 0.0) & (column <= columns) & (row >= 0.0) & (row <= rows)
    across = np.clip(np.nan_to_num(column) - 0.5, 0.0, columns - 1.0)
    down = np.clip(np.nan_to_num(row) - 0.5, 0.0, rows - 1.0)
    left = np.minimum(across.astype(np.intp), max(columns - 2, 0))
    upper = np.minimum(down.astype(np.intp), max(rows - 2, 0))
    right, lower = np.minimum(left + 1, columns - 1), np.minimum(upper + 1, rows - 1)
    along, below = across - left, down - upper
    total = np.zeros(column.shape)
    weight = np.zeros(column.shape)
    for at_row, share_row in ((upper, 1.0 - below), (lower, below)):
        for at_column, share_column in ((left, 1.0 - along), (right, along)):
            value = heights[at_row, at_column]
            share = np.where(np.isfinite(value), share_row * share_column, 0.0)
            total += share * np.where(np.isfinite(value), value, 0.0)
            weight += share
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(is_inside & (weight > 0.5), total / weight, np.nan)


def _mean_of_parts(values: FloatArray, parts: int) -> FloatArray:
    if parts == 1:
        return values
    rows, columns = values.shape[0] // parts, values.shape[1] // parts
    cut = values.reshape(rows, parts, columns, parts)
    is_known = np.isfinite(cut)
    count = is_known.sum(axis=(1, 3))
    total = np.where(is_known, cut, 0.0).sum(axis=(1, 3))
    return np.where(2 * count > parts * parts, total / np.maximum(count, 1), np.nan)


def _moved(x: FloatArray, y: FloatArray, source: CRS | None, target: CRS | None) -> tuple[FloatArray, FloatArray]:
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
