"""WalkingGround: what a metre on foot or with a wheel costs, cell by cell, around the parcel."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, LongArray, frozen
from sitepipe.drainage.record import Drainage
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site, Work
from sitepipe.works.land import Land
from sitepipe.works.obstacles import drives, inside, inside_any, solids

MOST_CELLS = 160_000
"""Beyond this many cells the window is walked on coarser ones: a path needs no finer ground. [cells]"""
MARGIN = 12.0
"""Ground around the parcel that a gate, road or tap may lie on. [m]"""
WALL_ROOM = 0.3
"""No chips against a wall: common practice. [m]"""
LANE_PACE = 0.6
"""A metre on a road or drive that is there already costs less than a metre of new path."""


@dataclass(frozen=True, slots=True)
class WalkingGround:
    """A window of the site on cells that a path is laid over.

    Parameters
    ----------
    pace : (rows, columns) float array
        Cost of a metre, 1 on level dry ground; infinite where nothing goes. [1]
    height : (rows, columns) float array
        Of the smoothed ground. [m]
    in_flow : (rows, columns) bool array
        Where water runs in a line.
    on_lane : (rows, columns) bool array
        Roads and drives inside the parcel.
    wet : (rows, columns) float array
        0 dry to 1 wet. [1]
    """

    grid: Grid
    pace: FloatArray
    height: FloatArray
    in_flow: BoolArray
    on_lane: BoolArray
    wet: FloatArray

    @property
    def height_in_cells(self) -> FloatArray:
        """Height over cell size, as ``least_cost`` wants it."""
        return np.asarray(self.height / self.grid.cell)

    def cell_near(self, x: float, y: float, reach: float = 6.0) -> int | None:
        """Return the flat index of the free cell nearest to a place, None where there is none within reach."""
        grid = self.grid
        row, column = grid.cell_at(x, y)
        steps = int(np.ceil(reach / grid.cell)) + 1
        top, bottom = max(row - steps, 0), min(row + steps + 1, grid.rows)
        left, right = max(column - steps, 0), min(column + steps + 1, grid.columns)
        if top >= bottom or left >= right:
            return None
        free = np.isfinite(self.pace[top:bottom, left:right])
        distance = np.hypot(*np.meshgrid(grid.x[left:right] - x, grid.y[top:bottom] - y))
        distance = np.where(free, distance, np.inf)
        nearest = int(np.argmin(distance))
        if not np.isfinite(distance.flat[nearest]) or distance.flat[nearest] > reach:
            return None
        down, over = divmod(nearest, right - left)
        return (top + down) * grid.columns + left + over

    def cells_in(self, outline: BaseGeometry) -> LongArray:
        """Return the flat indices of the free cells inside an outline."""
        mask = inside(outline, self.grid.x, self.grid.y) & np.isfinite(self.pace)
        return np.flatnonzero(mask)

    def place_of(self, cell: int) -> tuple[float, float]:
        """Return (x, y) of the centre of a cell. [m]."""
        return self.grid.centre(*divmod(cell, self.grid.columns))


def walking_ground(
    land: Land, taken: Iterable[BaseGeometry] = (), half_width: float = 0.45, most_cells: int = MOST_CELLS
) -> WalkingGround:
    """Gather what walking costs: wet ground, water in lines, what stands there already, and what must stay clear."""
    grid, steps = _window(land.site, most_cells)
    wet = _coarser(np.fmax(land.wetness.wetness, _ponded(land.drainage)), land.site.grid, grid, steps)
    in_flow = (
        _coarser(_flow(land.site, land.drainage, land.settings).astype(np.float64), land.site.grid, grid, steps) > 0.0
    )
    height = _coarser(land.terrain.broad_elevation, land.site.grid, grid, steps)
    on_lane = inside_any(drives(land.site), grid.x, grid.y)
    wet = np.where(np.isfinite(wet), np.clip(wet, 0.0, 1.0), 0.5)
    pace = 1.0 + land.settings.path.wet_cost * wet**2
    pace[in_flow] += land.settings.path.crossing_cost / grid.cell
    pace[on_lane] = LANE_PACE
    walls = (house.footprint.buffer(WALL_ROOM) for house in land.site.of_kind(Kind.BUILDING))
    slack = half_width + 0.5 * grid.cell
    banned = (ban.outline.buffer(slack) for ban in land.scores.exclusions if ban.forbids(Work.PATH))
    blocked = inside_any(banned, grid.x, grid.y) & ~on_lane
    blocked |= inside_any((shape.buffer(slack) for shape in (*solids(land.site), *walls)), grid.x, grid.y)
    blocked |= inside_any((shape.buffer(half_width) for shape in taken), grid.x, grid.y)
    blocked |= ~inside(land.site.parcel.buffer(-half_width), grid.x, grid.y) & ~on_lane
    pace[blocked] = np.inf
    return WalkingGround(grid, frozen(pace), frozen(height), frozen(in_flow), frozen(on_lane), frozen(wet))


def _window(site: Site, most_cells: int) -> tuple[Grid, int]:
    west, south, east, north = site.parcel.bounds
    grid = site.grid
    top, left = grid.cell_at(west - MARGIN, north + MARGIN)
    bottom, right = grid.cell_at(east + MARGIN, south - MARGIN)
    top, left = min(max(top, 0), grid.rows - 1), min(max(left, 0), grid.columns - 1)
    bottom, right = max(min(bottom + 1, grid.rows), top + 1), max(min(right + 1, grid.columns), left + 1)
    steps = 1
    while ((bottom - top) // steps + 1) * ((right - left) // steps + 1) > most_cells:
        steps += 1
    rows, columns = max((bottom - top) // steps, 1), max((right - left) // steps, 1)
    return (
        Grid(grid.west + left * grid.cell, grid.north - top * grid.cell, grid.cell * steps, rows, columns, grid.crs),
        steps,
    )


def _coarser(values: FloatArray, fine: Grid, coarse: Grid, steps: int) -> FloatArray:
    """Mean of the known cells below each coarse cell."""
    left, top = round((coarse.west - fine.west) / fine.cell), round((fine.north - coarse.north) / fine.cell)
    part = values[top : top + coarse.rows * steps, left : left + coarse.columns * steps]
    blocks = part.reshape(coarse.rows, part.shape[0] // coarse.rows, coarse.columns, part.shape[1] // coarse.columns)
    known = np.isfinite(blocks)
    count = known.sum(axis=(1, 3))
    total = np.where(known, blocks, 0.0).sum(axis=(1, 3))
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(count > 0, total / np.maximum(count, 1), np.nan))


def _ponded(drainage: Drainage) -> FloatArray:
    """1 where water stands 5 cm or more in a full hollow, in proportion below. [1]."""
    return np.clip(np.nan_to_num(drainage.ponding_depth) / 0.05, 0.0, 1.0)


def _flow(site: Site, drainage: Drainage, settings: Settings) -> BoolArray:
    """Cells with so much ground behind them that water runs in a line, outside standing water."""
    running = np.nan_to_num(drainage.upslope_area) >= max(settings.path.flow_area, 4.0 * site.grid.cell_area)
    return np.asarray(running & (np.nan_to_num(drainage.ponding_depth) <= 0.0))


def on_walking_cells(values: FloatArray, site: Site, walking: WalkingGround) -> FloatArray:
    """Take the mean of a layer of the site over each walking cell; NaN where nothing is known."""
    steps = max(round(walking.grid.cell / site.grid.cell), 1)
    return _coarser(values, site.grid, walking.grid, steps)
