"""The cheapest way over the ground from a set of cells to every other cell."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, LongArray

QUEEN_MOVES: LongArray = np.array([(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)], np.int64)
"""Steps to the 8 neighbours, as (rows, columns)."""

SIXTEEN_MOVES: LongArray = np.concatenate(
    [
        QUEEN_MOVES,
        np.array([(-2, -1), (-2, 1), (-1, -2), (-1, 2), (1, -2), (1, 2), (2, -1), (2, 1)], np.int64),
    ]
)
"""Steps to the 8 neighbours and the 8 cells a knight's move away: lengths are at most 2.7 % too long, not 8.2 %."""

NOWHERE: LongArray = np.zeros(0, np.int64)

SOURCE = -1
UNREACHED = -2


def least_cost(
    pace: FloatArray,
    height: FloatArray,
    steepest: float,
    moves: LongArray,
    sources: LongArray,
    targets: LongArray = NOWHERE,
) -> tuple[FloatArray, FloatArray, LongArray]:
    """Least cost of going from the sources to every cell, its length, and the way back.

    A step costs its length times the mean pace of the cells that it touches times 1 + (grade / steepest)^2; beyond
    ``steepest`` the square becomes a fourth power. Costs are the same in both directions. A step between two blocked
    cells, or over one, is not made. Equal costs are taken in the order of cells, so that the answer is one.

    Parameters
    ----------
    pace : (rows, columns) float array
        What one metre costs, infinite where blocked, positive elsewhere. [1]
    height : (rows, columns) float array
        In cells, not metres: height over cell size. NaN counts as level. [cells]
    steepest : float
        Rise per run at which a step costs twice as much as on the level; 0 leaves slope out. [1]
    moves : (k, 2) int array
        ``QUEEN_MOVES`` or ``SIXTEEN_MOVES``.
    sources : (n,) int array
        Flat indices of the cells to start from; blocked ones are left out.
    targets : (m,) int array
        Stop at the first of these; costs above its own are then too high or infinite. Empty: go everywhere.

    Returns
    -------
    cost, length : (rows, columns) float array
        In cells; infinite where no way leads. [cells]
    came_from : (rows, columns) int array
        Flat index of the cell before, ``SOURCE`` or ``UNREACHED``.

    References
    ----------
    Dijkstra (1959), A note on two problems in connexion with graphs, Numerische Mathematik 1, 269-271,
    doi:10.1007/BF01386390.

    Examples
    --------
    >>> import numpy as np
    >>> cost, length, _ = least_cost(np.ones((1, 4)), np.zeros((1, 4)), 0.0, QUEEN_MOVES, np.array([0]))
    >>> cost.tolist()
    [[0.0, 1.0, 2.0, 3.0]]
    """
    # An array as a kernel's default is a new type in each process: numba then compiles again at every run.
    return _least_cost(pace, height, steepest, moves, sources, targets)


@kernel
def _least_cost(
    pace: FloatArray,
    height: FloatArray,
    steepest: float,
    moves: LongArray,
    sources: LongArray,
    targets: LongArray,
) -> tuple[FloatArray, FloatArray, LongArray]:
    rows, columns = pace.shape
    count = rows * columns
    cost = np.full(count, np.inf)
    length = np.full(count, np.inf)
    came_from = np.full(count, UNREACHED, np.int64)
    heap = np.empty(count, np.int64)
    place = np.empty(count, np.int64)
    size = 0
    flat_pace = pace.ravel()
    flat_height = height.ravel()
    for source in sources:
        if flat_pace[source] < np.inf and came_from[source] == UNREACHED:
            cost[source] = 0.0
            length[source] = 0.0
            came_from[source] = SOURCE
            _rise(heap, place, cost, source, size)
            size += 1
    done = np.zeros(count, np.bool_)
    is_target = np.zeros(count, np.bool_)
    for target in targets:
        is_target[target] = True
    while size > 0:
        here = heap[0]
        size -= 1
        _sink(heap, place, cost, heap[size], size)
        done[here] = True
        if is_target[here]:
            break
        row, column = here // columns, here % columns
        for move in range(moves.shape[0]):
            down, right = moves[move, 0], moves[move, 1]
            if row + down < 0 or row + down >= rows or column + right < 0 or column + right >= columns:
                continue
            there = (row + down) * columns + column + right
            if done[there]:
                continue
            step = np.sqrt(float(down * down + right * right))
            factor = _slope_factor(flat_height[there] - flat_height[here], step, steepest)
            new = cost[here] + _mean_pace(pace, row, column, down, right) * step * factor
            if new < cost[there]:
                cost[there] = new
                length[there] = length[here] + step
                if came_from[there] == UNREACHED:
                    place[there] = size
                    size += 1
                came_from[there] = here
                _rise(heap, place, cost, there, place[there])
    return cost.reshape(rows, columns), length.reshape(rows, columns), came_from.reshape(rows, columns)


@kernel
def _mean_pace(pace: FloatArray, row: int, column: int, down: int, right: int) -> float:
    """Mean pace of the cells that a step touches; infinite where it would squeeze through."""
    ends = pace[row, column] + pace[row + down, column + right]
    if abs(down) == 2:
        return float(ends + pace[row + down // 2, column] + pace[row + down // 2, column + right]) / 4.0
    if abs(right) == 2:
        return float(ends + pace[row, column + right // 2] + pace[row + down, column + right // 2]) / 4.0
    # On a straight step one of these is the cell it comes from, which is never blocked.
    if pace[row + down, column] == np.inf and pace[row, column + right] == np.inf:
        return np.inf
    return float(ends) / 2.0


@kernel
def _slope_factor(rise: float, run: float, steepest: float) -> float:
    """Return what slope multiplies a cost by: 2 at the steepest grade, far more beyond; 1 for unknown heights."""
    if steepest <= 0.0 or np.isnan(rise):
        return 1.0
    grade = abs(rise) / run / steepest
    return 1.0 + (grade**2 if grade <= 1.0 else grade**4)


@kernel
def _is_before(cost: FloatArray, one: int, other: int) -> bool:
    return bool(cost[one] < cost[other] or (cost[one] == cost[other] and one < other))


@kernel
def _sink(heap: LongArray, place: LongArray, cost: FloatArray, item: int, size: int) -> None:
    """Put an item in at the top of a heap whose first place is free."""
    at = 0
    while True:
        child = 2 * at + 1
        if child >= size:
            break
        if child + 1 < size and _is_before(cost, heap[child + 1], heap[child]):
            child += 1
        if _is_before(cost, item, heap[child]):
            break
        heap[at] = heap[child]
        place[heap[at]] = at
        at = child
    heap[at] = item
    place[item] = at


@kernel
def _rise(heap: LongArray, place: LongArray, cost: FloatArray, item: int, at: int) -> None:
    """Put an item in at a place of a heap, or further up where it comes before those above it."""
    while at > 0:
        parent = (at - 1) // 2
        if _is_before(cost, heap[parent], item):
            break
        heap[at] = heap[parent]
        place[heap[at]] = at
        at = parent
    heap[at] = item
    place[item] = at


def way_back(came_from: LongArray, cell: int) -> list[int]:
    """Return the flat indices from a source to a cell, both included.

    Examples
    --------
    >>> import numpy as np
    >>> way_back(np.array([[-1, 0, 1]]), 2)
    [0, 1, 2]
    """
    flat = came_from.ravel()
    way = [cell]
    while flat[way[-1]] >= 0:
        way.append(int(flat[way[-1]]))
    return way[::-1]
