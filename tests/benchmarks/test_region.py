"""Core time of a district on one worker and on two, and the memory of a worker; small unless told otherwise.

``REGION_PARCELS=500 REGION_SIDE=10000 pytest tests/benchmarks/test_region.py --benchmark-enable -s`` takes 500 lots of
a tenth of a hectare over 100 million cells.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from sitepipe.region.district import Crews, run_region
from sitepipe.region.feed import local_crew
from sitepipe.region.folder import open_region
from tests.reading.folders import NORTH, WEST, point, write_drawing, write_heights
from tests.region.districts import TOML, lots, make_region, rolling

PARCELS, SIDE = int(os.environ.get("REGION_PARCELS", "4")), int(os.environ.get("REGION_SIDE", "400"))
DISTRICT = TOML.replace("[ground]\nwidest_window = 20_000\n\n[uncertainty]\ngrounds = 10\n", "").replace(
    "write = []", 'write = ["plan"]\npreset = "district"'
)
BAND = 1_000
"""Rows of a tile."""


def district(folder: Path) -> Path:
    """Make lots with houses and trees, over tiles as wide as the district."""
    toml = DISTRICT.replace("heights.tif", "tiles") + '\n[things.trees]\nfile = "trees.geojson"\nkind = "tree"\n'
    across = max(2, round(PARCELS**0.5))
    shapes = lots(PARCELS, apart=(SIDE - 80.0) / across, across=across)
    make_region(folder, shapes, np.zeros((3, 3)), toml)
    (folder / "heights.tif").unlink()
    (folder / "tiles").mkdir()
    for top in range(0, SIDE, BAND):
        part = rolling(min(BAND, SIDE - top), SIDE, top).astype(np.float32)
        place = (1.0, 0.0, WEST, 0.0, -1.0, NORTH - top)
        write_heights(
            folder / "tiles" / f"{top:06d}.tif", part, transform=place, tiled=True, blockxsize=256, blockysize=256
        )
    places = np.random.default_rng(3).uniform(20.0, SIDE - 20.0, (4 * PARCELS, 2))
    write_drawing(folder / "trees.geojson", *(point(WEST + x, NORTH - y, height="7 m") for x, y in places))
    return folder


def core_seconds() -> float:
    """Return the core time of this process and of those it has ended. [s]."""
    own, others = (resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return own.ru_utime + own.ru_stime + others.ru_utime + others.ru_stime


@pytest.mark.parametrize("workers", [1, 2])
def test_a_district(benchmark: BenchmarkFixture, tmp_path: Path, workers: int) -> None:
    region = open_region(district(tmp_path / "district"))
    crews = Crews(lambda digests: local_crew(workers, digests), lambda digests: local_crew(1, digests))
    cores, wall = core_seconds(), time.monotonic()
    found = benchmark.pedantic(  # type: ignore[no-untyped-call]
        run_region, (region, tmp_path / "out", date(2027, 4, 1), crews, lambda _: None), rounds=1, iterations=1
    )
    cores, wall = core_seconds() - cores, time.monotonic() - wall
    largest = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024.0
    sys.stderr.write(
        f"\n{workers} workers, {PARCELS} parcels: {cores / PARCELS:.2f} core-seconds and {wall / PARCELS:.2f} s each, "
        f"largest worker {largest:,.0f} MiB\n"
    )
    assert found.failed == 0
