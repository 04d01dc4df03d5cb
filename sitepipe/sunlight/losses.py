"""All azimuths over all cells of a window, on as many threads as there are, with the same bytes for any number."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from itertools import pairwise

import numpy as np

from sitepipe.arrays import ByteArray, Float32Array, FloatArray, LongArray, frozen
from sitepipe.sunlight.accumulate import Light, Lines, add_losses
from sitepipe.sunlight.prisms import Prisms, Sight
from sitepipe.sunlight.sweep import BLOCK, Bearing, BinArray, bearing, sweep_opaque
from sitepipe.sunlight.tables import BINS, LANES, SunTables, sky_lost

MOST_THREADS = 8
GROUP_BYTES = 24_000_000
"""Horizons held at once. [bytes]"""

DOUBT = 0.15
"""By how much the heights of crowns are doubted. [1]  Source: section 5 of the page's design."""


@dataclass(frozen=True, slots=True)
class Window:
    """Rows and columns of the heights for which an answer is wanted; everything around still casts shade."""

    rows: slice
    columns: slice

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.rows.stop - self.rows.start, self.columns.stop - self.columns.start


@dataclass(frozen=True, slots=True)
class Losses:
    """What every cell of a window loses, in the lanes of the tables; of the sky; and by how much that is in doubt."""

    lost: Float32Array
    sky: Float32Array
    doubt: Float32Array


@dataclass(frozen=True, slots=True)
class AzimuthLines:
    """Lines of one azimuth: which of them, which steps of them, and where their horizons are kept."""

    bearing: Bearing
    first_line: int
    lines: int
    first_step: int
    steps: int
    offset: int
    block_offset: int

    @property
    def end(self) -> int:
        """Where the horizons of the next azimuth begin."""
        return self.offset + self.lines * self.steps

    @property
    def blocks(self) -> int:
        """Blocks of lines in a step."""
        return (self.lines + BLOCK - 1) // BLOCK

    @property
    def block_end(self) -> int:
        """Where the shaded blocks of the next azimuth begin."""
        return self.block_offset + self.blocks * self.steps


def losses(
    ground: FloatArray, raised: Float32Array, prisms: Prisms, cell: float, window: Window, tables: SunTables
) -> Losses:
    """Return what obstacles and ground take from every cell of a window.

    Parameters
    ----------
    ground : (rows, columns) float array
        Known everywhere. [m]
    raised : (rows, columns) float32 array
        Height above the ground of the opaque thing there; where there is none, minus the rise of ground that is not
        believed. [m]
    prisms : Prisms
        What is drawn or planned.
    cell : float
        [m]
    window : Window
    tables : SunTables
    """
    cells = window.shape[0] * window.shape[1]
    lost, sky = np.zeros((cells, LANES), dtype=np.float32), np.zeros((cells, 3), dtype=np.float32)
    doubt = np.zeros(cells, dtype=np.float32)
    views = _views(ground, raised)
    light = light_of(tables)
    sight = sight_of(prisms, ground, tables)
    threads = min(cores(), MOST_THREADS)
    cuts = [int(cut) for cut in np.linspace(0, window.shape[0], 4 * threads + 1)]
    groups = list(_groups(ground.shape, window, tables.azimuth))
    horizons = np.zeros(max(group[-1].end for _, group in groups), dtype=np.uint16)
    floors = np.where(tables.sky_width > 0.0, 0, tables.lowest)
    with ThreadPoolExecutor(threads) as pool:
        for first, group in groups:
            is_shaded = np.zeros(group[-1].block_end, dtype=np.uint8)
            _run(
                pool,
                [
                    partial(_sweep, views, lines, cell, int(floors[first + k]), horizons, is_shaded)
                    for k, lines in enumerate(group)
                ],
            )
            corner = window.rows.start, window.columns.start
            shared = window.shape[1], first, corner, ground, cell, _columns(group), horizons, is_shaded, sight, light
            _run(pool, [partial(add_losses, lost, sky, doubt, low, high, *shared) for low, high in pairwise(cuts)])
    shape = window.shape
    return Losses(lost.reshape(*shape, LANES), sky.reshape(*shape, 3), doubt.reshape(shape))


def light_of(tables: SunTables) -> Light:
    """Return the tables as the kernels take them."""
    turn = np.radians(tables.azimuth)
    sky_part = tables.sky_width[:, None] * np.stack([np.ones_like(turn), np.sin(turn), np.cos(turn)], axis=1)
    return (
        tables.lowest,
        sky_part,
        tables.opaque,
        tables.foliage,
        *sky_lost(),
        tables.sky_stopped,
        np.stack([_rescaled(1.0 + DOUBT), _rescaled(1.0 - DOUBT)]),
    )


def sight_of(prisms: Prisms, ground: FloatArray, tables: SunTables) -> Sight:
    """Return the pieces of prisms as they lie across the directions of the tables."""
    floors = np.where(tables.sky_width > 0.0, 0.0, _tangents(tables.lowest))
    return prisms.toward(tables.azimuth, floors, float(np.ptp(ground)))


def cores() -> int:
    """Return how many cores this process may use."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _run(pool: ThreadPoolExecutor, tasks: list[Callable[[], None]]) -> None:
    for done in [pool.submit(task) for task in tasks]:
        done.result()


def _views(ground: FloatArray, raised: Float32Array) -> tuple[tuple[Float32Array, Float32Array], ...]:
    """Return heights and what is raised for lines that run from row to row, and from column to column."""
    near = np.asarray(ground - float(np.median(ground)), dtype=np.float32)

    def laid(part: Float32Array) -> Float32Array:
        return frozen(np.array(part, order="C"))

    return (laid(near), laid(raised)), (laid(near.T), laid(raised.T))


def _groups(shape: tuple[int, int], window: Window, azimuths: FloatArray) -> Iterator[tuple[int, list[AzimuthLines]]]:
    """Yield (number of the first azimuth, lines of a group of azimuths that fit into memory together)."""
    group: list[AzimuthLines] = []
    first = 0
    for number, azimuth in enumerate(azimuths):
        group.append(azimuth_lines(shape, window, bearing(float(azimuth)), group[-1] if group else None))
        if len(group) >= 16 or (len(group) >= 4 and group[-1].end * 2 > GROUP_BYTES):
            yield first, group
            group, first = [], number + 1
    if group:
        yield first, group


def azimuth_lines(shape: tuple[int, int], window: Window, toward: Bearing, before: AzimuthLines | None) -> AzimuthLines:
    """Return the lines of one azimuth that meet a window, kept behind those of the one before."""
    rows, columns = window.rows, window.columns
    along, across, length = (columns, rows, shape[1]) if toward.along_columns else (rows, columns, shape[0])
    first_step = length - along.stop if toward.from_far_end else along.start
    steps = along.stop - along.start
    corners = [
        place - toward.drift * step
        for place in (across.start, across.stop - 1)
        for step in (first_step, first_step + steps - 1)
    ]
    first_line = int(np.floor(min(corners)))
    lines = int(np.floor(max(corners))) + 2 - first_line
    offset, block_offset = (before.end, before.block_end) if before else (0, 0)
    return AzimuthLines(toward, first_line, lines, first_step, steps, offset, block_offset)


def _columns(group: list[AzimuthLines]) -> Lines:
    return (
        np.array([lines.bearing.along_columns for lines in group]),
        np.array([lines.bearing.from_far_end for lines in group]),
        np.array([lines.bearing.drift for lines in group]),
        np.array([lines.first_line for lines in group], dtype=np.int64),
        np.array([lines.first_step for lines in group], dtype=np.int64),
        np.array([lines.lines for lines in group], dtype=np.int64),
        np.array([lines.offset for lines in group], dtype=np.int64),
        np.array([lines.block_offset for lines in group], dtype=np.int64),
    )


def _sweep(
    views: tuple[tuple[Float32Array, Float32Array], ...],
    lines: AzimuthLines,
    cell: float,
    lowest: int,
    horizons: BinArray,
    is_shaded: ByteArray,
) -> None:
    way = lines.bearing
    horizon = horizons[lines.offset : lines.end].reshape(lines.steps, lines.lines)
    shaded = is_shaded[lines.block_offset : lines.block_end].reshape(lines.steps, lines.blocks)
    floor = float(_tangents(np.array(lowest)))
    ground, raised = views[way.along_columns]
    sweep_opaque(
        ground, raised, cell, way.from_far_end, way.drift, way.step, floor, lines.first_line, lines.first_step, BINS,
        horizon, shaded,
    )  # fmt: skip


def _tangents(bins: LongArray) -> FloatArray:
    sine = np.minimum(bins / (BINS - 1.0), 1.0 - 1e-12)
    return np.asarray(sine / np.sqrt(1.0 - sine * sine))


def _rescaled(factor: float) -> BinArray:
    """For each bin, the bin of an edge whose tangent is ``factor`` times as large."""
    up = factor * _tangents(np.arange(BINS))
    return np.rint(up / np.hypot(up, 1.0) * (BINS - 1)).astype(np.uint16)
