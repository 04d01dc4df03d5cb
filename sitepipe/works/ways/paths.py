"""The paths that join gate, tap, hoop house, tipping place and mounds at least cost."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.settings import Settings
from sitepipe.site import DrawnWork, Kind, Ref, Site, Work
from sitepipe.terrain.outline import polygons_of
from sitepipe.works.built import Built
from sitepipe.works.hazards import Act, Kept, kept_clear
from sitepipe.works.land import Land
from sitepipe.works.obstacles import lanes
from sitepipe.works.rows.record import Arch
from sitepipe.works.water.record import Swale
from sitepipe.works.ways.crossings import crossings_of, in_flow_length
from sitepipe.works.ways.least_cost import SIXTEEN_MOVES, least_cost, way_back
from sitepipe.works.ways.lines import (
    LEVEL_ACROSS,
    bench_cut,
    grade_depth,
    laid_line,
    line_cost,
    profile,
    steepest_over,
)
from sitepipe.works.ways.network import WHEELCHAIR_GRADE, Branch, Network, main_grade
from sitepipe.works.ways.record import Path
from sitepipe.works.ways.walking import WalkingGround

WHEELCHAIR_WIDTH = 0.9144
"""36 in clear: 2010 ADA. [m]"""
PROFILE_STEP = 0.5
"""[m]"""
REACH = 1.5
"""A drawn path leads to what lies so near to its end. [m]"""
LEAST_LENGTH = 0.5
"""Shorter pieces are a step, not a path. [m]"""


def paths_of(network: Network, land: Land) -> tuple[Path, ...]:
    """Make paths of the branches: straightened, with widths, quantities, crossings and both costs."""
    first = network.before + 1
    laid = [(index, _path(branch, land, network.walking)) for index, branch in enumerate(network.branches, first)]
    kept = [(index, path) for index, path in laid if path is not None]
    number_of = {index: number for number, (index, _) in enumerate(kept, first)}

    def joined(end: Ref | None) -> Ref | None:
        """Name a path by its own number; a branch too short to be one by what it leads to."""
        if end is None or end.kind is not Work.PATH or end.number < first:
            return end
        number = number_of.get(end.number)
        return network.branches[end.number - first].end if number is None else Ref(Work.PATH, number)

    return tuple(
        replace(path, number=number, joins=(joined(path.joins[0]), joined(path.joins[1])))
        for number, (_, path) in enumerate(kept, first)
    )


def dig_in(path: Path, site: Site, settings: Settings) -> Path:
    """Lay a path level with the ground where it may be dug; beside a line, a wall or roots it stays grass."""
    near = [zone for zone in kept_clear(site, Act.TRENCHES, settings) if zone.ground.intersects(path.outline)]
    closed = shapely.union_all([zone.ground for zone in near])
    grass = path.line.intersection(closed.buffer(path.width / 2.0))
    dug = polygons_of(path.outline.difference(grass.buffer(path.width, cap_style="flat")).difference(closed))
    chips = path.chips * float(dug.area / path.outline.area)
    return replace(
        path,
        outline=dug,
        chips=chips,
        cut=path.cut + chips,
        cut_ground=dug,
        grass_length=float(grass.length),
        left_as_grass=tuple(zone.thing for zone in near),
    )


def main_width(settings: Settings) -> float:
    """Return the width of the main path. [m]."""
    return max(settings.path.width, WHEELCHAIR_WIDTH) if settings.path.wheel == "wheelchair" else settings.path.width


def _path(branch: Branch, land: Land, walking: WalkingGround) -> Path | None:
    steepest = main_grade(land.settings)
    cells = _off_lane(branch.cells, walking)
    if len(cells) < 2:
        return None
    places, cost = laid_line(cells, walking, steepest, branch.via)
    shortest_cost, shortest_length = _shortest(cells, walking, steepest)
    cost = min(shortest_cost, cost)
    line = LineString([_world(walking, row, column) for row, column in places])
    if line.length < LEAST_LENGTH:
        return None
    width = main_width(land.settings) if branch.is_main else land.settings.path.side_width
    ends, costs = (branch.start, branch.end), (cost, shortest_cost, shortest_length)
    return _along(line, places, width, branch.is_main, ends, costs, land, walking)


def drawn_path(work: DrawnWork, land: Land, walking: WalkingGround) -> Path:
    """Return a path as the grower drew it; ground that bars it costs as much as the worst that does not."""
    grid, steepest = walking.grid, main_grade(land.settings)
    x, y = shapely.get_coordinates(work.shape).T
    places = np.column_stack([(grid.north - y) / grid.cell - 0.5, (x - grid.west) / grid.cell - 0.5])
    free = np.where(np.isfinite(walking.pace), walking.pace, walking.pace[np.isfinite(walking.pace)].max(initial=1.0))
    cost = float(line_cost(free, walking.height_in_cells, steepest, places))
    length = float(work.shape.length)
    width = work.width or main_width(land.settings)
    path = _along(work.shape, places, width, True, (None, None), (cost, cost, length), land, walking)
    return replace(path, number=work.number, name=work.name, status=work.status, built=work.built)


def with_ends(paths: tuple[Path, ...], works: Sequence[Built], site: Site) -> tuple[Path, ...]:
    """Tell what drawn paths join: where each starts a way in or an earlier path, where it ends rather a work.

    Only earlier paths, so that none waits for another that waits for it.
    """
    ways_in = [(feature.ref, feature.geometry) for feature in site.of_kind(Kind.GATE, Kind.ROAD)]
    goals = [(work.ref, work.ground) for work in works if not isinstance(work, Path | Arch | Swale)]
    goals += [(feature.ref, feature.geometry) for feature in site.of_kind(Kind.BED, Kind.TAP)]
    told = []
    for path in paths:
        before = [(other.ref, other.outline) for other in paths if other.number < path.number and not other.is_proposed]
        start, end = (Point(path.line.coords[at]) for at in (0, -1))
        joins = (_nearest(start, (ways_in + before, goals)), _nearest(end, (goals, ways_in + before)))
        told.append(path if path.is_proposed else replace(path, joins=joins))
    return tuple(told)


def _nearest(place: Point, groups: Iterable[Sequence[tuple[Ref, BaseGeometry]]]) -> Ref | None:
    """Return what lies within reach of a place, of the first group that holds any such."""
    for group in groups:
        near = [(float(ground.distance(place)), ref) for ref, ground in group]
        away, ref = min(near, default=(np.inf, None), key=lambda one: one[0])
        if away <= REACH:
            return ref
    return None


def _along(
    line: LineString,
    places: FloatArray,
    width: float,
    is_main: bool,
    joins: tuple[Ref | None, Ref | None],
    costs: tuple[float, float, float],
    land: Land,
    walking: WalkingGround,
) -> Path:
    """Return the path along a line, ``places`` on the walking cells; costs: own, shortest, its length."""
    cost, shortest_cost, shortest_length = costs
    outline = line.buffer(width / 2.0, cap_style="flat", join_style="round")
    new = outline.difference(shapely.union_all(lanes(land.site)))
    stations, height, across = profile(walking, places, PROFILE_STEP)
    is_graded = is_main and land.settings.path.wheel == "wheelchair"
    fall = grade_depth(height, stations, WHEELCHAIR_GRADE) if is_graded else np.zeros(stations.size)
    undug = _lies_on(kept_clear(land.site, Act.TRENCHES, land.settings), line, stations, width)
    is_benched = (np.abs(across) > LEVEL_ACROSS) & ~undug
    cut = bench_cut(width, np.where(is_benched, across, 0.0), stations) + float(np.trapezoid(width * fall, stations))
    is_dug = is_benched | (fall > 0.0)
    dug = [substring(line, max(at - PROFILE_STEP, 0.0), at + PROFILE_STEP) for at in stations[is_dug]]
    crossings, waters = crossings_of(line, land)
    cell = walking.grid.cell
    return Path(
        number=0,
        line=line,
        outline=new if isinstance(new, Polygon | MultiPolygon) and not new.is_empty else outline,
        joins=joins,
        width=width,
        is_main=is_main,
        crossings=crossings,
        chips=float(new.area) * land.settings.path.chip_depth,
        cut=cut,
        cost=cost * cell,
        shortest_cost=shortest_cost * cell,
        shortest=shortest_length,
        waters=waters,
        in_flow=in_flow_length(line, walking, len(crossings)),
        steepest=steepest_over(height, stations),
        cut_ground=polygons_of(shapely.union_all(dug).buffer(width / 2.0, cap_style="flat")),
    )


def _lies_on(zones: Iterable[Kept], line: LineString, stations: FloatArray, width: float) -> BoolArray:
    """Tell at which stations a cut would reach ground that is kept clear: there the path is not made level."""
    around = shapely.buffer(shapely.line_interpolate_point(line, stations), width / 2.0 + PROFILE_STEP)
    found = np.zeros(stations.size, np.bool_)
    for zone in zones:
        found |= shapely.intersects(zone.ground, around)
    return found


def _off_lane(cells: tuple[int, ...], walking: WalkingGround) -> list[int]:
    """Leave out the part along a drive at the start of a way: there the path is built already."""
    lane = walking.on_lane.ravel()
    first = 0
    while first + 1 < len(cells) and lane[cells[first + 1]]:
        first += 1
    return list(cells[first:])


def _shortest(cells: list[int], walking: WalkingGround, steepest: float) -> tuple[float, float]:
    """Cost and length of the shortest way between the same ends: what one would walk without a look at the ground."""
    level = np.where(np.isfinite(walking.pace), 1.0, np.inf)
    _, _, came_from = least_cost(
        level,
        walking.height_in_cells,
        0.0,
        SIXTEEN_MOVES,
        np.array(cells[:1], np.int64),
        np.array(cells[-1:], np.int64),
    )
    blind = WalkingGround(walking.grid, level, walking.height, walking.in_flow, walking.on_lane, walking.wet)
    places, length = laid_line(way_back(came_from, cells[-1]), blind, 0.0)
    cost = line_cost(walking.pace, walking.height_in_cells, steepest, places)
    return float(cost), length * walking.grid.cell


def _world(walking: WalkingGround, row: float, column: float) -> tuple[float, float]:
    grid = walking.grid
    return grid.west + (float(column) + 0.5) * grid.cell, grid.north - (float(row) + 0.5) * grid.cell
