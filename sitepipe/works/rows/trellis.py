"""Rows for vines: where, which way, how far apart, and what they take from the beds."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from shapely import LineString, Polygon, union_all
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.shade import bed_hours_lost
from sitepipe.sunlight.stage import Scene, site_scene
from sitepipe.units import NO_BREAK, say_hours, say_length
from sitepipe.works.houses.reasons import say_ridge
from sitepipe.works.land import Land
from sitepipe.works.obstacles import inside
from sitepipe.works.record import Mound, Path, Trellis
from sitepipe.works.rows.ground import SIDE_ROOM, RowGround, bed_outlines, handiness, row_ground
from sitepipe.works.rows.shade import (
    REACH,
    RowShade,
    bed_hours_everywhere,
    clear_distance,
    row_cells,
    row_line,
    row_shade,
)
from sitepipe.works.ways.walking import walking_ground

LEAST_DEPTH = 0.60
"""Posts go at least this deep: common practice. [m]"""
ALIKE = 10.0
"""Directions nearer than this to each other are not told apart with stakes and string. [deg]"""
WET_DEPTH = 0.75
"""In wet ground at least this deep: common practice. [m]"""
CROSSWISE = 0.95
"""Vines want a row that runs north-south; one that runs east-west keeps this much: our own choice."""


def lay_trellises(
    land: Land,
    mounds: tuple[Mound, ...] = (),
    taken: tuple[BaseGeometry, ...] = (),
    paths: tuple[Path, ...] = (),
    scene: Scene | None = None,
) -> tuple[Trellis, ...]:
    """Set out rows one by one, each where sun and ground are good, the way is short, and the beds lose least.

    No row bars a path; rows keep each other's clear distance.
    """
    own = land.settings.trellis
    if not own.wanted:
        return ()
    walking = walking_ground(land, taken, SIDE_ROOM)
    taken = (*taken, *(path.outline for path in paths))
    ground = row_ground(land, mounds, taken)
    handy = handiness(land.site, walking, mounds, paths, ground.grid)
    ground = replace(ground, goodness=ground.goodness * handy)
    bearings = row_bearings(mounds, land.settings)
    shades = [
        row_shade(land.site, own.length, own.height, bearing, ground.grid.cell, land.settings) for bearing in bearings
    ]
    month = land.sunlight.leanest_month
    months = land.sunlight.season_months
    clear = [clear_distance(shade, land.sunlight.open_hours[month - 1], month) for shade in shades]
    ranked = [_score(shade, ground, months, month, land.settings) for shade in shades]
    beds = tuple(mound.outline for mound in mounds) + bed_outlines(land.site)
    scene = scene or site_scene(land.site, land.settings)
    found: list[Trellis] = []
    while len(found) < own.rows:
        which = int(np.argmax([float(score.max()) for score in ranked]))
        score = ranked[which]
        if float(score.max()) <= 0.0:
            break
        row, column = divmod(int(np.argmax(score)), ground.grid.columns)
        found.append(
            _trellis(
                len(found) + 1, row, column, which, shades, clear, ground, months, land.site, scene, beds, land.settings
            )
        )
        for other, bearing in zip(ranked, bearings, strict=True):
            other[_too_near(found[-1].line, max(clear), bearing, ground, land.settings)] = 0.0
    return tuple(found)


def row_bearings(mounds: tuple[Mound, ...], settings: Settings) -> tuple[float, ...]:
    """Return the directions that are tried: what the user asks for, else north-south, east-west, along and across beds.

    Beds within ``ALIKE`` of north-south or east-west add none of their own. [deg].
    """
    if settings.trellis.direction != "best":
        return (0.0,) if settings.trellis.direction == "north-south" else (90.0,)
    if not mounds:
        return 0.0, 90.0
    doubled = [(math.radians(2.0 * _bearing(mound.crest)), mound.crest.length) for mound in mounds]
    east, north = (sum(part(angle) * length for angle, length in doubled) for part in (math.sin, math.cos))
    along = round(math.degrees(math.atan2(east, north)) / 2.0, 3) % 180.0
    across = (along + 90.0) % 180.0
    if abs(math.sin(math.radians(2.0 * along))) < math.sin(math.radians(2.0 * ALIKE)):
        return 0.0, 90.0
    return 0.0, 90.0, along, across


def post_depth(height: float, is_wet: bool) -> float:
    """How deep the posts of a row go: a third of their length, 60 cm at least, 75 in wet ground. [m].

    Common practice, no source.

    Examples
    --------
    >>> post_depth(1.0, False), post_depth(1.0, True), post_depth(2.0, False)
    (0.6, 0.75, 1.0)
    """
    return max(WET_DEPTH if is_wet else LEAST_DEPTH, height / 2.0)


def _score(shade: RowShade, ground: RowGround, months: tuple[int, ...], leanest: int, settings: Settings) -> FloatArray:
    """Score a row with its middle in every cell: the ground below it and what it leaves to the beds. [1].

    Half the season's mean and half its leanest month speak for the beds: June alone would hide what September loses.
    """
    half = math.ceil(settings.trellis.length / 2.0 / ground.grid.cell) + 1
    below = row_cells(half, settings.trellis.length, shade.bearing, ground.grid.cell)
    blocked = _along_row((~ground.free).astype(np.float64), below, 1.0)
    mean = _along_row(ground.goodness, below, 0.0) / below.sum()
    lost = (shade.lost[[month - 1 for month in months]].mean(axis=0) + shade.lost[leanest - 1]) / 2.0
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
    site: Site,
    scene: Scene,
    beds: tuple[Polygon, ...],
    settings: Settings,
) -> Trellis:
    own = settings.trellis
    bearing = shades[which].bearing
    line = row_line(*ground.grid.centre(row, column), bearing, own.length)
    lost, turned = hours_lost(site, scene, line, beds, settings)
    is_wet = bool(inside(line.buffer(ground.grid.cell), ground.grid.x, ground.grid.y)[ground.wet].any())
    posts = max(math.ceil(own.length / own.post_spacing - 1e-9), 1) + 1
    depth = post_depth(own.height, is_wet)
    return Trellis(
        number=number,
        line=line,
        height=own.height,
        bearing=bearing,
        post_depth=depth,
        posts=posts,
        hours_lost=tuple((month, float(lost[month - 1]), float(turned[month - 1])) for month in range(1, 13)),
        why=say_row(bearing, lost, turned, clear[which], depth, is_wet, ground, months, settings),
        clear_distance=clear[which],
        is_wet=is_wet,
    )


def hours_lost(
    site: Site, scene: Scene, line: LineString, beds: tuple[Polygon, ...], settings: Settings
) -> tuple[FloatArray, FloatArray]:
    """Bed-hours that a row takes month by month, as it lies and if it were turned, on the ground as it is. [m2 h/day].

    What house and trees take already is not lost again. Beds beyond the row's reach are left out.
    """
    own = settings.trellis
    total = np.zeros((2, 12))
    for bed in beds:
        if bed.distance(line.centroid) <= own.length / 2.0 + REACH * own.height:
            found = bed_hours_lost(site, settings, line, own.height, [bed], own.let_through, scene)
            total += bed.area * np.array([hours[1:] for hours in found]).T
    return total[0], total[1]


def say_row(
    bearing: float,
    lost: FloatArray,
    turned: FloatArray,
    clear: float,
    depth: float,
    is_wet: bool,
    ground: RowGround,
    months: tuple[int, ...],
    settings: Settings,
) -> str:
    """Say which way a row runs and why, what the beds lose to it, how far to keep, and how deep its posts go."""
    units = settings.units
    picked = [month - 1 for month in months]
    here, there = float(lost[picked].mean()), float(turned[picked].mean())
    area = float(ground.beds.sum())
    if here <= there:
        why = "which costs the beds less than the other way"
    elif abs(math.sin(math.radians(bearing))) < math.sqrt(0.5):
        why = "which lights both sides of the vines"
    else:
        why = "which lies along the beds"
    return (
        f"Runs {say_ridge(bearing)}, {why}: in the growing season they lose {_bed_hours(here, area)} to it, "
        f"{_bed_hours(there, area)} if it were turned. Beyond {say_length(clear, units)} on its shaded side "
        f"a bed keeps three quarters of its sun. Posts {say_length(depth, units)} deep"
        f"{', braced at both ends, for the ground is wet' if is_wet else ''}."
    )


def _bed_hours(bed_hours: float, area: float) -> str:
    """Say bed-hours as hours of sun a day over all the beds."""
    if area <= 0.0 or bed_hours / area < 0.01:
        return "next to no sun"
    minutes = round(60.0 * bed_hours / area)
    if minutes < 45:
        return f"{minutes}{NO_BREAK}{'minute' if minutes == 1 else 'minutes'} of sun a day on the mean"
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
