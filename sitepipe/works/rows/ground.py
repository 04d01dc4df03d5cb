"""Where rows for vines may stand, and how good the ground there is for one."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.grid import Grid
from sitepipe.scoring.record import Use
from sitepipe.site import Kind, Site
from sitepipe.works.hazards import Act, kept_clear
from sitepipe.works.houses.ground import FLOW_ROOM, POND_DEPTH
from sitepipe.works.land import Land
from sitepipe.works.obstacles import inside, inside_any, lanes, solids
from sitepipe.works.record import Mound, Path
from sitepipe.works.ways.least_cost import SIXTEEN_MOVES, least_cost
from sitepipe.works.ways.walking import WalkingGround

CELL = 0.5
"""Cells on which rows and beds are laid out: the thickness of a row in leaf. [m]"""
MOST_CELLS = 1_000_000
SIDE_ROOM = 0.45
"""Free on each side of a row, to pick from. [m]"""
NEAR = 8.0
"""Way from the nearest bed, path or drive, in metres of level dry path, over which a row falls to 1/e: our choice."""
WET_FLOOR = 0.3
"""Posts can stand in wet ground if they go deeper: it costs, but does not forbid."""


@dataclass(frozen=True, slots=True)
class RowGround:
    """Where rows may stand, on cells of their own over the parcel.

    Parameters
    ----------
    free : (rows, columns) bool array
    goodness : (rows, columns) float array
        Sun, dryness and a short way together. [1]
    beds : (rows, columns) float array
        Square metres of bed in each cell. [m2]
    wet : (rows, columns) bool array
        Where posts stand in water in the wet season.
    """

    grid: Grid
    free: BoolArray
    goodness: FloatArray
    beds: FloatArray
    wet: BoolArray


def bed_outlines(site: Site) -> tuple[Polygon, ...]:
    """Return the beds that are there already, each piece by itself."""
    drawn = (bed.geometry for bed in site.of_kind(Kind.BED))
    return tuple(
        part for shape in drawn for part in shapely.get_parts(shape) if isinstance(part, Polygon) and part.area > 0.0
    )


def row_ground(land: Land, mounds: tuple[Mound, ...], taken: tuple[BaseGeometry, ...]) -> RowGround:
    """Gather where a row may stand, and how good the ground is for one."""
    own = land.settings.trellis
    west, south, east, north = land.site.parcel.bounds
    cell = max(CELL, math.sqrt((east - west) * (north - south) / MOST_CELLS))
    grid = Grid(
        west,
        north,
        cell,
        max(math.ceil((north - south) / cell), 1),
        max(math.ceil((east - west) / cell), 1),
        land.site.grid.crs,
    )
    outlines = [*(mound.outline for mound in mounds), *bed_outlines(land.site)]
    beds = inside_any(outlines, grid.x, grid.y).astype(np.float64) * cell**2
    minds = [shape.buffer(SIDE_ROOM) for shape in (*solids(land.site), *taken, *lanes(land.site), *outlines)]
    minds += [zone.ground for zone in kept_clear(land.site, Act.BORES, land.settings)]
    minds += [ban.outline for ban in land.scores.exclusions if Use.MOUND in ban.uses]
    minds += [pond.outline for pond in land.drainage.ponds if pond.depth >= POND_DEPTH]
    minds += [
        flow.line.buffer(FLOW_ROOM)
        for flow in land.drainage.flow_lines
        if flow.upslope_area and max(flow.upslope_area) >= land.settings.path.flow_area
    ]
    free = inside(land.site.parcel.buffer(-1.0), grid.x, grid.y) & ~inside_any(minds, grid.x, grid.y)
    sun = np.clip(_sampled(land.sunlight.sun_hours, land.site.grid, grid) / land.settings.hoop_house.full_sun, 0.0, 1.0)
    depth = _sampled(land.water_table.water_table_depth, land.site.grid, grid)
    dry = np.clip(depth / max(own.wet_depth, 0.01), 0.0, 1.0) * (
        1.0 - 0.5 * _sampled(land.wetness.wetness, land.site.grid, grid)
    )
    goodness = sun**2 * (WET_FLOOR + (1.0 - WET_FLOOR) * dry)
    return RowGround(grid, free, np.where(free, goodness, 0.0), beds, depth < own.wet_depth)


def handiness(
    site: Site, walking: WalkingGround, mounds: tuple[Mound, ...], paths: tuple[Path, ...], grid: Grid
) -> FloatArray:
    """How short the way is from the nearest bed, path or drive, over the ground as it is. [1]."""
    beside = 1.6 * walking.grid.cell + SIDE_ROOM
    places = [*(mound.outline for mound in mounds), *bed_outlines(site)]
    places += [path.line for path in paths]
    found = [walking.cells_in(place.buffer(beside)) for place in places]
    found.append(np.flatnonzero(walking.on_lane & np.isfinite(walking.pace)))
    sources = np.unique(np.concatenate(found))
    if sources.size == 0:
        return np.ones(grid.shape)
    cost, _, _ = least_cost(walking.pace, walking.height_in_cells, 0.0, SIXTEEN_MOVES, sources)
    return _sampled(np.exp(-cost * walking.grid.cell / NEAR), walking.grid, grid)


def _sampled(values: FloatArray, own: Grid, grid: Grid) -> FloatArray:
    """Values of the cells of one grid at the middles of another's; 0 where not known."""
    rows = np.clip(np.floor((own.north - grid.y) / own.cell).astype(np.int64), 0, own.rows - 1)
    columns = np.clip(np.floor((grid.x - own.west) / own.cell).astype(np.int64), 0, own.columns - 1)
    return np.nan_to_num(values[np.ix_(rows, columns)])
