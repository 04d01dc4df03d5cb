"""How fast a hoop house is looked for, and the cheapest way found, beside a peer in the same run."""

from __future__ import annotations

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from skimage.graph import MCP_Geometric

from sitepipe.arrays import FloatArray
from sitepipe.works.houses.footprints import Wishes
from sitepipe.works.houses.search import SearchGround, search, stack_layers
from sitepipe.works.ways.least_cost import QUEEN_MOVES, least_cost

WISHES = Wishes(np.array([3, 2, 1, 1, 1]), np.zeros(5), np.array([False, True, True, False, False]), 2, 1, 0.05)
"""Dry, sun in two seasons, trees, shelter; level ground and room."""


def waves(size: int) -> FloatArray:
    y, x = np.mgrid[0:size, 0:size]
    return np.asarray(0.6 + 0.3 * np.sin(x / 37.0) * np.cos(y / 53.0), dtype=np.float64)


@pytest.mark.benchmark(group="hoop house, 1,000,000 cells, 24 directions")
def test_every_place_and_direction(benchmark: BenchmarkFixture) -> None:
    size, cell = 1000, 0.5
    soft = tuple(np.roll(waves(size), 40 * layer, axis=layer % 2) for layer in range(5))
    layers = stack_layers(soft, 0.02 * waves(size), waves(size) > 0.85, np.zeros((size, size), np.bool_))
    ground = SearchGround(0.0, size * cell, cell, layers, np.full((size, size), 0.9), WISHES, (3.0, 4.5, 6.0))
    bearings = tuple((7.5 * number, 1.0) for number in range(24))
    allowed, _ = benchmark(search, ground, (9.0, 4.2), bearings)
    assert len(allowed) > 0


@pytest.mark.benchmark(group="cheapest ways, 160,000 cells, eight neighbours")
def test_cheapest_ways(benchmark: BenchmarkFixture) -> None:
    pace = waves(400)
    cost, _, _ = benchmark(least_cost, pace, np.zeros_like(pace), 0.0, QUEEN_MOVES, np.array([200 * 400 + 200]))
    assert np.isfinite(cost).all()


@pytest.mark.benchmark(group="cheapest ways, 160,000 cells, eight neighbours")
def test_cheapest_ways_by_a_peer(benchmark: BenchmarkFixture) -> None:
    pace = waves(400)
    cost, _ = benchmark(lambda: MCP_Geometric(pace).find_costs([(200, 200)]))
    assert np.isfinite(cost).all()
