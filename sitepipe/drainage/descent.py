"""Descent: the neighbour that each cell's water falls to most steeply."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import UNKNOWN

LEAVES = -1
"""Receiver of a cell where the water leaves: at the edge of the raster or beside an unknown cell."""

NOWHERE = -2
"""Receiver of an unknown cell."""

LEVEL = -3
"""Receiver of a cell inside with nothing lower beside it, until ``route_level_ground`` has given it one."""


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
        Flat index; ``LEAVES`` at the edge where nothing is lower, ``NOWHERE`` where unknown, ``LEVEL`` on
        level ground inside, which ``route_level_ground`` resolves.

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
            side = max(np.int64(own) - lowest_side, 0)
            corner = max(np.int64(own) - lowest_corner, 0)
            here = row * columns + column
            if own == UNKNOWN:
                receiver[row, column] = NOWHERE
            elif side == 0 and corner == 0:
                receiver[row, column] = LEAVES if _is_beside_unknown(level, row, column) else LEVEL
            elif 2 * side * side > corner * corner:
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
    if side == 0 and corner == 0:
        return LEAVES
    if 2 * side * side > corner * corner:
        return _chosen(level, heights, row, column, side, True)
    return _chosen(level, heights, row, column, corner, False)


@kernel
def _edge_drops(level: IntArray, row: int, column: int) -> tuple[int, int]:
    """Greatest drop to a side and to a corner neighbour of a cell at the edge, 0 where none is lower."""
    rows, columns = level.shape
    own = np.int64(level[row, column])
    side = 0
    corner = 0
    for down in range(-1, 2):
        for right in range(-1, 2):
            if 0 <= row + down < rows and 0 <= column + right < columns:
                drop = int(own - level[row + down, column + right])
                if down == 0 or right == 0:
                    side = max(side, drop)
                else:
                    corner = max(corner, drop)
    return side, corner


@kernel
def _is_beside_unknown(level: IntArray, row: int, column: int) -> bool:
    """Tell whether a cell inside the raster touches an unknown one."""
    for to_row in range(row - 1, row + 2):
        for to_column in range(column - 1, column + 2):
            if level[to_row, to_column] == UNKNOWN:
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
