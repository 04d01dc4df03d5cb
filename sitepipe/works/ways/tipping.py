"""Where a truck tips chips: a place that it can reach, on nothing that minds, with the least barrow work."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.scoring.record import Reason
from sitepipe.settings import Settings
from sitepipe.site import DrawnWork, Kind, Work
from sitepipe.works.hazards import Act, kept_clear
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.obstacles import FLOW_ROOM, deep_hollows, inside, inside_any, lanes, running, solids
from sitepipe.works.ways.least_cost import SIXTEEN_MOVES, least_cost
from sitepipe.works.ways.record import NO_WAY, TippingPlace
from sitepipe.works.ways.truck import TruckGround, spread, truck_ground, within
from sitepipe.works.ways.walking import WalkingGround, walking_ground

CELLS = 40_000
"""The haul to each mound is walked once over the window: coarser cells than for a path are enough."""
GATE_ROOM = 4.0
"""Kept free around a gate. [m]"""
MATTERS_NOT = (Reason.ROAD_BAND, Reason.BOUNDARY)
"""Exclusions for what grows or stands for good, not for a pile that is gone in weeks."""
APART = 8.0
"""Ranked places lie at least this far from each other. [m]"""


def pile_radius(settings: Settings) -> float:
    """Radius of the cone that one load makes. [m].

    Examples
    --------
    A load of 9.2 m3, 1.5 m high:

    >>> round(pile_radius(Settings()), 2)
    2.42
    """
    return float(np.sqrt(3.0 * settings.materials.load / (np.pi * settings.tipping.pile_height)))


def choose_tipping_places(
    land: Land, mounds: tuple[Mound, ...] = (), taken: tuple[BaseGeometry, ...] = ()
) -> tuple[TippingPlace, ...]:
    """Rank the places that a truck can tip at by the barrow work from there to the mounds; those drawn are the choice.

    A drawn place that no truck gets to is told with an infinite way in.
    """
    drawn = land.site.works_of(Work.TIPPING_PLACE)
    if not drawn and not land.settings.tipping.propose:
        return ()
    standing = (*taken, *(mound.outline for mound in mounds))
    walking = walking_ground(land, standing, 0.3, CELLS)
    truck = truck_ground(land, walking, standing)
    work, volume = barrow_work(mounds, walking, land.settings)
    if drawn:
        return tuple(_drawn(place, work, volume, truck, walking, land.settings) for place in drawn)
    if truck is None:
        return ()
    radius = pile_radius(land.settings)
    free = free_for_pile(land, walking, standing)
    reached = within(np.isfinite(truck.way_in), radius + 1.0, walking)
    possible = free & reached & np.isfinite(work)
    order = np.lexsort((np.arange(work.size), spread(truck.way_in, radius + 1.0, walking).ravel(), work.ravel()))
    chosen: list[TippingPlace] = []
    for cell in order[possible.ravel()[order]]:
        x, y = walking.place_of(int(cell))
        if all(place.place.distance(Point(x, y)) >= APART for place in chosen):
            chosen.append(
                _place(
                    land.site.next_number(Work.TIPPING_PLACE) + len(chosen),
                    Point(x, y),
                    float(work.flat[cell]),
                    volume,
                    truck,
                    walking,
                    land.settings,
                )
            )
        if len(chosen) == land.settings.tipping.places:
            break
    return tuple(chosen)


def _drawn(
    drawn: DrawnWork,
    work: FloatArray,
    volume: float,
    truck: TruckGround | None,
    walking: WalkingGround,
    settings: Settings,
) -> TippingPlace:
    """Return a place that the grower drew, as far from everything as the nearest ground that one can walk."""
    place = Point(drawn.shape.coords[0])
    cell = walking.cell_near(place.x, place.y)
    own = float(work.flat[cell]) if cell is not None else np.inf
    return replace(
        _place(drawn.number, place, own, volume, truck, walking, settings),
        name=drawn.name,
        status=drawn.status,
        built=drawn.built,
    )


def barrow_work(mounds: tuple[Mound, ...], walking: WalkingGround, settings: Settings) -> tuple[FloatArray, float]:
    """Sum over the mounds of volume times metres of the least-cost way from each cell. [m4], and the volume [m3].

    Infinite where any mound cannot be reached. A mound is reached at the nearest free ground beside it.
    """
    work = np.zeros(walking.pace.shape)
    for mound in mounds:
        beside = walking.cells_in(mound.outline.buffer(0.3 + 1.6 * walking.grid.cell))
        _, length, _ = least_cost(
            walking.pace, walking.height_in_cells, settings.path.steepest, SIXTEEN_MOVES, beside.astype(np.int64)
        )
        work += mound.volume * length * walking.grid.cell
    return work, float(sum(mound.volume for mound in mounds))


def free_for_pile(land: Land, walking: WalkingGround, standing: tuple[BaseGeometry, ...]) -> BoolArray:
    """Cells where a pile with its middle there lies on nothing that minds."""
    radius = pile_radius(land.settings)
    minds = [*solids(land.site), *standing, *lanes(land.site)]
    minds += [zone.ground for zone in kept_clear(land.site, Act.PILES, land.settings)]
    minds += [feature.footprint for feature in land.site.of_kind(Kind.DITCH, Kind.BED)]
    exclusions = (ban for ban in land.scores.exclusions if ban.reason not in MATTERS_NOT)
    minds += [ban.outline for ban in exclusions if ban.forbids(Work.TIPPING_PLACE)]
    minds += [pond.outline for pond in deep_hollows(land)]
    minds += [flow.line.buffer(FLOW_ROOM) for flow in running(land)]
    minds += [feature.geometry.buffer(GATE_ROOM - radius) for feature in land.site.of_kind(Kind.GATE)]
    grid = walking.grid
    blocked = inside_any((shape.buffer(radius) for shape in minds), grid.x, grid.y)
    return np.asarray(inside(land.site.parcel.buffer(-radius), grid.x, grid.y) & ~blocked)


def _place(
    number: int,
    place: Point,
    work: float,
    volume: float,
    truck: TruckGround | None,
    walking: WalkingGround,
    settings: Settings,
) -> TippingPlace:
    radius = pile_radius(settings)
    haul = work / volume if volume else 0.0
    if truck is None:
        outline = place.buffer(radius, quad_segs=8)
        return TippingPlace(number, place, outline, work, None, np.inf, None, can_turn=False, mean_haul=haul)
    row, column = walking.grid.cell_at(place.x, place.y)
    way_in, off = (float(spread(far, radius + 1.0, walking)[row, column]) for far in (truck.way_in, truck.off_lane))
    return TippingPlace(
        number=number,
        place=place,
        outline=place.buffer(radius, quad_segs=8),
        barrow_work=work,
        entry=truck.entry,
        way_in=way_in,
        off_lane=None if not walking.on_lane.any() else off if off > walking.grid.cell else 0.0,
        can_turn=bool(truck.turns[row, column]),
        mean_haul=haul,
        way=truck.way_to(place, walking) if np.isfinite(way_in) else NO_WAY,
    )
