"""The whole of a run on a small site, twice: elsewhere, at another time, with more threads, to the same bytes."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.reading.folders import NORTH, WEST, make_folder, point, polygon, ring, write_drawing
from tests.sites import bowl
from tests.writing.short_run import copy_of, leftovers

ROOT = Path(__file__).resolve().parents[1]
SETTINGS = 'name = "Small bowl"\nelevation = "elevation.tif"\nparcel = "parcel.geojson"\nunits = "imperial"\n'


def make_bowl(folder: Path) -> Path:
    """Make a site: a bowl of half a metre in a level field, with a house and a gate."""
    folder.mkdir(parents=True)
    make_folder(folder, bowl(60, 1.0, 0.5))
    write_drawing(
        folder / "parcel.geojson",
        polygon(ring(WEST + 8.0, NORTH - 52.0, WEST + 52.0, NORTH - 8.0), kind="parcel"),
        polygon(
            ring(WEST + 10.0, NORTH - 18.0, WEST + 18.0, NORTH - 10.0), kind="building", name="House", height="20 ft"
        ),
        point(WEST + 9.0, NORTH - 50.0, kind="gate", name="Gate"),
    )
    (folder / "site.toml").write_text(SETTINGS, encoding="utf-8")
    return folder


def run(site: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "sitepipe", "run", str(site)]
    return subprocess.run(
        command, capture_output=True, text=True, check=True, cwd=ROOT, env={**os.environ, **environment}, timeout=300
    )


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, subprocess.CompletedProcess[str]]:
    """Return two site folders with their results, and what the first run said."""
    folder = tmp_path_factory.mktemp("runs")
    here, there = make_bowl(folder / "here"), make_bowl(folder / "far away" / "there ½")
    said = run(here, NUMBA_NUM_THREADS="1", TZ="UTC", PYTHONHASHSEED="1")
    run(
        there,
        NUMBA_NUM_THREADS="2",
        OMP_NUM_THREADS="8",
        TZ="Pacific/Auckland",
        LC_ALL="C",
        PYTHONHASHSEED="2",
        PROJ_DATA="/nonexistent",
    )
    return here, there, said


@pytest.mark.case(104, 106)
def test_the_same_site_gives_the_same_bytes_anywhere(
    runs: tuple[Path, Path, subprocess.CompletedProcess[str]],
) -> None:
    here, there, _ = runs
    one, other = copy_of(here / "out"), copy_of(there / "out")
    assert list(one) == list(other)
    assert [name for name, content in one.items() if other[name] != content] == []
    assert leftovers(here) == leftovers(there) == []


def test_the_answer_finds_the_bowl(runs: tuple[Path, Path, subprocess.CompletedProcess[str]]) -> None:
    here, _, said = runs
    told = json.loads((here / "out" / "summary.json").read_text(encoding="utf-8"))
    (pond,) = told["water"]["ponds"]
    # A paraboloid of depth d and radius r holds pi r2 d / 2: 19.67 m and .5 m give 304 m3 (analytic).
    assert pond["volume_m3"] == pytest.approx(304.0, rel=0.03)
    assert pond["depth_m"] == pytest.approx(0.5, abs=0.01)
    assert told["water"]["cells_drained"] == 60 * 60
    assert said.stdout.startswith("Small bowl: ")
    assert "\nWater: stands in one hollow" in said.stdout
    assert "\nThe map: " in said.stdout


def test_a_second_run_over_the_first_changes_nothing(
    runs: tuple[Path, Path, subprocess.CompletedProcess[str]],
) -> None:
    here, _, _ = runs
    before = copy_of(here / "out")
    run(here)
    assert copy_of(here / "out") == before
