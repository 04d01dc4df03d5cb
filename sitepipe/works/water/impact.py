"""The plan built into the ground and the water run again: what changes next door, at the house, on the road."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, LongArray
from sitepipe.drainage.record import Drainage, Storm
from sitepipe.drainage.trial import TrialDrainage, routing_elevation, try_ground
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site
from sitepipe.units import Units, say_area, say_depth, say_length, say_rain
from sitepipe.works.mounds.fills import find_fill
from sitepipe.works.obstacles import inside, inside_any
from sitepipe.works.record import BoundaryChange, Impact, Mound, OutletChange
from sitepipe.works.water.boundary import Boundary, say_where, split_boundary
from sitepipe.works.water.edge_flow import edge_depths, falls_at
from sitepipe.works.water.outflows import Outflows, grown_outflows, locate_outflows, new_outflows, sum_by_stretch
from sitepipe.works.water.raised_ground import added_height

STANDING = 0.01
"""Shallower water does not count as standing: common practice, no source. [m]"""
BESIDE_BOUNDARY = 1.5
"""Water so near to the boundary counts as at it. [m]"""
BY_CHANNEL = 3.0
"""Water that leaves so near to a drawn ditch, culvert or stream leaves by it. [m]"""
BESIDE_WALLS = 2.0
"""Water so near to a building counts as at it. [m]"""


@dataclass(frozen=True, slots=True)
class Baseline:
    """The ground as it is, drained once, and the masks that every plan is compared on."""

    elevation: FloatArray
    before: TrialDrainage
    runoff: float
    rain: float
    parcel: BoolArray
    house: BoolArray
    road: BoolArray
    boundary: Boundary
    outflows: Outflows
    beside_cells: LongArray
    beside_stretch: LongArray
    channels: BaseGeometry


def drain_baseline(site: Site, drainage: Drainage) -> Baseline:
    """Drain the ground as it is under the largest storm."""
    grid = site.grid
    elevation = routing_elevation(drainage.heights, drainage.known)
    parcel = inside(site.parcel, grid.x, grid.y)
    rain, runoff = storm_runoff(drainage.storms)
    boundary = split_boundary(site)
    house = inside_any([b.geometry.buffer(BESIDE_WALLS) for b in site.of_kind(Kind.BUILDING)], grid.x, grid.y)
    house &= ~inside_any([b.geometry for b in site.of_kind(Kind.BUILDING)], grid.x, grid.y)
    road = inside_any([feature.footprint for feature in site.of_kind(Kind.ROAD)], grid.x, grid.y)
    near = inside(site.parcel.boundary.buffer(BESIDE_BOUNDARY), grid.x, grid.y)
    cells = np.flatnonzero(near)
    rows, columns = np.divmod(cells, grid.columns)
    ring, along, _ = boundary.locate(grid.x[columns], grid.y[rows])
    before = try_ground(elevation, grid.cell, parcel, runoff)
    return Baseline(
        elevation=elevation,
        before=before,
        runoff=runoff,
        rain=rain,
        parcel=parcel,
        house=house,
        road=road,
        boundary=boundary,
        outflows=locate_outflows(before, grid, boundary),
        beside_cells=cells.astype(np.int64),
        beside_stretch=boundary.stretch_of(ring, along),
        channels=shapely.unary_union(
            [f.geometry.buffer(BY_CHANNEL) for f in site.of_kind(Kind.DITCH, Kind.CULVERT, Kind.WATER)]
        ),
    )


def storm_runoff(storms: Sequence[Storm]) -> tuple[float, float]:
    """Return rain and mean runoff of the largest storm; an inch that all runs off where none was followed. [m]."""
    if not storms:
        return 0.0254, 0.0254
    storm = max(storms, key=lambda one: one.rain_depth)
    share = 1.0 - storm.infiltrated / storm.rain if storm.rain > 0.0 else 1.0
    return storm.rain_depth, storm.rain_depth * min(max(share, 0.0), 1.0)


def raise_mounds(site: Site, ground: FloatArray, mounds: Sequence[Mound], settings: Settings) -> FloatArray:
    """Height that mounds add to each cell as built, before they settle. [m]."""
    grid = site.grid
    added = np.zeros(grid.shape)
    for mound in mounds:
        fill = find_fill(mound.fill, settings.soil.texture, settings.mound.air)
        (x0, y0), (x1, y1) = mound.crest.coords
        z0, z1 = mound.crest_ground
        ridge = np.array(
            [[x0, y0, z0 + mound.height.built, x1, y1, z1 + mound.height.built, 0.5 * mound.base_width + grid.cell]]
        )
        own = added_height(ground, grid.west, grid.north, grid.cell, ridge, mound.top_width, fill.side_slope)
        added = np.maximum(added, own)
    return added


def weigh_impact(
    site: Site, baseline: Baseline, mounds: Sequence[Mound], added: FloatArray, settings: Settings
) -> Impact:
    """Run the largest storm over the ground with the plan built into it, and compare place by place.

    Fails where standing water rises by more than ``mound.rise`` beyond the boundary, at a building or on a road, and
    where water crosses the boundary at a place where it did not.
    """
    grid, units = site.grid, settings.units
    raised = baseline.elevation + added
    after = try_ground(raised, grid.cell, baseline.parcel, baseline.runoff)
    before = baseline.before
    is_mound = added > 0.005
    # A mound stands in the water that it displaces: the rise is that of the water beside it.
    rise = np.where(is_mound, 0.0, np.nan_to_num(after.storm_depth - before.storm_depth))
    faults: list[tuple[str, Point]] = []
    faults.extend(_rises(site, baseline, rise, settings))
    outflows = locate_outflows(after, grid, baseline.boundary)
    changes, crossings = _boundary_changes(site, baseline, after, outflows, is_mound, settings)
    faults.extend(crossings)
    displaced = float(np.minimum(np.nan_to_num(before.storm_depth), added)[is_mound].sum()) * grid.cell_area
    within = baseline.parcel & ~is_mound
    return Impact(
        passes=not faults,
        ponded_area_before=_standing_area(before.storm_depth, baseline.parcel, grid.cell_area),
        ponded_area_after=_standing_area(after.storm_depth, within, grid.cell_area),
        deepest_before=float(np.nanmax(before.storm_depth[baseline.parcel], initial=0.0)),
        deepest_after=float(np.nanmax(after.storm_depth[within], initial=0.0)),
        displaced=displaced,
        boundary=changes,
        house=_say_at("the walls", baseline.house, rise, bool(site.of_kind(Kind.BUILDING)), units),
        road=_say_at("the road", baseline.road, rise, bool(site.of_kind(Kind.ROAD)), units),
        faults=tuple(faults),
        remedy=_remedy(site, faults, mounds, settings),
        outlets=_outlet_changes(site, baseline, outflows, changes, settings),
    )


def displaced_rise(volume: float, area: float, mound_area: float) -> float:
    """Depth of a puddle after mounds take up part of it. Volume in m3, areas in m2, depth in m.

    Examples
    --------
    200 m2 with 3 cm hold 6 m3; 60 m2 of mounds leave 140 m2: 4.3 cm.

    >>> round(displaced_rise(6.0, 200.0, 60.0), 3)
    0.043
    """
    return volume / (area - mound_area)


def _rises(site: Site, baseline: Baseline, rise: FloatArray, settings: Settings) -> list[tuple[str, Point]]:
    faults = []
    limit = settings.mound.rise
    storm = say_rain(baseline.rain, settings.units)
    for mask, who in (
        (~baseline.parcel & ~baseline.road & ~baseline.house, "beyond the boundary"),
        (baseline.house, "at the house"),
        (baseline.road, "on the road"),
    ):
        there = np.where(mask, rise, 0.0)
        cell = int(np.argmax(there))
        highest = float(there.ravel()[cell])
        if highest > limit:
            x, y = site.grid.centre(*divmod(cell, site.grid.columns))
            place = Point(x, y)
            said = (
                f"Water would stand {say_depth(highest, settings.units)} higher {who} after {storm} of rain, "
                f"{say_where(place, site, settings.units)}."
            )
            faults.append((said, place))
    return faults


def _boundary_changes(
    site: Site,
    baseline: Baseline,
    after: TrialDrainage,
    outflows: Outflows,
    is_mound: BoolArray,
    settings: Settings,
) -> tuple[tuple[BoundaryChange, ...], list[tuple[str, Point]]]:
    units, boundary = settings.units, baseline.boundary
    faults: list[tuple[str, Point]] = []
    new_stretches = set()
    for ring, along, area in new_outflows(baseline.outflows, outflows, boundary):
        place = boundary.rings[ring].interpolate(along)
        index = int(boundary.stretch_of(np.array([ring], np.int32), np.array([along]))[0])
        new_stretches.add(index)
        said = (
            f"Water from {say_area(area, units)} would leave over the {boundary.stretches[index].side} boundary where "
            f"it did not, {say_where(place, site, units)}."
        )
        faults.append((said, place))
    areas = [sum_by_stretch(flows, boundary) for flows in (baseline.outflows, outflows)]
    flows = (
        _flow_depths(site, baseline, baseline.before, baseline.outflows),
        _flow_depths(site, baseline, after, outflows),
    )
    depth_before = _deepest_beside(baseline, np.nan_to_num(baseline.before.storm_depth))
    depth_after = _deepest_beside(baseline, np.where(is_mound, 0.0, np.nan_to_num(after.storm_depth)))
    changes = tuple(
        BoundaryChange(
            where=f"{stretch.side} boundary, {say_where(stretch.middle, site, units)}",
            place=stretch.middle,
            volume_before=float(areas[0][index]) * baseline.runoff,
            volume_after=float(areas[1][index]) * baseline.runoff,
            depth_before=float(depth_before[index]),
            depth_after=float(depth_after[index]),
            is_new_outflow=index in new_stretches,
            area_before=float(areas[0][index]),
            area_after=float(areas[1][index]),
            flow_before=float(flows[0][index]),
            flow_after=float(flows[1][index]),
        )
        for index, stretch in enumerate(boundary.stretches)
    )
    return changes, faults


def _flow_depths(site: Site, baseline: Baseline, trial: TrialDrainage, outflows: Outflows) -> FloatArray:
    """Depth of the water that flows over each stretch, on the fall of the ground as it is. [m]."""
    grid = site.grid
    rows, columns = np.divmod(trial.exits.astype(np.int64), grid.columns)
    over_land = ~shapely.contains_xy(baseline.channels, grid.x[columns], grid.y[rows])
    falls = falls_at(baseline.elevation, grid.cell, trial.exits)
    return edge_depths(outflows, falls, over_land, baseline.runoff, baseline.boundary)


def _outlet_changes(
    site: Site, baseline: Baseline, outflows: Outflows, changes: Sequence[BoundaryChange], settings: Settings
) -> tuple[OutletChange, ...]:
    """Places where more leaves than may go unsaid, each with the place where as much no longer does."""
    boundary, units = baseline.boundary, settings.units
    share = settings.mound.outlet_growth
    gone = grown_outflows(outflows, baseline.outflows, boundary, share)
    found = []
    for outlet in grown_outflows(baseline.outflows, outflows, boundary, share):
        place = boundary.rings[outlet.ring].interpolate(outlet.along)
        index = int(boundary.stretch_of(np.array([outlet.ring], np.int32), np.array([outlet.along]))[0])
        lost = [one for one in gone if one.after - one.before >= 0.5 * (outlet.after - outlet.before)]
        places = [boundary.rings[one.ring].interpolate(one.along) for one in lost]
        nearest = min(places, key=lambda other: float(other.distance(place)), default=None)
        found.append(
            OutletChange(
                where=f"over the {boundary.stretches[index].side} boundary, {say_where(place, site, units)}",
                place=place,
                area_before=outlet.before,
                area_after=outlet.after,
                flow_before=changes[index].flow_before,
                flow_after=changes[index].flow_after,
                came_from="" if nearest is None else say_where(nearest, site, units),
            )
        )
    return tuple(found)


def _deepest_beside(baseline: Baseline, depth: FloatArray) -> FloatArray:
    """Deepest standing water at each stretch of boundary. [m]."""
    deepest = np.zeros(len(baseline.boundary.stretches))
    np.maximum.at(deepest, baseline.beside_stretch, depth.ravel()[baseline.beside_cells])
    return deepest


def _standing_area(depth: FloatArray, mask: BoolArray, cell_area: float) -> float:
    return float(np.count_nonzero(mask & (np.nan_to_num(depth) >= STANDING))) * cell_area


def _say_at(name: str, mask: BoolArray, rise: FloatArray, is_drawn: bool, units: Units) -> str:
    if not is_drawn:
        return ""
    highest = float(rise[mask].max(initial=0.0))
    lowest = float(rise[mask].min(initial=0.0))
    if highest >= 0.001:
        return f"Standing water at {name} rises by {say_depth(highest, units)}."
    if lowest <= -0.001:
        return f"Standing water at {name} falls by {say_depth(-lowest, units)}."
    return f"Standing water at {name} does not change."


def _remedy(site: Site, faults: list[tuple[str, Point]], mounds: Sequence[Mound], settings: Settings) -> str:
    if not faults or not mounds:
        return ""
    _, place = faults[0]
    nearest = min(mounds, key=lambda mound: float(mound.outline.distance(place)))
    gap = say_length(settings.mound.gap, settings.units)
    where = say_where(place, site, settings.units)
    return (
        f"Leave out mound {nearest.number} or open a gap of {gap} in it, so that the water goes where it went; look at "
        f"the place {where} in the next rain."
    )
