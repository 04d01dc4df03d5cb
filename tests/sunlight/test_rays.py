"""Rays from single places, held against a look at every crossing, and heights between cells against another library."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import map_coordinates

from sitepipe.arrays import Float32Array, FloatArray
from sitepipe.sunlight.rays import height_at, ray_horizons


def _between(ground: FloatArray, y: FloatArray, x: FloatArray) -> FloatArray:
    """Interpolate as an independent library does; beyond the last cell it stays as high."""
    inside = np.clip(y, 0.0, ground.shape[0] - 1.0), np.clip(x, 0.0, ground.shape[1] - 1.0)
    return np.asarray(map_coordinates(ground, inside, order=1, mode="nearest"))


@given(st.integers(0, 10_000), st.integers(1, 4), st.integers(1, 4))
def test_heights_between_cells_are_those_of_an_independent_library(seed: int, rows: int, columns: int) -> None:
    random = np.random.default_rng(seed)
    ground = random.normal(size=(rows, columns))
    y, x = random.uniform(-1.0, 4.5, (2, 12))
    found = [height_at(ground, float(a), float(b)) for a, b in zip(y, x, strict=True)]
    np.testing.assert_allclose(found, _between(ground, y, x), atol=1e-12)


def _looked_along(
    ground: FloatArray, raised: Float32Array, cell: float, place: tuple[float, float], azimuth: float
) -> float:
    """Return the edge of one place in one direction: every row or column that the ray meets, and every middle."""
    (rows, columns), (row, column) = ground.shape, place
    own = min(max(int(np.floor(row + 0.5)), 0), rows - 1), min(max(int(np.floor(column + 0.5)), 0), columns - 1)
    if raised[own] > 0.0:
        return 1e9
    eye = float(_between(ground, np.array([row]), np.array([column]))[0])
    east, south = np.sin(np.radians(azimuth)), -np.cos(np.radians(azimuth))
    lead, start = (east, column) if abs(east) >= abs(south) else (south, row)
    halves = np.arange(-2 * max(rows, columns), 4 * max(rows, columns) + 4)
    length = (halves / 2.0 - start) / lead
    y, x = row + south * length, column + east * length
    on = (length > 1e-9) & (y >= -0.5) & (x >= -0.5) & (y <= rows - 0.5) & (x <= columns - 0.5)
    y, x, run, is_between = y[on], x[on], length[on] * cell, halves[on] % 2 != 0
    i = np.minimum(np.floor(y + 0.5).astype(int), rows - 1)
    j = np.minimum(np.floor(x + 0.5).astype(int), columns - 1)
    away = (i != own[0]) | (j != own[1])
    y, x, i, j, run, is_between = y[away], x[away], i[away], j[away], run[away], is_between[away]
    stands = np.where(is_between, np.minimum(raised[i, j], 0.0), raised[i, j])
    return float(((_between(ground, y, x) + stands - eye) / run).max(initial=0.0))


@settings(max_examples=120)
@given(
    st.integers(0, 10_000), st.integers(1, 8), st.integers(1, 8), st.sampled_from([0.5, 1.0, 3.0]),
    st.floats(0.3, 359.7),
)  # fmt: skip
def test_a_ray_sees_the_steepest_of_all_that_it_meets(
    seed: int, rows: int, columns: int, cell: float, azimuth: float
) -> None:
    random = np.random.default_rng(seed)
    ground = random.normal(0.0, 0.5, (rows, columns))
    raised = np.where(random.random(ground.shape) < 0.2, random.uniform(0.5, 4.0, ground.shape), -0.2)
    raised = np.asarray(raised if random.random() < 0.7 else np.full(ground.shape, -0.2), dtype=np.float32)
    row, column = random.uniform(-0.4, rows - 0.6, 5), random.uniform(-0.4, columns - 0.6, 5)
    edges = np.full((5, 1), np.nan)
    ray_horizons(ground, raised, cell, column, row, np.array([azimuth]), edges)
    for p in range(5):
        expected = _looked_along(ground, raised, cell, (float(row[p]), float(column[p])), azimuth)
        np.testing.assert_allclose(np.arctan(edges[p, 0]), np.arctan(expected), atol=1e-5)
