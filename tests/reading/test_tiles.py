"""Heights in a folder of tiles: the same ground as in one file, whatever the seams."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sitepipe.errors import InputError
from sitepipe.reading.source import files_of
from tests.reading.folders import NORTH, WEST, make_folder, read, settings_of, slope, write_heights

Box = tuple[int, int, int, int]
"""First row, end row, first column, end column."""

ROUGH = slope() + np.random.default_rng(3).normal(0.0, 0.2, (60, 80))
CUTS: dict[str, list[Box]] = {
    "one": [(0, 60, 0, 80)],
    "a seam through the parcel": [(0, 60, 0, 37), (0, 60, 37, 80)],
    "three corners in the parcel": [(0, 28, 0, 41), (28, 60, 0, 41), (0, 60, 41, 80)],
    "four of unlike size": [(0, 31, 0, 33), (0, 29, 33, 80), (31, 60, 0, 50), (29, 60, 33, 80)],
    "overlaps": [(0, 40, 0, 50), (0, 40, 30, 80), (20, 60, 0, 80)],
}


def tiled(folder: Path, boxes: list[Box], heights: Any = ROUGH, **options: Any) -> Path:
    make_folder(folder, heights)
    (folder / "tiles").mkdir()
    for number, box in enumerate(boxes):
        write_tile(folder / "tiles" / f"t{number}.tif", box, heights, **options)
    (folder / "tiles" / "readme.txt").write_text("how these were flown", encoding="utf-8")
    return folder


def write_tile(path: Path, box: Box, heights: Any, **options: Any) -> None:
    top, bottom, left, right = box
    place = (1.0, 0.0, WEST + left, 0.0, -1.0, NORTH - top)
    write_heights(path, heights[top:bottom, left:right], transform=place, **options)


@pytest.mark.parametrize("cut", CUTS)
@pytest.mark.parametrize("cell", [None, "0.7 m", "2 m"])
def test_tiles_are_the_merged_raster(tmp_path: Path, cut: str, cell: str | None) -> None:
    ground = {} if cell is None else {"cell": cell}
    folder = tiled(tmp_path, CUTS[cut])
    whole, parts = read(folder, ground=ground), read(folder, ground=ground, elevation="tiles")
    assert whole.grid == parts.grid
    assert np.array_equal(whole.elevation, parts.elevation, equal_nan=True)
    assert [said.replace("tiles", "elevation.tif") for said in parts.assumptions] == list(whole.assumptions)


def test_where_tiles_overlap_the_first_that_knows_counts(tmp_path: Path) -> None:
    folder = tiled(tmp_path, [])
    known = np.where(np.arange(80) < 40, ROUGH, np.nan)
    write_tile(folder / "tiles" / "a.tif", (0, 60, 0, 80), known, nodata=np.nan)
    write_tile(folder / "tiles" / "b.tif", (0, 60, 0, 80), ROUGH + 1.0)
    found = read(folder, elevation="tiles")
    row, column = found.grid.cell_at(WEST + 30.5, NORTH - 25.5)
    assert found.elevation[row, column] == ROUGH[25, 30]
    assert found.elevation[row, column + 20] == ROUGH[25, 50] + 1.0


def test_a_missing_tile_leaves_the_ground_blank_and_is_said(tmp_path: Path) -> None:
    folder = tiled(tmp_path, [CUTS["four of unlike size"][k] for k in (0, 2, 3)])
    found = read(folder, elevation="tiles")
    assert np.isnan(found.elevation[found.grid.cell_at(WEST + 50.5, NORTH - 20.5)])
    assert any("of the parcel" in warning and "stays blank" in warning for warning in found.warnings)


def test_the_run_rests_on_every_tile(tmp_path: Path) -> None:
    folder = tiled(tmp_path, CUTS["overlaps"])
    named = files_of(folder, settings_of(elevation="tiles"))
    assert sorted(named) == ["elevation.t0.tif", "elevation.t1.tif", "elevation.t2.tif", "parcel"]


FOREIGN: dict[str, tuple[Callable[[Path], object], str]] = {
    "cells": (
        lambda path: write_heights(path, slope(30, 40), transform=(2.0, 0.0, WEST, 0.0, -2.0, NORTH)),
        r"t9\.tif is in cells of 2, and t0\.tif is not",
    ),
    "system": (lambda path: write_tile(path, (0, 60, 0, 80), ROUGH, crs="EPSG:32619"), "in another coordinate system"),
    "unit": (lambda path: write_tile(path, (0, 60, 0, 80), ROUGH, unit="ft"), "in another unit of height"),
    "shift": (
        lambda path: write_heights(path, ROUGH, transform=(1.0, 0.0, WEST + 0.4, 0.0, -1.0, NORTH)),
        "shifted by a part of a cell",
    ),
    "turned": (
        lambda path: write_heights(path, ROUGH, transform=(0.8, 0.6, WEST, 0.6, -0.8, NORTH)),
        "is turned, or its rows run from south to north",
    ),
    "broken": (
        lambda path: path.write_bytes(b"II*\x00nothing more"),
        r"t9\.tif cannot be read as a GTiff raster: it is cut short",
    ),
    "picture": (lambda path: write_heights(path, np.zeros((3, 9, 9), dtype=np.uint8)), r"t9\.tif has 3 bands"),
}


@pytest.mark.parametrize("what", FOREIGN)
def test_files_that_are_no_tiles_of_one_another_are_refused_by_name(tmp_path: Path, what: str) -> None:
    folder = tiled(tmp_path, CUTS["one"])
    change, said = FOREIGN[what]
    change(folder / "tiles" / "t9.tif")
    with pytest.raises(InputError, match=said):
        read(folder, elevation="tiles")


@pytest.mark.parametrize("named", [".", ".."])
def test_the_site_folder_itself_is_no_folder_of_tiles(tmp_path: Path, named: str) -> None:
    site = tmp_path / "site"
    site.mkdir()
    with pytest.raises(InputError, match="Give tiles a folder of their own"):
        read(make_folder(site), elevation=named)
