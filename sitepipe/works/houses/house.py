"""Where a hoop house stands: every place and direction tried, the best few kept, each with its reasons."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.settings import HoopHouseSettings, Settings
from sitepipe.site import Site, Status, Work
from sitepipe.works.houses.footprints import Wishes
from sitepipe.works.houses.ground import Ban, Wish, access_score, bans, wishes_of
from sitepipe.works.houses.judging import door_of, judge, refuse, total_score
from sitepipe.works.houses.record import HoopHouse, HouseCriterion, PlaceScore, Refusal
from sitepipe.works.houses.ridge import direction_score, ridge_advice
from sitepipe.works.houses.roof_water import water_by_storm, where_water_goes
from sitepipe.works.houses.search import Place, SearchGround, best_first, place_of, search, stack_layers
from sitepipe.works.land import Land
from sitepipe.works.obstacles import inside, inside_any, lanes, long_bearing, solids
from sitepipe.works.ways.walking import walking_ground

REFUSALS = 4
"""Good places that fail, each told with its reason."""
LARGER = 0.1
"""The largest house comes first where it scores no more than so much less than a small one: our own choice. [1]"""
PAD_ABOVE_WATER = 0.45
"""Floor above the wet-season water: drains lie 18 to 24 in below (UVM). [m]"""


def choose_hoop_houses(
    land: Land, taken: tuple[BaseGeometry, ...] = ()
) -> tuple[tuple[HoopHouse, ...], tuple[Refusal, ...]]:
    """Search every place and direction and return ranked sites that do not overlap, and good places that fail.

    Where one stands or is wanted, none is sought.
    """
    own, site = land.settings.hoop_house, land.site
    if not own.propose or site.works_of(Work.HOOP_HOUSE):
        return (), ()
    wishes = wishes_of(land, access_score(site, walking_ground(land, taken), land.settings))
    banned = bans(land, taken)
    ground = _search_ground(site, wishes, banned, land.settings)
    power = _weight_of(wishes, HouseCriterion.DIRECTION)
    bearings = tuple((each, direction_score(each, site, land.settings) ** power) for each in _bearings(site, own))
    sizes = sorted(own.sizes, key=lambda size: -size[0] * size[1])
    found = [search(ground, size, bearings) for size in sizes]
    forbidden = shapely.union_all([ban.outline for ban in banned])
    kept = site.parcel.buffer(-own.boundary)
    chosen: list[Place] = []
    for allowed in (*(pair[0] for pair in found), best_first(np.concatenate([pair[0] for pair in found]))):
        # The best place of each size, the largest first, and then whatever is best.
        most = 1 if len(chosen) < len(sizes) and len(sizes) > 1 else own.sites - len(chosen)
        chosen += _pick(allowed, min(most, own.sites - len(chosen)), own.room, tuple(chosen), kept, forbidden)
    # The search samples the ground; a place that its cells know to be no good is none.
    judged = [(place, scores) for place in chosen if total_score(scores := judge(place, land, wishes), wishes) > 0.0]
    largest = sizes[0][0] * sizes[0][1]
    judged.sort(key=lambda one: -total_score(one[1], wishes) - LARGER * one[0].length * one[0].width / largest)
    houses = tuple(
        _house(number, place, scores, total_score(scores, wishes), land)
        for number, (place, scores) in enumerate(judged, start=site.next_number(Work.HOOP_HOUSE))
    )
    stands = shapely.union_all([*solids(site), *lanes(site)])
    hoped = best_first(np.concatenate([pair[1] for pair in found]))
    tried = _pick(hoped, REFUSALS, own.room, tuple(chosen), site.parcel, stands)
    refusals = (refuse(place, land, wishes, banned, kept) for place in tried)
    return houses, tuple(refusal for refusal in refusals if refusal.faults)


def draw_hoop_houses(land: Land, taken: tuple[BaseGeometry, ...] = ()) -> tuple[HoopHouse, ...]:
    """Judge the hoop houses that stand or are wanted, as they were drawn."""
    drawn = land.site.works_of(Work.HOOP_HOUSE)
    if not drawn:
        return ()
    wishes = wishes_of(land, access_score(land.site, walking_ground(land, taken), land.settings))
    found = []
    for work in drawn:
        bearing, (length, width), middle = long_bearing(work.shape), sides_of(work.shape), work.shape.centroid
        place = Place(middle.x, middle.y, bearing, length, width, 0.0)
        scores = judge(place, land, wishes)
        house = _house(work.number, place, scores, total_score(scores, wishes), land)
        found.append(
            replace(
                house,
                name=work.name,
                status=work.status,
                built=work.built,
                height=work.height or land.settings.hoop_house.height,
                raised=0.0 if work.status is Status.STANDING else house.raised,
            )
        )
    return tuple(found)


def sides_of(walls: BaseGeometry) -> tuple[float, float]:
    """Length and width of a rectangle. [m]."""
    corners = shapely.get_coordinates(walls)[:3]
    one, other = (float(np.hypot(*side)) for side in np.diff(corners, axis=0))
    return max(one, other), min(one, other)


def _bearings(site: Site, own: HoopHouseSettings) -> tuple[float, ...]:
    count = max(round(180.0 / own.direction_step), 1)
    along = long_bearing(site.parcel)
    every = [180.0 * number / count for number in range(count)]
    return tuple(dict.fromkeys(round(bearing % 180.0, 6) for bearing in (*every, along, along + 90.0)))


def _weight_of(wishes: tuple[Wish, ...], criterion: HouseCriterion) -> int:
    return next((wish.weight for wish in wishes if wish.criterion is criterion), 0)


def _search_ground(site: Site, wishes: tuple[Wish, ...], banned: tuple[Ban, ...], settings: Settings) -> SearchGround:
    west, south, east, north = site.parcel.bounds
    grid, own = site.grid, settings.hoop_house
    top, left = (max(index, 0) for index in grid.cell_at(west, north))
    bottom, right = grid.cell_at(east, south)
    window = (slice(top, min(bottom + 1, grid.rows)), slice(left, min(right + 1, grid.columns)))
    x, y = grid.x[window[1]], grid.y[window[0]]
    slack = 0.71 * grid.cell
    forbidden = inside_any([ban.outline.buffer(slack) for ban in banned], x, y)
    forbidden |= ~inside(site.parcel.buffer(-own.boundary - slack), x, y)
    solid = inside_any([shape.buffer(slack) for shape in solids(site)], x, y)
    access = next((wish for wish in wishes if wish.criterion is HouseCriterion.ACCESS), None)
    way = np.ones((y.size, x.size)) if access is None or access.layer is None else access.layer[window]
    way = np.where(way > 0.0, way ** _weight_of(wishes, HouseCriterion.ACCESS), 0.0)
    soft = [wish for wish in wishes if wish.layer is not None and wish is not access]
    return SearchGround(
        west=float(x[0] - grid.cell / 2),
        north=float(y[0] + grid.cell / 2),
        cell=grid.cell,
        layers=stack_layers(
            [wish.layer[window] for wish in soft if wish.layer is not None], site.elevation[window], forbidden, solid
        ),
        access=np.where(inside(site.parcel, x, y), way, 0.0),
        wishes=Wishes(
            np.array([wish.weight for wish in soft], np.int64),
            np.array([wish.least for wish in soft]),
            np.array([wish.is_hoped for wish in soft]),
            _weight_of(wishes, HouseCriterion.LEVEL),
            _weight_of(wishes, HouseCriterion.ROOM),
            own.steepest,
        ),
        rooms=(own.room, (own.room + max(own.better_room, own.room)) / 2.0, max(own.better_room, own.room)),
    )


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
    waiting = candidates
    for place in avoid:
        waiting = waiting[~_overlaps(waiting, place, room)]
    while len(waiting) and len(chosen) < most:
        place, waiting = place_of(waiting[0]), waiting[1:]
        outline = place.outline
        if not kept.covers(outline) or forbidden.intersects(outline):
            continue
        if all(other.outline.distance(outline) >= room for other in (*avoid, *chosen)):
            chosen.append(place)
            waiting = waiting[~_overlaps(waiting, place, room)]
    return chosen


def _overlaps(candidates: FloatArray, place: Place, room: float) -> BoolArray:
    """Tell which candidates come too near to a place for certain: their narrowest half reaches it."""
    east, north = candidates[:, 2] - place.x, candidates[:, 3] - place.y
    sine, cosine = np.sin(np.radians(place.bearing)), np.cos(np.radians(place.bearing))
    along = np.maximum(np.abs(east * sine + north * cosine) - place.length / 2.0, 0.0)
    across = np.maximum(np.abs(east * cosine - north * sine) - place.width / 2.0, 0.0)
    return np.asarray(np.hypot(along, across) < candidates[:, 5] / 2.0 + room)


def _house(number: int, place: Place, scores: tuple[PlaceScore, ...], score: float, land: Land) -> HoopHouse:
    water = water_by_storm(place.length, place.width, land.drainage)
    depth = next((one.measured for one in scores if one.criterion is HouseCriterion.DRY), None)
    return HoopHouse(
        number=number,
        outline=place.outline,
        bearing=place.bearing,
        length=place.length,
        width=place.width,
        score=score,
        reasons=(*scores, PlaceScore(HouseCriterion.SETBACKS, 1.0, land.settings.hoop_house.boundary)),
        roof_water=water[-1][1],
        roof_water_goes=where_water_goes(land.site, land.drainage, place.outline),
        roof_water_by_storm=water,
        door=door_of(place, land.site)[0],
        advice=ridge_advice(land.site.latitude, land.settings)[1],
        height=land.settings.hoop_house.height,
        raised=max(PAD_ABOVE_WATER - (math.inf if depth is None else depth), 0.0),
    )
