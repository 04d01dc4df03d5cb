"""Routing: how level ground drains, in which order, and how much ground lies behind each cell."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import IntArray, LongArray
from sitepipe.drainage.descent import LEAVES, LEVEL, NOWHERE

_DONE = 255


@kernel
def route_level_ground(level: IntArray, heights: IntArray, receiver: IntArray) -> tuple[IntArray, IntArray]:
    """Give every level cell its flood parent, in place, and number the hollows on the way.

    Level ground is entered from the cells where it can drain, ring by ring, sides before corners. A hollow
    (cells filled above their ground) is entered once, through one cell of its rim: its spill. So each hollow
    has exactly one way out, and all that runs into it passes there.

    Parameters
    ----------
    level, heights : (rows, columns) int32 array
        Filled heights and ground. [0.1 mm]
    receiver : (rows, columns) int32 array
        From ``steepest_receivers``; its ``LEVEL`` are replaced.

    Returns
    -------
    hollow : (rows, columns) int32 array
        Number of the hollow from 1; 0 elsewhere.
    spill : (hollows + 1,) int32 array
        Flat index of each hollow's rim cell; -1 first.

    Examples
    --------
    >>> import numpy as np
    >>> from sitepipe.drainage.descent import steepest_receivers
    >>> ground = np.array([[9, 9, 9], [9, 2, 7], [9, 9, 9]], dtype=np.int32)
    >>> level = np.array([[9, 9, 9], [9, 7, 7], [9, 9, 9]], dtype=np.int32)
    >>> receiver = steepest_receivers(level, ground)
    >>> hollow, spill = route_level_ground(level, ground, receiver)
    >>> receiver[1].tolist(), hollow[1].tolist(), spill.tolist()
    ([4, 5, -1], [0, 1, 0], [-1, 5])
    """
    rows, columns = level.shape
    water = level.ravel()
    ground = heights.ravel()
    to = receiver.ravel()
    hollow = np.zeros(rows * columns, dtype=np.int32)
    steps = np.array([-columns, -1, 1, columns, -columns - 1, -columns + 1, columns - 1, columns + 1])
    # Both have room for every cell; memory is taken up only as far as they fill.
    queue = np.empty(rows * columns, dtype=np.int32)
    spill = np.empty(rows * columns + 1, dtype=np.int32)
    spill[0] = -1
    count = _shores(water, to, hollow, queue, rows, columns, steps)
    for place in range(count):
        hollow[queue[place]] = 0
    hollows = 0
    place = 0
    while place < count:
        cell = queue[place]
        place += 1
        for k in range(8):
            other = cell + steps[k]
            # A step beyond the first or last column ends at an edge, too, and no edge is level.
            if not 0 <= other < water.size or to[other] != LEVEL or water[other] != water[cell]:
                continue
            to[other] = cell
            queue[count] = other
            count += 1
            if ground[other] < water[other]:
                hollows += 1
                spill[hollows] = cell
                hollow[other] = hollows
                count = _flood_hollow(water, ground, to, hollow, queue, count, steps, hollows)
    return hollow.reshape(rows, columns), spill[: hollows + 1].copy()


@kernel
def _shores(
    water: IntArray, to: IntArray, mark: IntArray, queue: IntArray, rows: int, columns: int, steps: LongArray
) -> int:
    """Queue the cells that drain and border on level ground of their height, marked with -1; return their number."""
    count = 0
    for row in range(1, rows - 1):
        for column in range(1, columns - 1):
            cell = row * columns + column
            if to[cell] == LEVEL:
                for k in range(8):
                    other = cell + steps[k]
                    if to[other] >= LEAVES and water[other] == water[cell] and mark[other] == 0:
                        mark[other] = -1
                        queue[count] = other
                        count += 1
    return count


@kernel
def _flood_hollow(
    water: IntArray,
    ground: IntArray,
    to: IntArray,
    hollow: IntArray,
    queue: IntArray,
    count: int,
    steps: IntArray,
    number: int,
) -> int:
    """Route all of one hollow towards the cell last queued; return the queue's new length.

    A hollow's cells are level, inside the raster and away from unknown cells, or they could not be filled.
    """
    place = count - 1
    while place < count:
        cell = queue[place]
        place += 1
        for k in range(8):
            other = cell + steps[k]
            if to[other] == LEVEL and ground[other] < water[other] and water[other] == water[cell]:
                to[other] = cell
                hollow[other] = number
                queue[count] = other
                count += 1
    return count


@kernel
def accumulated(receiver: IntArray) -> tuple[IntArray, IntArray]:
    """Order of the cells from the outlets up, and the number of cells that drain through each.

    Parameters
    ----------
    receiver : (rows, columns) int32 array

    Returns
    -------
    order : (cells,) int32 array
        Flat indices, every cell after the cell that it drains to. Shorter than the known cells if water
        runs in a circle, which the caller must refuse.
    cells : (rows, columns) int32 array
        The cell itself included; 0 where unknown.

    Examples
    --------
    >>> import numpy as np
    >>> order, cells = accumulated(np.array([[1, 2, -1]], dtype=np.int32))
    >>> order.tolist(), cells.tolist()
    ([2, 1, 0], [[1, 2, 3]])
    """
    to = receiver.ravel()
    size = to.size
    waits_for = np.zeros(size, dtype=np.uint8)
    cells = np.zeros(size, dtype=np.int32)
    known = 0
    for cell in range(size):
        if to[cell] >= 0:
            waits_for[to[cell]] += 1
        if to[cell] != NOWHERE:
            cells[cell] = 1
            known += 1
    order = np.empty(known, dtype=np.int32)
    place = known
    for source in range(size):
        if waits_for[source] != 0 or to[source] == NOWHERE:
            continue
        cell = source
        while True:
            place -= 1
            order[place] = cell
            below = to[cell]
            if below < 0:
                break
            cells[below] += cells[cell]
            waits_for[below] -= 1
            if waits_for[below] != 0:
                break
            waits_for[below] = _DONE
            cell = below
    return order[place:], cells.reshape(receiver.shape)
