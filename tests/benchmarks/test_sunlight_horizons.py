"""Horizons and sunlight beside peers on the same ground, in one run: read the ratios in each group.

``pytest tests/benchmarks/test_sunlight_horizons.py --benchmark-enable`` times 500 and 1000 cells a side;
``SITEPIPE_SIDES=2000`` asks for others. With benchmarks disabled, as in CI, each runs once on a small ground. The
peer in plain numpy is always there; topocalc (horizons in C) joins where it is installed.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache, partial
from importlib.util import find_spec
from typing import Any

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.arrays import FloatArray
from sitepipe.settings import make_settings
from sitepipe.site import Feature, Kind, Site
from sitepipe.sunlight.losses import Window, azimuth_lines
from sitepipe.sunlight.stage import trace_sunlight
from sitepipe.sunlight.sweep import bearing, sweep_opaque
from sitepipe.sunlight.tables import BINS
from tests.sites import make_site, plane
from tests.sunlight.drawn import rolling, thing

AZIMUTHS = (13.0, 67.0, 102.0, 151.0, 199.0, 248.0, 293.0, 346.0)
"""Eight directions, one of each kind of drift, stand for a whole round."""


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Choose the sides to time."""
    if "side" in metafunc.fixturenames:
        is_timed = bool(metafunc.config.getoption("benchmark_enable", default=False))
        asked = os.environ.get("SITEPIPE_SIDES", "500,1000" if is_timed else "90")
        metafunc.parametrize("side", [int(side) for side in asked.split(",")])


@cache
def ground(side: int) -> FloatArray:
    """Make rolling, slightly sloping ground."""
    return plane(side, side, 1.0, 0.004, 0.01) + rolling(side, 1.5, 25.0, 1)


def by_sweep(side: int) -> list[FloatArray]:
    """Return our horizons in all directions, on two threads."""
    near = (ground(side) - ground(side).mean()).astype(np.float32)
    flat = np.zeros_like(near)
    views = np.ascontiguousarray(near.T), near

    def one(azimuth: float) -> FloatArray:
        way = bearing(azimuth)
        lines = azimuth_lines(near.shape, Window(slice(0, side), slice(0, side)), way, None)
        horizon = np.zeros((lines.steps, lines.lines), dtype=np.uint16)
        shaded = np.zeros((lines.steps, lines.blocks), dtype=np.uint8)
        view = views[0] if way.along_columns else views[1]
        sweep_opaque(
            view, flat, 1.0, way.from_far_end, way.drift, way.step, 0.0, lines.first_line, lines.first_step, BINS,
            horizon, shaded,
        )  # fmt: skip
        return np.asarray(horizon, dtype=np.float64)

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(one, AZIMUTHS))


def by_numpy(side: int) -> list[FloatArray]:
    """Return horizons by looking one cell farther at a time, all cells at once: what one would write first."""
    height = ground(side)
    found = []
    for azimuth in AZIMUTHS:
        east, south = np.sin(np.radians(azimuth)), -np.cos(np.radians(azimuth))
        lead = max(abs(east), abs(south))
        best = np.zeros_like(height)
        for step in range(1, side):
            down, right = round(south / lead * step), round(east / lead * step)
            here = (slice(max(0, -down), side - max(0, down)), slice(max(0, -right), side - max(0, right)))
            there = (slice(max(0, down), side - max(0, -down)), slice(max(0, right), side - max(0, -right)))
            rise = (height[there] - height[here]) / np.hypot(down, right)
            np.maximum(best[here], rise, out=best[here])
        found.append(best)
    return found


def by_topocalc(side: int) -> list[FloatArray]:
    """Return horizons by topocalc, whose azimuths run from -180 to 180, south being 0 and east positive."""
    from topocalc.horizon import horizon  # type: ignore[import-not-found]

    turned = [180.0 - azimuth for azimuth in AZIMUTHS]
    return [np.asarray(horizon(azimuth, ground(side), 1.0)) for azimuth in turned]


PEERS: dict[str, Callable[[int], list[FloatArray]]] = {"sitepipe": by_sweep, "numpy": by_numpy}
if find_spec("topocalc") is not None:
    PEERS["topocalc"] = by_topocalc


@pytest.mark.parametrize("peer", list(PEERS))
@pytest.mark.benchmark(min_rounds=1, warmup=False)
def test_horizons_in_eight_directions(peer: str, side: int, benchmark: Any) -> None:
    benchmark.group = f"horizons, 8 directions, {side} cells a side"
    by_sweep(60)
    found = benchmark.pedantic(partial(PEERS[peer], side), rounds=1 if peer != "sitepipe" else 3)
    assert len(found) == len(AZIMUTHS)


def lot(side: int, with_trees: bool) -> Site:
    """Make a lot with a house and a wall, and if asked 25 trees and a hedge."""
    wide = float(side)
    things: list[Feature] = [
        thing(Kind.BUILDING, box(wide * 0.4, wide * 0.3, wide * 0.4 + 15.0, wide * 0.3 + 10.0), 6.0),
        thing(Kind.WALL, LineString([(wide * 0.2, wide * 0.2), (wide * 0.8, wide * 0.25)]), 1.8),
    ]
    if with_trees:
        random = np.random.default_rng(1)
        for _ in range(25):
            x, y, height, crown = random.uniform([0.0, 0.0, 4.0, 3.0], [wide, wide, 14.0, 9.0])
            things.append(thing(Kind.TREE, Point(x, y), height, crown))
        things.append(thing(Kind.HEDGE, LineString([(wide * 0.1, wide * 0.9), (wide * 0.9, wide * 0.88)]), 2.5, 1.2))
    return make_site(ground(side), 1.0, tuple(things), height_error=0.1)


@pytest.mark.parametrize("with_trees", [False, True])
def test_months_season_sky_and_energy_of_a_whole_lot(with_trees: bool, side: int, benchmark: Any) -> None:
    benchmark.group = f"sunlight of all months, sky view included, {side} cells a side"
    site, settings = lot(side, with_trees), make_settings({"sun": {"margin": "900 m"}}, "site.toml")
    trace_sunlight(lot(60, with_trees), settings)
    sun = benchmark.pedantic(trace_sunlight, args=(site, settings), rounds=3)
    assert np.isfinite(sun.sun_hours).all()
