"""Every file of a run, opened again by readers that did not write it."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import os
import sqlite3
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from sitepipe.answers.layers import declared_layers
from sitepipe.commands.run import day_of_run
from sitepipe.errors import WritingError
from sitepipe.mapping import page
from sitepipe.reading.source import files_of
from sitepipe.settings import make_settings, read_settings
from sitepipe.writing.rasters import write_layer, write_layers
from sitepipe.writing.results import as_json, write_results
from sitepipe.writing.tables import tables
from sitepipe.writing.vectors import write_plan
from tests.mapping.drawn_analysis import make_analysis
from tests.writing.short_run import copy_of, drawn, make_site

ROOT = Path(__file__).resolve().parents[2]
DESIGN_LAYERS = [
    "elevation",
    "slope",
    "aspect",
    "upslope_area",
    "ponding_depth",
    "ponding_probability",
    "wetness_index",
    "height_above_nearest_drainage",
    "depth_to_water_index",
    "water_table_depth",
    "wetness",
    "sun_hours",
    "insolation",
    "sky_view",
    "suitability_mound",
    "suitability_wet_planting",
    "suitability_path",
    "zone",
]


@pytest.fixture(scope="module")
def results(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Folder of the results of the drawn analysis."""
    folder = tmp_path_factory.mktemp("results")
    site = make_site(folder / "site")
    (folder / "out").mkdir()
    analysis = dataclasses.replace(drawn(), made_on=day_of_run(None))
    write_results(analysis, files_of(site, read_settings(site / "site.toml")), folder / "out", lambda _: None)
    return folder / "out"


def test_a_page_that_cannot_be_made_costs_no_other_result(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    monkeypatch.setattr(page, "MOST_BYTES", 100_000)
    inputs = files_of(make_site(tmp_path / "site"), drawn().settings)
    missing = write_results(drawn(), inputs, out, lambda _: None)
    assert isinstance(missing, WritingError)
    assert "all else was written" in str(missing)
    assert {"plan.pdf", "plan.gpkg", "summary.json", "tables", "layers", "run.json"} == {
        path.name for path in out.iterdir()
    }


def test_a_run_leaves_the_files_that_the_design_lists(results: Path) -> None:
    names = {path.relative_to(results).as_posix() for path in results.rglob("*") if path.is_file()}
    assert names == {
        "map.html",
        "plan.gpkg",
        "plan.pdf",
        "tables/stakes.csv",
        "tables/quantities.csv",
        "summary.json",
        "run.json",
        *(f"layers/{name}.tif" for name in DESIGN_LAYERS),
    }


@pytest.mark.case(111)
def test_no_file_is_named_after_what_is_drawn(results: Path, tmp_path: Path) -> None:
    """Results have fixed names, whatever the site, the parcel or a work is called."""
    name = "../../evil/$(touch x)\\CON\u202egpj.exe -rf <b>"
    site, out = make_site(tmp_path / "site"), tmp_path / "out"
    out.mkdir()
    analysis = make_analysis({"House": name, "Gate": name}, site_name=name)
    analysis = dataclasses.replace(analysis, site=dataclasses.replace(analysis.site, grid=drawn().site.grid))
    write_results(analysis, files_of(site, analysis.settings), out, lambda _: None)
    assert list(copy_of(out)) == list(copy_of(results))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["out", "site"]


@pytest.mark.parametrize("name", DESIGN_LAYERS)
def test_a_layer_says_its_title_unit_and_source_and_lies_where_it_should(name: str, results: Path) -> None:
    import rasterio

    layer, grid = declared_layers()[name], drawn().site.grid
    with rasterio.open(results / "layers" / f"{name}.tif") as written:
        assert written.tags(ns="IMAGE_STRUCTURE")["LAYOUT"] == "COG"
        assert (written.count, written.dtypes, written.shape) == (1, ("float32",), grid.shape)
        assert written.transform[:6] == grid.transform
        assert np.isnan(written.nodata)
        assert {"TITLE": layer.title, "UNIT": layer.unit, "SOURCE": layer.source}.items() <= written.tags().items()
        assert written.units == (layer.unit,)
        assert written.descriptions == (layer.title,)
    assert list((results / "layers").glob("*.aux.xml")) == []


def test_a_layer_holds_the_numbers_of_the_record(results: Path) -> None:
    from PIL import Image  # a reader of its own, with no GDAL in it

    with Image.open(results / "layers" / "sky_view.tif") as picture:
        assert np.array_equal(np.asarray(picture), drawn().sunlight.sky_view.astype(np.float32), equal_nan=True)


def test_a_large_layer_has_overviews_and_zones_are_not_blended(tmp_path: Path) -> None:
    import rasterio

    rows = np.repeat(np.arange(700) // 100, 700).reshape(700, 700).astype(np.float64)
    grid = dataclasses.replace(drawn().site.grid, rows=700, columns=700)
    write_layer(tmp_path / "zone.tif", "zone", declared_layers()["zone"], rows, grid)
    with rasterio.open(tmp_path / "zone.tif", overview_level=0) as small:
        assert set(np.unique(small.read(1))) == set(range(7))


def test_a_projected_plane_is_written_into_every_layer_and_table(tmp_path: Path) -> None:
    import pyogrio
    import rasterio

    analysis = drawn()
    grid = dataclasses.replace(analysis.site.grid, crs=rasterio.crs.CRS.from_epsg(32618).to_wkt())
    placed = dataclasses.replace(analysis, site=dataclasses.replace(analysis.site, grid=grid))
    write_layers(placed, tmp_path / "layers")
    write_plan(placed, tmp_path / "plan.gpkg")
    with rasterio.open(tmp_path / "layers" / "slope.tif") as written:
        assert written.crs.to_epsg() == 32618
    assert pyogrio.read_info(tmp_path / "plan.gpkg", layer="zones")["crs"] == "EPSG:32618"


def test_every_table_of_the_plan_comes_back(results: Path) -> None:
    import geopandas

    for table in tables(drawn()):
        read = geopandas.read_file(results / "plan.gpkg", layer=table.name)
        assert len(read) == len(table.rows), table.name
        assert list(read.columns) == [*table.columns, "geometry"]
        for found, (wanted, values) in zip(read.itertuples(index=False), table.rows, strict=True):
            assert found.geometry.equals_exact(wanted, 0.01)
            for one, other in zip(found[:-1], values, strict=True):
                assert other is None or one == other


def test_the_plan_is_a_sound_geopackage(results: Path) -> None:
    """OGC 12-128r19: application id, integrity, one row in gpkg_contents and gpkg_geometry_columns a table."""
    with sqlite3.connect(f"file:{results / 'plan.gpkg'}?mode=ro", uri=True) as plan:
        assert plan.execute("pragma integrity_check").fetchone() == ("ok",)
        assert plan.execute("pragma application_id").fetchone() == (0x47504B47,)
        named = {name for (name,) in plan.execute("select table_name from gpkg_contents where data_type='features'")}
        assert named == {table.name for table in tables(drawn())}
        assert plan.execute("select count(*) from gpkg_geometry_columns").fetchone() == (len(named),)
    plan.close()


def test_the_run_notes_what_it_read_and_assumed_and_nothing_of_the_machine(results: Path) -> None:
    noted = json.loads((results / "run.json").read_text(encoding="utf-8"))
    assert noted["made_by"] == "sitepipe"
    assert noted["files"] == sorted(copy_of(results))
    assert set(noted["inputs"]) == {"site.toml", "elevation", "parcel"}
    text = (results.parent / "site" / "site.toml").read_bytes()
    assert noted["inputs"]["site.toml"]["sha256"] == hashlib.sha256(text).hexdigest()
    assert noted["settings"]["units"] == "imperial"
    assert noted["assumptions"]
    everything = (results / "run.json").read_text(encoding="utf-8")
    assert str(results.parent) not in everything
    assert os.uname().nodename not in everything


def test_every_file_that_a_run_reads_is_hashed_named_or_found(tmp_path: Path) -> None:
    site = make_site(tmp_path)
    (site / "holes.csv").write_text("place\n", encoding="utf-8")
    (site / "kinds.csv").write_text("latin\n", encoding="utf-8")
    (site / "plants.csv").write_text("name\n", encoding="utf-8")
    settings = make_settings(
        {
            "elevation": "elevation.tif",
            "parcel": "none.geojson",
            "holes": "holes.csv",
            "planting": {"palette": "kinds.csv"},
        },
        "site.toml",
    )
    assert {key: path.name for key, path in files_of(site, settings).items()} == {
        "site.toml": "site.toml",
        "elevation": "elevation.tif",
        "holes": "holes.csv",
        "planting.palette": "kinds.csv",
        "plants": "plants.csv",
    }


def test_unknown_numbers_are_null_and_broken_text_does_not_stop_the_run() -> None:
    told = json.loads(as_json({"a": float("nan"), "b": [float("inf"), 1.5], "c": "half \ud800 a sign", "d": "½"}))
    assert told == {"a": None, "b": [None, 1.5], "c": "half ? a sign", "d": "½"}


def test_a_file_that_does_not_read_back_is_noticed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def losing(path: Path, content: bytes) -> int:
        with path.open("wb") as file:
            return file.write(content[: len(content) // 2])

    monkeypatch.setattr(Path, "write_bytes", losing)
    with pytest.raises(WritingError, match=r"map.html does not read back as it was written"):
        write_results(drawn(), files_of(make_site(tmp_path / "site"), drawn().settings), tmp_path, lambda _: None)


def test_the_same_analysis_gives_the_same_bytes_anywhere(results: Path, tmp_path: Path) -> None:
    """In another folder, time zone, language and order of hashing, with more threads; the tests' own are the other."""
    elsewhere = {"TZ": "Pacific/Auckland", "LANG": "tr_TR.UTF-8", "LC_ALL": "C", "PYTHONHASHSEED": "2"}
    elsewhere |= {"OMP_NUM_THREADS": "8", "GDAL_NUM_THREADS": "8"}
    site = make_site(tmp_path / "another place")
    command: list[Any] = [sys.executable, "-m", "tests.writing.short_run", "run", site, "--out", tmp_path / "elsewhere"]
    subprocess.run(
        command,
        check=True,
        capture_output=True,
        cwd=ROOT,
        env={**os.environ, **elsewhere, "SHORT_RUN_DRAWS": "everything"},
    )
    assert copy_of(tmp_path / "elsewhere") == copy_of(results)
