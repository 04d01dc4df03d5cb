"""Grounds that the tests of drainage share."""

from __future__ import annotations

from pathlib import Path

import numpy as np
from hypothesis import strategies as st

from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.drainage.heights import UNKNOWN, whole_heights

BOWL = np.full((7, 7), 10.0)
BOWL[1:6, 1:6] = 9.0
BOWL[2:5, 2:5] = 8.0
BOWL[3, 3] = 7.0
BOWL[3, 6] = 9.5
"""Check value T08: rim 10, rings 9 and 8, centre 7, outlet 9.5 in the middle of the east edge."""

BASINS = np.full((5, 9), 9.0)
BASINS[1:4, 1:4] = 5.0
BASINS[2, 2] = 3.0
BASINS[1:4, 4] = 7.0
BASINS[1:4, 5:8] = 4.0
BASINS[2, 6] = 2.0
BASINS[2, 8] = 8.0
"""Check value T09: two basins in a rim of 9, sill 7, outlet 8."""


def rolling(rows: int, columns: int, seed: int = 1, roughness: float = 0.03) -> FloatArray:
    """Gentle invented relief with hollows of all sizes that falls to the south. [m]."""
    random = np.random.default_rng(seed)
    y, x = np.mgrid[0:rows, 0:columns].astype(np.float64)
    ground = 100.0 - 0.004 * y
    for length in (7.0, 19.0, 53.0):
        for _ in range(6):
            angle, phase = random.uniform(0.0, 2.0 * np.pi, 2)
            ground += 0.004 * length * np.sin((x * np.cos(angle) + y * np.sin(angle)) * 2.0 * np.pi / length + phase)
    return np.asarray(ground + roughness * random.standard_normal((rows, columns)))


def heights_of(ground: FloatArray) -> IntArray:
    """Whole heights alone. [0.1 mm]."""
    return whole_heights(ground)[0]


def small_heights(most: int = 8, tallest: int = 6) -> st.SearchStrategy[IntArray]:
    """Small rasters of whole heights with many ties, hollows and flats."""
    return _drawn_heights(most, tallest, st.just(0.0))


def unlike_heights(most: int = 9) -> st.SearchStrategy[IntArray]:
    """Small rasters on which no two heights are alike."""

    def mixed(rows: int, columns: int, seed: int) -> IntArray:
        order = np.random.default_rng(seed).permutation(rows * columns)
        return (order.reshape(rows, columns) * 7).astype(np.int32)

    return st.builds(mixed, st.integers(1, most), st.integers(1, most), st.integers(0, 2**32 - 1))


def holed_heights(most: int = 8, tallest: int = 6) -> st.SearchStrategy[IntArray]:
    """Small rasters of which some cells may be unknown, at least one known."""
    return _drawn_heights(most, tallest, st.sampled_from([0.0, 0.05, 0.2, 0.5]))


def _drawn_heights(most: int, tallest: int, unknown: st.SearchStrategy[float]) -> st.SearchStrategy[IntArray]:
    """Draw rasters from a seed, every cell by itself: a ground of one height with a few others shows too little."""

    def drawn(rows: int, columns: int, tallest: int, unknown: float, seed: int) -> IntArray:
        random = np.random.default_rng(seed)
        heights = random.integers(0, tallest + 1, (rows, columns)).astype(np.int32)
        is_unknown = random.random((rows, columns)) < unknown
        is_unknown.ravel()[random.integers(rows * columns)] = False
        heights[is_unknown] = UNKNOWN
        return heights

    side = st.integers(1, most)
    return st.builds(drawn, side, side, st.integers(1, tallest), unknown, st.integers(0, 2**32 - 1))


def neighbours(cell: int, shape: tuple[int, int]) -> list[tuple[int, int]]:
    """Flat indices of the up to eight neighbours of a cell in reading order, each with the square of its distance."""
    row, column = divmod(cell, shape[1])
    return [
        (to_row * shape[1] + to_column, (to_row - row) ** 2 + (to_column - column) ** 2)
        for to_row in range(max(row - 1, 0), min(row + 2, shape[0]))
        for to_column in range(max(column - 1, 0), min(column + 2, shape[1]))
        if (to_row, to_column) != (row, column)
    ]


def filled_by_relaxation(heights: IntArray) -> IntArray:
    """Fill by the definition, over and over until nothing changes: slow and plain."""
    known = heights != UNKNOWN
    framed = np.full((heights.shape[0] + 2, heights.shape[1] + 2), -(10**9), dtype=np.int64)
    framed[1:-1, 1:-1] = np.where(known, 10**9, -(10**9))
    while True:
        lowest = np.min(
            [
                framed[down : down + heights.shape[0], right : right + heights.shape[1]]
                for down in range(3)
                for right in range(3)
            ],
            axis=0,
        )
        better = np.where(known, np.maximum(heights, lowest), -(10**9))
        if (better == framed[1:-1, 1:-1]).all():
            return np.where(known, better, UNKNOWN).astype(np.int32)
        framed[1:-1, 1:-1] = better


def hummocks(real_ground: Path) -> tuple[FloatArray, BoolArray]:
    """Heights of sink-reference-1m, and the cells that another implementation found to lie in sinks."""
    import rasterio

    folder = real_ground / "sink-reference-1m"
    with rasterio.open(folder / "dem_1m.tif") as heights, rasterio.open(folder / "ref_sinks.tif") as sinks:
        ground = heights.read(1, masked=True).filled(np.nan).astype(np.float64)
        return ground, np.asarray(sinks.read(1) > 0.0)
