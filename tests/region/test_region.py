"""Regions through real schedulers and workers: what fails fails alone, what is done is kept, bytes are those of run."""

from __future__ import annotations

import csv
import json
import os
import resource
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from datetime import date
from pathlib import Path

import geopandas
import numpy as np
import pytest

from sitepipe import cli
from sitepipe.region.again import is_done
from sitepipe.region.folder import open_region
from sitepipe.region.parcel import Cutter, parcels_of, write_site
from sitepipe.region.work import Task, work
from tests.reading.folders import NORTH, WEST, polygon, ring, write_heights
from tests.region.districts import TOML, lots, make_region, rolling
from tests.writing.short_run import copy_of, leftovers

ROOT = Path(__file__).resolve().parents[2]
DAY = date(2027, 4, 1)
GROUND = rolling(140, 200)
TILED = TOML.replace("heights.tif", "tiles").replace("write = []", 'write = ["page", "plan"]')
SPLIT = 112
"""Column at which the tiles meet: inside the third lot of each row."""


def sitepipe(*arguments: object) -> int:
    """Run the command line in this process."""
    return cli.outcome([str(argument) for argument in arguments])


def table(region: Path) -> dict[str, dict[str, str]]:
    """Return the rows of parcels.csv by key."""
    text = (region / "out" / "parcels.csv").read_text(encoding="utf-8-sig")
    return {row["key"]: row for row in csv.DictReader(text.splitlines())}


def times(region: Path) -> dict[str, int]:
    """Return when each parcel's results were made."""
    found = (region / "out" / "parcels").glob("*/out/run.json")
    return {path.parents[1].name: path.stat().st_mtime_ns for path in found}


def write_tiles(folder: Path, bands: Sequence[tuple[int, int]]) -> None:
    """Write the ground as two tiles for each band of rows."""
    folder.mkdir()
    for number, (top, bottom) in enumerate(bands):
        for side, (left, right) in (("west", (0, SPLIT)), ("east", (SPLIT, 200))):
            place = (1.0, 0.0, WEST + left, 0.0, -1.0, NORTH - top)
            part = GROUND[top:bottom, left:right].astype(np.float32)
            write_heights(folder / f"{side} {number}.tif", part, transform=place)


@pytest.fixture(scope="module")
def region(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Run a region of sound and unsound parcels on two workers of this machine."""
    folder = tmp_path_factory.mktemp("region") / "sallow brook"
    bow = polygon(
        [[WEST, NORTH], [WEST + 9, NORTH - 9], [WEST + 9, NORTH], [WEST, NORTH - 9], [WEST, NORTH]], lot="bow"
    )
    off = polygon(ring(WEST + 5000.0, NORTH - 40.0, WEST + 5040.0, NORTH), lot="off")
    over_c = polygon(ring(WEST + 20.0, NORTH - 130.0, WEST + 60.0, NORTH - 110.0), lot="over c")
    make_region(folder, [*lots(3), bow, off, over_c], toml=TILED)
    (folder / "heights.tif").unlink()
    write_tiles(folder / "tiles", ((0, 100), (100, 140)))
    damaged = folder / "tiles" / "west 1.tif"
    damaged.write_bytes(damaged.read_bytes()[:9_000])
    assert sitepipe("region", folder, "--workers", 2, "--on", DAY) == 5
    return folder


def test_what_cannot_be_run_fails_alone_and_the_table_says_why(region: Path) -> None:
    rows = table(region)
    assert {key: row["state"] for key, row in rows.items()} == {
        "L0000": "done",
        "L0001": "done",
        "L0002": "done",
        "bow": "failed",
        "off": "failed",
        "over c": "failed",
    }
    assert "outline crosses" in rows["bow"]["reason"]
    assert "lies" in rows["off"]["reason"]
    assert "west 1.tif is cut short or damaged" in rows["over c"]["reason"]
    assert rows["L0000"]["area_m2"] == "1024.0"
    assert rows["bow"]["area_m2"] == ""


def test_the_three_tables_hold_the_same(region: Path) -> None:
    rows, out = table(region), region / "out"
    drawn, packed = geopandas.read_file(out / "parcels.gpkg"), geopandas.read_parquet(out / "parcels.parquet")
    for frame in (drawn, packed):
        assert list(frame["key"]) == list(rows)
        assert frame.crs.to_epsg() == 32618
        sun = [row["sun_h_per_day"] for row in rows.values()]
        assert [f"{hours:g}" for hours in frame["sun_h_per_day"].dropna()] == [f"{float(s):g}" for s in sun if s]
        assert frame.geometry.iloc[0].area == pytest.approx(1024.0)


def test_a_parcel_of_a_region_has_the_bytes_of_a_run_on_it_alone(region: Path, tmp_path: Path) -> None:
    parcel = region / "out" / "parcels" / "L0002"
    assert sitepipe("run", parcel, "--out", tmp_path / "alone", "--on", DAY) == 0
    assert copy_of(tmp_path / "alone") == copy_of(parcel / "out")
    assert set(copy_of(parcel / "out")) == {"map.html", "plan.gpkg", "run.json", "summary.json"}


def test_a_parcel_over_four_tiles_is_that_over_the_merged_raster(tmp_path: Path) -> None:
    told = []
    for name, split in (("tiled", SPLIT), ("merged", None)):
        folder = make_region(tmp_path / name, lots(7)[6:], toml=TOML.replace("heights.tif", "tiles"))
        (folder / "heights.tif").unlink()
        # Under the same name, since sentences name the heights.
        if split is None:
            write_heights(folder / "tiles", GROUND.astype(np.float32))
        else:
            write_tiles(folder / "tiles", ((0, 80), (80, 140)))
        opened = open_region(folder)
        parcel = tmp_path / name / "out" / "parcels" / "L0006"
        write_site(opened, parcels_of(opened)[0], Cutter(opened).drawing(parcels_of(opened)[0]), parcel)
        assert work(Task("L0006", parcel, DAY), 10**6).answer is not None
        told.append(json.loads((parcel / "out" / "summary.json").read_text(encoding="utf-8")))
        noted = json.loads((parcel / "out" / "run.json").read_text(encoding="utf-8"))["inputs"]
        assert sum(key.startswith("elevation.") for key in noted) == (4 if split else 0)
    assert told[0] == told[1]


def test_a_second_call_does_only_what_is_missing_failed_or_changed(region: Path) -> None:
    before = times(region)
    parcels = region / "out" / "parcels"
    shutil.rmtree(parcels / "L0000" / "out")
    # A shed beside the third lot, farther than 100 m from the second.
    houses = json.loads((region / "houses.geojson").read_text(encoding="utf-8"))
    corners = ring(WEST + 195.0, NORTH - 20.0, WEST + 199.0, NORTH - 15.0)
    shed = {"type": "Polygon", "coordinates": [corners]}
    houses["features"].append({"type": "Feature", "properties": {"height": "3 m"}, "geometry": shed})
    (region / "houses.geojson").write_text(json.dumps(houses), encoding="utf-8")
    (parcels / "L0002" / "out" / "note.txt").write_text("mine", encoding="utf-8")
    assert sitepipe("region", region, "--workers", 1, "--on", DAY) == 5
    after = times(region)
    assert {key for key in after if after[key] != before[key]} == {"L0000", "L0002"}
    assert (parcels / "L0002" / "out" / "note.txt").read_text(encoding="utf-8") == "mine"
    assert is_done(parcels / "L0000")
    # A table that the grower puts into the parcel's own folder is one of its inputs.
    (parcels / "L0000" / "plants.csv").write_text("name,how many\nOsier,3\n", encoding="utf-8")
    assert not is_done(parcels / "L0000")


def test_a_parcel_that_cannot_be_written_keeps_what_stood_there(region: Path, tmp_path: Path) -> None:
    parcel = tmp_path / "parcel"
    shutil.copytree(region / "out" / "parcels" / "L0001", parcel)
    settings = parcel / "site.toml"
    settings.write_text(settings.read_text().replace("../../../tiles", str(region / "tiles")), encoding="utf-8")
    before = copy_of(parcel / "out")
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, hard))
    try:
        outcome = work(Task("L0001", parcel, DAY), 10**6)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert outcome.answer is not None
    assert outcome.answer.state == "failed"
    assert "could not be written" in outcome.answer.reason
    assert copy_of(parcel / "out") == before
    assert not leftovers(parcel)


def test_a_parcel_too_large_to_run_beside_others_is_left_for_the_end(region: Path) -> None:
    outcome = work(Task("L0001", region / "out" / "parcels" / "L0001", DAY), 100)
    assert outcome.answer is None


@pytest.fixture
def scheduler(tmp_path: Path) -> Iterator[tuple[str, list[subprocess.Popen[bytes]]]]:
    """Start a scheduler and two workers as processes of their own, as on a cluster."""
    told = tmp_path / "scheduler.json"
    environment = os.environ | {"DASK_DISTRIBUTED__SCHEDULER__ALLOWED_FAILURES": "0", "PYTHONPATH": str(ROOT)}
    start = [sys.executable, "-m", "dask"]
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL, "env": environment, "cwd": tmp_path}
    processes = [
        subprocess.Popen(  # type: ignore[call-overload]
            [*start, "scheduler", "--host", "127.0.0.1", "--port", "0", "--no-dashboard", "--scheduler-file", told],
            **quiet,
        )
    ]
    worker = [*start, "worker", "--scheduler-file", told, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
    try:
        while not told.exists():
            time.sleep(0.1)
        processes.extend(subprocess.Popen(worker, **quiet) for _ in range(2))  # type: ignore[call-overload]
        yield json.loads(told.read_text(encoding="utf-8"))["address"], processes
    finally:
        for process in reversed(processes):
            process.kill()
            process.wait()


def test_a_killed_worker_costs_only_a_second_try(
    tmp_path: Path, scheduler: tuple[str, list[subprocess.Popen[bytes]]]
) -> None:
    address, processes = scheduler
    region = make_region(tmp_path / "region", lots(3))
    command = [sys.executable, "-m", "sitepipe", "region", str(region), "--scheduler", address]
    with subprocess.Popen(command, cwd=ROOT, stderr=subprocess.PIPE, stdout=subprocess.PIPE) as running:
        parcels = region / "out" / "parcels"
        until = time.monotonic() + 240.0
        while len([*parcels.glob("*/.sitepipe-*.new-*")]) < 2 and time.monotonic() < until:
            time.sleep(0.02)
        processes[2].send_signal(signal.SIGKILL)
        said, faults = running.communicate(timeout=300)
    assert running.returncode == 0, (said, faults)
    assert {row["state"] for row in table(region).values()} == {"done"}
    assert len(times(region)) == 3
    assert [name for parcel in parcels.iterdir() for name in leftovers(parcel)] == []
    assert b"killed" not in faults


def test_no_scheduler_at_an_address_is_one_clear_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    region = make_region(tmp_path / "region", lots(1))
    assert sitepipe("region", region, "--scheduler", "tcp://127.0.0.1:9") == 2
    assert "no scheduler with workers answers at tcp://127.0.0.1:9" in capsys.readouterr().err


def test_without_dask_the_command_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    assert sitepipe("region", make_region(tmp_path / "region", lots(1))) == 2
    assert "pip install 'sitepipe[region]'" in capsys.readouterr().err
