"""Every place and direction of a rectangle on the ground, by summed-area tables on a turned lattice."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, LongArray

HEIGHT, BANNED, SOLID, SOFT = 0, 1, 2, 3
"""Layers: heights, what is banned, what is solid, and from the last on those that are averaged."""


class Lattice(NamedTuple):
    """Points ``step`` apart [m], turned to a bearing [deg], over cells [m].

    ``east`` and ``south`` are its middle from the outer north-west corner of the cells. [m]
    """

    cell: float
    east: float
    south: float
    bearing: float
    step: float


class Wishes(NamedTuple):
    """What a place is judged by.

    Parameters
    ----------
    weights : (soft layers,) int array
        Whole powers of each averaged layer.
    least : (soft layers,) float array
        Means below which a place is no good. [1]
    is_hoped : (soft layers,) bool array
        What one would choose by before knowing the ground.
    level, room : int
        Powers of the level score and the room score.
    steepest : float
        Grade at which a place is no good; level counts from a fifth of it. [1]
    """

    weights: LongArray
    least: FloatArray
    is_hoped: BoolArray
    level: int
    room: int
    steepest: float


@kernel
def turned_sums(layers: FloatArray, lattice: Lattice, along: int, across: int, space: FloatArray) -> FloatArray:
    """Summed-area tables of the layers on a lattice turned to a bearing.

    A lattice point takes the value of the cell that it lies in; beyond the cells it counts as banned, and nothing else.
    The height is also summed times its place along and across, so that a box has its plane at once.

    Parameters
    ----------
    layers : (rows, columns, SOFT + n) float array
        Heights [m], banned and solid as 0 or 1, then n layers to be averaged.
    lattice : Lattice
    along, across : int
        Lattice points each way.
    space : (n,) float array
        Room for the tables, written over; where it is too small, new room is taken.

    Returns
    -------
    (along + 1, across + 1, SOFT + n + 2) float array
        Entry (i, j) is the sum over lattice points before i and j; tables lie side by side, since a box asks them all.
        The last two are heights times their place along and across.

    References
    ----------
    Crow (1984), Summed-area tables for texture mapping, SIGGRAPH 18(3), 207-212, doi:10.1145/800031.808600.
    """
    rows, columns, count = layers.shape
    cell, step = lattice.cell, lattice.step
    size = (along + 1) * (across + 1) * (count + 2)
    room = space if space.size >= size else np.empty(size)
    tables = room[:size].reshape((along + 1, across + 1, count + 2))
    tables[0] = 0.0
    tables[:, 0] = 0.0
    sine, cosine = np.sin(np.radians(lattice.bearing)), np.cos(np.radians(lattice.bearing))
    running = np.empty(count + 2)
    for i in range(along):
        forward = (i - (along - 1) / 2.0) * step
        running[:] = 0.0
        for j in range(across):
            sideways = (j - (across - 1) / 2.0) * step
            column = int(np.floor((lattice.east + forward * sine + sideways * cosine) / cell))
            row = int(np.floor((lattice.south - forward * cosine + sideways * sine) / cell))
            if 0 <= row < rows and 0 <= column < columns:
                for layer in range(count):
                    running[layer] += layers[row, column, layer]
                height = layers[row, column, HEIGHT]
                running[count] += height * i
                running[count + 1] += height * j
            else:
                running[BANNED] += 1.0
            for layer in range(count + 2):
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
    last = tables.shape[2] - 1
    by_along = box_sum(tables, last - 1, i, j, along, across) - total * (i + (along - 1) / 2.0)
    by_across = box_sum(tables, last, i, j, along, across) - total * (j + (across - 1) / 2.0)
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
    lattice: Lattice,
    box: LongArray,
    rooms: LongArray,
    wishes: Wishes,
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
        What the way to the cell below the middle multiplies by; 0 where no middle may lie. [1]
    box, rooms : (2,), (3,) int array
        Lattice points along and across; margins.
    direction : (2,) float array
        What this direction multiplies by, and its number.
    bin_side : float
        [m]
    best, hoped : (bin rows, bin columns, 4) float array, changed in place
        Score, direction number, and the middle, east and south of the north-west corner [m]: of places that are
        allowed, and of places that one would choose before knowing the ground. The first of equals stays.
    """
    along, across = tables.shape[0] - 1, tables.shape[1] - 1
    rows, columns = access.shape
    sine, cosine = np.sin(np.radians(lattice.bearing)), np.cos(np.radians(lattice.bearing))
    count = float(box[0] * box[1])
    for i in range(along - box[0] + 1):
        forward = (i + (box[0] - 1) / 2.0 - (along - 1) / 2.0) * lattice.step
        for j in range(across - box[1] + 1):
            sideways = (j + (box[1] - 1) / 2.0 - (across - 1) / 2.0) * lattice.step
            east = lattice.east + forward * sine + sideways * cosine
            south = lattice.south - forward * cosine + sideways * sine
            column, row = int(np.floor(east / lattice.cell)), int(np.floor(south / lattice.cell))
            if row < 0 or row >= rows or column < 0 or column >= columns or access[row, column] <= 0.0:
                continue
            bin_row, bin_column = int(south / bin_side), int(east / bin_side)
            hope = direction[0] * access[row, column]
            for soft in range(wishes.weights.size):
                if wishes.is_hoped[soft]:
                    hope *= (box_sum(tables, SOFT + soft, i, j, box[0], box[1]) / count) ** wishes.weights[soft]
            if hope > hoped[bin_row, bin_column, 0]:
                _keep(hoped[bin_row, bin_column], hope, direction[1], east, south)
            if hope <= best[bin_row, bin_column, 0] or box_sum(tables, BANNED, i, j, box[0], box[1]) > 0.5:
                continue
            score = hope * _ground_score(tables, i, j, box, wishes, lattice.step)
            if score <= best[bin_row, bin_column, 0]:
                continue
            score *= room_score(tables, i, j, box[0], box[1], rooms) ** wishes.room
            if score > best[bin_row, bin_column, 0]:
                _keep(best[bin_row, bin_column], score, direction[1], east, south)


@kernel
def _ground_score(tables: FloatArray, i: int, j: int, box: LongArray, wishes: Wishes, step: float) -> float:
    """Product of what the ground adds to what one would choose by; 0 where any mean is less than the least. [1]."""
    score = level_score(box_grade(tables, i, j, box[0], box[1], step), wishes.steepest) ** wishes.level
    for soft in range(wishes.weights.size):
        mean = box_sum(tables, SOFT + soft, i, j, box[0], box[1]) / float(box[0] * box[1])
        if mean < wishes.least[soft]:
            return 0.0
        if not wishes.is_hoped[soft]:
            score *= mean ** wishes.weights[soft]
    return float(score)


@kernel
def level_score(grade: float, steepest: float) -> float:
    """1 up to a fifth of the steepest grade, 0 at it. [1]."""
    return min(max((steepest - grade) / (0.8 * steepest), 0.0), 1.0)


@kernel
def _keep(entry: FloatArray, score: float, number: float, east: float, south: float) -> None:
    entry[0], entry[1], entry[2], entry[3] = score, number, east, south
