"""The ground without its small unevenness."""

from __future__ import annotations

import math

import numpy as np

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
    known = np.isfinite(elevation)
    sums, shares = (_spread_out(field, spread) for field in (np.where(known, elevation - trend, 0.0), known * 1.0))
    return np.where(known, sums / np.where(known, shares, 1.0) + trend, np.nan)


def _spread_out(field: FloatArray, spread: float) -> FloatArray:
    """Return the weighted sum about each cell, nothing beyond the borders."""
    from scipy.ndimage import correlate1d, uniform_filter1d

    if spread < WIDE:
        reach = math.ceil(REACH * spread)
        weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
        for axis in (0, 1):
            field = correlate1d(field, weights, axis, mode="constant")
        return field
    half, share = window_of(spread)
    inner, outer = 2 * half + 1, 2 * half + 3
    for axis in (0, 1) * PASSES:
        within = inner * uniform_filter1d(field, inner, axis, mode="constant")
        field = (1.0 - share) * within + share * outer * uniform_filter1d(field, outer, axis, mode="constant")
    return field


def window_of(spread: float) -> tuple[int, float]:
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
