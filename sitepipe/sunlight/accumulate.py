"""What horizons cost each place: looked up in the sun's tables, direction by direction."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, ByteArray, Float32Array, FloatArray, IntArray, LongArray
from sitepipe.sunlight.prisms import Sight, band_of
from sitepipe.sunlight.sweep import BLOCK, BinArray

SMOOTH = 24
"""Bins within which the horizons of two neighbouring lines are taken for one smooth ridge and averaged."""

TILE = 32
"""Cells along and across that are worked on together, so that their sums stay in fast memory."""

Light = tuple[LongArray, FloatArray, Float32Array, Float32Array, FloatArray, FloatArray, FloatArray, BinArray, BinArray]
"""The sun's tables for some directions: bins up to which no sun is lost; width of the sector of sky that a direction
speaks for, and that times its direction east and north [rad]; what opaque things take, and what deciduous and evergreen
crowns do; the sky's light of ``tables.sky_lost`` upwards and sideways; the share of it that opaque things, deciduous
and evergreen crowns stop; and the bin of each edge if it were higher, or lower."""


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
def join(bands: LongArray, count: int, kind: int, lower: int, upper: int) -> int:
    """Lay a band of bins to those of its kind, made one with all that it touches; return how many there are then."""
    k = 0
    while k < count:
        if bands[k, 0] == kind and bands[k, 1] <= upper and lower <= bands[k, 2]:
            lower, upper = min(lower, bands[k, 1]), max(upper, bands[k, 2])
            count -= 1
            bands[k] = bands[count]
            k = 0
        else:
            k += 1
    bands[count, 0], bands[count, 1], bands[count, 2] = kind, lower, upper
    return count + 1


@kernel
def look(
    sight: Sight,
    a: int,
    near: LongArray,
    x: float,
    y: float,
    eye: float,
    ground: FloatArray,
    cell: float,
    hard: int,
    bands: LongArray,
) -> tuple[int, int]:
    """Return the opaque edge in a direction and how many ``bands`` of foliage there are: (kind, lower, upper)."""
    count = 0
    for piece in near:
        lower, upper = band_of(sight, a, piece, x, y, eye, ground, cell)
        kind = sight[6][piece]
        if kind < 0:
            hard = max(hard, upper)
        elif upper > lower:
            count = join(bands, count, kind, lower, upper)
    return hard, count


@kernel
def take_sun(lost: Float32Array, a: int, hard: int, bands: LongArray, count: int, light: Light) -> float:
    """Add what a direction takes; where two kinds of foliage stand in line, the evergreen decides.

    Return the season's hours by which it would grow with crowns as high as ``wider`` says, less as ``narrower``.
    """
    lowest, _, opaque, foliage, _, _, _, wider, narrower = light
    doubt = 0.0
    if hard > lowest[a]:
        for lane in range(lost.size):
            lost[lane] += opaque[a, hard, lane]
    for k in range(count):
        kind, lower, upper = bands[k, 0], max(bands[k, 1], hard), bands[k, 2]
        if upper <= lower or upper <= lowest[a]:
            continue
        for lane in range(lost.size):
            lost[lane] += foliage[kind, a, upper, lane] - foliage[kind, a, lower, lane]
        higher, shorter = max(np.int64(wider[upper]), lower), max(np.int64(narrower[upper]), lower)
        doubt += foliage[kind, a, higher, 12] - foliage[kind, a, shorter, 12]
        for m in range(count if kind == 0 else 0):
            foot, head = max(lower, bands[m, 1]), min(upper, bands[m, 2])
            if bands[m, 0] == 1 and head > foot:
                for lane in range(lost.size):
                    lost[lane] -= foliage[0, a, head, lane] - foliage[0, a, foot, lane]
    return doubt


@kernel
def take_sky(sky: Float32Array, a: int, hard: int, bands: LongArray, count: int, light: Light) -> None:
    """Add what a direction takes of its sector of the sky."""
    _, part, _, _, sky_up, sky_sideways, stopped, _, _ = light
    up, sideways = sky_up[hard], sky_sideways[hard]
    for k in range(count):
        kind, lower, upper = bands[k, 0], max(bands[k, 1], hard), bands[k, 2]
        if upper <= lower:
            continue
        up += stopped[1 + kind] * (sky_up[upper] - sky_up[lower])
        sideways += stopped[1 + kind] * (sky_sideways[upper] - sky_sideways[lower])
        for m in range(count if kind == 0 else 0):
            foot, head = max(lower, bands[m, 1]), min(upper, bands[m, 2])
            if bands[m, 0] == 1 and head > foot:
                up -= stopped[1] * (sky_up[head] - sky_up[foot])
                sideways -= stopped[1] * (sky_sideways[head] - sky_sideways[foot])
    sky[0] += np.float32(up * part[a, 0])
    sky[1] += np.float32(sideways * part[a, 1])
    sky[2] += np.float32(sideways * part[a, 2])


Lines = tuple[BoolArray, BoolArray, FloatArray, LongArray, LongArray, LongArray, LongArray, LongArray]
"""How the lines of each direction run, which they are, and where their horizons and shaded blocks begin: along columns,
from the far end, drift, first line, first step, lines, offset, block offset."""


@kernel
def horizons_of_tile(
    hard: IntArray,
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
def pieces_near(sight: Sight, a: int, x: float, y: float, reach: float, near: LongArray) -> int:
    """Write which pieces an eye less than ``reach`` from a place may see in a direction; return how many."""
    way, frame = sight[0], sight[1]
    across, along = x * way[a, 1] - y * way[a, 0], x * way[a, 0] + y * way[a, 1]
    count = 0
    for piece in range(frame.shape[1]):
        edge = frame[a, piece]
        is_beside = across + reach <= edge[0] or across - reach >= edge[1]
        if not (is_beside or along - reach >= edge[3] or edge[2] - along - reach > edge[4]):
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
    lost : (window rows, window columns, lanes) float32 array
        Added to in place, direction after direction, so that the sum does not depend on who computes which row.
    sky : (window rows, window columns, 3) float32 array
        The sky's light lost, as a vector upwards, east, north. [1]
    doubt : (window rows, window columns) float32 array
        Season hours by which the loss grows if crowns are higher by the factor behind ``wider``, less lower. [h/day]
    first_row, last_row : int
        Rows of the window to do.
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
    hard = np.zeros((TILE, TILE), dtype=np.int32)
    near = np.empty(sight[1].shape[1], dtype=np.int64)
    bands = np.empty((near.size + 1, 3), dtype=np.int64)
    for tile_row in range(first_row, last_row, TILE):
        for tile_column in range(0, lost.shape[1], TILE):
            rows, columns = min(TILE, last_row - tile_row), min(TILE, lost.shape[1] - tile_column)
            row, column = corner[0] + tile_row, corner[1] + tile_column
            middle = (column + columns / 2.0) * cell, -(row + rows / 2.0) * cell
            reach = 0.5 * cell * np.sqrt(float(rows * rows + columns * columns))
            for k in range(lines[0].size):
                is_any = horizons_of_tile(
                    hard[:rows, :columns], (row, column), ground.shape, k, lines, horizons, is_shaded
                )
                a = first + k
                count = pieces_near(sight, a, middle[0], middle[1], reach, near)
                if not is_any and count == 0:
                    continue
                for i in range(rows):
                    for j in range(columns):
                        edge, n = int(hard[i, j]), 0
                        if count > 0:
                            x, y = (column + j + 0.5) * cell, -(row + i + 0.5) * cell
                            eye = ground[row + i, column + j]
                            edge, n = look(sight, a, near[:count], x, y, eye, ground, cell, edge, bands)
                        if edge > 0 or n > 0:
                            r, c = tile_row + i, tile_column + j
                            doubt[r, c] += take_sun(lost[r, c], a, edge, bands, n, light)
                            if light[1][a, 0] > 0.0:
                                take_sky(sky[r, c], a, edge, bands, n, light)


@kernel
def lose_at(
    lost: Float32Array,
    x: FloatArray,
    y: FloatArray,
    eye: FloatArray,
    hard: IntArray,
    ground: FloatArray,
    cell: float,
    sight: Sight,
    light: Light,
) -> None:
    """Add to single places what they lose to all directions, whose ground's horizons (places, directions) are known."""
    every = np.arange(sight[1].shape[1])
    bands = np.empty((every.size + 1, 3), dtype=np.int64)
    for p in range(x.size):
        for a in range(hard.shape[1]):
            edge, n = look(sight, a, every, x[p], y[p], eye[p], ground, cell, int(hard[p, a]), bands)
            take_sun(lost[p], a, edge, bands, n, light)


@kernel
def outlook(
    edges: LongArray, x: FloatArray, y: FloatArray, eye: FloatArray, ground: FloatArray, cell: float, sight: Sight
) -> None:
    """Write what single places see: (opaque edge, highest edge of crowns, lowest of them), places, directions.

    The first must hold the ground's horizons; no crown is 0 high, with its lowest edge at the zenith.
    """
    every = np.arange(sight[1].shape[1])
    bands = np.empty((every.size + 1, 3), dtype=np.int64)
    for p in range(x.size):
        for a in range(edges.shape[2]):
            edges[0, p, a], n = look(sight, a, every, x[p], y[p], eye[p], ground, cell, edges[0, p, a], bands)
            for k in range(n):
                edges[1, p, a] = max(edges[1, p, a], bands[k, 2])
                edges[2, p, a] = min(edges[2, p, a], bands[k, 1])
