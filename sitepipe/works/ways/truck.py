"""Where a truck gets to: through the gate, along the drive, over ground that bears it, and where it can turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, LongArray
from sitepipe.settings import Settings
from sitepipe.site import Gate, Kind, Ref, Site, Work
from sitepipe.works.hazards import Act, kept_clear
from sitepipe.works.land import Land
from sitepipe.works.obstacles import deep_hollows, inside, inside_any, lanes, running, solids
from sitepipe.works.ways.least_cost import QUEEN_MOVES, least_cost, way_back
from sitepipe.works.ways.record import NoTipping
from sitepipe.works.ways.walking import WalkingGround, on_walking_cells

GATE_SLACK = 0.6
"""A gate may be this much narrower than the clear lane: one drives through it with care. [m]"""


@dataclass(frozen=True, slots=True)
class TruckGround:
    """Where a truck gets to.

    Parameters
    ----------
    way_in : (rows, columns) float array
        Metres driven from the gate, or from the road where no gate is drawn; infinite where it does not get to. [m]
    off_lane : (rows, columns) float array
        Metres of those driven off road and drive. [m]
    came_from : (rows, columns) int array
        The way off road and drive, as ``least_cost`` gives it.
    turns : (rows, columns) bool array
        Whether it can turn within reach of a cell.
    entry : str
        What it comes in by.
    """

    way_in: FloatArray
    off_lane: FloatArray
    came_from: LongArray
    turns: BoolArray
    entry: Ref

    def way_to(self, place: Point, walking: WalkingGround) -> LineString:
        """Return the way off road and drive to the cell nearest to a place that a truck gets to."""
        row, column = walking.grid.cell_at(place.x, place.y)
        _, nearest = nearest_known(self.way_in)
        cells = way_back(self.came_from, int(np.ravel_multi_index(nearest[:, row, column], self.way_in.shape)))
        return LineString([walking.place_of(cell) for cell in cells]) if len(cells) > 1 else LineString()


def truck_ground(land: Land, walking: WalkingGround, standing: tuple[BaseGeometry, ...]) -> TruckGround | None:
    """Drive a truck over everything firm from the gate (or the road); None where no way in is drawn."""
    grid, own = walking.grid, land.settings.tipping
    lane = inside_any(lanes(land.site), grid.x, grid.y)
    if land.site.of_kind(Kind.GATE):
        lane &= inside(land.site.parcel.buffer(0.5), grid.x, grid.y)
    half = own.truck_width / 2.0
    stops = [shape.buffer(half) for shape in (*solids(land.site), *standing)]
    # A step from cell to cell can cut a corner by most of half a diagonal.
    reach = half + 0.71 * grid.cell
    soft = [zone.ground.buffer(reach) for zone in kept_clear(land.site, Act.DRIVES, land.settings)]
    kept = (*land.site.of_kind(Kind.DITCH, Kind.BED), *land.site.kept_clear_of(Work.TIPPING_PLACE))
    soft += [feature.footprint.buffer(half) for feature in kept]
    soft += [pond.outline.buffer(half) for pond in deep_hollows(land)]
    soft += [flow.line.buffer(half) for flow in running(land)]
    solid = inside_any(stops, grid.x, grid.y)
    depth = on_walking_cells(land.water_table.water_table_depth, land.site, walking)
    slope = on_walking_cells(land.terrain.broad_slope, land.site, walking)
    bears = (depth >= own.firm_depth) & (np.nan_to_num(slope, nan=1.0) <= own.steepest)
    bears &= ~inside_any(soft, grid.x, grid.y) & inside(land.site.parcel, grid.x, grid.y)
    entry, starts = _entries(land.site, walking, lane, land.settings)
    if entry is None or starts.size == 0:
        return None
    goes = (lane | bears) & ~solid
    goes.flat[starts] = True
    pace = np.where(goes, 1.0, np.inf)
    _, way_in, _ = least_cost(pace, np.zeros_like(pace), 0.0, QUEEN_MOVES, starts)
    reached_lane = lane & np.isfinite(way_in)
    near = np.flatnonzero(reached_lane) if reached_lane.any() else starts
    off_cost, _, came_from = least_cost(pace, np.zeros_like(pace), 0.0, QUEEN_MOVES, near.astype(np.int64))
    off = off_cost * grid.cell
    far = way_in * grid.cell
    far[off > own.soft_ground] = np.inf
    turns = within(_round_room(goes, own.turning, walking) & np.isfinite(far), own.truck_length, walking)
    far[(far > own.back_in) & ~turns] = np.inf
    return TruckGround(far, off, came_from, turns, entry)


def why_no_place(site: Site, settings: Settings) -> NoTipping:
    """Tell why no truck can tip, as far as the drawing shows it."""
    gates = site.drawn(Gate)
    if not gates and not site.of_kind(Kind.ROAD):
        return NoTipping.NO_WAY_IN
    is_narrow = gates and all(gate.opening < settings.tipping.truck_width - GATE_SLACK for gate in gates)
    return NoTipping.NARROW_GATE if is_narrow else NoTipping.SOFT


def _entries(site: Site, walking: WalkingGround, lane: BoolArray, settings: Settings) -> tuple[Ref | None, LongArray]:
    """Name what a truck comes in by, and the cells to start from: wide gates, else the road beside the parcel."""
    grid = walking.grid
    gates = site.drawn(Gate)
    wide = [gate for gate in gates if gate.opening >= settings.tipping.truck_width - GATE_SLACK]
    if wide:
        mask = inside_any((gate.geometry.buffer(1.0 + grid.cell) for gate in wide), grid.x, grid.y)
        return wide[0].ref, np.flatnonzero(mask).astype(np.int64)
    if gates:
        return gates[0].ref, np.zeros(0, np.int64)
    beside = lane & inside(site.parcel.buffer(3.0), grid.x, grid.y)
    roads = site.of_kind(Kind.ROAD)
    return (roads[0].ref if roads else None), np.flatnonzero(beside).astype(np.int64)


def within(mask: BoolArray, distance: float, walking: WalkingGround) -> BoolArray:
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


def spread(values: FloatArray, distance: float, walking: WalkingGround) -> FloatArray:
    """Carry the value of the nearest cell that has one to the cells within a distance."""
    if not np.isfinite(values).any():
        return np.full(values.shape, np.inf)
    far, nearest = nearest_known(values)
    return np.where(far * walking.grid.cell <= distance, values[tuple(nearest)], np.inf)


def nearest_known(values: FloatArray) -> tuple[FloatArray, LongArray]:
    """Distance [cells] to the nearest cell that has a value, and its (row, column)."""
    from scipy.ndimage import distance_transform_edt

    far, nearest = distance_transform_edt(~np.isfinite(values), return_indices=True)
    return np.asarray(far), np.asarray(nearest, np.int64)
