"""Where a truck tips chips: a place that it can reach, on nothing that minds, with the least barrow work."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, LongArray
from sitepipe.drainage.record import Drainage, FlowLine
from sitepipe.scoring.record import Scores, Use
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site
from sitepipe.terrain.record import Terrain
from sitepipe.units import say_distance, say_length
from sitepipe.wetness.record import WaterTable, Wetness
from sitepipe.works.hoop_ground import FLOW_ROOM, POND_DEPTH, named
from sitepipe.works.least_cost import QUEEN_MOVES, SIXTEEN_MOVES, least_cost
from sitepipe.works.obstacles import crown, ground_taken, inside, inside_any, lanes, solids
from sitepipe.works.record import Mound, TippingPlace
from sitepipe.works.walking import WalkingGround, on_walking_cells, walking_ground

CELLS = 40_000
"""The haul to each mound is walked once over the window: coarser cells than for a path are enough."""
GATE_ROOM = 4.0
"""Kept free around a gate. [m]"""
MATTERS_NOT = ("Road band", "Boundary")
"""Exclusions for what grows or stands for good, not for a pile that is gone in weeks."""
GATE_SLACK = 0.6
"""A gate may be this much narrower than the clear lane: one drives through it with care. [m]"""
APART = 8.0
"""Ranked places lie at least this far from each other. [m]"""


@dataclass(frozen=True, slots=True)
class TruckGround:
    """Where a truck gets to.

    Parameters
    ----------
    way_in : (rows, columns) float array
        Metres driven from the gate, or from the road where no gate is drawn; infinite where it does not get to. [m]
    off_lane : (rows, columns) float array
        Metres of those driven off road and drive. [m]
    turns : (rows, columns) bool array
        Whether it can turn within reach of a cell.
    entry : str
        What it comes in by.
    """

    way_in: FloatArray
    off_lane: FloatArray
    turns: BoolArray
    entry: str


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
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    wetness: Wetness,
    water_table: WaterTable,
    scores: Scores,
    settings: Settings,
    mounds: tuple[Mound, ...] = (),
    taken: tuple[BaseGeometry, ...] = (),
) -> tuple[TippingPlace, ...]:
    """Rank the places that a truck can tip at by the barrow work from there to the mounds."""
    if not settings.tipping.wanted:
        return ()
    standing = (*taken, *(mound.outline for mound in mounds))
    walking = walking_ground(site, terrain, drainage, wetness, scores, settings, standing, 0.3, CELLS)
    truck = truck_ground(site, terrain, drainage, water_table, settings, walking, standing)
    if truck is None:
        return ()
    work, volume = barrow_work(mounds, walking, settings)
    radius = pile_radius(settings)
    free = free_for_pile(site, drainage, scores, settings, walking, standing)
    reached = _within(np.isfinite(truck.way_in), radius + 1.0, walking)
    possible = free & reached & np.isfinite(work)
    order = np.lexsort((np.arange(work.size), _spread(truck.way_in, radius + 1.0, walking).ravel(), work.ravel()))
    chosen: list[TippingPlace] = []
    for cell in order[possible.ravel()[order]]:
        x, y = walking.place_of(int(cell))
        if all(place.place.distance(Point(x, y)) >= APART for place in chosen):
            chosen.append(
                _place(len(chosen) + 1, Point(x, y), float(work.flat[cell]), volume, truck, walking, settings)
            )
        if len(chosen) == settings.tipping.places:
            break
    return compared(tuple(chosen), settings)


def say_no_place(site: Site, settings: Settings) -> str:
    """Say why no truck can tip, as far as the drawing shows it."""
    gates, roads = site.of_kind(Kind.GATE), site.of_kind(Kind.ROAD)
    if not gates and not roads:
        return "No tipping place: neither gate nor road is drawn, so it is not known where a truck comes in."
    least = settings.tipping.truck_width - GATE_SLACK
    if gates and all(_gate_width(gate.geometry, gate.width) < least for gate in gates):
        return (
            f"No tipping place: {named(gates[0])} is narrower than {say_length(least, settings.units)}. "
            "Have chips tipped at the road where the town allows it."
        )
    return (
        f"No tipping place: no free ground near {named((*gates, *roads)[0])} stays firm enough for a truck in the wet "
        "season. Have chips brought in a dry spell, or tipped at the road where the town allows it."
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


def truck_ground(
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    water_table: WaterTable,
    settings: Settings,
    walking: WalkingGround,
    standing: tuple[BaseGeometry, ...],
) -> TruckGround | None:
    """Drive a truck over everything firm from the gate (or the road); None where no way in is drawn."""
    grid, own = walking.grid, settings.tipping
    lane = inside_any(lanes(site), grid.x, grid.y)
    if site.of_kind(Kind.GATE):
        lane &= inside(site.parcel.buffer(0.5), grid.x, grid.y)
    half = own.truck_width / 2.0
    stops = [shape.buffer(half) for shape in (*solids(site), *standing)]
    soft = [ground_taken(feature).buffer(half) for feature in site.of_kind(Kind.SEPTIC, Kind.WELL, Kind.KEEP_CLEAR)]
    soft += [ground_taken(feature).buffer(half) for feature in site.of_kind(Kind.BURIED_LINE, Kind.DITCH, Kind.BED)]
    soft += [crown(feature) for feature in site.of_kind(Kind.TREE)]
    soft += [pond.outline.buffer(half) for pond in drainage.ponds if pond.depth >= POND_DEPTH]
    soft += [flow.line.buffer(half) for flow in _running(drainage, settings)]
    solid = inside_any(stops, grid.x, grid.y)
    depth = on_walking_cells(water_table.water_table_depth, site, walking)
    slope = on_walking_cells(terrain.broad_slope, site, walking)
    bears = (depth >= own.firm_depth) & (np.nan_to_num(slope, nan=1.0) <= own.steepest)
    bears &= ~inside_any(soft, grid.x, grid.y) & inside(site.parcel, grid.x, grid.y)
    entry, starts = _entries(site, walking, lane, settings)
    if starts.size == 0:
        return None
    goes = (lane | bears) & ~solid
    goes.flat[starts] = True
    pace = np.where(goes, 1.0, np.inf)
    _, way_in, _ = least_cost(pace, np.zeros_like(pace), 0.0, QUEEN_MOVES, starts)
    reached_lane = lane & np.isfinite(way_in)
    near = np.flatnonzero(reached_lane) if reached_lane.any() else starts
    off_cost, _, _ = least_cost(pace, np.zeros_like(pace), 0.0, QUEEN_MOVES, near.astype(np.int64))
    off = off_cost * grid.cell
    far = way_in * grid.cell
    far[off > own.soft_ground] = np.inf
    turns = _within(_round_room(goes, own.turning, walking) & np.isfinite(far), own.truck_length, walking)
    far[(far > own.back_in) & ~turns] = np.inf
    return TruckGround(far, off, turns, entry)


def free_for_pile(
    site: Site,
    drainage: Drainage,
    scores: Scores,
    settings: Settings,
    walking: WalkingGround,
    standing: tuple[BaseGeometry, ...],
) -> BoolArray:
    """Cells where a pile with its middle there lies on nothing that minds."""
    radius = pile_radius(settings)
    minds = [*solids(site), *standing, *lanes(site)]
    minds += [crown(feature) for feature in site.of_kind(Kind.TREE)]
    minds += [
        ground_taken(feature)
        for feature in site.of_kind(Kind.SEPTIC, Kind.WELL, Kind.BURIED_LINE, Kind.KEEP_CLEAR, Kind.DITCH, Kind.BED)
    ]
    minds += [
        ban.outline for ban in scores.exclusions if Use.MOUND in ban.uses and not ban.reason.startswith(MATTERS_NOT)
    ]
    minds += [pond.outline for pond in drainage.ponds if pond.depth >= POND_DEPTH]
    minds += [flow.line.buffer(FLOW_ROOM) for flow in _running(drainage, settings)]
    minds += [feature.geometry.buffer(GATE_ROOM - radius) for feature in site.of_kind(Kind.GATE)]
    grid = walking.grid
    blocked = inside_any((shape.buffer(radius) for shape in minds), grid.x, grid.y)
    return np.asarray(inside(site.parcel.buffer(-radius), grid.x, grid.y) & ~blocked)


def _running(drainage: Drainage, settings: Settings) -> list[FlowLine]:
    return [
        flow for flow in drainage.flow_lines if flow.upslope_area and max(flow.upslope_area) >= settings.path.flow_area
    ]


def _entries(site: Site, walking: WalkingGround, lane: BoolArray, settings: Settings) -> tuple[str, LongArray]:
    """Name what a truck comes in by, and the cells to start from: wide gates, else the road beside the parcel."""
    grid = walking.grid
    gates = site.of_kind(Kind.GATE)
    wide = [
        gate for gate in gates if _gate_width(gate.geometry, gate.width) >= settings.tipping.truck_width - GATE_SLACK
    ]
    if wide:
        mask = inside_any((gate.geometry.buffer(1.0 + grid.cell) for gate in wide), grid.x, grid.y)
        return named(wide[0]), np.flatnonzero(mask).astype(np.int64)
    if gates:
        return named(gates[0]), np.zeros(0, np.int64)
    beside = lane & inside(site.parcel.buffer(3.0), grid.x, grid.y)
    roads = site.of_kind(Kind.ROAD)
    return (named(roads[0]) if roads else ""), np.flatnonzero(beside).astype(np.int64)


def _gate_width(geometry: BaseGeometry, width: float | None) -> float:
    """Width of a gate as drawn; a gate drawn as a point is taken to be wide enough. [m]."""
    if width is not None:
        return width
    return float(geometry.length) if geometry.length > 0.0 else float("inf")


def _within(mask: BoolArray, distance: float, walking: WalkingGround) -> BoolArray:
    """Cells within a distance of any marked cell."""
    from scipy.ndimage import distance_transform_edt

    if not mask.any():
        return np.zeros_like(mask)
    return np.asarray(distance_transform_edt(~mask) * walking.grid.cell <= distance)


def _round_room(goes: BoolArray, radius: float, walking: WalkingGround) -> BoolArray:
    """Cells with a free circle of a radius around them."""
    from scipy.ndimage import distance_transform_edt

    framed = np.pad(goes, 1, constant_values=False)
    return np.asarray(distance_transform_edt(framed)[1:-1, 1:-1] * walking.grid.cell >= radius)


def _spread(values: FloatArray, distance: float, walking: WalkingGround) -> FloatArray:
    """Carry the value of the nearest cell that has one to the cells within a distance."""
    from scipy.ndimage import distance_transform_edt

    known = np.isfinite(values)
    if not known.any():
        return np.full(values.shape, np.inf)
    far, nearest = distance_transform_edt(~known, return_indices=True)
    return np.where(far * walking.grid.cell <= distance, values[tuple(nearest)], np.inf)


def _place(
    rank: int,
    place: Point,
    work: float,
    volume: float,
    truck: TruckGround,
    walking: WalkingGround,
    settings: Settings,
) -> TippingPlace:
    units, own = settings.units, settings.tipping
    radius = pile_radius(settings)
    row, column = walking.grid.cell_at(place.x, place.y)
    reach = radius + 1.0
    way_in = float(_spread(truck.way_in, reach, walking)[row, column])
    off = float(_spread(truck.off_lane, reach, walking)[row, column])
    ground = (
        " on the drive"
        if off <= walking.grid.cell
        else f", {say_distance(off, units)} of it off the drive over firm ground"
    )
    drive = ground if walking.on_lane.any() else ""
    how = "can turn there" if bool(truck.turns[row, column]) else f"backs in from {truck.entry}"
    access = (
        f"A truck {say_length(own.truck_width, units)} wide comes {say_distance(way_in, units)} from {truck.entry}"
        f"{drive}, and {how}. Not after rain; the driver decides."
    )
    return TippingPlace(
        rank, place, place.buffer(radius, quad_segs=8), work, access, "", work / volume if volume else 0.0
    )


def compared(places: tuple[TippingPlace, ...], settings: Settings) -> tuple[TippingPlace, ...]:
    """Say of each place how its barrow work compares with the first one's."""
    if not places:
        return places
    units, best = settings.units, places[0]
    if best.barrow_work <= 0.0:
        return tuple(replace(place, why="Nearest to the way in; no mound asks for chips.") for place in places)
    first = (
        f"Least barrow work of all places that a truck reaches: {say_distance(best.mean_haul, units)} a barrow "
        "on the mean, off flow lines, hollows, roots and buried things."
    )
    others = (
        f"{say_distance(place.mean_haul, units)} a barrow on the mean, "
        f"{round(100.0 * (place.barrow_work / best.barrow_work - 1.0))} in 100 more work than at place 1."
        for place in places[1:]
    )
    return tuple(replace(place, why=why) for place, why in zip(places, (first, *others), strict=True))
