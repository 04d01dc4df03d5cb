"""Every place and direction of a rectangle on the ground, by summed-area tables on a turned lattice."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, LongArray

SOFT = 5
"""Layers that are averaged: dry, shoulder sun, midwinter sun, trees, shelter."""
HEIGHT, BANNED, SOLID = SOFT, SOFT + 1, SOFT + 2
HEIGHT_ALONG, HEIGHT_ACROSS = SOFT + 3, SOFT + 4
TABLES = SOFT + 5

BEST_SCORE, BEST_DIRECTION, BEST_X, BEST_Y = 0, 1, 2, 3


@kernel
def turned_sums(
    layers: FloatArray,
    cell: float,
    middle: FloatArray,
    bearing: float,
    step: float,
    along: int,
    across: int,
    space: FloatArray,
) -> FloatArray:
    """Summed-area tables of the layers on a lattice turned to a bearing.

    A lattice point takes the value of the cell that it lies in; beyond the cells it counts as banned, and nothing else.
    The height is also summed times its place along and across, so that a box has its plane at once.

    Parameters
    ----------
    layers : (rows, columns, SOFT + 3) float array
        The soft layers, then heights [m], banned and solid as 0 or 1.
    cell : float
        [m]
    middle : (2,) float array
        Middle of the lattice, east and south of the outer north-west corner. [m]
    bearing : float
        Of the lattice's long side, clockwise from north. [deg]
    step : float
        Between lattice points. [m]
    along, across : int
        Lattice points each way.
    space : (n,) float array
        Room for the tables, written over; where it is too small, new room is taken.

    Returns
    -------
    (along + 1, across + 1, TABLES) float array
        Entry (i, j) is the sum over lattice points before i and j; tables lie side by side, since a box asks them all.

    References
    ----------
    Crow (1984), Summed-area tables for texture mapping, SIGGRAPH 18(3), 207-212, doi:10.1145/800031.808600.
    """
    rows, columns, _ = layers.shape
    size = (along + 1) * (across + 1) * TABLES
    room = space if space.size >= size else np.empty(size)
    tables = room[:size].reshape((along + 1, across + 1, TABLES))
    tables[0] = 0.0
    tables[:, 0] = 0.0
    sine, cosine = np.sin(np.radians(bearing)), np.cos(np.radians(bearing))
    running = np.empty(TABLES)
    for i in range(along):
        forward = (i - (along - 1) / 2.0) * step
        running[:] = 0.0
        for j in range(across):
            sideways = (j - (across - 1) / 2.0) * step
            column = int(np.floor((middle[0] + forward * sine + sideways * cosine) / cell))
            row = int(np.floor((middle[1] - forward * cosine + sideways * sine) / cell))
            if 0 <= row < rows and 0 <= column < columns:
                for layer in range(SOFT + 3):
                    running[layer] += layers[row, column, layer]
                height = layers[row, column, HEIGHT]
                running[HEIGHT_ALONG] += height * i
                running[HEIGHT_ACROSS] += height * j
            else:
                running[BANNED] += 1.0
            for layer in range(TABLES):
                tables[i + 1, j + 1, layer] = tables[i, j + 1, layer] + running[layer]
    return tables


@kernel
def box_sum(tables: FloatArray, layer: int, i: int, j: int, along: int, across: int) -> float:
    """Sum of a layer over the lattice points [i, i + along) x [j, j + across), cut at the lattice's edge."""
    i_end, j_end = min(i + along, tables.shape[0] - 1), min(j + across, tables.shape[1] - 1)
    i, j = max(i, 0), max(j, 0)
    return float(tables[i_end, j_end, layer] - tables[i, j_end, layer] - tables[i_end, j, layer] + tables[i, j, layer])


@kernel
def box_grade(tables: FloatArray, i: int, j: int, along: int, across: int, step: float) -> float:
    """Rise per run of the plane through the heights in a box, by least squares. [1]."""
    count = float(along * across)
    total = box_sum(tables, HEIGHT, i, j, along, across)
    by_along = box_sum(tables, HEIGHT_ALONG, i, j, along, across) - total * (i + (along - 1) / 2.0)
    by_across = box_sum(tables, HEIGHT_ACROSS, i, j, along, across) - total * (j + (across - 1) / 2.0)
    spread_along = count * (along * along - 1.0) / 12.0
    spread_across = count * (across * across - 1.0) / 12.0
    up_along = by_along / spread_along / step if spread_along > 0.0 else 0.0
    up_across = by_across / spread_across / step if spread_across > 0.0 else 0.0
    return float(np.hypot(up_along, up_across))


@kernel
def room_score(tables: FloatArray, i: int, j: int, along: int, across: int, rooms: LongArray) -> float:
    """0 where something solid stands within the least room, 1 where nothing does within the better room. [1].

    ``rooms`` are three margins in lattice steps, least first; between them the score is a half and three quarters.
    """
    scores = (1.0, 0.75, 0.5)
    for k in range(3):
        room = rooms[2 - k]
        if box_sum(tables, SOLID, i - room, j - room, along + 2 * room, across + 2 * room) < 0.5:
            return scores[k]
    return 0.0


@kernel
def try_every_place(
    tables: FloatArray,
    access: FloatArray,
    cell: float,
    middle: FloatArray,
    bearing: float,
    step: float,
    box: LongArray,
    rooms: LongArray,
    weights: LongArray,
    steepest: float,
    direction: FloatArray,
    bin_side: float,
    best: FloatArray,
    hoped: FloatArray,
) -> None:
    """Score every place of one box in one direction and keep the best of each bin.

    The score is the product of the criteria, each to its whole-number weight; the root is left to the reader.

    Parameters
    ----------
    tables : from ``turned_sums``
    access : (rows, columns) float array
        Membership of the cell below the middle. [1]
    box, rooms : (2,), (3,) int array
        Lattice points along and across; margins.
    weights : (9,) int array
        Of the five soft layers, level, access, room, direction.
    steepest : float
        Grade at which a place is no good; level counts from a fifth of it. [1]
    direction : (2,) float array
        Membership of this direction, and its number.
    bin_side : float
        [m]
    best, hoped : (bin rows, bin columns, 4) float array, changed in place
        Score, direction number, and the middle, east and south of the north-west corner [m]: of places that are
        allowed, and of places that sun, access and direction alone would choose. The first of equals stays.
    """
    along, across = tables.shape[0] - 1, tables.shape[1] - 1
    rows, columns = access.shape
    sine, cosine = np.sin(np.radians(bearing)), np.cos(np.radians(bearing))
    count = float(box[0] * box[1])
    for i in range(along - box[0] + 1):
        forward = (i + (box[0] - 1) / 2.0 - (along - 1) / 2.0) * step
        for j in range(across - box[1] + 1):
            sideways = (j + (box[1] - 1) / 2.0 - (across - 1) / 2.0) * step
            east = middle[0] + forward * sine + sideways * cosine
            south = middle[1] - forward * cosine + sideways * sine
            column, row = int(np.floor(east / cell)), int(np.floor(south / cell))
            if row < 0 or row >= rows or column < 0 or column >= columns or access[row, column] <= 0.0:
                continue
            bin_row, bin_column = int(south / bin_side), int(east / bin_side)
            hope = direction[0] ** weights[8] * access[row, column] ** weights[6]
            for layer in range(1, 3):
                hope *= (box_sum(tables, layer, i, j, box[0], box[1]) / count) ** weights[layer]
            if hope > hoped[bin_row, bin_column, 0]:
                _keep(hoped[bin_row, bin_column], hope, direction[1], east, south)
            if hope <= best[bin_row, bin_column, 0] or box_sum(tables, BANNED, i, j, box[0], box[1]) > 0.5:
                continue
            score = hope
            for layer in (0, 3, 4):
                score *= (box_sum(tables, layer, i, j, box[0], box[1]) / count) ** weights[layer]
            grade = box_grade(tables, i, j, box[0], box[1], step)
            score *= level_score(grade, steepest) ** weights[5]
            if score <= best[bin_row, bin_column, 0]:
                continue
            score *= room_score(tables, i, j, box[0], box[1], rooms) ** weights[7]
            if score > best[bin_row, bin_column, 0]:
                _keep(best[bin_row, bin_column], score, direction[1], east, south)


@kernel
def level_score(grade: float, steepest: float) -> float:
    """1 up to a fifth of the steepest grade, 0 at it. [1]."""
    return min(max((steepest - grade) / (0.8 * steepest), 0.0), 1.0)


@kernel
def _keep(entry: FloatArray, score: float, number: float, east: float, south: float) -> None:
    entry[0], entry[1], entry[2], entry[3] = score, number, east, south
