"""Flow lines and crossings: the few ways that most of the water takes, and where they pass the boundary."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.drainage.record import Crossing, FlowLine
from sitepipe.grid import Grid

MOST_LINES = 8
FEWEST_LINES = 3
LEAST_GATHERED = 4
"""Cells; fewer make no line."""
SHORTEST = 0.15
"""Of the side of a square as large as the parcel; a shorter run of water within it is not worth an arrow."""
MOST_CROSSINGS = 12
WANDERING = 8
"""Steps within which water that crosses the boundary and comes back has not crossed it."""


def draw_flow_lines(
    receiver: IntArray,
    cells: IntArray,
    in_pond: BoolArray,
    parcel: BoolArray,
    near: BoolArray,
    at_edge: BoolArray,
    grid: Grid,
) -> tuple[FlowLine, ...]:
    """Draw the ways that most of the water takes in and around the parcel, 3 to 8 of them where there are.

    A line begins where enough ground has gathered and runs on to where the water leaves the neighbourhood or joins
    a larger line; it ends at the shore of a pond and begins again at its spill. How much ground is enough is found
    by halving: the least area that gives no more than 8 lines.

    Parameters
    ----------
    receiver, cells : (rows, columns) int32 array
    in_pond, parcel, near, at_edge : (rows, columns) bool array
        Under a full pond; in the parcel; in its neighbourhood, which the lines keep to; at the edge of the heights.
    grid : Grid

    Returns
    -------
    tuple of FlowLine
        Largest first.
    """
    to = receiver.ravel()
    behind = cells.ravel()
    within = parcel.ravel()
    shortest = max(SHORTEST * np.sqrt(np.count_nonzero(within)), 4.0)
    most = int(behind[within].max(initial=1))
    best: list[IntArray] = []
    is_open = (near & ~in_pond).ravel()
    gathered = np.flatnonzero(is_open & (behind >= LEAST_GATHERED)).astype(np.int32)
    least = most / 1.5
    while least >= LEAST_GATHERED:
        paths = [
            path
            for path in _trace(to, gathered[behind[gathered] >= least], behind, is_open, int(np.ceil(least)))
            if np.count_nonzero(within[path]) >= shortest
        ]
        if len(paths) > MOST_LINES and len(best) >= FEWEST_LINES:
            break
        if len(paths) > MOST_LINES:
            best = sorted(paths, key=lambda path: -int(behind[path].max()))[:MOST_LINES]
            break
        best = paths
        least /= 1.5
    best.sort(key=lambda path: (-int(behind[path].max()), int(path[0])))
    return tuple(flow_line_along(path, behind, bool(at_edge.ravel()[path[0]]), grid) for path in best)


def _trace(to: IntArray, large: IntArray, behind: IntArray, is_open: BoolArray, least: int) -> list[IntArray]:
    """Cells of each line on open ground with at least so much behind it, from head to end or junction."""
    places, ends = traced_lines(to, large, behind, is_open, least)
    return [places[start:end] for start, end in pairwise(ends)]


@kernel
def traced_lines(
    to: IntArray, large: IntArray, behind: IntArray, is_open: BoolArray, least: int
) -> tuple[IntArray, IntArray]:
    """Follow every head down; the larger branch of a junction goes on. ``large`` holds open cells only."""
    size = to.size
    largest = np.full(size, -1, dtype=np.int32)
    for cell in large:
        if behind[cell] < least:
            continue
        below = to[cell]
        if below >= 0 and is_open[below]:
            main = largest[below]
            if main < 0 or behind[cell] > behind[main]:
                largest[below] = cell
    places = np.empty(2 * large.size, dtype=np.int32)
    ends = np.zeros(large.size + 1, dtype=np.int32)
    count = 0
    lines = 0
    for cell in large:
        if behind[cell] < least or largest[cell] >= 0:
            continue
        at = cell
        while True:
            places[count] = at
            count += 1
            below = to[at]
            if below < 0:
                break
            if not is_open[below] or largest[below] != at:
                places[count] = below
                count += 1
                break
            at = below
        lines += 1
        ends[lines] = count
    return places[:count].copy(), ends[: lines + 1].copy()


def flow_line_along(path: IntArray, behind: IntArray, is_guessed: bool, grid: Grid) -> FlowLine:
    """Return the line through some cells, eased, with the ground behind each place."""
    rows, columns = np.divmod(path, grid.columns)
    x, y = grid.x[columns], grid.y[rows]
    for _ in range(2):
        x, y = eased_once(x), eased_once(y)
    keep = np.unique(np.r_[np.arange(0, path.size, 2), path.size - 1])
    area = behind[path].astype(np.float64) * grid.cell_area
    if path.size > 1:
        # The last cell belongs to the shore or to the larger line.
        area[-1] = max(area[-2], min(area[-1], area[-2] + grid.cell_area))
    return FlowLine(
        LineString(np.column_stack((x[keep], y[keep]))), tuple(float(value) for value in area[keep]), is_guessed
    )


def eased_once(places: FloatArray) -> FloatArray:
    """Average each place with its neighbours, ends kept."""
    if places.size < 3:
        return places
    eased = places.copy()
    eased[1:-1] = 0.25 * places[:-2] + 0.5 * places[1:-1] + 0.25 * places[2:]
    return eased


def find_crossings(
    receiver: IntArray,
    cells: IntArray,
    parcel: BoolArray,
    outline: Polygon | MultiPolygon,
    edge_dependent: BoolArray,
    grid: Grid,
) -> tuple[Crossing, ...]:
    """Find where the most water crosses the parcel's boundary, inwards and outwards, largest first.

    Water that wanders along the boundary and is back within a few steps has not crossed it; water that runs through a
    narrow parcel has. Crossings with less than a fiftieth of the largest behind them are left out.
    """
    to = receiver.ravel()
    within = parcel.ravel()
    known = np.flatnonzero(to >= 0)
    crossing = known[within[known] != within[to[known]]]
    at_end = np.flatnonzero(within & (to == -1))
    behind = cells.ravel()
    crossing = crossing[behind[crossing] * 50 >= int(behind[crossing].max(initial=0))]
    crossing = _lasting(crossing, behind, to, within, _Boundary(outline, grid))
    places = np.concatenate((crossing, at_end))
    if places.size == 0:
        return ()
    places = places[np.lexsort((places, -behind[places]))]
    largest = int(behind[places[0]])
    found = []
    for cell in places[:MOST_CROSSINGS].tolist():
        if behind[cell] * 50 < largest:
            break
        below = int(to[cell])
        start = grid.centre(*divmod(cell, grid.columns))
        place = (
            Point(start) if below < 0 else place_on_boundary(start, grid.centre(*divmod(below, grid.columns)), outline)
        )
        found.append(
            Crossing(
                place=place,
                upslope_area=float(behind[cell]) * grid.cell_area,
                is_inflow=not bool(within[cell]),
                from_outside_heights=bool(edge_dependent.ravel()[cell]),
            )
        )
    return tuple(found)


def place_on_boundary(start: tuple[float, float], end: tuple[float, float], outline: Polygon | MultiPolygon) -> Point:
    """Return where a step crosses an outline; its middle where it does not."""
    met = outline.boundary.intersection(LineString([start, end]))
    return Point((start[0] + end[0]) / 2.0, (start[1] + end[1]) / 2.0) if met.is_empty else met.centroid


class _Boundary:
    """The rings of an outline, and how far apart two crossings lie along them."""

    def __init__(self, outline: Polygon | MultiPolygon, grid: Grid) -> None:
        self.rings = shapely.get_parts(outline.boundary)
        self.grid = grid

    def is_wandering(self, one: int, other: int, steps: int) -> bool:
        """Tell whether water that crossed from two cells, so many steps apart, kept along the boundary meanwhile."""
        places = [Point(self.grid.centre(*divmod(cell, self.grid.columns))) for cell in (one, other)]
        near = {int(np.argmin(shapely.distance(self.rings, place))) for place in places}
        if len(near) > 1:
            return False
        ring = self.rings[near.pop()]
        apart = abs(ring.project(places[0]) - ring.project(places[1]))
        return bool(min(apart, ring.length - apart) <= 2.0 * (steps + 1) * self.grid.cell)


def _lasting(crossing: IntArray, behind: IntArray, to: IntArray, within: BoolArray, boundary: _Boundary) -> IntArray:
    """Leave out pairs of crossings by which the same water is back on its first side within a few steps."""
    cancelled: set[int] = set()
    for cell in crossing[np.argsort(behind[crossing], kind="stable")].tolist():
        if cell in cancelled:
            continue
        at = int(to[cell])
        for step in range(WANDERING):
            below = int(to[at])
            if below < 0:
                break
            if within[below] != within[at]:
                is_same_water = at not in cancelled and behind[at] < 2 * behind[cell]
                if is_same_water and boundary.is_wandering(cell, at, step):
                    cancelled.update((cell, at))
                break
            at = below
    return np.array([cell for cell in crossing.tolist() if cell not in cancelled], dtype=np.int64)
