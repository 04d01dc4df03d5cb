"""How far a sight sways the map around it."""

from __future__ import annotations

import math

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray


@kernel
def swayed(
    wetness: FloatArray,
    elevation: FloatArray,
    per_cell: float,
    per_metre: float,
    places: FloatArray,
    weights: FloatArray,
    ring: float,
) -> FloatArray:
    """Map moved by what was seen at places: each adds its weight to the log-odds around it, times exp(-distance).

    Parameters
    ----------
    wetness : (rows, columns) float array
        Above 0 and below 1; NaN where unknown. [1]
    elevation : (rows, columns) float array
        NaN where unknown: nothing moves there. [m]
    per_cell, per_metre : float
        What a cell sideways and a metre of height count in the space in which distance is taken. [1], [1/m]
    places : (n, 3) float array
        Row, column and height of each sight in that space. [1]
    weights : (n,) float array
        Log-odds at the place itself. [1]
    ring : float
        Distance from which on a sight has no say. [1]

    Returns
    -------
    (rows, columns) float array
        Above 0 and below 1; the very numbers given where nobody has a say. [1]

    Examples
    --------
    >>> even, level, place = np.full((1, 2), 0.5), np.zeros((1, 2)), np.zeros((1, 3))
    >>> swayed(even, level, 9.0, 1.0, place, np.array([1.0]), 5.0).round(3).tolist()
    [[0.731, 0.5]]
    """
    rows, columns = wetness.shape
    shift = np.zeros((rows, columns))
    for k in range(weights.size):
        middle_row, middle_column = places[k, 0] / per_cell, places[k, 1] / per_cell
        reach = ring / per_cell
        for row in range(max(0, math.ceil(middle_row - reach)), min(rows - 1, math.floor(middle_row + reach)) + 1):
            y = row * per_cell - places[k, 0]
            for column in range(
                max(0, math.ceil(middle_column - reach)), min(columns - 1, math.floor(middle_column + reach)) + 1
            ):
                x = column * per_cell - places[k, 1]
                z = elevation[row, column] * per_metre - places[k, 2]
                distance = math.sqrt(x * x + y * y + z * z)
                if distance < ring:
                    shift[row, column] += weights[k] * math.exp(-distance)
    moved = wetness.copy()
    for row in range(rows):
        for column in range(columns):
            if shift[row, column] != 0.0:
                odds = math.log(wetness[row, column] / (1.0 - wetness[row, column])) + shift[row, column]
                moved[row, column] = 1.0 / (1.0 + math.exp(-odds))
    return moved
