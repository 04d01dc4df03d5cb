"""The plan built into the ground and the water run again: what changes next door, at the house, on the road."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray
from sitepipe.drainage.heights import PER_METRE
from sitepipe.drainage.trial import TrialDrainage, routed_heights, try_ground, whole_drops
from sitepipe.site import Kind
from sitepipe.works.land import Land
from sitepipe.works.obstacles import inside, inside_any
from sitepipe.works.water.boundary import Boundary, split_boundary
from sitepipe.works.water.edge_flow import falls_at
from sitepipe.works.water.outlets import Leaving, gather_outflow, grown_outlets
from sitepipe.works.water.raised_ground import WholeGround, whole_ground
from sitepipe.works.water.record import BoundaryChange, Impact, OutletChange, Rise, RisesAt

STANDING = 0.01
"""Shallower water does not count as standing: common practice, no source. [m]"""
CHANGED = 50
"""Ground raised or cut by more is the work itself: the water on it does not count as risen. [0.1 mm]"""
BESIDE_BOUNDARY = 1.5
"""Water so near to the boundary counts as at it. [m]"""
BY_CHANNEL = 3.0
"""Water that leaves so near to a drawn ditch, culvert or stream leaves by it. [m]"""
BESIDE_WALLS = 2.0
"""Water so near to a building counts as at it. [m]"""
FAILS_FROM = 2.0
"""An outlet that drains more than so many times as much ground as any near there did fails the plan. [1]"""


@dataclass(frozen=True, slots=True)
class Baseline:
    """The ground as it is, drained once under every storm, and the masks that every plan is compared on.

    ``given`` are rows of works that every plan that is weighed is built in with.
    """

    ground: WholeGround
    drops: tuple[LongArray, ...]
    before: TrialDrainage
    leaving: Leaving
    places: dict[RisesAt, BoolArray]
    parcel: BoolArray
    boundary: Boundary
    beside_cells: LongArray
    beside_stretch: LongArray
    channels: BaseGeometry
    given: FloatArray = field(default_factory=lambda: np.empty((0, 10)))


def drain_baseline(land: Land, wanted: FloatArray | None = None) -> Baseline:
    """Drain the ground as it is under every storm that the run follows, or with wanted works built in."""
    site, grid = land.site, land.site.grid
    ground = whole_ground(site, routed_heights(land.drainage.heights, land.drainage.known))
    if wanted is not None:
        ground = replace(ground, heights=ground.with_works(wanted))
    drops = tuple(whole_drops(storm.runoff) for storm in land.drainage.storms)
    parcel = inside(site.parcel, grid.x, grid.y)
    boundary = split_boundary(site)
    walls = [building.geometry for building in site.of_kind(Kind.BUILDING)]
    house = inside_any([wall.buffer(BESIDE_WALLS) for wall in walls], grid.x, grid.y)
    house &= ~inside_any(walls, grid.x, grid.y)
    road = inside_any([feature.footprint for feature in site.of_kind(Kind.ROAD)], grid.x, grid.y)
    cells = np.flatnonzero(inside(site.parcel.boundary.buffer(BESIDE_BOUNDARY), grid.x, grid.y))
    rows, columns = np.divmod(cells, grid.columns)
    channels = shapely.unary_union(
        [f.geometry.buffer(BY_CHANNEL) for f in site.of_kind(Kind.DITCH, Kind.CULVERT, Kind.WATER)]
    )
    before = try_ground(ground.heights, grid.cell, parcel, drops)
    return Baseline(
        ground=ground,
        drops=drops,
        before=before,
        leaving=_leaving(land, before, ground, channels, boundary),
        places={
            RisesAt.NEXT_DOOR: ~parcel & ~road & ~house,
            RisesAt.HOUSE: house,
            RisesAt.ROAD: road,
        },
        parcel=parcel,
        boundary=boundary,
        beside_cells=cells,
        beside_stretch=boundary.stretch_at[boundary.pieces_at(grid.x[columns], grid.y[rows])],
        channels=channels,
    )


def with_wanted(land: Land, baseline: Baseline, wanted: FloatArray) -> Baseline:
    """Return what proposals are weighed on beside wanted works, rows of ``work_row``.

    What is wanted stays whatever it does. Where it does harm by itself the proposals are held to doing none besides.
    """
    if not len(wanted):
        return baseline
    is_harmless = weigh_impact(land, baseline, wanted).passes
    return replace(baseline, given=wanted) if is_harmless else drain_baseline(land, wanted)


def weigh_impact(land: Land, baseline: Baseline, works: FloatArray) -> Impact:
    """Run every storm over the ground with works built into it, rows of ``work_row``, and compare place by place.

    Fails where standing water rises by more than ``mound.rise`` beyond the boundary, at a building or on a road after
    any of the storms, and where more than ``FAILS_FROM`` times as much ground drains over an outlet. Areas and depths
    of standing water, and what flows over the boundary, are of the largest storm.
    """
    grid, before = land.site.grid, baseline.before
    built = baseline.ground.with_works(np.concatenate([baseline.given, works]))
    after = try_ground(built, grid.cell, baseline.parcel, baseline.drops)
    steps = built - baseline.ground.heights
    is_raised = changed_cells(baseline.ground.heights, built)
    leaving = _leaving(land, after, baseline.ground, baseline.channels, baseline.boundary)
    outlets = _outlet_changes(land, baseline, leaving)
    stood, stands = before.storms[-1].depth, after.storms[-1].depth
    cells_before, deepest_before = standing_water(stood, np.zeros_like(is_raised), baseline.parcel)
    cells_after, deepest_after = standing_water(stands, is_raised, baseline.parcel)
    return Impact(
        ponded_area_before=cells_before * grid.cell_area,
        ponded_area_after=cells_after * grid.cell_area,
        deepest_before=deepest_before,
        deepest_after=deepest_after,
        displaced=float(np.minimum(stood, np.maximum(steps, 0) / PER_METRE)[is_raised].sum()) * grid.cell_area,
        boundary=_boundary_changes(baseline, leaving, stood, np.where(is_raised, 0.0, stands), outlets),
        rises=tuple(
            _rise(land, before, after, is_raised, at, mask) for at, mask in baseline.places.items() if mask.any()
        ),
        outlets=outlets,
    )


def _rise(
    land: Land, before: TrialDrainage, after: TrialDrainage, is_raised: BoolArray, at: RisesAt, mask: BoolArray
) -> Rise:
    """Find the highest rise at a place after any storm; where water only falls, the deepest fall."""
    found = [
        extreme_rises(now.depth, then.depth, is_raised, mask)
        for now, then in zip(before.storms, after.storms, strict=True)
    ]
    storm, side = max(range(len(found)), key=lambda k: found[k][0]), 0
    if found[storm][0] <= 0.0:
        storm, side = min(range(len(found)), key=lambda k: found[k][2]), 2
    height, cell = float(found[storm][side]), int(found[storm][side + 1])
    place = Point(land.site.grid.centre(*divmod(cell, land.site.grid.columns)))
    return Rise(at, place, height, land.drainage.storms[storm].rain_depth, height > land.settings.mound.rise)


@kernel
def changed_cells(heights: IntArray, built: IntArray) -> BoolArray:
    """Cells that are raised or cut by so much that they are the work itself."""
    rows, columns = heights.shape
    changed = np.zeros((rows, columns), dtype=np.bool_)
    for row in range(rows):
        for column in range(columns):
            changed[row, column] = abs(int(built[row, column]) - int(heights[row, column])) > CHANGED
    return changed


@kernel
def extreme_rises(
    before: FloatArray, after: FloatArray, is_changed: BoolArray, mask: BoolArray
) -> tuple[float, int, float, int]:
    """Highest and lowest rise of standing water within a mask, each with the flat index of its cell.

    What is tipped stands in the water that it displaces: there the rise counts as 0.
    """
    now, then, changed, counts = before.ravel(), after.ravel(), is_changed.ravel(), mask.ravel()
    highest, lowest = -np.inf, np.inf
    high, low = 0, 0
    for cell in range(now.size):
        if counts[cell]:
            rise = 0.0 if changed[cell] else then[cell] - now[cell]
            if rise > highest:
                highest = rise
                high = cell
            if rise < lowest:
                lowest = rise
                low = cell
    return highest, high, lowest, low


@kernel
def standing_water(depth: FloatArray, is_changed: BoolArray, mask: BoolArray) -> tuple[int, float]:
    """Cells of a mask on which water stands, what is tipped left out, and its greatest depth there. [m]."""
    water, changed, counts = depth.ravel(), is_changed.ravel(), mask.ravel()
    cells = 0
    deepest = 0.0
    for cell in range(water.size):
        if counts[cell] and not changed[cell]:
            deepest = max(deepest, water[cell])
            if water[cell] >= STANDING:
                cells += 1
    return cells, deepest


def _leaving(
    land: Land, trial: TrialDrainage, ground: WholeGround, channels: BaseGeometry, boundary: Boundary
) -> Leaving:
    """Gather what leaves over the boundary in the largest storm, on the fall of the ground as it is."""
    grid = land.site.grid
    rows, columns = np.divmod(trial.exits.astype(np.int64), grid.columns)
    x, y = grid.x[columns], grid.y[rows]
    falls = falls_at(ground.elevation, grid.cell, trial.exits)
    over_land = ~shapely.contains_xy(channels, x, y)
    return gather_outflow(x, y, trial.exit_area, trial.storms[-1].exit_volume, falls, over_land, boundary)


def _boundary_changes(
    baseline: Baseline, leaving: Leaving, stood: FloatArray, stands: FloatArray, outlets: Sequence[OutletChange]
) -> tuple[BoundaryChange, ...]:
    boundary, before = baseline.boundary, baseline.leaving
    count = len(boundary.stretches)

    def summed(values: FloatArray) -> FloatArray:
        return np.bincount(boundary.stretch_at, values, minlength=count).astype(np.float64)

    def deepest(where: LongArray, values: FloatArray) -> FloatArray:
        found = np.zeros(count)
        np.maximum.at(found, where, values)
        return found

    changes = {
        "volume_before": summed(before.volume),
        "volume_after": summed(leaving.volume),
        "depth_before": deepest(baseline.beside_stretch, stood.ravel()[baseline.beside_cells]),
        "depth_after": deepest(baseline.beside_stretch, stands.ravel()[baseline.beside_cells]),
        "area_before": summed(before.ground),
        "area_after": summed(leaving.ground),
        "flow_before": deepest(boundary.stretch_at, before.depth),
        "flow_after": deepest(boundary.stretch_at, leaving.depth),
    }
    failing = [outlet.place for outlet in outlets if outlet.fails]
    fails = set(boundary.stretch_at[boundary.pieces_at(*shapely.get_coordinates(failing).T)].tolist())
    return tuple(
        BoundaryChange(
            facing=stretch.facing,
            place=stretch.middle,
            is_new_outflow=index in fails,
            **{name: float(values[index]) for name, values in changes.items()},
        )
        for index, stretch in enumerate(boundary.stretches)
    )


def _outlet_changes(land: Land, baseline: Baseline, leaving: Leaving) -> tuple[OutletChange, ...]:
    """Outlets that drain more than may go unsaid, each with the place where as much no longer leaves."""
    boundary, before, share = baseline.boundary, baseline.leaving, land.settings.mound.outlet_growth
    gone = grown_outlets(leaving, before, boundary, share)
    found = []
    for outlet in grown_outlets(before, leaving, boundary, share):
        place = boundary.middle_of(outlet.place)
        was, will = float(before.gathered[outlet.before]), float(leaving.gathered[outlet.after])
        lost = [
            boundary.middle_of(one.place)
            for one in gone
            if before.gathered[one.after] - leaving.gathered[one.before] >= 0.5 * (will - was)
        ]
        found.append(
            OutletChange(
                facing=boundary.stretches[boundary.stretch_at[outlet.place]].facing,
                place=place,
                area_before=was,
                area_after=will,
                flow_before=float(before.depth[outlet.before]),
                flow_after=float(leaving.depth[outlet.after]),
                came_from=min(lost, key=lambda other: float(other.distance(place)), default=None),
                fails=will > FAILS_FROM * was,
            )
        )
    return tuple(found)
