"""Rows for vines: where, which way, how far apart, and what they take from the beds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from shapely import LineString, union_all
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.drainage.record import Drainage
from sitepipe.grid import Grid
from sitepipe.scoring.record import Scores, Use
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.units import NO_BREAK, say_hours, say_length
from sitepipe.wetness.record import WaterTable, Wetness
from sitepipe.works.hoop_ground import FLOW_ROOM, POND_DEPTH
from sitepipe.works.hoop_reasons import say_ridge
from sitepipe.works.obstacles import crown, inside, inside_any, lanes, solids
from sitepipe.works.record import Mound, Trellis
from sitepipe.works.row_shade import (
    RowShade,
    bed_hours_everywhere,
    bed_hours_lost,
    clear_distance,
    row_cells,
    row_line,
    row_shade,
)

CELL = 0.5
"""Cells on which rows and beds are laid out: the thickness of a row in leaf. [m]"""
MOST_CELLS = 1_000_000
LEAST_DEPTH = 0.60
"""Posts go at least this deep: common practice. [m]"""
WET_DEPTH = 0.75
"""In wet ground at least this deep: common practice. [m]"""
SIDE_ROOM = 0.45
"""Free on each side of a row, to pick from. [m]"""
NEAR = 12.0
"""Distance from the nearest bed over which a row loses 1/e of its handiness: our own choice. [m]"""
CROSSWISE = 0.95
"""Vines want a row that runs north-south; one that runs east-west keeps this much: our own choice."""
WET_FLOOR = 0.3
"""Posts can stand in wet ground if they go deeper: it costs, but does not forbid."""


@dataclass(frozen=True, slots=True)
class RowGround:
    """Where rows may stand, on cells of their own over the parcel.

    Parameters
    ----------
    free : (rows, columns) bool array
    goodness : (rows, columns) float array
        Sun, dryness and nearness to the beds together. [1]
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


def lay_trellises(
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    sunlight: Sunlight,
    wetness: Wetness,
    water_table: WaterTable,
    scores: Scores,
    settings: Settings,
    mounds: tuple[Mound, ...] = (),
    taken: tuple[BaseGeometry, ...] = (),
) -> tuple[Trellis, ...]:
    """Set out rows one by one, each where sun and ground are good and the beds lose least.

    ``taken`` must hold the paths as well, so that no row bars one. Rows keep each other's clear distance.
    """
    del terrain
    own = settings.trellis
    if not own.wanted:
        return ()
    ground = row_ground(site, drainage, sunlight, wetness, water_table, scores, settings, mounds, taken)
    bearings = row_bearings(mounds, settings)
    shades = [row_shade(site, own.length, own.height, bearing, ground.grid.cell, settings) for bearing in bearings]
    month = sunlight.leanest_month
    months = sunlight.season_months
    clear = [clear_distance(shade, sunlight.open_hours[month - 1], month) for shade in shades]
    ranked = [_score(shade, ground, months, settings) for shade in shades[: 1 if own.direction != "best" else 2]]
    found: list[Trellis] = []
    while len(found) < own.rows:
        which = int(np.argmax([float(score.max()) for score in ranked]))
        score = ranked[which]
        if float(score.max()) <= 0.0:
            break
        row, column = divmod(int(np.argmax(score)), ground.grid.columns)
        found.append(_trellis(len(found) + 1, row, column, which, shades, clear, ground, months, settings))
        for other, bearing in zip(ranked, bearings, strict=False):
            other[_too_near(found[-1].line, max(clear), bearing, ground, settings)] = 0.0
    return tuple(found)


def row_bearings(mounds: tuple[Mound, ...], settings: Settings) -> tuple[float, float]:
    """Return the two directions that are weighed: along and across the beds, the nearer to north-south first. [deg].

    Without beds, or where the user says so, north-south and east-west.
    """
    if settings.trellis.direction == "east-west":
        return 90.0, 0.0
    if settings.trellis.direction == "north-south" or not mounds:
        return 0.0, 90.0
    doubled = [(math.radians(2.0 * _bearing(mound.crest)), mound.crest.length) for mound in mounds]
    east, north = (sum(part(angle) * length for angle, length in doubled) for part in (math.sin, math.cos))
    along = round(math.degrees(math.atan2(east, north)) / 2.0, 3) % 180.0
    across = (along + 90.0) % 180.0
    first, second = sorted((along, across), key=lambda bearing: abs(math.sin(math.radians(bearing))))
    return first, second


def post_depth(height: float, is_wet: bool) -> float:
    """How deep the posts of a row go: a third of their length, 60 cm at least, 75 in wet ground. [m].

    Common practice, no source.

    Examples
    --------
    >>> post_depth(1.0, False), post_depth(1.0, True), post_depth(2.0, False)
    (0.6, 0.75, 1.0)
    """
    return max(WET_DEPTH if is_wet else LEAST_DEPTH, height / 2.0)


def row_ground(
    site: Site,
    drainage: Drainage,
    sunlight: Sunlight,
    wetness: Wetness,
    water_table: WaterTable,
    scores: Scores,
    settings: Settings,
    mounds: tuple[Mound, ...],
    taken: tuple[BaseGeometry, ...],
) -> RowGround:
    """Gather where a row may stand, and how good the ground is for one."""
    own = settings.trellis
    west, south, east, north = site.parcel.bounds
    cell = max(CELL, math.sqrt((east - west) * (north - south) / MOST_CELLS))
    grid = Grid(
        west,
        north,
        cell,
        max(math.ceil((north - south) / cell), 1),
        max(math.ceil((east - west) / cell), 1),
        site.grid.crs,
    )
    outlines = [mound.outline for mound in mounds] + [bed.geometry for bed in site.of_kind(Kind.BED)]
    beds = inside_any(outlines, grid.x, grid.y).astype(np.float64) * cell**2
    minds = [shape.buffer(SIDE_ROOM) for shape in (*solids(site), *taken, *lanes(site), *outlines)]
    minds += [crown(tree) for tree in site.of_kind(Kind.TREE)]
    minds += [ban.outline for ban in scores.exclusions if Use.MOUND in ban.uses]
    minds += [pond.outline for pond in drainage.ponds if pond.depth >= POND_DEPTH]
    minds += [
        flow.line.buffer(FLOW_ROOM)
        for flow in drainage.flow_lines
        if flow.upslope_area and max(flow.upslope_area) >= settings.path.flow_area
    ]
    free = inside(site.parcel.buffer(-1.0), grid.x, grid.y) & ~inside_any(minds, grid.x, grid.y)
    sun = np.clip(_sampled(sunlight.sun_hours, site, grid) / settings.hoop_house.full_sun, 0.0, 1.0)
    depth = _sampled(water_table.water_table_depth, site, grid)
    dry = np.clip(depth / max(own.wet_depth, 0.01), 0.0, 1.0) * (1.0 - 0.5 * _sampled(wetness.wetness, site, grid))
    goodness = sun**2 * (WET_FLOOR + (1.0 - WET_FLOOR) * dry) * _nearness(beds, cell)
    return RowGround(grid, free, np.where(free, goodness, 0.0), beds, depth < own.wet_depth)


def _nearness(beds: FloatArray, cell: float) -> FloatArray:
    """How handy a row is to those who work the beds. [1]."""
    from scipy.ndimage import distance_transform_edt

    if not beds.any():
        return np.ones_like(beds)
    return np.asarray(np.exp(-distance_transform_edt(beds <= 0.0) * cell / NEAR))


def _sampled(values: FloatArray, site: Site, grid: Grid) -> FloatArray:
    """Values of the site's cells at the middles of other cells; 0 where not known."""
    rows = np.clip(np.floor((site.grid.north - grid.y) / site.grid.cell).astype(np.int64), 0, site.grid.rows - 1)
    columns = np.clip(np.floor((grid.x - site.grid.west) / site.grid.cell).astype(np.int64), 0, site.grid.columns - 1)
    return np.nan_to_num(values[np.ix_(rows, columns)])


def _score(shade: RowShade, ground: RowGround, months: tuple[int, ...], settings: Settings) -> FloatArray:
    """Score a row with its middle in every cell: the ground below it and what it leaves to the beds. [1]."""
    half = math.ceil(settings.trellis.length / 2.0 / ground.grid.cell) + 1
    below = row_cells(half, settings.trellis.length, shade.bearing, ground.grid.cell)
    blocked = _along_row((~ground.free).astype(np.float64), below, 1.0)
    mean = _along_row(ground.goodness, below, 0.0) / below.sum()
    lost = shade.lost[[month - 1 for month in months]].mean(axis=0)
    most = float(lost.sum()) * ground.grid.cell**2
    taken = bed_hours_everywhere(lost, ground.beds) / max(most, 1e-9)
    direction = 1.0 - (1.0 - CROSSWISE) * math.sin(math.radians(shade.bearing)) ** 2
    score = mean * np.clip(1.0 - taken, 0.0, 1.0) ** 3 * direction
    return np.where(blocked < 0.5, score, 0.0)


def _trellis(
    number: int,
    row: int,
    column: int,
    which: int,
    shades: list[RowShade],
    clear: list[float],
    ground: RowGround,
    months: tuple[int, ...],
    settings: Settings,
) -> Trellis:
    own, units = settings.trellis, settings.units
    shade, other = shades[which], shades[1 - which]
    lost, turned = (bed_hours_lost(each, ground.beds, row, column) for each in (shade, other))
    line = row_line(*ground.grid.centre(row, column), shade.bearing, own.length)
    is_wet = bool(inside(line.buffer(ground.grid.cell), ground.grid.x, ground.grid.y)[ground.wet].any())
    posts = max(math.ceil(own.length / own.post_spacing - 1e-9), 1) + 1
    depth = post_depth(own.height, is_wet)
    picked = [month - 1 for month in months]
    here, there = float(lost[picked].mean()), float(turned[picked].mean())
    area = float(ground.beds.sum())
    why = (
        f"Runs {say_ridge(shade.bearing)}: in the growing season the beds lose {_bed_hours(here, area)} to it, "
        f"{_bed_hours(there, area)} if it were turned. Beyond {say_length(clear[which], units)} on its shaded "
        f"side a bed keeps nine tenths of its sun. Posts {say_length(depth, units)} deep"
        f"{', braced at both ends, for the ground is wet' if is_wet else ''}."
    )
    return Trellis(
        number=number,
        line=line,
        height=own.height,
        bearing=shade.bearing,
        post_depth=depth,
        posts=posts,
        hours_lost=tuple((month, float(lost[month - 1]), float(turned[month - 1])) for month in range(1, 13)),
        why=why,
        clear_distance=clear[which],
        is_wet=is_wet,
    )


def _bed_hours(bed_hours: float, area: float) -> str:
    """Say bed-hours as hours of sun a day over all the beds."""
    if area <= 0.0 or bed_hours / area < 0.01:
        return "next to no sun"
    minutes = 60.0 * bed_hours / area
    if minutes < 45.0:
        return f"{minutes:.0f}{NO_BREAK}minutes of sun a day on the mean"
    return f"{say_hours(minutes / 60.0)} of sun a day on the mean"


def _too_near(line: LineString, distance: float, bearing: float, ground: RowGround, settings: Settings) -> BoolArray:
    """Cells where the middle of another row would bring it within a distance of one that stands."""
    reach = row_line(0.0, 0.0, bearing, settings.trellis.length)
    band = line.buffer(distance)
    ends = [translate(band, x, y) for x, y in reach.coords]
    return inside(union_all(ends).convex_hull, ground.grid.x, ground.grid.y)


def _along_row(values: FloatArray, row: BoolArray, beyond: float) -> FloatArray:
    """Sum of the values below a row, for its middle in every cell; ``beyond`` stands outside the cells."""
    half = row.shape[0] // 2
    padded = np.pad(values, half, constant_values=beyond)
    total = np.zeros_like(values)
    for down, right in np.argwhere(row):
        total += padded[down : down + values.shape[0], right : right + values.shape[1]]
    return total


def _bearing(crest: LineString) -> float:
    (x0, y0), (x1, y1) = crest.coords[0][:2], crest.coords[-1][:2]
    return math.degrees(math.atan2(x1 - x0, y1 - y0)) % 180.0
