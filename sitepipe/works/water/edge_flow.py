"""How deep water flows over the edge of the parcel at the storm's peak, by Manning's formula for a wide sheet."""

from __future__ import annotations

import math

import numpy as np

from sitepipe.arrays import FloatArray, IntArray

GATHERING = 0.1
"""Time in which the ground behind an outlet gathers its water: TR-55's least; slower ground peaks lower. [h]"""
CUBIC_FEET_FROM_A_MILE = 0.3048**3 / (1609.344**2 * 0.0254)
"""A cubic foot a second from a square mile for an inch of runoff. [1/s]"""
ROUGHNESS = 0.24
"""Manning's n of a sheet of water through dense grass (TR-55, table 3-1). [s/m^(1/3)]"""
LEAST_FALL = 0.005
"""Flatter ground counts as falling so much: below it a sheet's depth is not told by its fall (our own choice). [1]"""
REACH = 2.0
"""The fall at a place is taken over so much ground on each side. [m]"""


def unit_peak(hours: float) -> float:
    """Peak flow from a square metre for each metre that runs off it in all. [1/s].

    Parameters
    ----------
    hours : float
        Time of concentration, .1 to 10. [h]

    References
    ----------
    USDA NRCS (1986), TR-55, chapter 4 and appendix F: rain of type II, initial loss a tenth of the rain; coefficients
    from memory.

    Examples
    --------
    A quick acre with an inch of runoff: 1010 cubic feet a second from a square mile.

    >>> round(unit_peak(0.1) / CUBIC_FEET_FROM_A_MILE)
    1010
    """
    log = math.log10(hours)
    return math.pow(10.0, 2.55323 - 0.61512 * log - 0.16403 * log * log) * CUBIC_FEET_FROM_A_MILE


def sheet_depth(flow: FloatArray, fall: FloatArray) -> FloatArray:
    """Depth of a wide sheet of water. [m].

    Parameters
    ----------
    flow : float array
        Over each metre of width. [m2/s]
    fall : float array
        Of the ground, above 0. [1]

    References
    ----------
    Manning's formula with the depth for the hydraulic radius, as in USDA NRCS (1986), Urban hydrology for small
    watersheds, TR-55, chapter 3.

    Examples
    --------
    An eighth of a litre a second over each metre, down 1 in 100 of dense grass, is 8 mm deep.

    >>> sheet_depth(np.array([0.000125]), np.array([0.01])).round(4).tolist()
    [0.0077]
    """
    return np.asarray((ROUGHNESS * flow / np.sqrt(fall)) ** 0.6)


def falls_at(elevation: FloatArray, cell: float, cells: IntArray) -> FloatArray:
    """Fall of the ground around cells given by their flat index, at least ``LEAST_FALL``. [1]."""
    step = max(round(REACH / cell), 1)
    rows, columns = np.divmod(cells.astype(np.int64), elevation.shape[1])
    last_row, last_column = elevation.shape[0] - 1, elevation.shape[1] - 1
    up, down = np.maximum(rows - step, 0), np.minimum(rows + step, last_row)
    left, right = np.maximum(columns - step, 0), np.minimum(columns + step, last_column)
    south = (elevation[down, columns] - elevation[up, columns]) / (np.maximum(down - up, 1) * cell)
    east = (elevation[rows, right] - elevation[rows, left]) / (np.maximum(right - left, 1) * cell)
    return np.asarray(np.maximum(np.nan_to_num(np.hypot(south, east)), LEAST_FALL))
