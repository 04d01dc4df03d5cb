"""Hollows within hollows: which small ones merge into which larger one as the water rises."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import IntArray, LongArray

NONE = -1
"""Stands for no node and no cell."""

_PARENT, _SIBLING, _LINK, _OUTERMOST, _PIT, _PIT_CELL, _SPILL, _SPILL_CELL, _SIZE, _TOTAL = range(10)


@dataclass(frozen=True, slots=True)
class Hollows:
    """The tree of all hollows, however small; a node is a hollow filled to where it spills.

    Nodes are numbered so that every parent comes after its children. A node without children is a pit.

    Parameters
    ----------
    cells : (pond cells,) int32 array
        Flat indices of all cells below a spill, lowest first.
    node : (pond cells,) int32 array
        Node that each of them was added to: the smallest one that it lies in.
    leaf : (pond cells,) int32 array
        Pit that water on the cell runs down to.
    parent, sibling : (nodes,) int64 array
        -1 for the outermost.
    link : (nodes,) int64 array
        Pit that receives what spills over into the sibling; -1 for the outermost.
    outermost : (nodes,) int64 array
        Number of the outermost hollow that holds the node, as ``route_level_ground`` numbers them, from 1.
    pit, pit_cell : (nodes,) int64 array
        Lowest ground, and where. [0.1 mm]
    spill : (nodes,) int64 array
        Level at which it runs over. [0.1 mm]
    spill_cell : (nodes,) int64 array
        Where.
    size : (nodes,) int64 array
        Cells at or below the spill. [1]
    capacity : (nodes,) int64 array
        Water that it holds, hollows within included. [0.1 mm cells]
    """

    cells: IntArray
    node: IntArray
    leaf: IntArray
    parent: LongArray
    sibling: LongArray
    link: LongArray
    outermost: LongArray
    pit: LongArray
    pit_cell: LongArray
    spill: LongArray
    spill_cell: LongArray
    size: LongArray
    capacity: LongArray

    @property
    def count(self) -> int:
        """Number of nodes."""
        return int(self.parent.size)


def nest_hollows(heights: IntArray, hollow: IntArray, spill: IntArray) -> Hollows:
    """Sort the hollows of a flood into their tree.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        The ground. [0.1 mm]
    hollow : (rows, columns) int32 array
        Number of the outermost hollow from 1, 0 elsewhere.
    spill : (hollows + 1,) int32 array
        Flat index of the rim cell of each.

    Returns
    -------
    Hollows

    References
    ----------
    Barnes, Callaghan & Wickert (2020), Computing water flow through complex landscapes - Part 2: Finding
    hierarchies in depressions and morphological segmentations, Earth Surface Dynamics 8:431-445. Here the
    tree is grown by union-find over the cells in order of height, inside hollows only.

    Examples
    --------
    Two pits of 2 and 3 behind a sill of 5, in a rim of 9 that spills at 7:

    >>> import numpy as np
    >>> ground = np.array([[9, 9, 9, 9, 9], [9, 2, 5, 3, 7], [9, 9, 9, 9, 9]], dtype=np.int32)
    >>> hollow = np.array([[0] * 5, [0, 1, 1, 1, 0], [0] * 5], dtype=np.int32)
    >>> tree = nest_hollows(ground, hollow, np.array([-1, 9], dtype=np.int32))
    >>> tree.spill.tolist(), tree.capacity.tolist(), tree.parent.tolist()
    ([5, 5, 7], [3, 2, 11], [2, 2, -1])
    """
    inside = np.flatnonzero(hollow.ravel()).astype(np.int32)
    cells = inside[np.argsort(heights.ravel()[inside], kind="stable")]
    node, leaf, table = nested(heights.ravel(), hollow.ravel(), spill, cells, heights.shape[1])
    parent, sibling, link, outermost, pit, pit_cell, above, spill_cell, size, total = (
        np.ascontiguousarray(column) for column in table.T
    )
    capacity = above * size - total
    return Hollows(
        cells, node, leaf, parent, sibling, link, outermost, pit, pit_cell, above, spill_cell, size, capacity
    )


@kernel
def nested(
    ground: IntArray, hollow: IntArray, rim: IntArray, cells: IntArray, columns: int
) -> tuple[IntArray, IntArray, LongArray]:
    """Grow the tree cell by cell from the lowest up; a row of the table holds one node.

    A cell joins the hollow that its steepest descent leads to; where it touches others they merge with that one,
    the next steepest first, so that what spills over the cell runs down where it is steepest. A pit no deeper than
    the cell itself is part of a level floor and is taken up (``taken_up_by``) without a merger.
    """
    steps = np.array([-columns, -1, 1, columns, -columns - 1, -columns + 1, columns - 1, columns + 1])
    most = 2 * _pits(ground, cells, steps) + 1
    place_of = np.full(ground.size, NONE, dtype=np.int32)
    node = np.empty(cells.size, dtype=np.int32)
    leaf = np.empty(cells.size, dtype=np.int32)
    table = np.full((most, 10), NONE, dtype=np.int64)
    top = np.arange(most)
    runs_to = np.arange(most)
    taken_up_by = np.arange(most)
    nodes = 0
    for place in range(cells.size):
        cell = cells[place]
        own = ground[cell]
        current = NONE
        current_leaf = NONE
        while True:
            other = _steepest_other(ground, place_of, node, top, cell, current, steps)
            if other < 0:
                break
            found = _last(top, node[place_of[other]])
            found_leaf = _last(runs_to, leaf[place_of[other]])
            if current < 0:
                current = found
                current_leaf = found_leaf
            elif table[found, _PIT] < own and table[current, _PIT] < own:
                current = _merge(table, top, nodes, current, found, current_leaf, found_leaf, own, cell)
                nodes += 1
            else:
                floor = found if table[found, _PIT] == own else current
                into = current if floor == found else found
                runs_to[floor] = current_leaf if floor == found else found_leaf
                top[floor] = into
                taken_up_by[floor] = into
                table[into, _SIZE] += table[floor, _SIZE]
                table[into, _TOTAL] += table[floor, _TOTAL]
                current = into
                current_leaf = _last(runs_to, current_leaf)
        if current < 0:
            current = nodes
            current_leaf = nodes
            table[nodes, _PIT] = own
            table[nodes, _PIT_CELL] = cell
            table[nodes, _OUTERMOST] = hollow[cell]
            table[nodes, _SIZE] = 0
            table[nodes, _TOTAL] = 0
            nodes += 1
        node[place] = current
        leaf[place] = current_leaf
        place_of[cell] = place
        table[current, _SIZE] += 1
        table[current, _TOTAL] += own
    for one in range(nodes):
        if table[one, _PARENT] < 0:
            table[one, _SPILL_CELL] = rim[table[one, _OUTERMOST]]
            table[one, _SPILL] = ground[table[one, _SPILL_CELL]]
    return node, leaf, _numbered_anew(table[:nodes], node, leaf, runs_to, taken_up_by)


@kernel
def _steepest_other(
    ground: IntArray, place_of: IntArray, node: IntArray, top: LongArray, cell: int, current: int, steps: LongArray
) -> int:
    """Find the steepest neighbour under water that lies in another hollow than the current one; -1 if none does.

    The first four steps lead to sides, the others to corners; slopes are compared as squares of whole numbers.
    """
    best = NONE
    steepest = -1
    for k in range(8):
        other = cell + steps[k]
        if place_of[other] < 0 or (current >= 0 and _last(top, node[place_of[other]]) == current):
            continue
        drop = np.int64(ground[cell]) - ground[other]
        slope = drop * drop * (2 if k < 4 else 1)
        if slope > steepest:
            steepest = slope
            best = other
    return best


@kernel
def _merge(
    table: LongArray,
    top: LongArray,
    merged: int,
    one: int,
    two: int,
    leaf_of_one: int,
    leaf_of_two: int,
    height: int,
    cell: int,
) -> int:
    """Make one hollow of two that meet at a cell, and return its number."""
    for child in (one, two):
        table[child, _PARENT] = merged
        table[child, _SPILL] = height
        table[child, _SPILL_CELL] = cell
        top[child] = merged
    table[one, _SIBLING] = two
    table[two, _SIBLING] = one
    table[one, _LINK] = leaf_of_two
    table[two, _LINK] = leaf_of_one
    lower = one if table[one, _PIT] <= table[two, _PIT] else two
    table[merged, _PIT] = table[lower, _PIT]
    table[merged, _PIT_CELL] = table[lower, _PIT_CELL]
    table[merged, _OUTERMOST] = table[one, _OUTERMOST]
    table[merged, _SIZE] = table[one, _SIZE] + table[two, _SIZE]
    table[merged, _TOTAL] = table[one, _TOTAL] + table[two, _TOTAL]
    return merged


@kernel
def _pits(ground: IntArray, cells: IntArray, steps: LongArray) -> int:
    """Count the cells of hollows that have no lower neighbour."""
    pits = 0
    for place in range(cells.size):
        cell = cells[place]
        is_pit = True
        for k in range(8):
            is_pit = is_pit and ground[cell + steps[k]] >= ground[cell]
        pits += is_pit
    return pits


@kernel
def _last(following: LongArray, one: int) -> int:
    """Follow links to the last one, and shorten the way for the next time."""
    last = one
    while following[last] != last:
        last = following[last]
    while following[one] != last:
        beyond = following[one]
        following[one] = last
        one = beyond
    return last


@kernel
def _numbered_anew(
    table: LongArray, node: IntArray, leaf: IntArray, runs_to: LongArray, taken_up_by: LongArray
) -> LongArray:
    """Leave out the pits that turned out to be part of a level floor; cells are renumbered in place."""
    nodes = table.shape[0]
    number = np.full(nodes, NONE, dtype=np.int64)
    kept = 0
    for one in range(nodes):
        if taken_up_by[one] == one:
            number[one] = kept
            kept += 1
    for place in range(node.size):
        node[place] = number[_last(taken_up_by, node[place])]
        leaf[place] = number[_last(runs_to, leaf[place])]
    fewer = np.empty((kept, table.shape[1]), dtype=np.int64)
    for one in range(nodes):
        if number[one] >= 0:
            for k in range(table.shape[1]):
                fewer[number[one], k] = table[one, k]
            if table[one, _PARENT] >= 0:
                fewer[number[one], _PARENT] = number[table[one, _PARENT]]
                fewer[number[one], _SIBLING] = number[table[one, _SIBLING]]
                fewer[number[one], _LINK] = number[_last(runs_to, table[one, _LINK])]
    return fewer
