"""Mounds as ground: what a row of ridges adds to each cell."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray


@kernel
def _raise(
    ground: FloatArray,
    west: float,
    north: float,
    cell: float,
    ridges: FloatArray,
    top: float,
    side_slope: float,
    added: FloatArray,
) -> None:  # pragma: no cover (compiled)
    rows, columns = ground.shape
    for ridge in ridges:
        x0, y0, z0, x1, y1, z1, reach = ridge[0], ridge[1], ridge[2], ridge[3], ridge[4], ridge[5], ridge[6]
        length2 = (x1 - x0) ** 2 + (y1 - y0) ** 2
        first = max(int((min(x0, x1) - reach - west) / cell), 0)
        last = min(int((max(x0, x1) + reach - west) / cell) + 1, columns)
        upper = max(int((north - max(y0, y1) - reach) / cell), 0)
        lower = min(int((north - min(y0, y1) + reach) / cell) + 1, rows)
        for row in range(upper, lower):
            y = north - (row + 0.5) * cell
            for column in range(first, last):
                if np.isnan(ground[row, column]):
                    continue
                x = west + (column + 0.5) * cell
                along = 0.0
                if length2 > 0.0:
                    along = ((x - x0) * (x1 - x0) + (y - y0) * (y1 - y0)) / length2
                    along = min(max(along, 0.0), 1.0)
                away = np.hypot(x - x0 - along * (x1 - x0), y - y0 - along * (y1 - y0))
                surface = z0 + along * (z1 - z0) - max(away - 0.5 * top, 0.0) / side_slope
                if away <= reach:
                    added[row, column] = max(added[row, column], surface - ground[row, column])


def added_height(
    ground: FloatArray, west: float, north: float, cell: float, ridges: FloatArray, top: float, side_slope: float
) -> FloatArray:
    """Height that ridges add to the ground, each with a level top across, equal sides and round ends.

    Parameters
    ----------
    ground : (rows, columns) float array
        Height below the ridges, in the datum of their crests; NaN where unknown. [m]
    west, north : float
        Outer edge of the north-west corner cell. [m]
    cell : float
        [m]
    ridges : (ridges, 7) float array
        Of each crest: x, y, z of both ends, and how far from the crest it may reach at most. [m]
    top : float
        Width of the level top. [m]
    side_slope : float
        Run per rise. [1]

    Returns
    -------
    (rows, columns) float array
        0 where no ridge stands. [m]

    Examples
    --------
    >>> ridge = np.array([[1.0, 1.5, 0.5, 2.0, 1.5, 0.5, 9.0]])
    >>> added_height(np.zeros((3, 3)), 0.0, 3.0, 1.0, ridge, 0.6, 1.0)[1].round(2).tolist()
    [0.3, 0.5, 0.3]
    """
    added = np.zeros(ground.shape)
    _raise(ground, west, north, cell, ridges, top, side_slope, added)
    return added
