"""What horizons cost each cell: looked up in the sun's tables, azimuth by azimuth."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, ByteArray, Float32Array, FloatArray, LongArray
from sitepipe.sunlight.sweep import BLOCK, BinArray

SMOOTH = 24
"""Bins within which the horizons of two neighbouring lines are taken for one smooth ridge and averaged."""

TILE = 32
"""Cells along and across that are worked on together, so that their sums stay in fast memory."""


@kernel
def between_lines(edges: BinArray, line: int, share: float, count: int, found: LongArray) -> None:
    """Find the horizon bins of cells that lie between two lines.

    Where both lines see much the same it is interpolated; where one sees an edge that the other does not, the nearer
    line speaks.

    Parameters
    ----------
    edges : (lines of all azimuths,) uint16 array
    line : int
        Index of the line before the first cell; the next cell lies behind the next line.
    share : float
        How far the cells are from that line towards the next. [1]
    count : int
        Cells.
    found : (cells,) int array
        Written in place.
    """
    is_nearer_next = share >= 0.5
    for k in range(count):
        first, second = np.int64(edges[line + k]), np.int64(edges[line + k + 1])
        difference = second - first
        smooth = first + np.int64(difference * share + 4096.5) - 4096
        nearer = second if is_nearer_next else first
        found[k] = smooth if -SMOOTH <= difference <= SMOOTH else nearer


@kernel
def add_rows(lost: Float32Array, row: int, column: int, table: Float32Array, a: int, upper: int, lower: int) -> None:
    """Add to a cell what lies between two bins of one azimuth's table."""
    for lane in range(lost.shape[2]):
        lost[row, column, lane] += table[a, upper, lane] - table[a, lower, lane]


@kernel
def add_losses(
    lost: Float32Array,
    sky: Float32Array,
    doubt: Float32Array,
    first_row: int,
    last_row: int,
    along_columns: BoolArray,
    from_far_end: BoolArray,
    drift: FloatArray,
    first_line: LongArray,
    first_step: LongArray,
    lines: LongArray,
    offset: LongArray,
    block_offset: LongArray,
    window: tuple[int, int, int, int],
    horizons: BinArray,
    is_shaded: ByteArray,
    has_layer: BoolArray,
    lowest: LongArray,
    sky_part: FloatArray,
    opaque: Float32Array,
    foliage: Float32Array,
    sky_up: FloatArray,
    sky_sideways: FloatArray,
    sky_stopped: FloatArray,
    wider: BinArray,
    narrower: BinArray,
) -> None:
    """Add to each cell what it loses to a group of azimuths.

    Parameters
    ----------
    lost : (window rows, window columns, lanes) float32 array
        Added to in place, azimuth after azimuth, so that the sum does not depend on who computes which row.
    sky : (window rows, window columns, 3) float32 array
        The sky's light lost, as a vector upwards, east, north. [1]
    doubt : (window rows, window columns) float32 array
        Season hours by which the loss grows if crowns are higher by the factor behind ``wider``, less lower. [h/day]
    first_row, last_row : int
        Rows of the window to do.
    along_columns, from_far_end, drift, first_line, first_step, lines, offset, block_offset : (azimuths,) arrays
        How the lines of each azimuth run, and where its horizons and shaded blocks begin.
    window : (first row, first column, rows of the heights, columns of the heights)
    horizons : (layers, all steps and lines of all azimuths) uint16 array
        Layers: opaque; upper and lower edge of deciduous, then of evergreen crowns.
    is_shaded : (all steps and blocks of all azimuths,) uint8 array
    has_layer : (5,) bool array
        Which layers are filled.
    lowest : (azimuths,) int array
        Bins up to here lose no sun.
    sky_part : (azimuths, 3) float array
        Width of the sector of sky that an azimuth speaks for, and that times its direction east and north. [rad]
    opaque : (azimuths, bins, lanes) float32 array
    foliage : (2, azimuths, bins, lanes) float32 array
        Deciduous and evergreen.
    sky_up, sky_sideways : (bins,) float array
        Of ``tables.sky_lost``.
    sky_stopped : (3,) float array
        Share of the sky's light that opaque things, deciduous and evergreen crowns stop. [1]
    wider, narrower : (bins,) uint16 array
        The bin of each crown's edge if it were higher, or lower.
    """
    columns = lost.shape[1]
    found = np.zeros((5, TILE), dtype=np.int64)
    for tile_row in range(first_row, last_row, TILE):
        for tile_column in range(0, columns, TILE):
            row_end, column_end = min(tile_row + TILE, last_row), min(tile_column + TILE, columns)
            for a in range(drift.size):
                if along_columns[a]:
                    along, along_end = window[1] + tile_column, window[1] + column_end
                    across, count, length = window[0] + tile_row, row_end - tile_row, window[3]
                else:
                    along, along_end = window[0] + tile_row, window[0] + row_end
                    across, count, length = window[1] + tile_column, column_end - tile_column, window[2]
                blocks = (lines[a] + BLOCK - 1) // BLOCK
                for u in range(along, along_end):
                    i = length - 1 - u if from_far_end[a] else u
                    place = across - drift[a] * i - first_line[a]
                    line = int(np.floor(place))
                    step = i - first_step[a]
                    shaded = 0
                    for block in range(line // BLOCK, (line + count) // BLOCK + 1):
                        shaded += is_shaded[block_offset[a] + step * blocks + block]
                    if shaded == 0:
                        continue
                    for layer in range(5):
                        if has_layer[layer]:
                            between_lines(
                                horizons[layer], offset[a] + step * lines[a] + line, place - line, count, found[layer]
                            )
                    for k in range(count):
                        hard, leafy, leafy_low, dark, dark_low = (
                            found[0, k],
                            found[1, k],
                            max(found[0, k], found[2, k]),
                            found[3, k],
                            max(found[0, k], found[4, k]),
                        )
                        row = tile_row + k if along_columns[a] else u - window[0]
                        column = u - window[1] if along_columns[a] else tile_column + k
                        if hard > lowest[a]:
                            for lane in range(lost.shape[2]):
                                lost[row, column, lane] += opaque[a, hard, lane]
                        shut = 0.0
                        up, sideways = sky_up[hard], sky_sideways[hard]
                        if dark > dark_low:
                            if dark > lowest[a]:
                                add_rows(lost, row, column, foliage[1], a, dark, dark_low)
                                doubt[row, column] += (
                                    foliage[1, a, max(np.int64(wider[dark]), dark_low), 12]
                                    - foliage[1, a, max(np.int64(narrower[dark]), dark_low), 12]
                                )
                            shut = sky_stopped[2]
                            up += shut * (sky_up[dark] - sky_up[dark_low])
                            sideways += shut * (sky_sideways[dark] - sky_sideways[dark_low])
                        if leafy > leafy_low:
                            both_low, both_high = leafy_low, leafy_low
                            if dark > dark_low and min(leafy, dark) > max(leafy_low, dark_low):
                                both_low, both_high = max(leafy_low, dark_low), min(leafy, dark)
                            if leafy > lowest[a]:
                                add_rows(lost, row, column, foliage[0], a, leafy, leafy_low)
                                if both_high > both_low:
                                    add_rows(lost, row, column, foliage[0], a, both_low, both_high)
                                doubt[row, column] += (
                                    foliage[0, a, max(np.int64(wider[leafy]), leafy_low), 12]
                                    - foliage[0, a, max(np.int64(narrower[leafy]), leafy_low), 12]
                                )
                            shut = sky_stopped[1]
                            up += shut * (sky_up[leafy] - sky_up[leafy_low] - sky_up[both_high] + sky_up[both_low])
                            sideways += shut * (
                                sky_sideways[leafy]
                                - sky_sideways[leafy_low]
                                - sky_sideways[both_high]
                                + sky_sideways[both_low]
                            )
                        if sky_part[a, 0] > 0.0:
                            sky[row, column, 0] += np.float32(up * sky_part[a, 0])
                            sky[row, column, 1] += np.float32(sideways * sky_part[a, 1])
                            sky[row, column, 2] += np.float32(sideways * sky_part[a, 2])
