"""Where a hoop house stands: every place and direction tried, the best few kept, each with its reasons."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.works.houses.ground import (
    Ban,
    HoopGround,
    access_score,
    bans,
    dry_score,
    midwinter_sun,
    shelter_score,
    shoulder_sun,
    sun_score,
    tree_score,
    winter_sun_score,
)
from sitepipe.works.houses.reasons import Judged, judge, say_refusal, say_why, weights
from sitepipe.works.houses.ridge import direction_score, parcel_bearing, ridge_advice
from sitepipe.works.houses.roof_water import water_by_storm, where_water_goes
from sitepipe.works.houses.search import Demands, Place, SearchGround, best_first, place_of, search, stack_layers
from sitepipe.works.land import Land
from sitepipe.works.obstacles import inside, inside_any, lanes, solids
from sitepipe.works.record import HoopHouse
from sitepipe.works.ways.walking import walking_ground

REFUSALS = 4
"""Good places that fail, each told with its reason."""


def choose_hoop_houses(
    land: Land, taken: tuple[BaseGeometry, ...] = ()
) -> tuple[tuple[HoopHouse, ...], tuple[tuple[str, Point], ...]]:
    """Search every place and direction and return ranked sites that do not overlap, and good places that fail."""
    if not land.settings.hoop_house.wanted:
        return (), ()
    walking = walking_ground(land, taken)
    access = access_score(land.site, walking, land.settings)
    layers = HoopGround(
        dry=dry_score(land),
        shoulder_hours=shoulder_sun(land.sunlight),
        midwinter_hours=midwinter_sun(land.sunlight, land.site.latitude),
        trees=tree_score(land.site, land.settings),
        shelter=shelter_score(land.site, land.settings),
        access=access,
        water_depth=land.water_table.water_table_depth,
    )
    banned = bans(land, taken)
    ground = _search_ground(land.site, layers, banned, land.settings)
    bearings = tuple(
        (bearing, direction_score(bearing, land.site, land.settings)) for bearing in _bearings(land.site, land.settings)
    )
    found = [search(ground, size, bearings, _demands(land.settings)) for size in land.settings.hoop_house.sizes]
    allowed, hoped = (best_first(np.concatenate([pair[which] for pair in found])) for which in (0, 1))
    forbidden = shapely.union_all([ban.outline for ban in banned])
    kept = land.site.parcel.buffer(-land.settings.hoop_house.boundary)
    chosen = _pick(allowed, land.settings.hoop_house.sites, land.settings.hoop_house.room, (), kept, forbidden)
    judged = [judge(place, land.site, layers, land.settings) for place in chosen]
    houses = tuple(_house(rank, place, judged[rank - 1], judged[0], land) for rank, place in enumerate(chosen, start=1))
    return houses, _refusals(hoped, chosen, land.site, layers, banned, kept, land.settings)


def _bearings(site: Site, settings: Settings) -> tuple[float, ...]:
    count = max(round(180.0 / settings.hoop_house.direction_step), 1)
    own = parcel_bearing(site)
    every = [180.0 * number / count for number in range(count)]
    return tuple(dict.fromkeys(round(bearing % 180.0, 6) for bearing in (*every, own, own + 90.0)))


def _demands(settings: Settings) -> Demands:
    least, better = settings.hoop_house.room, max(settings.hoop_house.better_room, settings.hoop_house.room)
    return Demands(
        (least, (least + better) / 2.0, better), np.array(weights(settings), np.int64), settings.hoop_house.steepest
    )


def _search_ground(site: Site, layers: HoopGround, banned: tuple[Ban, ...], settings: Settings) -> SearchGround:
    west, south, east, north = site.parcel.bounds
    grid = site.grid
    top, left = (max(index, 0) for index in grid.cell_at(west, north))
    bottom, right = grid.cell_at(east, south)
    window = (slice(top, min(bottom + 1, grid.rows)), slice(left, min(right + 1, grid.columns)))
    x, y = grid.x[window[1]], grid.y[window[0]]
    slack = 0.71 * grid.cell
    forbidden = inside_any([ban.outline.buffer(slack) for ban in banned], x, y)
    forbidden |= ~inside(site.parcel.buffer(-settings.hoop_house.boundary - slack), x, y)
    solid = inside_any([shape.buffer(slack) for shape in solids(site)], x, y)
    soft = (
        layers.dry[window],
        sun_score(layers.shoulder_hours[window], settings),
        winter_sun_score(layers.midwinter_hours[window], site.latitude, settings),
        layers.trees[window],
        layers.shelter[window],
    )
    stack = stack_layers(soft, site.elevation[window], forbidden.astype(np.float64), solid.astype(np.float64))
    access = np.where(inside(site.parcel, x, y), layers.access[window], 0.0)
    return SearchGround(float(x[0] - grid.cell / 2), float(y[0] + grid.cell / 2), grid.cell, stack, access)


def _pick(
    candidates: FloatArray,
    most: int,
    room: float,
    avoid: tuple[Place, ...],
    kept: BaseGeometry,
    forbidden: BaseGeometry,
) -> list[Place]:
    """Take the best places that keep room from each other, lie inside ``kept`` and off ``forbidden``."""
    shapely.prepare(kept)
    shapely.prepare(forbidden)
    chosen: list[Place] = []
    outlines = [place.outline for place in avoid]
    waiting = candidates
    for place in avoid:
        waiting = waiting[~_overlaps(waiting, place, room)]
    index = 0
    while index < len(waiting) and len(chosen) < most:
        place = place_of(waiting[index])
        index += 1
        outline = place.outline
        if not kept.covers(outline) or forbidden.intersects(outline):
            continue
        if any(other.distance(outline) < room for other in outlines):
            continue
        chosen.append(place)
        outlines.append(outline)
        waiting = waiting[index:][~_overlaps(waiting[index:], place, room)]
        index = 0
    return chosen


def _overlaps(candidates: FloatArray, place: Place, room: float) -> BoolArray:
    """Tell which candidates come too near to a place for certain: their narrowest half reaches it."""
    east, north = candidates[:, 2] - place.x, candidates[:, 3] - place.y
    sine, cosine = np.sin(np.radians(place.bearing)), np.cos(np.radians(place.bearing))
    along = np.maximum(np.abs(east * sine + north * cosine) - place.length / 2.0, 0.0)
    across = np.maximum(np.abs(east * cosine - north * sine) - place.width / 2.0, 0.0)
    return np.asarray(np.hypot(along, across) < candidates[:, 5] / 2.0 + room)


def _house(rank: int, place: Place, judged: Judged, best: Judged, land: Land) -> HoopHouse:
    water = water_by_storm(place.length, place.width, land.drainage)
    _, advice = ridge_advice(land.site.latitude, land.settings)
    return HoopHouse(
        rank=rank,
        outline=place.outline,
        bearing=place.bearing,
        length=place.length,
        width=place.width,
        score=judged.score,
        reasons=judged.reasons,
        roof_water=water[-1][1],
        roof_water_goes=where_water_goes(land.site, land.drainage, place.outline, land.settings),
        why=say_why(rank, judged, best),
        roof_water_by_storm=water,
        door=judged.door,
        advice=advice,
        raised=judged.raised,
    )


def _refusals(
    hoped: FloatArray,
    chosen: list[Place],
    site: Site,
    layers: HoopGround,
    banned: tuple[Ban, ...],
    kept: BaseGeometry,
    settings: Settings,
) -> tuple[tuple[str, Point], ...]:
    """Places that sun, access and direction alone would choose, and why each of them fails."""
    stands = shapely.union_all([*solids(site), *lanes(site)])
    tried = _pick(hoped, REFUSALS, settings.hoop_house.room, tuple(chosen), site.parcel, stands)
    found = []
    for place in tried:
        sentence = say_refusal(place, site, layers, banned, kept, settings)
        if sentence:
            found.append((sentence, Point(place.x, place.y)))
    return tuple(found)
