"""The network that joins gate, tap, hoop house, tipping place and mounds, as ways over cells."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import LongArray
from sitepipe.settings import Settings
from sitepipe.site import Bed, Kind, Ref, Site, Work
from sitepipe.works.built import Built, these
from sitepipe.works.hazards import SWALE
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.rows.record import Trellis
from sitepipe.works.ways.least_cost import SIXTEEN_MOVES, least_cost, way_back
from sitepipe.works.ways.record import Path, TippingPlace
from sitepipe.works.ways.walking import WalkingGround, walking_ground

WHEELCHAIR_GRADE = 1.0 / 20.0
"""Running slope of a walk that needs no rails: 2010 ADA. [1]"""
BESIDE_ROW = 0.3
"""Of a trellis that stands or is wanted: posts, braces and leaves. [m]"""
NEAR = 1.5
"""Free ground is looked for so far from the end of a mound's side. [m]"""
STEP = 1.0
"""What lies so near to a drawn path is reached from it. [m]"""
DETOUR = 1.3
"""A path goes along a mound if its way is no more than so many times as long as the mound's side. [1]"""


@dataclass(frozen=True, slots=True)
class Terminal:
    """Something that a path must reach: what it is, the cells that count as there, and whether loads go to it.

    ``sides`` are pairs of cells, the ends of each side that a path goes along once it is there.
    """

    ref: Ref | None
    cells: LongArray
    is_main: bool
    sides: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class Branch:
    """A way over cells from the network so far to a terminal, which it reaches at ``via`` and then goes along."""

    cells: tuple[int, ...]
    start: Ref | None
    end: Ref | None
    is_main: bool
    via: int = -1


@dataclass(frozen=True, slots=True)
class Network:
    """All branches, the first laid first, on the ground that they are laid over, numbered from after ``before``."""

    walking: WalkingGround
    terminals: tuple[Terminal, ...]
    branches: tuple[Branch, ...]
    before: int = 0


def join_all(land: Land, works: Sequence[Built]) -> Network:
    """Join everything that a barrow goes to, the cheapest branch first, each branch from the network so far."""
    half_width = land.settings.path.side_width / 2.0
    walking = walking_ground(land, in_the_way(works), half_width)
    start = _starts(land.site, walking)
    terminals = _terminals(land.site, walking, works, half_width)
    before = land.site.next_number(Work.PATH) - 1
    if start is None or not terminals:
        return Network(walking, terminals, (), before)
    branches = widened(join(walking, main_grade(land.settings), start, terminals, before))
    return Network(walking, terminals, tuple(branches), before)


def in_the_way(works: Sequence[Built]) -> list[BaseGeometry]:
    """Return the ground that works take from whoever walks; one walks on a path and under an arch."""
    taken: list[BaseGeometry] = [mound.outline for mound in these(Mound, works)]
    taken += [house.outline.buffer(SWALE) for house in these(HoopHouse, works)]
    taken += [place.outline for place in these(TippingPlace, works)]
    taken += [row.line.buffer(BESIDE_ROW) for row in these(Trellis, works)]
    return taken


def ways_over(network: Network) -> dict[int, float]:
    """Metres over drives and branches from the tipping place to each mound that they reach. [m]."""
    walking = network.walking
    cells = [_passed(branch, walking.grid.columns) for branch in network.branches]
    on_network = walking.on_lane.ravel().copy()
    cells += [terminal.cells for terminal in network.terminals if _kind(terminal.ref) is Work.PATH]
    on_network[np.concatenate(cells) if cells else np.zeros(0, np.int64)] = True
    pace = np.where(on_network & np.isfinite(walking.pace.ravel()), 1.0, np.inf).reshape(walking.pace.shape)
    start = [terminal.cells for terminal in network.terminals if _kind(terminal.ref) is Work.TIPPING_PLACE]
    if not start:
        return {}
    _, length, _ = least_cost(pace, np.zeros_like(pace), 0.0, SIXTEEN_MOVES, start[0])
    found = {
        terminal.ref.number: float(length.ravel()[terminal.cells].min(initial=np.inf))
        for terminal in network.terminals
        if terminal.ref is not None and _kind(terminal.ref) is Work.MOUND
    }
    return {number: far * walking.grid.cell for number, far in found.items() if np.isfinite(far)}


def _passed(branch: Branch, columns: int) -> LongArray:
    """Return the cells of a branch, and those between two that lie a knight's move apart."""
    row, column = np.divmod(np.array(branch.cells, np.int64), columns)
    between = [(row[:-1] + row[1:] + up) // 2 * columns + (column[:-1] + column[1:] + up) // 2 for up in (0, 1)]
    return np.concatenate([row * columns + column, *between])


def _kind(ref: Ref | None) -> StrEnum | None:
    return None if ref is None else ref.kind


def main_grade(settings: Settings) -> float:
    """Return the slope that the main path's wheel takes without trouble. [1]."""
    if settings.path.wheel == "wheelchair":
        return min(settings.path.steepest, WHEELCHAIR_GRADE)
    return settings.path.steepest


def join(
    walking: WalkingGround, steepest: float, start: Terminal, terminals: tuple[Terminal, ...], before: int = 0
) -> list[Branch]:
    """Grow a network from the start: each time the terminal that is cheapest to reach from all that is there.

    Cells of the network count as reached. Where loads go comes first, so that the main path is laid out for them and
    the rest joins it. At most twice the cost of the best network, which no one finds quickly.

    References
    ----------
    Takahashi & Matsuyama (1980), An approximate solution for the Steiner problem in graphs, Mathematica Japonica 24.
    """
    network = set(start.cells.tolist())
    owner: dict[int, Ref | None] = dict.fromkeys(network, start.ref)
    branches: list[Branch] = []
    drawn: set[int] = set()
    height = walking.height_in_cells
    for group in (True, False):
        waiting = [terminal for terminal in terminals if terminal.is_main is group]
        while waiting:
            cost, _, came_from = least_cost(
                walking.pace,
                height,
                steepest,
                SIXTEEN_MOVES,
                np.array(sorted(network), np.int64),
                np.concatenate([terminal.cells for terminal in waiting]),
            )
            reached = [
                float(cost.ravel()[terminal.cells].min()) if terminal.cells.size else np.inf for terminal in waiting
            ]
            nearest = int(np.argmin(reached))
            terminal = waiting.pop(nearest)
            if not np.isfinite(reached[nearest]):
                break
            goal = int(terminal.cells[np.argmin(cost.ravel()[terminal.cells])])
            cells = way_back(came_from, goal)
            cells += [] if goal in drawn else _along(walking, steepest, terminal, goal)
            branches.append(Branch(tuple(cells), owner[cells[0]], terminal.ref, group, goal))
            for cell in cells:
                owner.setdefault(cell, Ref(Work.PATH, before + len(branches)))
            owner[goal] = owner[cells[-1]] = terminal.ref
            network.update(cells)
            if _kind(terminal.ref) is Work.PATH:
                drawn.update(terminal.cells.tolist())
                network.update(drawn)
                owner.update(dict.fromkeys(terminal.cells.tolist(), terminal.ref))
    return branches


def _along(walking: WalkingGround, steepest: float, terminal: Terminal, goal: int) -> list[int]:
    """Return the way on from an end of a side to its other end, empty where something stands there."""
    ends = [other for side in terminal.sides if goal in side for other in side if other != goal]
    if not ends:
        return []
    sources, targets = np.array([goal], np.int64), np.array(ends[:1], np.int64)
    cost, length, came_from = least_cost(
        walking.pace, walking.height_in_cells, steepest, SIXTEEN_MOVES, sources, targets
    )
    (row, column), (end_row, end_column) = (divmod(cell, walking.grid.columns) for cell in (goal, ends[0]))
    straight = float(np.hypot(end_row - row, end_column - column))
    if not np.isfinite(cost.flat[ends[0]]) or length.flat[ends[0]] > DETOUR * straight:
        return []
    return way_back(came_from, ends[0])[1:]


def _sides(mound: Mound, walking: WalkingGround, aside: float) -> tuple[tuple[int, int], ...]:
    """Return the cells at both ends of both long sides of a mound, of sides that are free at both ends."""
    (x0, y0), (x1, y1) = mound.crest.coords[0], mound.crest.coords[-1]
    length = max(float(np.hypot(x1 - x0, y1 - y0)), 1e-9)
    east, north = (y1 - y0) / length * aside, (x0 - x1) / length * aside
    found = []
    for side in (1.0, -1.0):
        ends = [walking.cell_near(x + side * east, y + side * north, NEAR) for x, y in ((x0, y0), (x1, y1))]
        if ends[0] is not None and ends[1] is not None and ends[0] != ends[1]:
            found.append((ends[0], ends[1]))
    return tuple(found)


def widened(branches: list[Branch]) -> list[Branch]:
    """Make a main path of each branch that loads pass on the way to two mounds or more."""
    parent_of = _parents(branches)
    served = [int(_kind(branch.end) is Work.MOUND) for branch in branches]
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
    drawn = [feature.ref for feature in ((*inner[:1],) if on_lane and inner else (*gates[:1], *roads[:1]))]
    return Terminal(drawn[0] if drawn else None, np.array(sorted({*cells, *on_lane}), np.int64), True)


def _terminals(
    site: Site,
    walking: WalkingGround,
    works: Sequence[Built],
    half_width: float,
) -> tuple[Terminal, ...]:
    found: list[Terminal] = []
    beside = 1.6 * walking.grid.cell + 0.3
    found += [Terminal(path.ref, walking.cells_in(path.line.buffer(STEP)), True) for path in these(Path, works)]
    for place in these(TippingPlace, works)[:1]:
        cells = walking.cells_in(place.outline.buffer(beside))
        found.append(Terminal(place.ref, cells, True))
    for house in these(HoopHouse, works):
        ref, cell = house.ref, walking.cell_near(house.door.x, house.door.y)
        found += [Terminal(ref, np.array([cell], np.int64), True)] if cell is not None else []
    for mound in these(Mound, works):
        sides = _sides(mound, walking, mound.base_width / 2.0 + half_width)
        cells = np.array([cell for side in sides for cell in side], np.int64)
        if not sides:
            cells = walking.cells_in(mound.outline.buffer(beside))
        found.append(Terminal(mound.ref, cells, False, sides))
    for bed in site.drawn(Bed):
        found.append(Terminal(bed.ref, walking.cells_in(bed.geometry.buffer(beside).difference(bed.geometry)), False))
    for tap in site.of_kind(Kind.TAP):
        cell = walking.cell_near(tap.geometry.centroid.x, tap.geometry.centroid.y)
        found += [Terminal(tap.ref, np.array([cell], np.int64), False)] if cell is not None else []
    return tuple(found)
