"""The nearest marked cell, exactly, in time that does not grow with its distance."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, LongArray

NONE = -1
"""Stands where no cell is marked at all."""


def nearest_marked(is_marked: BoolArray) -> tuple[FloatArray, LongArray]:
    """Return the squared distance to the nearest marked cell, and which one it is.

    Parameters
    ----------
    is_marked : (rows, columns) bool array

    Returns
    -------
    squared : (rows, columns) float array
        Between cell centres; infinite where nothing is marked. [cells^2]
    nearest : (rows, columns) int64 array
        Flat index of that cell, `NONE` where nothing is marked; of equally near ones the westernmost, then the
        northernmost.

    References
    ----------
    Felzenszwalb & Huttenlocher (2012), Distance transforms of sampled functions, Theory of Computing 8, 415-428:
    lower envelopes of parabolas, first along columns, then along rows.

    Examples
    --------
    >>> import numpy as np
    >>> marked = np.array([[True, False, False], [False, False, False]])
    >>> squared, nearest = nearest_marked(marked)
    >>> squared.tolist(), nearest.tolist()
    ([[0.0, 1.0, 4.0], [1.0, 2.0, 5.0]], [[0, 0, 0], [0, 0, 0]])
    """
    squared, nearest = _along_columns(is_marked)
    _along_rows(squared, nearest)
    return squared, nearest


@kernel
def _along_columns(is_marked: BoolArray) -> tuple[FloatArray, LongArray]:
    """Find the nearest marked cell above or below."""
    rows, columns = is_marked.shape
    squared = np.full((rows, columns), np.inf)
    nearest = np.full((rows, columns), np.int64(NONE))
    for column in range(columns):
        last = NONE
        for row in range(rows):
            if is_marked[row, column]:
                last = row
            if last != NONE:
                squared[row, column] = float((row - last) ** 2)
                nearest[row, column] = last * columns + column
        last = NONE
        for row in range(rows - 1, -1, -1):
            if is_marked[row, column]:
                last = row
            if last != NONE and float((last - row) ** 2) < squared[row, column]:
                squared[row, column] = float((last - row) ** 2)
                nearest[row, column] = last * columns + column
    return squared, nearest


@kernel
def _along_rows(squared: FloatArray, nearest: LongArray) -> None:
    """Find the column through which the nearest marked cell is reached, in place."""
    rows, columns = squared.shape
    vertex = np.empty(columns, dtype=np.int64)
    start = np.empty(columns + 1)
    height = np.empty(columns)
    owner = np.empty(columns, dtype=np.int64)
    for row in range(rows):
        height[:] = squared[row]
        owner[:] = nearest[row]
        count = 0
        for column in range(columns):
            if height[column] == np.inf:
                continue
            crossing = -np.inf
            while count > 0:
                other = vertex[count - 1]
                crossing = (height[column] + column * column - height[other] - other * other) / (2.0 * (column - other))
                if crossing > start[count - 1]:
                    break
                count -= 1
            if count == 0:
                crossing = -np.inf
            vertex[count] = column
            start[count] = crossing
            count += 1
        if count == 0:
            continue
        start[count] = np.inf
        k = 0
        for column in range(columns):
            while start[k + 1] < column:
                k += 1
            other = vertex[k]
            squared[row, column] = height[other] + float((column - other) ** 2)
            nearest[row, column] = owner[other]
