"""Drawings and heights on different datums; case 105 of the catalogue of bad input.

Accuracies are those of the EPSG dataset as PROJ carries it: NAD83 to WGS 84 (1) 4 m, ETRS89 to WGS 84 (1) 1 m.
"""

from __future__ import annotations

import math
from pathlib import Path
from types import SimpleNamespace

import pytest
from pyproj import CRS, Transformer

from sitepipe.reading import datum
from sitepipe.reading.datum import said_of_shift, shift_error
from sitepipe.reading.notes import Notes
from tests.reading.folders import PARCEL, UTM, make_folder, polygon, read, slope, write_drawing, write_heights

TO_EARTH = Transformer.from_crs(UTM, 4326, always_xy=True)


@pytest.mark.parametrize(
    ("source", "target", "metres"),
    [(4326, 32618, 0.0), (4326, 26918, 4.0), (4326, 25832, 1.0), (3857, 4326, 0.0)],
)
def test_the_stated_accuracy_is_that_of_the_epsg_dataset(source: int, target: int, metres: float) -> None:
    assert shift_error(CRS.from_epsg(source), CRS.from_epsg(target)) == metres


def test_between_systems_of_one_datum_nothing_is_in_doubt_whatever_the_library_states(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """PROJ 9.8.1 states -1, unknown, for UTM on WGS 84 (asked of the library in pyproj 3.8's wheel)."""
    silent = SimpleNamespace(transformers=[SimpleNamespace(accuracy=-1.0)])
    monkeypatch.setattr(datum, "TransformerGroup", lambda *_, **__: silent)
    earth, utm = CRS.from_epsg(4326), CRS.from_epsg(32618)
    assert shift_error(earth, utm) == shift_error(CRS.from_user_input("OGC:CRS84"), utm) == 0.0
    assert said_of_shift("parcel.geojson", earth, "elevation.tif", utm) == Notes()
    assert math.isnan(shift_error(earth, CRS.from_epsg(26918)))


@pytest.mark.case(105)
def test_a_shift_whose_table_is_missing_is_warned_of() -> None:
    old, new = CRS.from_epsg(4267), CRS.from_epsg(26918)
    assert math.isnan(shift_error(old, new))
    said = said_of_shift("parcel.geojson", old, "elevation.tif", new)
    assert said.assumptions == ()
    (warned,) = said.warnings
    assert "EPSG:4267" in warned
    assert "nobody has stated how well" in warned
    assert "to 20 m only" in said_of_shift("a", old, "b", CRS.from_epsg(32618)).warnings[0]


@pytest.mark.case(105)
def test_the_run_says_how_well_a_drawing_lies_on_heights_of_another_datum(tmp_path: Path) -> None:
    make_folder(tmp_path)
    assert not [said for said in read(tmp_path).assumptions if "tied" in said]
    write_heights(tmp_path / "elevation.tif", slope(), crs="EPSG:26918")
    write_drawing(
        tmp_path / "parcel.geojson", polygon([TO_EARTH.transform(x, y) for x, y in PARCEL], kind="parcel"), crs=None
    )
    site = read(tmp_path)
    (said,) = [said for said in site.assumptions if "tied" in said]
    assert "EPSG:4326" in said
    assert "about 4 m" in said
    assert not [said for said in site.warnings if "tied" in said]


def test_two_files_of_one_system_or_a_plane_of_its_own_need_no_word() -> None:
    utm, local = CRS.from_epsg(32618), CRS.from_wkt('LOCAL_CS["yard",UNIT["metre",1]]')
    for pair in ((utm, utm), (None, utm), (utm, None), (local, local)):
        assert said_of_shift("a", pair[0], "b", pair[1]) == Notes()
