"""Dispersal: water that parts among all lower neighbours, and the catchment area per width that follows."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, IntArray
from sitepipe.drainage.descent import NOWHERE

LEAST_WIDTH_FACTOR = 0.25
"""On a summit the mean flow vector vanishes; water of one cell leaves over its whole rim, four cells wide."""

_DIAGONAL = 0.7071067811865476
_DONE = 255


@kernel
def specific_catchment_area(level: IntArray, receiver: IntArray, cell_size: float) -> tuple[FloatArray, float]:
    """Catchment area per width of contour, from flow to all lower neighbours in proportion to slope.

    The water of a cell goes to its lower neighbours in proportion to their slope (exponent 1), on level ground
    to the receiver. The number of cells so gathered is not yet an area per width: it is multiplied by the
    length of the mean flow vector, ``a = cells * |sum(p_i d_i)| * cell``, where d_i is the step in cells
    (length 1 or the square root of 2). The flux through the cell is then right on every plane, whatever way
    it falls, which no fixed set of contour lengths achieves.

    Parameters
    ----------
    level : (rows, columns) int32 array
        Filled heights. [0.1 mm]
    receiver : (rows, columns) int32 array
        Complete, from ``route_level_ground``.
    cell_size : float
        [m]

    Returns
    -------
    area : (rows, columns) float array
        NaN where unknown. [m]
    outflow : float
        Cells that left, for the check that none was lost.

    References
    ----------
    Freeman (1991), Calculating catchment area with divergent flow based on a regular grid, Computers &
    Geosciences 17:413-422 (shares, exponent 1); the correction is ours, derived from flux balance.

    Examples
    --------
    A plane that falls to the east, three cells long: the last cell has three cells' length behind it.

    >>> import numpy as np
    >>> level = np.array([[30, 20, 10]], dtype=np.int32)
    >>> area, outflow = specific_catchment_area(level, np.array([[1, 2, -1]], dtype=np.int32), 2.0)
    >>> area.tolist(), outflow
    ([[2.0, 4.0, 6.0]], 3.0)
    """
    rows, columns = level.shape
    size = rows * columns
    water = level.ravel()
    to = receiver.ravel()
    steps = np.array([-columns - 1, -columns, -columns + 1, -1, 1, columns - 1, columns, columns + 1])
    waits_for = _inflows(level, to, steps)
    cells = np.zeros(size, dtype=np.float64)
    area = np.full(size, np.nan)
    stack = np.empty(size, dtype=np.int32)
    shares = np.zeros(8)
    outflow = 0.0
    for source in range(size):
        if waits_for[source] != 0 or to[source] == NOWHERE:
            continue
        stack[0] = source
        count = 1
        while count > 0:
            count -= 1
            cell = stack[count]
            waits_for[cell] = _DONE
            gathered = cells[cell] + 1.0
            cells[cell] = gathered
            below = to[cell]
            if below < 0:
                area[cell] = gathered * cell_size
                outflow += gathered
                continue
            if water[below] == water[cell]:
                gap = abs(below - cell)
                area[cell] = gathered * cell_size * (1.0 if gap in (1, columns) else 1.0 / _DIAGONAL)
                cells[below] += gathered
                waits_for[below] -= 1
                if waits_for[below] == 0:
                    stack[count] = below
                    count += 1
                continue
            east, south = _shares(level, cell, shares)
            area[cell] = gathered * cell_size * max(np.sqrt(east * east + south * south), LEAST_WIDTH_FACTOR)
            for k in range(8):
                if shares[k] > 0.0:
                    other = cell + steps[k]
                    cells[other] += gathered * shares[k]
                    waits_for[other] -= 1
                    if waits_for[other] == 0:
                        stack[count] = other
                        count += 1
    return area.reshape(rows, columns), outflow


@kernel
def _inflows(level: IntArray, to: IntArray, steps: IntArray) -> IntArray:
    """Count the neighbours whose water a cell must wait for."""
    rows, columns = level.shape
    water = level.ravel()
    waits_for = np.zeros(rows * columns, dtype=np.uint8)
    for row in range(rows):
        for column in range(columns):
            cell = row * columns + column
            below = to[cell]
            if below < 0:
                continue
            own = water[cell]
            if water[below] == own:
                waits_for[below] += 1
                continue
            if 0 < row < rows - 1 and 0 < column < columns - 1:
                for k in range(8):
                    waits_for[cell + steps[k]] += water[cell + steps[k]] < own
                continue
            for to_row in range(max(row - 1, 0), min(row + 2, rows)):
                for to_column in range(max(column - 1, 0), min(column + 2, columns)):
                    waits_for[to_row * columns + to_column] += level[to_row, to_column] < own
    return waits_for


@kernel
def _shares(level: IntArray, cell: int, shares: FloatArray) -> tuple[float, float]:
    """Fill in the share of water that goes to each neighbour; return the mean step to the east and south."""
    rows, columns = level.shape
    row = cell // columns
    column = cell % columns
    own = level[row, column]
    total = 0.0
    east = 0.0
    south = 0.0
    k = 0
    for down in range(-1, 2):
        for right in range(-1, 2):
            if down == 0 and right == 0:
                continue
            shares[k] = 0.0
            to_row = row + down
            to_column = column + right
            if 0 <= to_row < rows and 0 <= to_column < columns and level[to_row, to_column] < own:
                drop = float(np.int64(own) - level[to_row, to_column])
                if down != 0 and right != 0:
                    drop *= _DIAGONAL
                shares[k] = drop
                total += drop
                east += drop * right
                south += drop * down
            k += 1
    for k in range(8):
        shares[k] /= total
    return east / total, south / total
