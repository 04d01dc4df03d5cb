"""What horizons cost each place: looked up in the sun's tables, direction by direction."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, ByteArray, Float32Array, FloatArray, IntArray, LongArray
from sitepipe.sunlight.prisms import Sight, add_piece
from sitepipe.sunlight.sweep import BLOCK, BinArray

SMOOTH = 24
"""Bins within which the horizons of two neighbouring lines are taken for one smooth ridge and averaged."""

TILE = 32
"""Cells along and across that are worked on together, so that their sums stay in fast memory."""

Light = tuple[LongArray, FloatArray, Float32Array, Float32Array, FloatArray, FloatArray, FloatArray, BinArray]
"""The sun's tables for some directions: bins up to which no sun is lost; width of the sector of sky that a direction
speaks for, and that times its direction east and north [rad]; what opaque things take, and what deciduous and evergreen
crowns do; the sky's light of ``tables.sky_lost`` upwards and sideways; the share of it that opaque things, deciduous
and evergreen crowns stop; and the bins of each edge if it were higher, or lower."""


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
def take_sun(
    lost: Float32Array,
    doubt: Float32Array,
    index: LongArray,
    a: int,
    hard: LongArray,
    bands: IntArray,
    counts: LongArray,
    light: Light,
) -> None:
    """Add what a direction takes from places; where two kinds of foliage stand in line, the evergreen decides.

    Parameters
    ----------
    lost : (cells, lanes) float32 array
    doubt : (cells,) float32 array
        Season hours by which the loss grows if crowns are higher, less if they are lower. [h/day]
    index : (places,) int array
        Which cell each place is.
    a : int
    hard, bands, counts
        As in ``add_piece``.
    light : Light
    """
    lowest, _, opaque, foliage, _, _, _, ends = light
    floor, lanes = lowest[a], np.uintp(lost.shape[1])
    for p in range(index.size):
        at, edge, count = np.uintp(index[p]), hard[p], counts[p]
        if edge > floor:
            for lane in range(lanes):
                lost[at, lane] += opaque[a, edge, lane]
        for k in range(count):
            kind, lower, upper = bands[p, k, 0], max(np.int64(bands[p, k, 1]), edge), np.int64(bands[p, k, 2])
            if upper <= lower or upper <= floor:
                continue
            for lane in range(lanes):
                lost[at, lane] += foliage[kind, a, upper, lane] - foliage[kind, a, lower, lane]
            higher, shorter = max(np.int64(ends[0, upper]), lower), max(np.int64(ends[1, upper]), lower)
            doubt[at] += foliage[kind, a, higher, 12] - foliage[kind, a, shorter, 12]
            for m in range(count if kind == 0 else 0):
                foot, head = max(lower, np.int64(bands[p, m, 1])), min(upper, np.int64(bands[p, m, 2]))
                if bands[p, m, 0] == 1 and head > foot:
                    for lane in range(lanes):
                        lost[at, lane] -= foliage[0, a, head, lane] - foliage[0, a, foot, lane]


@kernel
def take_sky(
    sky: Float32Array,
    index: LongArray,
    a: int,
    hard: LongArray,
    bands: IntArray,
    counts: LongArray,
    light: Light,
) -> None:
    """Add what a direction takes of its sector of the sky from places, as in ``take_sun``: (cells, 3)."""
    _, part, _, _, sky_up, sky_sideways, stopped, _ = light
    for p in range(index.size):
        up, sideways = sky_up[hard[p]], sky_sideways[hard[p]]
        for k in range(counts[p]):
            kind, lower, upper = bands[p, k, 0], max(np.int64(bands[p, k, 1]), hard[p]), np.int64(bands[p, k, 2])
            if upper <= lower:
                continue
            up += stopped[1 + kind] * (sky_up[upper] - sky_up[lower])
            sideways += stopped[1 + kind] * (sky_sideways[upper] - sky_sideways[lower])
            for m in range(counts[p] if kind == 0 else 0):
                foot, head = max(lower, np.int64(bands[p, m, 1])), min(upper, np.int64(bands[p, m, 2]))
                if bands[p, m, 0] == 1 and head > foot:
                    up -= stopped[1] * (sky_up[head] - sky_up[foot])
                    sideways -= stopped[1] * (sky_sideways[head] - sky_sideways[foot])
        sky[index[p], 0] += np.float32(up * part[a, 0])
        sky[index[p], 1] += np.float32(sideways * part[a, 1])
        sky[index[p], 2] += np.float32(sideways * part[a, 2])


Lines = tuple[BoolArray, BoolArray, FloatArray, LongArray, LongArray, LongArray, LongArray, LongArray]
"""How the lines of each direction run, which they are, and where their horizons and shaded blocks begin: along columns,
from the far end, drift, first line, first step, lines, offset, block offset."""


@kernel
def horizons_of_tile(
    hard: LongArray,
    first: tuple[int, int],
    shape: tuple[int, int],
    a: int,
    lines: Lines,
    horizons: BinArray,
    is_shaded: ByteArray,
) -> bool:
    """Write the ground's horizon of a tile's cells, from the first (row, column) of the heights; tell if there is any.

    Parameters
    ----------
    hard : (rows, columns) int array
        Of the tile; written in place.
    first : (row, column)
        Of its first cell.
    shape : (rows, columns)
        Of the heights.
    a : int
        The direction.
    lines : Lines
    horizons : (all steps and lines of all azimuths,) uint16 array
    is_shaded : (all steps and blocks of all azimuths,) uint8 array
    """
    along_columns, from_far_end, drift, first_line, first_step, width, offset, block_offset = lines
    axis = 1 if along_columns[a] else 0
    count = hard.shape[1 - axis]
    found = np.empty(count, dtype=np.int32)
    blocks = (width[a] + BLOCK - 1) // BLOCK
    is_any = False
    for k in range(hard.shape[axis]):
        u = first[axis] + k
        i = shape[axis] - 1 - u if from_far_end[a] else u
        place = first[1 - axis] - drift[a] * i - first_line[a]
        line, step = int(np.floor(place)), i - first_step[a]
        block = block_offset[a] + step * blocks
        if is_any_shaded(is_shaded, block + line // BLOCK, block + (line + count) // BLOCK):
            between_lines(horizons, offset[a] + step * width[a] + line, place - line, count, found)
            is_any = True
        else:
            found[:] = 0
        if axis == 1:
            hard[:, k] = found
        else:
            hard[k, :] = found
    return is_any


@kernel
def pieces_near(
    frame: FloatArray, a: int, way: tuple[float, float], place: tuple[float, float], reach: float, near: LongArray
) -> int:
    """Write which pieces an eye less than ``reach`` from a place may see in a direction; return how many."""
    across, along = place[0] * way[1] - place[1] * way[0], place[0] * way[0] + place[1] * way[1]
    count = 0
    for piece in range(frame.shape[1]):
        is_beside = across + reach <= frame[a, piece, 0] or across - reach >= frame[a, piece, 1]
        is_far = along - reach >= frame[a, piece, 3] or frame[a, piece, 2] - along - reach > frame[a, piece, 4]
        if not (is_beside or is_far):
            near[count] = piece
            count += 1
    return count


@kernel
def add_losses(
    lost: Float32Array,
    sky: Float32Array,
    doubt: Float32Array,
    first_row: int,
    last_row: int,
    width: int,
    first: int,
    corner: tuple[int, int],
    ground: FloatArray,
    cell: float,
    lines: Lines,
    horizons: BinArray,
    is_shaded: ByteArray,
    sight: Sight,
    light: Light,
) -> None:
    """Add to each cell what it loses to a group of directions.

    Parameters
    ----------
    lost : (window's cells, lanes) float32 array
        Added to in place, direction after direction, so that the sum does not depend on who computes which row.
    sky : (window's cells, 3) float32 array
        The sky's light lost, as a vector upwards, east, north. [1]
    doubt : (window's cells,) float32 array
        Season hours by which the loss grows if crowns are higher by the factor behind ``wider``, less lower. [h/day]
    first_row, last_row : int
        Rows of the window to do.
    width : int
        Columns of the window.
    first : int
        First direction of the group.
    corner : (row, column)
        First cell of the window in the heights.
    ground : (rows, columns) float array
        [m]
    cell : float
        [m]
    lines, horizons, is_shaded
        As in ``horizons_of_tile``.
    sight : Sight
    light : Light
    """
    ways, frame = sight[0], sight[1]
    tile = np.zeros((TILE, TILE), dtype=np.int64)
    every = np.zeros((3, TILE * TILE))
    places, hard, counts = (
        np.empty(TILE * TILE, np.int64),
        np.empty(TILE * TILE, np.int64),
        np.zeros(TILE * TILE, np.int64),
    )
    near = np.empty(frame.shape[1], dtype=np.int64)
    bands = np.empty((TILE * TILE, near.size + 1, 3), dtype=np.int32)
    for tile_row in range(first_row, last_row, TILE):
        for tile_column in range(0, width, TILE):
            rows, columns = min(TILE, last_row - tile_row), min(TILE, width - tile_column)
            row, column = corner[0] + tile_row, corner[1] + tile_column
            middle = (column + columns / 2.0) * cell, -(row + rows / 2.0) * cell
            reach = 0.5 * cell * np.sqrt(float(rows * rows + columns * columns))
            size = rows * columns
            index, x, y, eye = places[:size], every[0, :size], every[1, :size], every[2, :size]
            for p in range(size):
                i, j = p // columns, p % columns
                index[p] = (tile_row + i) * width + tile_column + j
                x[p], y[p] = (column + j + 0.5) * cell, -(row + i + 0.5) * cell
                eye[p] = ground[row + i, column + j]
            for k in range(lines[0].size):
                a = first + k
                is_any = horizons_of_tile(
                    tile[:rows, :columns], (row, column), ground.shape, k, lines, horizons, is_shaded
                )
                pieces = pieces_near(frame, a, (ways[a, 0], ways[a, 1]), middle, reach, near)
                if not is_any and pieces == 0:
                    continue
                for p in range(size):
                    hard[p] = tile[p // columns, p % columns]
                counts[:size] = 0
                for piece in near[:pieces]:
                    add_piece(sight, a, piece, x, y, eye, ground, cell, hard, bands, counts)
                take_sun(lost, doubt, index, a, hard, bands, counts, light)
                if light[1][a, 0] > 0.0:
                    take_sky(sky, index, a, hard, bands, counts, light)


@kernel
def lose_at(
    lost: Float32Array,
    x: FloatArray,
    y: FloatArray,
    eye: FloatArray,
    hard: LongArray,
    ground: FloatArray,
    cell: float,
    sight: Sight,
    light: Light,
) -> None:
    """Add to single places what they lose to all directions, whose ground's horizons (directions, places) are known."""
    doubt, index, counts = np.zeros(x.size, np.float32), np.arange(x.size), np.zeros(x.size, np.int64)
    bands = np.empty((x.size, sight[3].shape[0] + 1, 3), dtype=np.int32)
    for a in range(hard.shape[0]):
        counts[:] = 0
        edge = hard[a].copy()
        for piece in range(sight[3].shape[0]):
            add_piece(sight, a, piece, x, y, eye, ground, cell, edge, bands, counts)
        take_sun(lost, doubt, index, a, edge, bands, counts, light)


@kernel
def outlook(
    edges: LongArray, x: FloatArray, y: FloatArray, eye: FloatArray, ground: FloatArray, cell: float, sight: Sight
) -> None:
    """Write what single places see: (opaque edge, highest edge of crowns, lowest of them), directions, places.

    The first must hold the ground's horizons; no crown is 0 high, with its lowest edge at the zenith.
    """
    counts = np.zeros(x.size, np.int64)
    bands = np.empty((x.size, sight[3].shape[0] + 1, 3), dtype=np.int32)
    for a in range(edges.shape[1]):
        counts[:] = 0
        for piece in range(sight[3].shape[0]):
            add_piece(sight, a, piece, x, y, eye, ground, cell, edges[0, a], bands, counts)
        for p in range(x.size):
            for k in range(counts[p]):
                edges[1, a, p] = max(edges[1, a, p], np.int64(bands[p, k, 2]))
                edges[2, a, p] = min(edges[2, a, p], np.int64(bands[p, k, 1]))
