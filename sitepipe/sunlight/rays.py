"""Horizons that the ground gives single places, by following one ray for each direction, half a cell at a time."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import Float32Array, FloatArray

BLOCK = 8
"""Side of a block that a ray may pass at one step. [cells]"""


@kernel
def ray_horizons(
    ground: FloatArray,
    raised: Float32Array,
    cell: float,
    column: FloatArray,
    row: FloatArray,
    azimuth: FloatArray,
    edges: FloatArray,
) -> None:
    """Write the edge of the ground, and of what is raised on it, that each place sees in each direction.

    Parameters
    ----------
    ground : (rows, columns) float array
        Known everywhere; interpolated between cells. [m]
    raised : (rows, columns) float32 array
        Height above the ground of the opaque thing there; where there is none, minus the rise of ground that is not
        believed. [m]
    cell : float
        [m]
    column, row : (places,) float array
        Where the places are, in cells, 0 in the middle of the first. An eye stands on the ground.
    azimuth : (directions,) float array
        Clockwise from north. [deg]
    edges : (places, directions) float array
        Written in place, as tangents of the height over the horizon; 1e9 within what is opaque. [1]
    """
    rows, columns = ground.shape
    tops = block_tops(ground, raised)
    highest = tops.max()
    for p in range(column.size):
        own_row, own_column = int(np.floor(row[p] + 0.5)), int(np.floor(column[p] + 0.5))
        own_row, own_column = min(max(own_row, 0), rows - 1), min(max(own_column, 0), columns - 1)
        if raised[own_row, own_column] > 0.0:
            edges[p] = 1e9
            continue
        eye = height_at(ground, row[p], column[p])
        for a in range(azimuth.size):
            east, south = np.sin(np.radians(azimuth[a])), -np.cos(np.radians(azimuth[a]))
            is_along_columns = abs(east) >= abs(south)
            lead = abs(east) if is_along_columns else abs(south)
            start = column[p] if is_along_columns else row[p]
            forward = start if (east if is_along_columns else south) > 0 else -start
            halves = int(np.floor(2.0 * forward + 1.0 + 1e-9))
            best = 0.0
            while True:
                length = (0.5 * halves - forward) / lead
                is_between = halves % 2 != 0
                halves += 1
                y, x = row[p] + south * length, column[p] + east * length
                if y < -0.5 or x < -0.5 or y > rows - 0.5 or x > columns - 0.5:
                    break
                run = length * cell
                if (highest - eye) / run <= best:
                    break
                i, j = min(int(np.floor(y + 0.5)), rows - 1), min(int(np.floor(x + 0.5)), columns - 1)
                if (tops[i // BLOCK, j // BLOCK] - eye) / run <= best:  # Nothing here is seen: on to the block's edge.
                    down = (i // BLOCK + (south > 0.0)) * BLOCK - 0.5 - y
                    right = (j // BLOCK + (east > 0.0)) * BLOCK - 0.5 - x
                    left = min(down / south if south != 0.0 else 1e9, right / east if east != 0.0 else 1e9)
                    halves += max(int(2.0 * lead * left - 1e-6), 0)
                    continue
                if i == own_row and j == own_column:
                    continue
                rise = raised[i, j]
                if is_between:  # the middle between two rows or columns: things are met in their own cells only
                    rise = min(rise, np.float32(0.0))
                best = max(best, (height_at(ground, y, x) + rise - eye) / run)
            edges[p, a] = best


@kernel
def block_tops(ground: FloatArray, raised: Float32Array) -> FloatArray:
    """Return for each block of cells a height that nothing seen there stands above, cells beside it included. [m]."""
    rows, columns = ground.shape
    tops = np.empty(((rows + BLOCK - 1) // BLOCK, (columns + BLOCK - 1) // BLOCK))
    for i in range(tops.shape[0]):
        for j in range(tops.shape[1]):
            upper, lower = max(i * BLOCK - 1, 0), min((i + 1) * BLOCK + 1, rows)
            left, right = max(j * BLOCK - 1, 0), min((j + 1) * BLOCK + 1, columns)
            most = max(raised[upper:lower, left:right].max(), np.float32(0.0))
            tops[i, j] = ground[upper:lower, left:right].max() + most
    return tops


@kernel
def height_at(ground: FloatArray, y: float, x: float) -> float:
    """Return the ground's height between cells, as flat as the last cell beyond them."""
    rows, columns = ground.shape
    y, x = min(max(y, 0.0), rows - 1.0), min(max(x, 0.0), columns - 1.0)
    i, j = min(int(y), max(rows - 2, 0)), min(int(x), max(columns - 2, 0))
    down, right = min(i + 1, rows - 1), min(j + 1, columns - 1)
    v, u = y - i, x - j
    upper = ground[i, j] * (1.0 - u) + ground[i, right] * u
    lower = ground[down, j] * (1.0 - u) + ground[down, right] * u
    return float(upper * (1.0 - v) + lower * v)
