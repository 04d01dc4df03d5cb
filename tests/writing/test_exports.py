"""Exports for spreadsheets and phones, read back by readers that share no code with what wrote them."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import xml.etree.ElementTree as ET
from functools import cache
from pathlib import Path
from typing import Any

import pyogrio
import pytest
import shapely
from pyproj import CRS, Geod

from sitepipe.analysis import Analysis
from sitepipe.reading.source import files_of
from sitepipe.saying import NO_BREAK
from sitepipe.settings import ExportSettings
from sitepipe.units import parse_length
from sitepipe.writing.located import plan_geojson, plan_kml, stakes_gpx, to_earth
from sitepipe.writing.results import write_results
from sitepipe.writing.spreadsheets import harmless, quantities_csv, stakes_csv
from sitepipe.writing.tables import tables
from tests.mapping.drawn_analysis import make_analysis
from tests.writing.short_run import drawn, make_site

HOSTILE = '=cmd|"/c calc"!A1 <b>&amp;</b> `${1}` ]]> \u202e'


@cache
def placed() -> Analysis:
    """Return the drawn analysis somewhere on the earth: 42.5 N, in a plane of metres."""
    return on_plane(drawn())


def on_plane(analysis: Analysis) -> Analysis:
    grid = dataclasses.replace(analysis.site.grid, crs=CRS.from_epsg(32618).to_wkt())
    return dataclasses.replace(analysis, site=dataclasses.replace(analysis.site, grid=grid))


def rows_of(content: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(content.decode("utf-8-sig"), newline="")))


def test_stakes_come_back_from_the_spreadsheet_as_lengths() -> None:
    rows = rows_of(stakes_csv(drawn()))
    stakes = [stake for mound in drawn().plan.mounds for stake in mound.stakes]
    assert [row["stake"] for row in rows] == [stake.label for stake in stakes]
    for row, stake in zip(rows, stakes, strict=True):
        wanted = stake.from_points[0][1]
        assert float(row["first_tape_m"]) == pytest.approx(wanted, abs=0.0006)
        said = row["first_tape"].replace(NO_BREAK, " ")
        assert parse_length(said.replace("½", " 1/2")) == pytest.approx(wanted, abs=0.0064)
        assert row["side"] == stake.side.value == "right"


def test_quantities_are_numbers_and_no_coordinate_is_in_a_spreadsheet() -> None:
    rows = rows_of(quantities_csv(drawn()))
    assert {row["material"]: float(row["volume_m3"]) for row in rows} == {
        "logs and brush": 23.0,
        "chips and leaves": 26.0,
        "soil": 18.0,
    }
    everything = (stakes_csv(drawn()) + quantities_csv(drawn())).decode("utf-8-sig")
    for mound in drawn().plan.mounds:
        for stake in mound.stakes:
            assert str(int(stake.place.x)) not in everything
            assert str(int(stake.place.y)) not in everything


# OWASP's list of signs that start a formula: = + - @ tab and carriage return; and their full-width forms.
@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "\r=", "\n=", " =", "\u200b=", "＝", "＋", "－", "＠"])
@pytest.mark.case(108)
def test_no_text_is_run_as_a_formula(start: str) -> None:
    cell = str(harmless(f"{start}1+1"))
    assert cell.startswith("'")


@pytest.mark.case(108)
def test_negative_numbers_stay_numbers() -> None:
    assert harmless(-0.25) == -0.25


def test_a_hostile_name_fills_one_cell_and_no_more() -> None:
    plan = drawn().plan
    hostile = dataclasses.replace(plan.quantities[0], material=f'{HOSTILE}\r\n"\x00,;')
    analysis = dataclasses.replace(drawn(), plan=dataclasses.replace(plan, quantities=(hostile,)))
    rows = rows_of(quantities_csv(analysis))
    assert len(rows) == 1
    assert rows[0]["material"].startswith("'=cmd")
    assert set(rows[0]) == set(rows_of(quantities_csv(drawn()))[0])


def test_the_geojson_keeps_rfc_7946() -> None:
    told = json.loads(plan_geojson(placed(), to_earth(placed())))
    assert set(told) == {"type", "features"}
    assert len(told["features"]) == sum(len(table.rows) for table in tables(placed()))
    for feature in told["features"]:
        assert set(feature) == {"type", "geometry", "properties"}
        shape = shapely.geometry.shape(feature["geometry"])
        west, south, east, north = shape.bounds
        assert -76.0 < west <= east < -74.0
        assert 42.0 < south <= north < 43.0
        for polygon in getattr(shape, "geoms", [shape]):
            if polygon.geom_type == "Polygon":
                assert polygon.exterior.is_ccw
                assert not any(ring.is_ccw for ring in polygon.interiors)


def test_the_parcel_on_the_earth_is_as_large_as_on_the_plane() -> None:
    """Against the geodesic area on the ellipsoid (Karney 2013, in PROJ); the plane's scale is within 4 in 10,000."""
    told = json.loads(plan_geojson(placed(), to_earth(placed())))
    (parcel,) = [f for f in told["features"] if f["properties"]["layer"] == "parcel"]
    area, _ = Geod(ellps="WGS84").geometry_area_perimeter(shapely.geometry.shape(parcel["geometry"]))
    assert abs(area) == pytest.approx(placed().site.parcel.area, rel=0.0009)


def test_every_shape_comes_back_within_a_centimetre(tmp_path: Path) -> None:
    (tmp_path / "plan.geojson").write_bytes(plan_geojson(placed(), to_earth(placed())))
    import geopandas

    read = geopandas.read_file(tmp_path / "plan.geojson").to_crs(placed().site.grid.crs)
    wanted = [geometry for table in tables(placed()) for geometry, _ in table.rows]
    assert max(one.hausdorff_distance(other) for one, other in zip(read.geometry, wanted, strict=True)) < 0.015


def test_the_kml_is_read_by_another_reader(tmp_path: Path) -> None:
    (tmp_path / "plan.kml").write_bytes(plan_kml(placed(), to_earth(placed())))
    layers = {name for name, _ in pyogrio.list_layers(tmp_path / "plan.kml")}
    assert layers == {table.name.replace("_", " ") for table in tables(placed()) if table.rows}
    mounds = pyogrio.read_dataframe(tmp_path / "plan.kml", layer="mounds").to_crs(placed().site.grid.crs)
    for found, mound in zip(mounds.geometry, placed().plan.mounds, strict=True):
        assert found.hausdorff_distance(mound.outline) < 0.015


def test_the_gpx_holds_the_stakes_and_is_read_by_another_reader(tmp_path: Path) -> None:
    (tmp_path / "stakes.gpx").write_bytes(stakes_gpx(placed(), to_earth(placed())))
    read = pyogrio.read_dataframe(tmp_path / "stakes.gpx", layer="waypoints").to_crs(placed().site.grid.crs)
    stakes = [stake for mound in placed().plan.mounds for stake in mound.stakes]
    assert list(read["name"]) == [stake.label for stake in stakes]
    assert max(f.distance(s.place) for f, s in zip(read.geometry, stakes, strict=True)) < 0.015
    assert all("use the tapes" in text for text in read["desc"])


@pytest.mark.case(109)
def test_hostile_names_are_only_text_in_xml() -> None:
    analysis = on_plane(make_analysis({"Gate": f"{HOSTILE}\x00\x0b", "House": "]]><script>"}, site_name=HOSTILE))
    analysis = on_plane(dataclasses.replace(analysis, site=dataclasses.replace(analysis.site)))
    root = ET.fromstring(plan_kml(analysis, to_earth(analysis)))  # noqa: S314 (written a line above)
    names = {element.text for element in root.iter("{http://www.opengis.net/kml/2.2}name")}
    assert "]]><script>" in names
    assert {element.tag.rsplit("}", 1)[-1] for element in root.iter()} <= {
        "kml",
        "Document",
        "Folder",
        "Placemark",
        "name",
        "description",
        "Point",
        "LineString",
        "LinearRing",
        "Polygon",
        "MultiGeometry",
        "outerBoundaryIs",
        "innerBoundaryIs",
        "coordinates",
    }


def test_where_the_ground_lies_is_written_only_when_asked_for(tmp_path: Path) -> None:
    located = {"plan.geojson", "plan.kml", "stakes.gpx"}
    site = make_site(tmp_path / "site")
    asked: dict[str, Any] = {"exports": ExportSettings(location=True)}
    for name, analysis in (
        ("quiet", placed()),
        ("told", dataclasses.replace(placed(), settings=placed().settings.model_copy(update=asked))),
    ):
        (tmp_path / name).mkdir()
        write_results(analysis, files_of(site, analysis.settings), tmp_path / name, lambda _: None)
    assert not (tmp_path / "quiet" / "located").exists()
    assert {path.name for path in (tmp_path / "told" / "located").iterdir()} == located
