"""What horizons cost each cell: looked up in the sun's tables, azimuth by azimuth."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, ByteArray, Float32Array, FloatArray, IntArray, LongArray
from sitepipe.sunlight.sweep import BLOCK, BinArray

SMOOTH = 24
"""Bins within which the horizons of two neighbouring lines are taken for one smooth ridge and averaged."""

TILE = 32
"""Cells along and across that are worked on together, so that their sums stay in fast memory."""


@kernel
def between_lines(edges: BinArray, line: int, share: float, count: int, found: IntArray) -> None:
    """Find the horizon bins of cells that lie between two lines.

    Where both lines see much the same it is interpolated; where one sees an edge that the other does not, the nearer
    line speaks, and the other is heard as if it differed by ``SMOOTH``. More horizon on a line is never less between.

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
    part = np.float32(share)
    for k in range(np.uintp(count)):
        at = np.uintp(k) + np.uintp(line)
        first, second = np.int32(edges[at]), np.int32(edges[at + np.uintp(1)])
        difference = np.float32(max(-SMOOTH, min(SMOOTH, int(second) - int(first))))
        if is_nearer_next:
            found[k] = second - np.int32(difference * (np.float32(1.0) - part) + np.float32(4096.5)) + np.int32(4096)
        else:
            found[k] = first + np.int32(difference * part + np.float32(4096.5)) - np.int32(4096)


@kernel
def is_any_shaded(is_shaded: ByteArray, first: int, last: int) -> bool:
    """Tell whether any block of lines from the first to the last sees an edge."""
    shaded = 0
    for block in range(np.uintp(first), np.uintp(last + 1)):
        shaded |= is_shaded[block]
    return shaded != 0


@kernel
def add_opaque(
    lost: Float32Array, cells: tuple[int, int, int, int, int], a: int, found: IntArray, lowest: int, table: Float32Array
) -> None:
    """Add what opaque things take to a run of cells: (row, column, row step, column step, count)."""
    row, column, row_step, column_step, count = cells
    for k in range(np.uintp(count)):
        hard = found[np.uintp(0), k]
        if hard > lowest:
            i, j = np.uintp(row + k * row_step), np.uintp(column + k * column_step)
            for lane in range(np.uintp(lost.shape[2])):
                lost[i, j, lane] += table[a, hard, lane]


@kernel
def overlap(found: IntArray, k: int) -> tuple[int, int]:
    """Return the edges (lower, upper) between which evergreen crowns stand in line with deciduous ones."""
    hard = found[0, k]
    lower = max(hard, found[2, k], found[4, k])
    return lower, max(lower, min(found[1, k], found[3, k]))


@kernel
def add_crowns(
    lost: Float32Array,
    doubt: Float32Array,
    cells: tuple[int, int, int, int, int],
    kind: int,
    a: int,
    found: IntArray,
    lowest: int,
    table: Float32Array,
    wider: BinArray,
    narrower: BinArray,
) -> None:
    """Add what crowns take to a run of cells; where both kinds stand in line, the evergreen decides."""
    row, column, row_step, column_step, count = cells
    for k in range(count):
        upper, lower = np.int64(found[1 + 2 * kind, k]), np.int64(max(found[0, k], found[2 + 2 * kind, k]))
        if upper <= lower or upper <= lowest:
            continue
        i, j = np.uintp(row + k * row_step), np.uintp(column + k * column_step)
        for lane in range(np.uintp(lost.shape[2])):
            lost[i, j, lane] += table[kind, a, upper, lane] - table[kind, a, lower, lane]
        if kind == 0:
            both_lower, both_upper = overlap(found, k)
            if both_upper > both_lower:
                for lane in range(np.uintp(lost.shape[2])):
                    lost[i, j, lane] -= table[kind, a, both_upper, lane] - table[kind, a, both_lower, lane]
        higher, shorter = max(np.int64(wider[upper]), lower), max(np.int64(narrower[upper]), lower)
        doubt[i, j] += table[kind, a, higher, 12] - table[kind, a, shorter, 12]


@kernel
def add_sky(
    sky: Float32Array,
    cells: tuple[int, int, int, int, int],
    part: FloatArray,
    found: IntArray,
    sky_up: FloatArray,
    sky_sideways: FloatArray,
    stopped: FloatArray,
) -> None:
    """Add what a run of cells loses of a sector of the sky."""
    row, column, row_step, column_step, count = cells
    for k in range(count):
        hard = found[0, k]
        up, sideways = sky_up[hard], sky_sideways[hard]
        for kind in range(2):
            upper, lower = found[1 + 2 * kind, k], max(hard, found[2 + 2 * kind, k])
            if upper > lower:
                up += stopped[1 + kind] * (sky_up[upper] - sky_up[lower])
                sideways += stopped[1 + kind] * (sky_sideways[upper] - sky_sideways[lower])
        both_lower, both_upper = overlap(found, k)
        if both_upper > both_lower:
            up -= stopped[1] * (sky_up[both_upper] - sky_up[both_lower])
            sideways -= stopped[1] * (sky_sideways[both_upper] - sky_sideways[both_lower])
        i, j = row + k * row_step, column + k * column_step
        sky[i, j, 0] += np.float32(up * part[0])
        sky[i, j, 1] += np.float32(sideways * part[1])
        sky[i, j, 2] += np.float32(sideways * part[2])


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
    found = np.zeros((5, TILE), dtype=np.int32)
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
                    line, step = int(np.floor(place)), i - first_step[a]
                    block = block_offset[a] + step * blocks
                    if not is_any_shaded(is_shaded, block + line // BLOCK, block + (line + count) // BLOCK):
                        continue
                    for layer in range(5):
                        if has_layer[layer]:
                            at = offset[a] + step * lines[a] + line
                            between_lines(horizons[layer], at, place - line, count, found[layer])
                    if along_columns[a]:
                        cells = tile_row, u - window[1], 1, 0, count
                    else:
                        cells = u - window[0], tile_column, 0, 1, count
                    add_opaque(lost, cells, a, found, lowest[a], opaque)
                    for kind in range(2):
                        if has_layer[1 + 2 * kind]:
                            add_crowns(lost, doubt, cells, kind, a, found, lowest[a], foliage, wider, narrower)
                    if sky_part[a, 0] > 0.0:
                        add_sky(sky, cells, sky_part[a], found, sky_up, sky_sideways, sky_stopped)
