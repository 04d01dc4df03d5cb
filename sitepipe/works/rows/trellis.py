"""Rows for vines: beside which bed, which way, how far apart, and what they take from the beds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.settings import Settings
from sitepipe.site import Kind, Ref, Site, Work
from sitepipe.sunlight.shade import bed_hours_lost, hours_lost_at, standing_row
from sitepipe.sunlight.stage import Scene
from sitepipe.works.built import Built, these
from sitepipe.works.hazards import Act, kept_clear
from sitepipe.works.houses.ground import SHOULDER_MONTHS
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.obstacles import FLOW_ROOM, deep_hollows, lanes, long_bearing, running, solids
from sitepipe.works.rows.record import SIDE_ROOM, Trellis

BESIDE = 3.0
"""A drawn row is beside a bed if it stands no farther from it than so many times the room to pick from. [1]"""
REACH = 6.0
"""Heights of a thing around it in which its shade is counted; beyond, it falls in the first and last hour. [1]"""
STEP = 1.0
"""Between the places that are tried along a bed. [m]"""
WET_FLOOR = 0.3
"""Posts can stand in wet ground if they go deeper: it costs, but does not forbid."""
CROSSWISE = 0.95
"""Vines want a row that runs north-south; one that runs east-west keeps this much: our own choice."""
FINALISTS = 32
"""Places whose shade is worked out, the best of each side of each bed by ground and sun."""
LEAST_DEPTH = 0.60
"""Posts go at least this deep: common practice. [m]"""
WET_DEPTH = 0.75
"""In wet ground at least this deep: common practice. [m]"""
KEPT_SUN = 0.75
"""Share of the leanest month's sun that ground clear of a row keeps: our own choice. [1]"""


@dataclass(frozen=True, slots=True)
class Bed:
    """Ground that vines grow on: a mound, or a piece of a drawn bed; ``bearing`` is of its longer side. [deg]."""

    ref: Ref
    outline: Polygon
    bearing: float


@dataclass(frozen=True, slots=True)
class Place:
    """A line that a row may stand on beside a bed, how good the ground there is [1], and whether it is wet."""

    line: LineString
    bearing: float
    beside: Ref | None
    score: float
    is_wet: bool


def beds_of(site: Site, mounds: tuple[Mound, ...]) -> tuple[Bed, ...]:
    """Return mounds and the beds that are there already, each piece by itself, numbered in their order."""
    drawn = (
        Bed(Ref(Kind.BED, bed.number), part, long_bearing(part))
        for bed in site.of_kind(Kind.BED)
        for part in shapely.get_parts(bed.geometry)
        if part.area > 0.0
    )
    raised = (Bed(Ref(Work.MOUND, mound.number), mound.outline, long_bearing(mound.outline)) for mound in mounds)
    return (*raised, *drawn)


def lay_trellises(
    land: Land, works: Sequence[Built], taken: tuple[BaseGeometry, ...], scene: Scene
) -> tuple[Trellis, ...]:
    """Set out rows one by one beside the beds whose vines they carry, where sun and ground are good.

    Beds and hoop house should lose least. No row bars a path; rows keep each other's clear distance.
    """
    own, beds = land.settings.trellis, beds_of(land.site, these(Mound, works))
    houses, drawn = these(HoopHouse, works), these(Trellis, works)
    if not own.propose or len(drawn) >= own.rows:
        return ()
    best: dict[tuple[Ref, float, bool], Place] = {}
    for key, place in _places(land, beds, taken):
        if place.score > 0.0 and (key not in best or place.score > best[key].score):
            best[key] = place
    finalists = sorted(best.values(), key=lambda place: -place.score)[:FINALISTS]
    losses = [hours_lost(land.site, scene, place.line, beds, land.settings) for place in finalists]
    scores = [_spared(land, place, lost[0], beds, houses, scene) for place, lost in zip(finalists, losses, strict=True)]
    found: list[Trellis] = []
    for index in sorted(range(len(finalists)), key=lambda index: -scores[index]):
        place = finalists[index]
        clear = clear_distance(land, scene, place.line)
        if all(place.line.distance(row.line) >= max(clear, row.clear_distance) for row in (*drawn, *found)):
            found.append(
                _trellis(land.site.next_number(Work.TRELLIS) + len(found), place, losses[index], clear, beds, land)
            )
        if len(drawn) + len(found) == own.rows:
            break
    return tuple(found)


def draw_trellises(land: Land, mounds: tuple[Mound, ...], scene: Scene) -> tuple[Trellis, ...]:
    """Judge the rows that stand or are wanted, as they were drawn; the nearest bed within reach is theirs."""
    beds = beds_of(land.site, mounds)
    found = []
    for work in land.site.works_of(Work.TRELLIS):
        line, bearing = work.shape, long_bearing(work.shape)
        near = min(beds, key=lambda bed: float(bed.outline.distance(line)), default=None)
        is_beside = near is not None and near.outline.distance(line) <= BESIDE * SIDE_ROOM
        score, is_wet = _ground_below(line, bearing, land)
        place = Place(line, bearing, near.ref if near is not None and is_beside else None, score, is_wet)
        height = work.height or land.settings.trellis.height
        own = replace(land, settings=with_height(land.settings, height))
        losses = hours_lost(land.site, scene, line, beds, own.settings)
        row = _trellis(work.number, place, losses, clear_distance(own, scene, line), beds, own)
        found.append(replace(row, name=work.name, status=work.status, built=work.built))
    return tuple(found)


def with_height(settings: Settings, height: float) -> Settings:
    """Return the settings for rows of another height. [m]."""
    return settings.model_copy(update={"trellis": settings.trellis.model_copy(update={"height": height})})


def post_depth(height: float, is_wet: bool) -> float:
    """How deep the posts of a row go: a third of their length, 60 cm at least, 75 in wet ground. [m].

    Common practice, no source.

    Examples
    --------
    >>> post_depth(1.0, False), post_depth(1.0, True), post_depth(2.0, False)
    (0.6, 0.75, 1.0)
    """
    return max(WET_DEPTH if is_wet else LEAST_DEPTH, height / 2.0)


def hours_lost(
    site: Site, scene: Scene, line: LineString, beds: tuple[Bed, ...], settings: Settings
) -> tuple[FloatArray, FloatArray]:
    """Bed-hours that a row takes month by month, as it lies and if it were turned, on the ground as it is. [m2 h/day].

    What house and trees take already is not lost again. Beds beyond the row's reach are left out.
    """
    own = settings.trellis
    total = np.zeros((2, 12))
    for bed in _in_reach(line, beds, settings):
        found = bed_hours_lost(site, settings, line, own.height, [bed.outline], own.let_through, scene)
        total += bed.outline.area * np.array([hours[1:] for hours in found]).T
    return total[0], total[1]


def clear_distance(land: Land, scene: Scene, line: LineString) -> float:
    """How far from a row the ground keeps its share of the leanest month's sun, square to its middle. [m].

    The farther of its two sides speaks.
    """
    own, month = land.settings.trellis, land.sunlight.leanest_month - 1
    (x0, y0), (x1, y1) = line.coords
    middle, across = line.interpolate(0.5, normalized=True), np.array([y1 - y0, x0 - x1]) / line.length
    steps = np.arange(0.05, REACH * own.height, 0.05)
    row, far = standing_row(land.site, line, own.height), 0.0
    for side in (1.0, -1.0):
        x, y = middle.x + side * steps * across[0], middle.y + side * steps * across[1]
        west, south, east, north = land.site.grid.bounds
        known = (x > west) & (x < east) & (y > south) & (y < north)
        lost = hours_lost_at(land.site, scene, [row], x[known], y[known])[0, :, month]
        most = (1.0 - KEPT_SUN) * land.sunlight.open_hours[month]
        shaded = steps[known][(1.0 - own.let_through) * lost > most]
        far = max(far, float(shaded.max(initial=0.0)))
    return far + 0.05


def _places(
    land: Land, beds: tuple[Bed, ...], taken: tuple[BaseGeometry, ...]
) -> Iterator[tuple[tuple[Ref, float, bool], Place]]:
    """Yield every free place beside a bed, along it and across its ends, and which side of which bed it is on."""
    closed = _closed(land, beds, taken)
    shapely.prepare(closed)
    wanted = {"north-south": (0.0,), "east-west": (90.0,)}.get(land.settings.trellis.direction)
    for bed in beds:
        for bearing in wanted or (bed.bearing, (bed.bearing + 90.0) % 180.0):
            for is_left, line in _lines_beside(bed.outline, bearing, land.settings.trellis.length):
                if not closed.intersects(line) and land.site.parcel.covers(line):
                    score, is_wet = _ground_below(line, bearing, land)
                    yield (bed.ref, bearing, is_left), Place(line, bearing, bed.ref, score, is_wet)


def _lines_beside(bed: Polygon, bearing: float, length: float) -> Iterator[tuple[bool, LineString]]:
    """Yield lines of a length and bearing on both sides of a bed, from end to end of it."""
    sine, cosine = math.sin(math.radians(bearing)), math.cos(math.radians(bearing))
    corners = np.asarray(bed.exterior.coords)[:, :2]
    along, across = corners @ np.array([sine, cosine]), corners @ np.array([cosine, -sine])
    spare = max(float(np.ptp(along)) - length, 0.0)
    for is_left, aside in ((True, across.min() - SIDE_ROOM), (False, across.max() + SIDE_ROOM)):
        for shift in np.linspace(-0.5, 0.5, math.ceil(spare / STEP) + 1) * spare:
            middle = (along.min() + along.max()) / 2.0 + shift
            ends = ((middle - length / 2.0, aside), (middle + length / 2.0, aside))
            yield is_left, LineString([(a * sine + b * cosine, a * cosine - b * sine) for a, b in ends])


def _closed(land: Land, beds: tuple[Bed, ...], taken: tuple[BaseGeometry, ...]) -> BaseGeometry:
    """Return all ground that no row may cross."""
    standing = (*solids(land.site), *taken, *lanes(land.site), *(bed.outline for bed in beds))
    shapes = [shape.buffer(0.99 * SIDE_ROOM) for shape in standing]
    shapes += [zone.ground for zone in kept_clear(land.site, Act.BORES, land.settings)]
    shapes += [ban.outline for ban in land.scores.exclusions if ban.forbids(Work.TRELLIS)]
    shapes += [pond.outline for pond in deep_hollows(land)]
    shapes += [flow.line.buffer(FLOW_ROOM) for flow in running(land)]
    return shapely.union_all(shapes)


def _ground_below(line: LineString, bearing: float, land: Land) -> tuple[float, bool]:
    """How good sun and ground are along a row, and whether a post stands in water in the wet season."""
    own = land.settings.trellis
    cells = [
        land.site.grid.cell_at(*point.coords[0])
        for point in shapely.line_interpolate_point(line, np.linspace(0.0, 1.0, 7), normalized=True)
    ]
    below = tuple(np.array([cell for cell in cells if land.site.grid.holds(*cell)]).T)
    sun = np.clip(np.nan_to_num(land.sunlight.sun_hours[below]) / land.settings.hoop_house.full_sun, 0.0, 1.0)
    depth = np.nan_to_num(land.water_table.water_table_depth[below])
    wet = np.nan_to_num(land.wetness.wetness[below])
    dry = np.clip(depth / max(own.wet_depth, 0.01), 0.0, 1.0) * (1.0 - 0.5 * wet)
    direction = 1.0 - (1.0 - CROSSWISE) * math.sin(math.radians(bearing)) ** 2
    score = float((sun**2 * (WET_FLOOR + (1.0 - WET_FLOOR) * dry)).mean()) * direction
    return score, bool((depth < own.wet_depth).any())


def _in_reach(line: LineString, beds: tuple[Bed, ...], settings: Settings) -> list[Bed]:
    return [bed for bed in beds if bed.outline.distance(line) <= REACH * settings.trellis.height]


def _spared(
    land: Land, place: Place, lost: FloatArray, beds: tuple[Bed, ...], houses: Sequence[HoopHouse], scene: Scene
) -> float:
    """Cut a place's score by the share of their sun that row, beds and hoop house take from each other. [1].

    Half the season's mean and half its leanest month speak for the beds: June alone would hide what September loses.
    """
    own, months = land.settings.trellis, [month - 1 for month in land.sunlight.season_months]
    area = sum(bed.outline.area for bed in _in_reach(place.line, beds, land.settings))
    build = land.settings.hoop_house
    share = (lost[months].mean() + lost[land.sunlight.leanest_month - 1]) / 2.0 / max(area * _open(land, months), 1e-9)
    for house in houses:
        if house.outline.distance(place.line) > REACH * max(own.height, house.height):
            continue
        row, shoulder = place.line.buffer(SIDE_ROOM), [month - 1 for month in SHOULDER_MONTHS]
        ground = (land.site, land.settings)
        taken = bed_hours_lost(*ground, place.line, own.height, [house.outline], own.let_through, scene)
        given = bed_hours_lost(*ground, house.outline, house.height, [row], build.film, scene)
        share += float(np.mean([taken[month][1] for month in shoulder])) / max(_open(land, shoulder), 1e-9)
        share += float(np.mean([given[month][1] for month in months])) / max(_open(land, months), 1e-9)
    return float(place.score * max(1.0 - share, 0.0) ** 3)


def _open(land: Land, months: list[int]) -> float:
    """Hours of sun a day with no horizon at all, over some months. [h]."""
    return float(np.mean([land.sunlight.open_hours[month] for month in months]))


def _trellis(
    number: int, place: Place, losses: tuple[FloatArray, FloatArray], clear: float, beds: tuple[Bed, ...], land: Land
) -> Trellis:
    own, months = land.settings.trellis, [month - 1 for month in land.sunlight.season_months]
    area = sum(bed.outline.area for bed in _in_reach(place.line, beds, land.settings))
    here, there = (float(lost[months].mean()) / max(area, 1e-9) for lost in losses)
    return Trellis(
        number=number,
        line=place.line,
        height=own.height,
        bearing=place.bearing,
        beside=place.beside,
        post_depth=post_depth(own.height, place.is_wet),
        posts=max(math.ceil(place.line.length / own.post_spacing - 1e-9), 1) + 1,
        hours_lost=tuple((m + 1, float(losses[0][m]), float(losses[1][m])) for m in range(12)),
        beds_lose=here,
        turned_beds_lose=there,
        clear_distance=clear,
        is_wet=place.is_wet,
    )
