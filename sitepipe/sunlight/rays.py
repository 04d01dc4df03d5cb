"""Horizons of single places, by following one ray for each direction, half a cell at a time."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import Float32Array, FloatArray


@kernel
def ray_horizons(
    ground: FloatArray,
    raised: Float32Array,
    crown_top: Float32Array,
    crown_base: Float32Array,
    cell: float,
    column: FloatArray,
    row: FloatArray,
    azimuth: FloatArray,
    edges: FloatArray,
) -> None:
    """Write the edges that each place sees in each direction, as tangents of their height over the horizon.

    Parameters
    ----------
    ground : (rows, columns) float array
        Known everywhere; interpolated between cells. [m]
    raised : (rows, columns) float32 array
        Height above the ground of the opaque thing there; where there is none, minus the rise of ground that is not
        believed. [m]
    crown_top, crown_base : (kinds, rows, columns) float32 array
        Above the ground; top 0 where there is no crown. [m]
    cell : float
        [m]
    column, row : (places,) float array
        Where the places are, in cells, 0 in the middle of the first. An eye stands on top of what is opaque there.
    azimuth : (directions,) float array
        Clockwise from north. [deg]
    edges : (1 + 2 kinds, places, directions) float array
        Written in place. First the edge of ground and opaque things, then for each kind of crown the upper and the
        lower edge; upper 0 where none is in sight, 1e9 overhead. [1]
    """
    rows, columns = ground.shape
    highest = ground.max() + max(raised.max(), np.float32(0.0))
    for kind in range(crown_top.shape[0]):
        highest = max(highest, ground.max() + crown_top[kind].max())
    for p in range(column.size):
        own_row, own_column = int(np.floor(row[p] + 0.5)), int(np.floor(column[p] + 0.5))
        own_row, own_column = min(max(own_row, 0), rows - 1), min(max(own_column, 0), columns - 1)
        eye = height_at(ground, row[p], column[p]) + max(raised[own_row, own_column], np.float32(0.0))
        for a in range(azimuth.size):
            east, south = np.sin(np.radians(azimuth[a])), -np.cos(np.radians(azimuth[a]))
            is_along_columns = abs(east) >= abs(south)
            lead = abs(east) if is_along_columns else abs(south)
            start = column[p] if is_along_columns else row[p]
            forward = start if (east if is_along_columns else south) > 0 else -start
            halves = int(np.floor(2.0 * forward + 1.0 + 1e-9))
            best = 0.0
            for kind in range(crown_top.shape[0]):
                is_under = crown_top[kind, own_row, own_column] > max(raised[own_row, own_column], np.float32(0.0))
                edges[1 + 2 * kind, p, a] = 1e9 if is_under else 0.0
                is_within = is_under and crown_base[kind, own_row, own_column] <= 0.0
                edges[2 + 2 * kind, p, a] = 0.0 if is_within else 1e9
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
                if i == own_row and j == own_column:
                    continue
                bare = height_at(ground, y, x)
                if is_between:  # the middle between two rows or columns: things are met in their own cells only
                    best = max(best, (bare + min(raised[i, j], np.float32(0.0)) - eye) / run)
                    continue
                best = max(best, (bare + raised[i, j] - eye) / run)
                for kind in range(crown_top.shape[0]):
                    if crown_top[kind, i, j] > 0.0:
                        upper, lower = 1 + 2 * kind, 2 + 2 * kind
                        edges[upper, p, a] = max(edges[upper, p, a], (bare + crown_top[kind, i, j] - eye) / run)
                        edges[lower, p, a] = min(edges[lower, p, a], (bare + crown_base[kind, i, j] - eye) / run)
            edges[0, p, a] = best
            for kind in range(crown_top.shape[0]):
                edges[2 + 2 * kind, p, a] = max(edges[2 + 2 * kind, p, a], best)


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
