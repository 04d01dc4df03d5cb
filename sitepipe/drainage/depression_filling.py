"""The flood: the least height that water must reach on every cell before it can leave."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import UNKNOWN

_BELOW_ALL = -(2**31) + 1
_VISITS_PER_CELL = 3


@kernel
def filled(heights: IntArray) -> IntArray:
    """Heights with every hollow filled to its spill.

    Water leaves at the edge of the raster and beside unknown cells. No height is nudged: a filled hollow
    is level. Two rounds of sweeps bring the level down almost everywhere, a queue finishes what winds
    against the sweeps; should the queue grow beyond three visits a cell (a maze), a heap does the work.
    The result is the same in any order: the least, over all ways out, of the highest cell on the way.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where not known. [0.1 mm]

    Returns
    -------
    (rows, columns) int32 array
        Never below ``heights``; ``UNKNOWN`` where not known. [0.1 mm]

    References
    ----------
    Barnes, Lehman & Mulla (2014), Priority-flood, Computers & Geosciences 62:117-127; the sweeps and the
    queue are Vincent (1993), Morphological grayscale reconstruction, IEEE Trans. Image Processing 2:176-201.

    Examples
    --------
    >>> import numpy as np
    >>> filled(np.array([[9, 9, 9], [9, 2, 7], [9, 9, 9]], dtype=np.int32)).tolist()
    [[9, 9, 9], [9, 7, 7], [9, 9, 9]]
    """
    rows, columns = heights.shape
    level = np.empty((rows, columns), dtype=np.int32)
    for row in range(rows):
        for column in range(columns):
            if heights[row, column] == UNKNOWN:
                level[row, column] = _BELOW_ALL
            elif row == 0 or column == 0 or row == rows - 1 or column == columns - 1:
                level[row, column] = heights[row, column]
            else:
                level[row, column] = UNKNOWN
    _sweep_down(heights, level)
    _sweep_up(heights, level)
    _sweep_down(heights, level)
    _sweep_up(heights, level)
    if not _spread(heights, level, _VISITS_PER_CELL * level.size):
        level = filled_by_heap(heights)
    for row in range(rows):
        for column in range(columns):
            if level[row, column] == _BELOW_ALL:
                level[row, column] = UNKNOWN
    return level


@kernel
def _sweep_down(heights: IntArray, level: IntArray) -> None:
    """Lower every level by its neighbours above and to the left."""
    rows, columns = heights.shape
    for row in range(1, rows - 1):
        left = level[row, 0]
        for column in range(1, columns - 1):
            own = level[row, column]
            ground = heights[row, column]
            if own > ground:
                lowest = min(left, level[row - 1, column], level[row - 1, column - 1], level[row - 1, column + 1])
                own = min(own, max(ground, lowest))
                level[row, column] = own
            left = own


@kernel
def _sweep_up(heights: IntArray, level: IntArray) -> None:
    """Lower every level by its neighbours below and to the right."""
    rows, columns = heights.shape
    for row in range(rows - 2, 0, -1):
        right = level[row, columns - 1]
        for column in range(columns - 2, 0, -1):
            own = level[row, column]
            ground = heights[row, column]
            if own > ground:
                lowest = min(right, level[row + 1, column], level[row + 1, column - 1], level[row + 1, column + 1])
                own = min(own, max(ground, lowest))
                level[row, column] = own
            right = own


@kernel
def _spread(heights: IntArray, level: IntArray, most_visits: int) -> bool:
    """Carry every lower level on to its neighbours until nothing moves; False if that takes too long."""
    rows, columns = heights.shape
    size = rows * columns
    ground = heights.ravel()
    water = level.ravel()
    waits = np.zeros(size, dtype=np.bool_)
    queue = np.empty(size, dtype=np.int32)
    first = 0
    count = 0
    steps = np.array([-columns - 1, -columns, -columns + 1, -1, 1, columns - 1, columns, columns + 1])
    for row in range(1, rows - 1):
        for column in range(1, columns - 1):
            cell = row * columns + column
            own = water[cell]
            for k in range(8):
                other = cell + steps[k]
                if water[other] > own and water[other] > ground[other]:
                    queue[(first + count) % size] = cell
                    count += 1
                    waits[cell] = True
                    break
    visits = 0
    while count > 0:
        visits += 1
        if visits > most_visits:
            return False
        cell = queue[first]
        first = (first + 1) % size
        count -= 1
        waits[cell] = False
        own = water[cell]
        for k in range(8):
            other = cell + steps[k]
            if water[other] > own and water[other] > ground[other]:
                water[other] = max(own, ground[other])
                if not waits[other]:
                    queue[(first + count) % size] = other
                    count += 1
                    waits[other] = True
    return True


@kernel
def filled_by_heap(heights: IntArray) -> IntArray:
    """Heights with every hollow filled, cell by cell from the lowest way in; slower, never slow.

    The textbook form of the flood; ``filled`` falls back on it on mazes. Unknown cells come out as the
    mark that ``filled`` uses inside.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where not known. [0.1 mm]

    Returns
    -------
    (rows, columns) int32 array
        The filled heights; the lowest 32-bit number but one where not known. [0.1 mm]

    References
    ----------
    Barnes, Lehman & Mulla (2014), algorithm 1.
    """
    rows, columns = heights.shape
    level = np.full((rows, columns), UNKNOWN, dtype=np.int32)
    water = level.ravel()
    heap = np.empty(rows * columns, dtype=np.int32)
    count = 0
    for row in range(rows):
        for column in range(columns):
            if heights[row, column] == UNKNOWN:
                level[row, column] = _BELOW_ALL
                continue
            is_way_out = row == 0 or column == 0 or row == rows - 1 or column == columns - 1
            for down in range(-1, 2):
                for right in range(-1, 2):
                    if not is_way_out and heights[row + down, column + right] == UNKNOWN:
                        is_way_out = True
            if is_way_out:
                level[row, column] = heights[row, column]
                count = _pushed(heap, count, row * columns + column, water)
    while count > 0:
        cell = heap[0]
        count -= 1
        _settle(heap, count, heap[count], water)
        row = cell // columns
        column = cell % columns
        for down in range(-1, 2):
            for right in range(-1, 2):
                to_row = row + down
                to_column = column + right
                if 0 <= to_row < rows and 0 <= to_column < columns and level[to_row, to_column] == UNKNOWN:
                    level[to_row, to_column] = max(heights[to_row, to_column], level[row, column])
                    count = _pushed(heap, count, to_row * columns + to_column, water)
    return level


@kernel
def _pushed(heap: IntArray, count: int, cell: int, water: IntArray) -> int:
    """Put a cell on the heap and return the new count."""
    place = count
    while place > 0:
        above = (place - 1) // 2
        if not _comes_first(cell, heap[above], water):
            break
        heap[place] = heap[above]
        place = above
    heap[place] = cell
    return count + 1


@kernel
def _settle(heap: IntArray, count: int, cell: int, water: IntArray) -> None:
    """Let a cell sink from the top of a heap of ``count`` cells."""
    place = 0
    while True:
        below = 2 * place + 1
        if below >= count:
            break
        if below + 1 < count and _comes_first(heap[below + 1], heap[below], water):
            below += 1
        if not _comes_first(heap[below], cell, water):
            break
        heap[place] = heap[below]
        place = below
    heap[place] = cell


@kernel
def _comes_first(one: int, other: int, water: IntArray) -> bool:
    """Tell whether a cell is lower than another, or as low and first in reading order."""
    return bool(water[one] < water[other] or (water[one] == water[other] and one < other))
