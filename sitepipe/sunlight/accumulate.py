"""What horizons cost each cell: looked up in the sun's tables, azimuth by azimuth."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import Float32Array, FloatArray, LongArray
from sitepipe.sunlight.sweep import BinArray

SMOOTH = 24
"""Bins within which the horizons of two neighbouring lines are taken for one smooth ridge and averaged."""


@kernel
def between_lines(horizon: BinArray, offset: int, steps: int, place: float, step: int) -> int:
    """Return the horizon bin at a cell that lies between two lines.

    Where both lines see much the same, it is interpolated; where one sees an edge that the other does not, the nearer
    line speaks.
    """
    line = int(np.floor(place))
    share = place - line
    first = int(horizon[offset + line * steps + step])
    second = int(horizon[offset + (line + 1) * steps + step])
    difference = second - first
    if -SMOOTH <= difference <= SMOOTH:
        return first + int(np.floor(difference * share + 0.5))
    return second if share >= 0.5 else first


@kernel
def add_losses(
    lost: Float32Array,
    doubt: Float32Array,
    rows: tuple[int, int],
    runs_along_rows: np.ndarray[tuple[int], np.dtype[np.bool_]],
    from_far_end: np.ndarray[tuple[int], np.dtype[np.bool_]],
    drift: FloatArray,
    first_line: LongArray,
    first_step: LongArray,
    steps: LongArray,
    offset: LongArray,
    window: tuple[int, int, int, int],
    horizons: BinArray,
    has_layer: np.ndarray[tuple[int], np.dtype[np.bool_]],
    lowest: LongArray,
    opaque: Float32Array,
    foliage: Float32Array,
    wider: BinArray,
    narrower: BinArray,
) -> None:
    """Add to each cell what it loses to a group of azimuths.

    Parameters
    ----------
    lost : (window rows, window columns, lanes) float32 array
        Added to in place, azimuth after azimuth, so that the sum does not depend on who computes which row.
    doubt : (window rows, window columns) float32 array
        Season hours by which the loss grows if crowns are higher by the factor behind ``wider``, less lower. [h/day]
    rows : (first, last)
        Rows of the window to do.
    runs_along_rows, from_far_end, drift, first_line, first_step, steps, offset : (azimuths,) arrays
        How the lines of each azimuth run, and where its horizons begin in ``horizons``.
    window : (first row, first column, rows of the heights, columns of the heights)
    horizons : (layers, all lines of all azimuths) uint16 array
        Layers: opaque; upper and lower edge of deciduous, then of evergreen crowns.
    has_layer : (5,) bool array
        Which layers are filled.
    lowest : (azimuths,) int array
        Bins up to here lose nothing.
    opaque : (azimuths, bins, lanes) float32 array
    foliage : (2, azimuths, bins, lanes) float32 array
        Deciduous and evergreen.
    wider, narrower : (bins,) uint16 array
        The bin of each crown's edge if it were higher, or lower.
    """
    tile = 32
    lanes = lost.shape[2]
    columns = lost.shape[1]
    for tile_row in range(rows[0], rows[1], tile):
        for tile_column in range(0, columns, tile):
            row_end, column_end = min(tile_row + tile, rows[1]), min(tile_column + tile, columns)
            for a in range(drift.size):
                floor = lowest[a]
                for row in range(tile_row, row_end):
                    for column in range(tile_column, column_end):
                        if runs_along_rows[a]:
                            along, across, length = window[1] + column, window[0] + row, window[3]
                        else:
                            along, across, length = window[0] + row, window[1] + column, window[2]
                        i = length - 1 - along if from_far_end[a] else along
                        place = across - drift[a] * i - first_line[a]
                        step = i - first_step[a]
                        hard = between_lines(horizons[0], offset[a], steps[a], place, step)
                        if hard > floor:
                            for lane in range(lanes):
                                lost[row, column, lane] += opaque[a, hard, lane]
                        dark_low, dark_high = 0, 0
                        if has_layer[3]:
                            dark_high = between_lines(horizons[3], offset[a], steps[a], place, step)
                            dark_low = hard
                            if has_layer[4]:
                                dark_low = max(hard, between_lines(horizons[4], offset[a], steps[a], place, step))
                            if dark_high > dark_low and dark_high > floor:
                                for lane in range(lanes):
                                    lost[row, column, lane] += (
                                        foliage[1, a, dark_high, lane] - foliage[1, a, dark_low, lane]
                                    )
                                up, down = max(wider[dark_high], dark_low), max(narrower[dark_high], dark_low)
                                doubt[row, column] += foliage[1, a, up, 12] - foliage[1, a, down, 12]
                        if has_layer[1]:
                            high = between_lines(horizons[1], offset[a], steps[a], place, step)
                            low = hard
                            if has_layer[2]:
                                low = max(hard, between_lines(horizons[2], offset[a], steps[a], place, step))
                            if high > low and high > floor:
                                both_low, both_high = max(low, dark_low), min(high, dark_high)
                                if both_high > both_low:
                                    for lane in range(lanes):
                                        lost[row, column, lane] += (
                                            foliage[0, a, high, lane]
                                            - foliage[0, a, low, lane]
                                            - foliage[0, a, both_high, lane]
                                            + foliage[0, a, both_low, lane]
                                        )
                                else:
                                    for lane in range(lanes):
                                        lost[row, column, lane] += foliage[0, a, high, lane] - foliage[0, a, low, lane]
                                up, down = max(wider[high], low), max(narrower[high], low)
                                doubt[row, column] += foliage[0, a, up, 12] - foliage[0, a, down, 12]
