"""All azimuths over all cells of a window, on as many threads as there are, with the same bytes for any number."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial

import numpy as np

from sitepipe.arrays import BoolArray, Float32Array, FloatArray, LongArray
from sitepipe.sunlight.accumulate import add_losses
from sitepipe.sunlight.obstacles import Crowns, Foliage, Standing
from sitepipe.sunlight.sweep import Bearing, BinArray, bearing, sweep_crowns, sweep_opaque
from sitepipe.sunlight.tables import BINS, LANES, SunTables

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
    """What every cell of a window loses, in the lanes of the tables, and by how much that is in doubt."""

    lost: Float32Array
    doubt: Float32Array


@dataclass(frozen=True, slots=True)
class _View:
    """The scene with the axis that lines run along last."""

    ground: Float32Array
    opaque: Float32Array
    crowns: tuple[Crowns, ...]


@dataclass(frozen=True, slots=True)
class _Lines:
    """Lines of one azimuth: which of them, which steps of them, and where their horizons are kept."""

    bearing: Bearing
    first_line: int
    lines: int
    first_step: int
    steps: int
    offset: int


def losses(ground: FloatArray, stands: Standing, cell: float, window: Window, tables: SunTables) -> Losses:
    """Return what obstacles and ground take from every cell of a window.

    Parameters
    ----------
    ground : (rows, columns) float array
        Known everywhere. [m]
    stands : Standing
    cell : float
        [m]
    window : Window
    tables : SunTables
    """
    lost = np.zeros((*window.shape, LANES), dtype=np.float32)
    doubt = np.zeros(window.shape, dtype=np.float32)
    views = _views(ground, stands)
    foliage = np.stack([tables.deciduous, tables.evergreen]) if stands.crowns else tables.opaque[None, :, :0]
    has_layer = _layers(stands)
    rescaled = _rescaled(1.0 + DOUBT), _rescaled(1.0 - DOUBT)
    threads = max(1, min(os.cpu_count() or 1, 8))
    cuts = np.linspace(0, window.shape[0], 4 * threads + 1).astype(int)
    with ThreadPoolExecutor(threads) as pool:
        for first, group in _groups(ground.shape, window, tables.azimuth):
            horizons = np.zeros(
                (5 if stands.crowns else 1, group[-1].offset + group[-1].lines * group[-1].steps), np.uint16
            )
            _run(
                pool,
                [
                    partial(_sweep, views, lines, cell, int(tables.lowest[first + k]), has_layer, horizons)
                    for k, lines in enumerate(group)
                ],
            )
            here = slice(first, first + len(group))
            shared = (
                *_columns(group),
                (window.rows.start, window.columns.start, ground.shape[0], ground.shape[1]),
                horizons,
                has_layer,
                tables.lowest[here],
                tables.opaque[here],
                foliage[:, here],
                *rescaled,
            )
            _run(
                pool,
                [
                    partial(add_losses, lost, doubt, (int(low), int(high)), *shared)
                    for low, high in zip(cuts[:-1], cuts[1:], strict=True)
                ],
            )
    return Losses(lost, doubt)


def _run(pool: ThreadPoolExecutor, tasks: list[Callable[[], None]]) -> None:
    for done in [pool.submit(task) for task in tasks]:
        done.result()


def _views(ground: FloatArray, stands: Standing) -> tuple[_View, _View]:
    """Return the scene with rows last and with columns last."""
    level = float(np.median(ground))
    near = np.ascontiguousarray(ground - level, dtype=np.float32)
    across = _View(near, stands.opaque, stands.crowns)
    turned = tuple(
        Crowns(crowns.foliage, np.ascontiguousarray(crowns.top.T), np.ascontiguousarray(crowns.base.T))
        for crowns in stands.crowns
    )
    down = _View(np.ascontiguousarray(near.T), np.ascontiguousarray(stands.opaque.T), turned)
    return across, down


def _layers(stands: Standing) -> BoolArray:
    """Tell which horizons there are: opaque; upper and lower edge of deciduous, then of evergreen crowns."""
    has = np.zeros(5, dtype=bool)
    has[0] = True
    for crowns in stands.crowns:
        layer = 1 if crowns.foliage is Foliage.DECIDUOUS else 3
        has[layer] = True
        has[layer + 1] = bool((crowns.base > 0.0).any())
    return has


def _groups(shape: tuple[int, int], window: Window, azimuths: FloatArray) -> Iterator[tuple[int, list[_Lines]]]:
    """Yield (number of the first azimuth, lines of a group of azimuths that fit into memory together)."""
    group: list[_Lines] = []
    first = 0
    for number, azimuth in enumerate(azimuths):
        offset = group[-1].offset + group[-1].lines * group[-1].steps if group else 0
        group.append(_lines(shape, window, bearing(float(azimuth)), offset))
        if len(group) >= 4 and (offset + group[-1].lines * group[-1].steps) * 2 * 3 > GROUP_BYTES:
            yield first, group
            group, first = [], number + 1
        elif len(group) >= 16:
            yield first, group
            group, first = [], number + 1
    if group:
        yield first, group


def _lines(shape: tuple[int, int], window: Window, toward: Bearing, offset: int) -> _Lines:
    rows, columns = window.rows, window.columns
    along, across, length = (columns, rows, shape[1]) if toward.runs_along_rows else (rows, columns, shape[0])
    first_step = length - along.stop if toward.from_far_end else along.start
    steps = along.stop - along.start
    corners = [
        place - toward.drift * step
        for place in (across.start, across.stop - 1)
        for step in (first_step, first_step + steps - 1)
    ]
    first_line = int(np.floor(min(corners)))
    return _Lines(toward, first_line, int(np.floor(max(corners))) + 2 - first_line, first_step, steps, offset)


def _columns(
    group: list[_Lines],
) -> tuple[BoolArray, BoolArray, FloatArray, LongArray, LongArray, LongArray, LongArray]:
    return (
        np.array([lines.bearing.runs_along_rows for lines in group]),
        np.array([lines.bearing.from_far_end for lines in group]),
        np.array([lines.bearing.drift for lines in group]),
        np.array([lines.first_line for lines in group], dtype=np.int64),
        np.array([lines.first_step for lines in group], dtype=np.int64),
        np.array([lines.steps for lines in group], dtype=np.int64),
        np.array([lines.offset for lines in group], dtype=np.int64),
    )


def _sweep(
    views: tuple[_View, _View], lines: _Lines, cell: float, lowest: int, has_layer: BoolArray, horizons: BinArray
) -> None:
    view = views[0] if lines.bearing.runs_along_rows else views[1]
    place = slice(lines.offset, lines.offset + lines.lines * lines.steps)
    mine = [horizons[layer, place].reshape(lines.lines, lines.steps) for layer in range(horizons.shape[0])]
    sine = lowest / (BINS - 1.0)
    way = lines.bearing
    sweep_opaque(
        view.ground, view.opaque, cell, way.from_far_end, way.drift, way.step, sine / np.sqrt(1.0 - sine * sine),
        lines.first_line, lines.first_step, BINS, mine[0],
    )  # fmt: skip
    for crowns in view.crowns:
        layer = 1 if crowns.foliage is Foliage.DECIDUOUS else 3
        sweep_crowns(
            view.ground, view.opaque, crowns.top, crowns.base, bool(has_layer[layer + 1]), cell, way.from_far_end,
            way.drift, way.step, lines.first_line, lines.first_step, BINS, mine[layer], mine[layer + 1],
        )  # fmt: skip


def _rescaled(factor: float) -> BinArray:
    """For each bin, the bin of an edge whose tangent is ``factor`` times as large."""
    sine = np.arange(BINS) / (BINS - 1.0)
    up = factor * sine
    return np.rint(up / np.sqrt(up * up + 1.0 - sine * sine) * (BINS - 1)).astype(np.uint16)
