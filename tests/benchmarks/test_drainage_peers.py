"""Drainage beside its peers on the same ground, in one run: read the ratios in each group.

``pytest tests/benchmarks/test_drainage_peers.py --benchmark-enable`` times 500, 1000 and 2000 cells a side;
``SITEPIPE_SIDES=4000`` asks for others. With benchmarks disabled, as in CI, each runs once on a small ground.
"""

from __future__ import annotations

import os
import subprocess
import sys
import textwrap
import warnings
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pytest

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.drainage.depression_filling import filled, filled_by_heap
from sitepipe.drainage.descent import steepest_receivers
from sitepipe.drainage.fill_spill_merge import fill_spill_merge
from sitepipe.drainage.heights import whole_heights
from sitepipe.drainage.hollows import Hollows, nest_hollows
from sitepipe.drainage.multiple_flow import specific_catchment_area
from sitepipe.drainage.nearest_drainage import height_above_nearest_drainage, least_climb, steepness
from sitepipe.drainage.network import Network, route
from sitepipe.drainage.ponds import name_ponds
from sitepipe.drainage.routing import accumulated, route_level_ground
from sitepipe.drainage.second_opinion import TINY, pysheds_grid
from sitepipe.grid import Grid


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Choose the sides to time."""
    if "side" in metafunc.fixturenames:
        is_timed = bool(metafunc.config.getoption("benchmark_enable", default=False))
        asked = os.environ.get("SITEPIPE_SIDES", "500,1000,2000" if is_timed else "120")
        metafunc.parametrize("side", [int(side) for side in asked.split(",")])


@dataclass(frozen=True)
class Lawn:
    """A lawn of one-metre cells with hollows of all sizes, as ours and as the peers want it."""

    ground: FloatArray
    network: Network
    hollows: Hollows
    channel: BoolArray
    grid: Any
    raster: Any
    flooded: Any
    inflated: Any
    directions: Any


@cache
def lawn(side: int) -> Lawn:
    """Make the ground of one size, once."""
    from scipy.ndimage import gaussian_filter

    random = np.random.default_rng(7)
    ground = gaussian_filter(random.standard_normal((side, side)), 30.0) * 50.0
    ground += gaussian_filter(random.standard_normal((side, side)), 2.0) * 0.15
    ground += 0.01 * np.arange(side)[:, None]
    ground = np.round(ground, 4)
    heights, _ = whole_heights(ground)
    network = route(heights)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        grid, raster = pysheds_grid(ground)
        flooded = grid.fill_depressions(raster)
        inflated = grid.resolve_flats(flooded, eps=TINY)
        directions = grid.flowdir(inflated)
    hollows = nest_hollows(heights, network.hollow, network.spill)
    channel = network.cells >= np.quantile(network.cells, 0.99)
    return Lawn(ground, network, hollows, channel, grid, raster, flooded, inflated, directions)


def timed(benchmark: Any, side: int, step: str, work: Callable[[], object]) -> None:
    """Time one worker in the group of its step and side, after a first call that compiles."""
    benchmark.group = f"{step}, {side} x {side}"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        work()
        benchmark.pedantic(work, rounds=5 if side <= 2000 else 3, iterations=1)
    benchmark.extra_info["cells"] = side * side


def test_fill_ours(side: int, benchmark: Any) -> None:
    timed(benchmark, side, "fill", lambda: filled(lawn(side).network.heights))


def test_fill_ours_by_heap(side: int, benchmark: Any) -> None:
    timed(benchmark, side, "fill", lambda: filled_by_heap(lawn(side).network.heights))


def test_fill_pysheds(side: int, benchmark: Any) -> None:
    timed(benchmark, side, "fill", lambda: lawn(side).grid.fill_depressions(lawn(side).raster))


def test_fill_scikit_image(side: int, benchmark: Any) -> None:
    from skimage.morphology import reconstruction

    ground = lawn(side).ground
    seed = np.full_like(ground, ground.max())
    seed[0], seed[-1], seed[:, 0], seed[:, -1] = ground[0], ground[-1], ground[:, 0], ground[:, -1]
    timed(benchmark, side, "fill", lambda: reconstruction(seed, ground, "erosion", np.ones((3, 3))))  # type: ignore[no-untyped-call]


def test_fill_pyflwdir_with_directions(side: int, benchmark: Any) -> None:
    import pyflwdir

    timed(benchmark, side, "fill", lambda: pyflwdir.dem.fill_depressions(lawn(side).ground, outlets="edge"))


def test_routes_ours(side: int, benchmark: Any) -> None:
    network = lawn(side).network

    def work() -> None:
        receiver = steepest_receivers(network.level, network.heights)
        route_level_ground(network.level, network.heights, receiver)
        accumulated(receiver)

    timed(benchmark, side, "directions, flats and accumulation", work)


def test_routes_pysheds(side: int, benchmark: Any) -> None:
    ready = lawn(side)

    def work() -> None:
        ready.grid.accumulation(ready.grid.flowdir(ready.grid.resolve_flats(ready.flooded, eps=TINY)))

    timed(benchmark, side, "directions, flats and accumulation", work)


def test_dispersal_ours(side: int, benchmark: Any) -> None:
    network = lawn(side).network
    timed(benchmark, side, "multiple flow", lambda: specific_catchment_area(network.level, network.receiver, 1.0))


def test_dispersal_pysheds(side: int, benchmark: Any) -> None:
    ready = lawn(side)

    def work() -> None:
        ready.grid.accumulation(ready.grid.flowdir(ready.inflated, routing="mfd"), routing="mfd")

    timed(benchmark, side, "multiple flow", work)


def test_height_above_ours(side: int, benchmark: Any) -> None:
    ready = lawn(side)
    reference = np.where(ready.channel, ready.ground, np.nan)
    timed(
        benchmark,
        side,
        "height above drainage",
        lambda: height_above_nearest_drainage(ready.ground, ready.network.receiver, ready.network.order, reference),
    )


def test_height_above_pysheds(side: int, benchmark: Any) -> None:
    ready = lawn(side)
    mask = ready.raster.copy()
    mask[...] = ready.channel
    timed(
        benchmark,
        side,
        "height above drainage",
        lambda: ready.grid.compute_hand(ready.directions, ready.raster, mask.astype(np.bool_)),
    )


def test_ponds_ours(side: int, benchmark: Any) -> None:
    """Nested, with outline, spill and what they spill into."""
    ready = lawn(side)
    grid = Grid(0.0, float(side), 1.0, side, side, "LOCAL")
    parcel = np.ones((side, side), dtype=np.bool_)

    def work() -> None:
        network = ready.network
        hollows = nest_hollows(network.heights, network.hollow, network.spill)
        name_ponds(network, hollows, grid, parcel, 0.05, 4.0)

    timed(benchmark, side, "ponds", work)


def test_ponds_scipy(side: int, benchmark: Any) -> None:
    """Regions of water with depth and volume only."""
    from scipy.ndimage import label, maximum, sum_labels

    depth = lawn(side).network.depth

    def work() -> None:
        regions, count = label(depth > 0.0, structure=np.ones((3, 3)))
        numbers = np.arange(1, count + 1)
        maximum(depth, regions, numbers)
        sum_labels(depth, regions, numbers)

    timed(benchmark, side, "ponds", work)


def test_climb_ours(side: int, benchmark: Any) -> None:
    rise = steepness(lawn(side).ground, 1.0)
    timed(benchmark, side, "least climb", lambda: least_climb(rise, lawn(side).channel, 1.0))


def test_climb_scikit_image(side: int, benchmark: Any) -> None:
    from skimage.graph import MCP_Geometric

    rise = steepness(lawn(side).ground, 1.0)
    starts = np.argwhere(lawn(side).channel).tolist()
    timed(benchmark, side, "least climb", lambda: MCP_Geometric(rise).find_costs(starts))


def test_storm_ours(side: int, benchmark: Any) -> None:
    """No peer: fill, spill and merge of 20 mm of runoff."""
    ready = lawn(side)
    drops = np.full((side, side), 200_000, dtype=np.int64)
    network = ready.network

    def work() -> None:
        fill_spill_merge(network.heights, network.receiver, network.order, network.spill, ready.hollows, drops)

    timed(benchmark, side, "storm", work)


def test_bytes_per_cell(side: int, benchmark: Any) -> None:
    """Most memory of the whole stage in a process of its own, over what it held before, per cell."""
    code = textwrap.dedent(f"""
        from pathlib import Path
        from sitepipe.drainage.stage import trace_drainage
        from sitepipe.settings import Settings
        from tests.drainage.grounds import rolling
        from tests.sites import make_site
        def peak():
            # Not ru_maxrss: a child starts with its parent's.
            return int(Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0]) * 1024
        trace_drainage(make_site(rolling(60, 60)), Settings())
        site = make_site(rolling({side}, {side}))
        before = peak()
        trace_drainage(site, Settings())
        print((peak() - before) / {side * side})
    """)

    def work() -> float:
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
        return float(done.stdout)

    benchmark.group = f"bytes per cell (see extra info), {side} x {side}"
    taken = benchmark.pedantic(work, rounds=1, iterations=1)
    benchmark.extra_info["bytes_per_cell"] = taken
    sys.stdout.write(f"\n{side} x {side}: {taken:.0f} bytes a cell\n")
