"""The paths that join gate, tap, hoop house, tipping place and mounds at least cost."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import LongArray
from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Scores
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site
from sitepipe.terrain.record import Terrain
from sitepipe.units import say_distance
from sitepipe.wetness.record import Wetness
from sitepipe.works.crossings import crossings_of, in_flow_length
from sitepipe.works.hoop_ground import named
from sitepipe.works.least_cost import SIXTEEN_MOVES, least_cost, way_back
from sitepipe.works.obstacles import lanes
from sitepipe.works.path_lines import (
    bench_cut,
    grade_cut,
    laid_line,
    line_cost,
    profile,
    steepest_over,
)
from sitepipe.works.record import HoopHouse, Mound, Path, TippingPlace
from sitepipe.works.walking import WalkingGround, walking_ground

WHEELCHAIR_WIDTH = 0.9144
"""36 in clear: 2010 ADA. [m]"""
WHEELCHAIR_GRADE = 1.0 / 20.0
"""Running slope of a walk that needs no rails: 2010 ADA. [1]"""
PROFILE_STEP = 0.5
"""[m]"""
MOUND = "mound "
"""How the end of a path at a mound is named, its number behind."""
LEAST_LENGTH = 0.5
"""Shorter pieces are a step, not a path. [m]"""


@dataclass(frozen=True, slots=True)
class Terminal:
    """Something that a path must reach: its name, the cells that count as there, and whether loads go to it."""

    name: str
    cells: LongArray
    is_main: bool


@dataclass(frozen=True, slots=True)
class Branch:
    """A way over cells from the network so far to a terminal."""

    cells: tuple[int, ...]
    start: str
    end: str
    is_main: bool


def lay_paths(
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    wetness: Wetness,
    scores: Scores,
    settings: Settings,
    mounds: tuple[Mound, ...] = (),
    house: HoopHouse | None = None,
    place: TippingPlace | None = None,
    taken: tuple[BaseGeometry, ...] = (),
) -> tuple[Path, ...]:
    """Join everything that a barrow goes to, the cheapest branch first, each branch from the network so far."""
    if not settings.path.wanted:
        return ()
    standing = [*taken, *(mound.outline for mound in mounds)]
    standing += [house.outline] if house is not None else []
    standing += [place.outline] if place is not None else []
    walking = walking_ground(site, terrain, drainage, wetness, scores, settings, standing, settings.path.side_width / 2)
    steepest = main_grade(settings)
    start = _starts(site, walking)
    terminals = _terminals(site, walking, mounds, house, place)
    if start is None or not terminals:
        return ()
    branches = widened(join(walking, steepest, start, terminals))
    laid = [_path(number, branch, site, walking, drainage, settings) for number, branch in enumerate(branches, 1)]
    kept = [path for path in laid if path is not None]
    return tuple(replace(path, number=number) for number, path in enumerate(kept, 1))


def main_grade(settings: Settings) -> float:
    """Return the slope that the main path's wheel takes without trouble. [1]."""
    if settings.path.wheel == "wheelchair":
        return min(settings.path.steepest, WHEELCHAIR_GRADE)
    return settings.path.steepest


def main_width(settings: Settings) -> float:
    """Return the width of the main path. [m]."""
    return max(settings.path.width, WHEELCHAIR_WIDTH) if settings.path.wheel == "wheelchair" else settings.path.width


def join(walking: WalkingGround, steepest: float, start: Terminal, terminals: tuple[Terminal, ...]) -> list[Branch]:
    """Grow a network from the start: each time the terminal that is cheapest to reach from all that is there.

    Cells of the network count as reached. Where loads go comes first, so that the main path is laid out for them and
    the rest joins it. At most twice the cost of the best network, which no one finds quickly.

    References
    ----------
    Takahashi & Matsuyama (1980), An approximate solution for the Steiner problem in graphs, Mathematica Japonica 24.
    """
    network = set(start.cells.tolist())
    owner = dict.fromkeys(network, start.name)
    branches: list[Branch] = []
    for group in (True, False):
        waiting = [terminal for terminal in terminals if terminal.is_main is group]
        while waiting:
            cost, _, came_from = least_cost(
                walking.pace, walking.height_in_cells, steepest, SIXTEEN_MOVES, np.array(sorted(network), np.int64)
            )
            reached = [
                float(cost.ravel()[terminal.cells].min()) if terminal.cells.size else np.inf for terminal in waiting
            ]
            nearest = int(np.argmin(reached))
            terminal = waiting.pop(nearest)
            if not np.isfinite(reached[nearest]):
                continue
            goal = int(terminal.cells[np.argmin(cost.ravel()[terminal.cells])])
            cells = way_back(came_from, goal)
            branches.append(Branch(tuple(cells), owner[cells[0]], terminal.name, group))
            for cell in cells:
                owner.setdefault(cell, f"path to {terminal.name}")
            owner[goal] = terminal.name
            network.update(cells)
    return branches


def widened(branches: list[Branch]) -> list[Branch]:
    """Make a main path of each branch that loads pass on the way to two mounds or more."""
    parent_of = _parents(branches)
    served = [int(branch.end.startswith(MOUND)) for branch in branches]
    for index in range(len(branches) - 1, -1, -1):
        parent = parent_of[index]
        if parent >= 0:
            served[parent] += served[index]
    return [
        replace(branch, is_main=branch.is_main or count >= 2) for branch, count in zip(branches, served, strict=True)
    ]


def _parents(branches: list[Branch]) -> list[int]:
    """Index of the branch that each branch starts from, -1 for those that start at the way in."""
    owner: dict[int, int] = {}
    parents = []
    for index, branch in enumerate(branches):
        parents.append(owner.get(branch.cells[0], -1))
        for cell in branch.cells:
            owner.setdefault(cell, index)
    return parents


def _starts(site: Site, walking: WalkingGround) -> Terminal | None:
    """Where one comes in: the gate, and with it the drive; else the road beside the parcel, else its lowest corner."""
    gates = site.of_kind(Kind.GATE)
    cells = [
        cell
        for gate in gates
        if (cell := walking.cell_near(gate.geometry.centroid.x, gate.geometry.centroid.y)) is not None
    ]
    roads = site.of_kind(Kind.ROAD)
    on_lane = np.flatnonzero(walking.on_lane & np.isfinite(walking.pace)).tolist()
    if not cells and not on_lane:
        return None
    inner = [road for road in roads if road.geometry.intersects(site.parcel)]
    names = [named(feature) for feature in ((*inner[:1],) if on_lane and inner else (*gates[:1], *roads[:1]))]
    return Terminal(names[0] if names else "the way in", np.array(sorted({*cells, *on_lane}), np.int64), True)


def _terminals(
    site: Site,
    walking: WalkingGround,
    mounds: tuple[Mound, ...],
    house: HoopHouse | None,
    place: TippingPlace | None,
) -> tuple[Terminal, ...]:
    found: list[Terminal] = []
    beside = 1.6 * walking.grid.cell + 0.3
    if place is not None:
        found.append(Terminal("tipping place", walking.cells_in(place.outline.buffer(beside)), True))
    if house is not None:
        door = house.door if house.door is not None else house.outline.centroid
        cell = walking.cell_near(door.x, door.y)
        found += [Terminal("hoop house", np.array([cell], np.int64), True)] if cell is not None else []
    for mound in mounds:
        cells = walking.cells_in(mound.outline.buffer(beside))
        found.append(Terminal(f"{MOUND}{mound.number}", cells, False))
    for tap in site.of_kind(Kind.TAP):
        cell = walking.cell_near(tap.geometry.centroid.x, tap.geometry.centroid.y)
        found += [Terminal(named(tap), np.array([cell], np.int64), False)] if cell is not None else []
    return tuple(found)


def _path(
    number: int, branch: Branch, site: Site, walking: WalkingGround, drainage: Drainage, settings: Settings
) -> Path | None:
    steepest = main_grade(settings)
    cells = _off_lane(branch.cells, walking)
    if len(cells) < 2:
        return None
    places, cost = laid_line(cells, walking, steepest)
    shortest_cost, shortest_length = _shortest(cells, walking, steepest)
    cost = min(shortest_cost, cost)
    line = LineString([_world(walking, row, column) for row, column in places])
    if line.length < LEAST_LENGTH:
        return None
    width = main_width(settings) if branch.is_main else settings.path.side_width
    outline = line.buffer(width / 2.0, cap_style="flat", join_style="round")
    new = outline.difference(shapely.union_all(lanes(site)))
    stations, height, across = profile(walking, places, PROFILE_STEP)
    cut = bench_cut(width, across, stations)
    if branch.is_main and settings.path.wheel == "wheelchair":
        cut += grade_cut(width, height, stations, WHEELCHAIR_GRADE)
    crossings, names = crossings_of(line, drainage, settings)
    cell = walking.grid.cell
    return Path(
        number=number,
        line=line,
        outline=new if isinstance(new, Polygon | MultiPolygon) and not new.is_empty else outline,
        joins=(branch.start, branch.end),
        width=width,
        is_main=branch.is_main,
        crossings=crossings,
        chips=float(new.area) * settings.path.chip_depth,
        cut=cut,
        cost=cost * cell,
        shortest_cost=shortest_cost * cell,
        why=_why(line.length, cost * cell, shortest_length, shortest_cost * cell, names, settings),
        crossing_names=names,
        in_flow=in_flow_length(line, walking, len(crossings)),
        steepest=steepest_over(height, stations),
    )


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
    _, _, came_from = least_cost(level, walking.height_in_cells, 0.0, SIXTEEN_MOVES, np.array(cells[:1], np.int64))
    blind = WalkingGround(walking.grid, level, walking.height, walking.in_flow, walking.on_lane, walking.wet)
    places, length = laid_line(way_back(came_from, cells[-1]), blind, 0.0)
    cost = line_cost(walking.pace, walking.height_in_cells, steepest, places)
    return float(cost), length * walking.grid.cell


def _world(walking: WalkingGround, row: float, column: float) -> tuple[float, float]:
    grid = walking.grid
    return grid.west + (float(column) + 0.5) * grid.cell, grid.north - (float(row) + 0.5) * grid.cell


def _why(
    length: float, cost: float, shortest: float, shortest_cost: float, names: tuple[str, ...], settings: Settings
) -> str:
    units = settings.units
    said = f"{say_distance(length, units)} long, worth {say_distance(cost, units)} of level dry path"
    if shortest_cost > 1.05 * cost:
        said += (
            f"; the shortest way, {say_distance(shortest, units)}, would be worth {say_distance(shortest_cost, units)}"
        )
    else:
        said += "; no shorter way is worth less"
    if not names:
        return f"{said}. It crosses no flow line."
    water = "a flow line" if len(names) == 1 else f"{len(names)} flow lines"
    return f"{said}. It crosses {water} ({'; '.join(names)}): leave the path level there, with a pipe or a plank over."
