"""The ground without its small unevenness."""

from __future__ import annotations

import math

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray

REACH = 3.0
"""How many standard deviations a weight reaches; 0.3 % of a Gaussian lies beyond. [1]"""

WIDE = 4.0
"""From here on three running means stand in for the Gaussian, at a cost that does not grow. [cells]"""

PASSES = 3
"""Means of means; three are within 3 % of a Gaussian. [1]"""


def smoothed(elevation: FloatArray, spread: float) -> FloatArray:
    """Return the ground averaged with Gaussian weights that ignore what is unknown.

    The plane that fits the whole ground best is taken off first and put back afterwards: averages at a border
    or beside a hole lean on one side only, and would otherwise tilt the ground there.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    spread : float
        Standard deviation of the weights. [cells]

    Returns
    -------
    (rows, columns) float array
        Known where `elevation` is, NaN elsewhere; the ground itself for a spread of 0. [m]

    Examples
    --------
    A plane stays a plane, up to its border:

    >>> import numpy as np
    >>> plane = np.add.outer(np.arange(9.0), 2.0 * np.arange(7.0))
    >>> bool(np.allclose(smoothed(plane, 2.0), plane))
    True
    """
    if spread <= 0.0 or not np.isfinite(elevation).any():
        return elevation.copy()
    trend = best_plane(elevation)
    rest = elevation - trend
    if spread >= WIDE:
        return np.asarray(_running_means(rest, *_window(spread)) + trend)
    reach = math.ceil(REACH * spread)
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
    return np.asarray(_weighted_mean(rest, weights) + trend)


def _window(spread: float) -> tuple[int, float]:
    """Return half the width of a running mean, and the share of one more cell at either end.

    Three such means have together the variance of the spread (Gwosdek et al. 2011, Theoretical foundations of
    Gaussian convolution by extended box filtering; value from memory, the variance is tested). [cells]
    """
    variance = spread**2 / PASSES
    half = int(0.5 * math.sqrt(12.0 * variance + 1.0) - 0.5)
    share = (2 * half + 1) * (half * (half + 1) - 3.0 * variance) / (6.0 * (variance - (half + 1) ** 2))
    return half, share


def best_plane(elevation: FloatArray) -> FloatArray:
    """Return the plane that fits the known heights best, at every cell. [m]."""
    known = np.isfinite(elevation)
    rows, columns = elevation.shape
    y, x = np.arange(rows, dtype=np.float64)[:, None], np.arange(columns, dtype=np.float64)[None, :]
    y, x = y - y.mean(), x - x.mean()
    ones = known.astype(np.float64)
    level = float(elevation[known].mean())
    z = np.where(known, elevation - level, 0.0)
    by_row, by_column = ones.sum(axis=1), ones.sum(axis=0)
    sxy = float(y[:, 0] @ (ones @ x[0]))
    normal = np.array(
        [
            [ones.sum(), by_column @ x[0], by_row @ y[:, 0]],
            [by_column @ x[0], by_column @ x[0] ** 2, sxy],
            [by_row @ y[:, 0], sxy, by_row @ y[:, 0] ** 2],
        ]
    )
    right = np.array([z.sum(), z.sum(axis=0) @ x[0], z.sum(axis=1) @ y[:, 0]])
    constant, east, south = np.linalg.lstsq(normal, right, rcond=None)[0]
    return np.asarray(level + constant + east * x + south * y)


@kernel
def _weighted_mean(values: FloatArray, weights: FloatArray) -> FloatArray:
    """Average along the rows, then along the columns, over what is known."""
    rows, columns = values.shape
    reach = weights.size // 2
    sums = np.zeros((rows, columns))
    shares = np.zeros((rows, columns))
    line = np.zeros(columns)
    there = np.zeros(columns)
    for row in range(rows):
        for column in range(columns):
            known = not math.isnan(values[row, column])
            there[column] = 1.0 if known else 0.0
            line[column] = values[row, column] if known else 0.0
        for column in range(columns):
            total = share = 0.0
            for k in range(max(-reach, -column), min(reach, columns - 1 - column) + 1):
                total += weights[k + reach] * line[column + k]
                share += weights[k + reach] * there[column + k]
            sums[row, column] = total
            shares[row, column] = share
    averaged = np.full((rows, columns), np.nan)
    total_line = np.zeros(columns)
    share_line = np.zeros(columns)
    for row in range(rows):
        total_line[:] = 0.0
        share_line[:] = 0.0
        for k in range(max(-reach, -row), min(reach, rows - 1 - row) + 1):
            weight = weights[k + reach]
            for column in range(columns):
                total_line[column] += weight * sums[row + k, column]
                share_line[column] += weight * shares[row + k, column]
        for column in range(columns):
            if not math.isnan(values[row, column]):
                averaged[row, column] = total_line[column] / share_line[column]
    return averaged


@kernel
def _running_means(values: FloatArray, half: int, share: float) -> FloatArray:
    """Average over what is known in a window, along rows and columns, time after time.

    Sums of values and of what is known grow alike, so neither is divided before the end.
    """
    rows, columns = values.shape
    sums = np.zeros((rows, columns))
    shares = np.zeros((rows, columns))
    for row in range(rows):
        for column in range(columns):
            if not math.isnan(values[row, column]):
                sums[row, column] = values[row, column]
                shares[row, column] = 1.0
    for _ in range(PASSES):
        for field in (sums, shares):
            _along_rows(field, half, share)
            _along_columns(field, half, share)
    averaged = np.full((rows, columns), np.nan)
    for row in range(rows):
        for column in range(columns):
            if not math.isnan(values[row, column]):
                averaged[row, column] = sums[row, column] / shares[row, column]
    return averaged


@kernel
def _along_rows(field: FloatArray, half: int, share: float) -> None:
    """Replace each value by the sum of its row's window, zeros beyond the ends; in place."""
    rows, columns = field.shape
    line = np.zeros(columns + 2 * half + 2)
    for row in range(rows):
        line[half + 1 : half + 1 + columns] = field[row]
        total = 0.0
        for k in range(half + 1, 2 * half + 1):
            total += line[k]
        for column in range(columns):
            total += line[column + 2 * half + 1]
            ends = line[column] + line[column + 2 * half + 2]
            field[row, column] = total + share * ends
            total -= line[column + 1]


@kernel
def _along_columns(field: FloatArray, half: int, share: float) -> None:
    """Replace each value by the sum of its column's window, zeros beyond the ends; in place."""
    rows, columns = field.shape
    before = np.zeros((rows + 2 * half + 2, columns))
    before[half + 1 : half + 1 + rows] = field
    total = np.zeros(columns)
    for k in range(half + 1, 2 * half + 1):
        total += before[k]
    for row in range(rows):
        for column in range(columns):
            total[column] += before[row + 2 * half + 1, column]
            ends = before[row, column] + before[row + 2 * half + 2, column]
            field[row, column] = total[column] + share * ends
            total[column] -= before[row + 1, column]
