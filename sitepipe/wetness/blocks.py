"""From fine cells to coarse blocks and back."""

from __future__ import annotations

import math

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid

MOST_BLOCKS = 9000
"""On which ground water is worked: water tables are smoother than lawns. [1]"""

LEAST_SIDE = 1.0
"""[m]"""


def block_step(grid: Grid) -> int:
    """Cells on the side of a block on which ground water is worked.

    Examples
    --------
    >>> block_step(Grid(0.0, 600.0, 1.0, 600, 600, "LOCAL"))
    7
    """
    return max(1, math.ceil(max(LEAST_SIDE / grid.cell, math.sqrt(grid.rows * grid.columns / MOST_BLOCKS))))


@kernel
def _fold(values: FloatArray, step: int, mean: FloatArray, least: FloatArray) -> None:  # pragma: no cover (compiled)
    for row in range(mean.shape[0]):
        for column in range(mean.shape[1]):
            total = 0.0
            count = 0
            lowest = np.inf
            for r in range(row * step, min((row + 1) * step, values.shape[0])):
                for c in range(column * step, min((column + 1) * step, values.shape[1])):
                    value = values[r, c]
                    if not np.isnan(value):
                        total += value
                        count += 1
                        lowest = min(lowest, value)
            if count:
                mean[row, column] = total / count
                least[row, column] = lowest


def fold_blocks(values: FloatArray, step: int) -> tuple[FloatArray, FloatArray]:
    """Mean and least value of the known cells of each block; the last row and column may be narrower.

    Parameters
    ----------
    values : (rows, columns) float array
        NaN where unknown.
    step : int
        Cells on the side of a block.

    Returns
    -------
    (mean, least) : two (ceil(rows / step), ceil(columns / step)) float arrays
        NaN where a block holds no known cell.

    Examples
    --------
    >>> mean, least = fold_blocks(np.array([[1.0, 3.0, np.nan], [5.0, 3.0, 7.0]]), 2)
    >>> mean.tolist(), least.tolist()
    ([[3.0, 7.0]], [[1.0, 7.0]])
    """
    shape = (-(-values.shape[0] // step), -(-values.shape[1] // step))
    mean, least = np.full(shape, np.nan), np.full(shape, np.nan)
    _fold(values, step, mean, least)
    return mean, least


@kernel
def _bilinear(coarse: FloatArray, step: int, row: int, column: int) -> float:  # pragma: no cover (compiled)
    rows, columns = coarse.shape
    at_row = max((row + 0.5) / step - 0.5, 0.0)
    at_column = max((column + 0.5) / step - 0.5, 0.0)
    top, left = int(at_row), int(at_column)
    down, across = at_row - top, at_column - left
    total = 0.0
    weight = 0.0
    for corner in range(4):
        r = top if corner < 2 else min(top + 1, rows - 1)
        c = left if corner % 2 == 0 else min(left + 1, columns - 1)
        share = (1.0 - down if corner < 2 else down) * (1.0 - across if corner % 2 == 0 else across)
        if not np.isnan(coarse[r, c]):
            total += share * coarse[r, c]
            weight += share
    return total / weight if weight > 0.0 else np.nan


@kernel
def _unfold(coarse: FloatArray, step: int, fine: FloatArray) -> None:  # pragma: no cover (compiled)
    for row in range(fine.shape[0]):
        for column in range(fine.shape[1]):
            fine[row, column] = _bilinear(coarse, step, row, column)


def unfold_blocks(coarse: FloatArray, step: int, shape: tuple[int, int]) -> FloatArray:
    """Spread the values of blocks over fine cells, bilinear between the middles of the known blocks.

    Parameters
    ----------
    coarse : (block rows, block columns) float array
        NaN where unknown.
    step : int
        Fine cells on the side of a block.
    shape : (int, int)
        Rows and columns of the fine grid.

    Returns
    -------
    (rows, columns) float array
        NaN where no block around is known; blocks of the outer rim are carried on unchanged.

    Examples
    --------
    >>> unfold_blocks(np.array([[0.0, 4.0]]), 2, (1, 4)).tolist()
    [[0.0, 1.0, 3.0, 4.0]]
    """
    fine = np.full(shape, np.nan)
    _unfold(coarse, step, fine)
    return fine


def level_at(coarse: FloatArray, step: int, row: int, column: int) -> float:
    """Value of blocks at one fine cell, as `unfold_blocks` has it.

    Examples
    --------
    >>> level_at(np.array([[0.0, 4.0]]), 2, 0, 1)
    1.0
    """
    return _bilinear(coarse, step, row, column)
