"""Routing: where each cell's water goes next, and how much ground lies behind it."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, IntArray, LongArray
from sitepipe.drainage.heights import UNKNOWN

LEAVES = -1
"""Receiver of a cell where the water leaves: at the edge of the raster or beside an unknown cell."""

NOWHERE = -2
"""Receiver of an unknown cell."""

_LEVEL = -3


@kernel
def steepest_receivers(level: IntArray, heights: IntArray) -> IntArray:
    """Flat index of the steepest lower neighbour of each cell on filled ground.

    Drops are compared exactly, as squares of whole numbers (a diagonal neighbour is the square root of two
    away, so a side and a corner never tie). Of equally steep neighbours the one whose bare ground is lower
    is taken, then the one whose own lowest neighbour is lower: neither rule knows a direction, so turned
    ground drains the same way. Only where the ground itself is mirrored about the cell is the first
    neighbour in reading order taken.

    Parameters
    ----------
    level : (rows, columns) int32 array
        Filled heights. [0.1 mm]
    heights : (rows, columns) int32 array
        The ground before it was filled. [0.1 mm]

    Returns
    -------
    (rows, columns) int32 array
        Flat index; ``LEAVES`` at the edge where nothing is lower, ``NOWHERE`` where unknown, -3 on level
        ground inside, which ``route_level_ground`` resolves.

    References
    ----------
    O'Callaghan & Mark (1984), The extraction of drainage networks from digital elevation data, Computer
    Vision, Graphics and Image Processing 28:323-344.

    Examples
    --------
    >>> import numpy as np
    >>> ground = np.array([[3, 3, 3], [3, 2, 1], [3, 3, 3]], dtype=np.int32)
    >>> steepest_receivers(ground, ground).tolist()
    [[4, 5, 5], [4, 5, -1], [4, 5, 5]]
    """
    rows, columns = level.shape
    receiver = np.empty((rows, columns), dtype=np.int32)
    for row in range(rows):
        # Of rows inside only the first and the last cell lie at the edge.
        step = 1 if row in (0, rows - 1) else max(columns - 1, 1)
        for column in range(0, columns, step):
            receiver[row, column] = _receiver_at_edge(level, heights, row, column)
    for row in range(1, rows - 1):
        for column in range(1, columns - 1):
            own = level[row, column]
            north = level[row - 1, column]
            west = level[row, column - 1]
            east = level[row, column + 1]
            south = level[row + 1, column]
            north_west = level[row - 1, column - 1]
            north_east = level[row - 1, column + 1]
            south_west = level[row + 1, column - 1]
            south_east = level[row + 1, column + 1]
            lowest_side = min(north, west, east, south)
            lowest_corner = min(north_west, north_east, south_west, south_east)
            side = np.int64(own) - lowest_side
            corner = np.int64(own) - lowest_corner
            here = row * columns + column
            if own == UNKNOWN:
                receiver[row, column] = NOWHERE
            elif side <= 0 and corner <= 0:
                receiver[row, column] = LEAVES if _is_beside_unknown(level, row, column) else _LEVEL
            elif side > 0 and (corner <= 0 or 2 * side * side > corner * corner):
                is_north, is_west = north == lowest_side, west == lowest_side
                is_east, is_south = east == lowest_side, south == lowest_side
                if is_north + is_west + is_east + is_south == 1:
                    receiver[row, column] = here + (is_south - is_north) * columns + (is_east - is_west)
                else:
                    receiver[row, column] = _chosen(level, heights, row, column, side, True)
            else:
                is_first, is_second = north_west == lowest_corner, north_east == lowest_corner
                is_third, is_fourth = south_west == lowest_corner, south_east == lowest_corner
                if is_first + is_second + is_third + is_fourth == 1:
                    down = is_third + is_fourth - is_first - is_second
                    receiver[row, column] = here + down * columns + (is_second + is_fourth - is_first - is_third)
                else:
                    receiver[row, column] = _chosen(level, heights, row, column, corner, False)
    return receiver


@kernel
def _receiver_at_edge(level: IntArray, heights: IntArray, row: int, column: int) -> int:
    """Receiver of a cell at the edge of the raster."""
    if level[row, column] == UNKNOWN:
        return NOWHERE
    side, corner = _edge_drops(level, row, column)
    if side <= 0 and corner <= 0:
        return LEAVES
    if side > 0 and (corner <= 0 or 2 * side * side > corner * corner):
        return _chosen(level, heights, row, column, side, True)
    return _chosen(level, heights, row, column, corner, False)


@kernel
def _edge_drops(level: IntArray, row: int, column: int) -> tuple[int, int]:
    """Greatest drop to a side and to a corner neighbour of a cell at the edge."""
    rows, columns = level.shape
    own = np.int64(level[row, column])
    side = -1
    corner = -1
    for down in range(-1, 2):
        for right in range(-1, 2):
            if 0 <= row + down < rows and 0 <= column + right < columns and (down != 0 or right != 0):
                drop = int(own - level[row + down, column + right])
                if down == 0 or right == 0:
                    side = max(side, drop)
                else:
                    corner = max(corner, drop)
    return side, corner


@kernel
def _is_beside_unknown(level: IntArray, row: int, column: int) -> bool:
    """Tell whether a cell inside the raster touches an unknown one."""
    for down in range(-1, 2):
        for right in range(-1, 2):
            if level[row + down, column + right] == UNKNOWN:
                return True
    return False


@kernel
def _chosen(level: IntArray, heights: IntArray, row: int, column: int, drop: int, is_side: bool) -> int:
    """Flat index of the side (or corner) neighbour with this drop, ties broken without regard to direction."""
    rows, columns = level.shape
    own = np.int64(level[row, column])
    best = -1
    best_ground = 0
    best_outlook = 0
    for down in range(-1, 2):
        for right in range(-1, 2):
            if (down == 0 or right == 0) != is_side or (down == 0 and right == 0):
                continue
            to_row = row + down
            to_column = column + right
            if not (0 <= to_row < rows and 0 <= to_column < columns):
                continue
            if own - level[to_row, to_column] != drop:
                continue
            ground = heights[to_row, to_column]
            if best < 0:
                best = to_row * columns + to_column
                best_ground = ground
                best_outlook = _UNSEEN
                continue
            if ground > best_ground:
                continue
            if best_outlook == _UNSEEN:
                best_outlook = _lowest_around(level, best // columns, best % columns)
            outlook = _lowest_around(level, to_row, to_column)
            if ground < best_ground or outlook < best_outlook:
                best = to_row * columns + to_column
                best_ground = ground
                best_outlook = outlook
    return best


_UNSEEN = -(2**31)


@kernel
def _lowest_around(level: IntArray, row: int, column: int) -> int:
    """Lowest level among a cell's neighbours."""
    rows, columns = level.shape
    lowest = UNKNOWN
    for to_row in range(max(row - 1, 0), min(row + 2, rows)):
        for to_column in range(max(column - 1, 0), min(column + 2, columns)):
            if to_row != row or to_column != column:
                lowest = min(lowest, int(level[to_row, to_column]))
    return lowest


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
        From ``steepest_receivers``; its -3 are replaced.

    Returns
    -------
    hollow : (rows, columns) int32 array
        Number of the hollow from 1; 0 elsewhere.
    spill : (hollows + 1,) int32 array
        Flat index of each hollow's rim cell; -1 first.

    Examples
    --------
    >>> import numpy as np
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
    rights = np.array([0, -1, 1, 0, -1, 1, -1, 1])
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
        row = cell // columns
        column = cell % columns
        is_inside = 0 < row < rows - 1 and 0 < column < columns - 1
        for k in range(8):
            other = cell + steps[k]
            if not is_inside and not (0 <= other < rows * columns and 0 <= column + rights[k] < columns):
                continue
            if to[other] != _LEVEL or water[other] != water[cell]:
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
            if to[cell] == _LEVEL:
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
            if to[other] == _LEVEL and ground[other] < water[other] and water[other] == water[cell]:
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
        waits_for[source] = 255
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
            waits_for[below] = 255
            cell = below
    return order[place:], cells.reshape(receiver.shape)


@kernel
def carried(receiver: IntArray, order: IntArray, amount: FloatArray) -> FloatArray:
    """Sum of an amount over all cells that drain through each cell, itself included.

    Parameters
    ----------
    receiver : (rows, columns) int32 array
    order : (cells,) int32 array
        From ``accumulated``.
    amount : (rows, columns) float array
        Of each cell; NaN counts as nothing.

    Returns
    -------
    (rows, columns) float array
        0 where unknown.
    """
    to = receiver.ravel()
    own = amount.ravel()
    total = np.zeros(to.size, dtype=np.float64)
    for place in range(order.size - 1, -1, -1):
        cell = order[place]
        if own[cell] == own[cell]:
            total[cell] += own[cell]
        if to[cell] >= 0:
            total[to[cell]] += total[cell]
    return total.reshape(receiver.shape)
