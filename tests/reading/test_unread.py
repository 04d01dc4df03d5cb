"""Properties that nothing reads are pointed out, and what is declared is what the rooms ask for."""

from __future__ import annotations

import ast
import json
import re
from importlib import resources
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import sitepipe
from sitepipe.reading.drawing import read_drawing
from sitepipe.reading.kinds import COMMON, KNOWN, PROPERTIES
from sitepipe.reading.layers import read_layer
from sitepipe.reading.unread import MOST_LINES, MOST_NAMES, unread_properties
from sitepipe.settings import Settings
from sitepipe.site import Kind
from tests.reading.folders import NORTH, WEST, make_folder, point, polygon, read, write_drawing

PARCEL: dict[str, object] = {
    "type": "Feature",
    "properties": {"kind": "parcel"},
    "geometry": {"type": "Polygon", "coordinates": [[[0, 0], [9, 0], [9, 9], [0, 9], [0, 0]]]},
}


def tree(**properties: object) -> dict[str, object]:
    return {
        "type": "Feature",
        "properties": {"kind": "tree", "name": "Maple", **properties},
        "geometry": {"type": "Point", "coordinates": [3, 3]},
    }


def warnings_of(folder: Path, *features: dict[str, object]) -> tuple[str, ...]:
    path = folder / "drawn.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "features": list(features)}))
    return read_drawing(read_layer(path), Settings()).warnings


def test_a_trunk_is_not_passed_over_without_a_word(tmp_path: Path) -> None:
    (said,) = warnings_of(tmp_path, PARCEL, tree(trunk="2 m"), tree(Trunk="3 m"))
    assert said == "drawn.geojson: 'trunk' of 2 trees is not read. Did you mean 'trunk_height'?"


def test_what_is_read_in_any_spelling_of_its_case_is_not_told(tmp_path: Path) -> None:
    known = tree(Height="5 m", width_ft=9, TRUNK_HEIGHT="2 m", evergreen=True, leaf=None, note="old", full_height="")
    assert warnings_of(tmp_path, PARCEL, known) == ()


@pytest.mark.parametrize(
    ("slip", "meant"),
    [
        ("hight", "height"),
        ("ever_green", "evergreen"),
        ("trunk_heig", "trunk_height"),  # What ten letters of a shapefile leave of it.
        ("trunk height", "trunk_height"),
        ("notes", "note"),
        ("fullheight", "full_height"),
    ],
)
def test_a_slip_is_told_with_what_was_meant(slip: str, meant: str) -> None:
    (said,) = unread_properties("d", [(Kind.TREE, {slip: 1})])
    assert said.endswith(f"Did you mean {meant!r}?")


def test_a_property_of_another_kind_says_whose_it_is() -> None:
    said = unread_properties("d", [(Kind.TAP, {"seen": "wet"}), (Kind.WALL, {"trunk_height": 2.0})])
    assert said[0] == "d: 'seen' of 1 tap is not read. It is read for observations only."
    assert said[1] == "d: 'trunk_height' of 1 wall is not read. It is read for trees and hedges only."


def test_a_layer_of_somebody_elses_stays_quiet(tmp_path: Path) -> None:
    foreign = {**PARCEL, "properties": {"PARCEL_NO": 12, "owner": "x", "trunk": 3}}
    assert warnings_of(tmp_path, foreign) == ()


def test_what_files_write_of_themselves_stays_quiet(tmp_path: Path) -> None:
    own = tree(fid=3, OBJECTID=7, _leaflet_id=9, tessellate=-1, Description="seen in May", stroke="#333")
    assert warnings_of(tmp_path, PARCEL, own) == ()


@given(st.lists(st.text(min_size=1, max_size=30), max_size=60, unique=True))
def test_no_number_of_foreign_columns_drowns_the_rest(names: list[str]) -> None:
    said = unread_properties("d", [(Kind.TREE, dict.fromkeys([*names, "trunk"], 1))])
    assert len(said) <= MOST_LINES + 2
    assert any("'trunk'" in line for line in said) or sum("Did you mean" in line for line in said) == MOST_LINES
    assert all(len(line) < 60 * (MOST_NAMES + 2) for line in said)


def test_foreign_columns_share_a_line() -> None:
    columns = {f"zz{number:02}": number for number in range(30)}
    (said,) = unread_properties("d", [(Kind.BED, columns)])
    assert "'zz00', 'zz01', 'zz02', 'zz03', 'zz04' and 25 more" in said


def test_only_reading_asks_a_feature_for_its_properties_and_all_that_is_declared_is_asked_for() -> None:
    asked: set[str] = set()
    for path in sorted(Path(sitepipe.__file__).parent.rglob("*.py")):
        text = path.read_text("utf-8")
        if path.parent.name != "reading":
            assert "attributes.get(" not in text
            assert "attributes[" not in text
        if path.parent.name == "reading" and path.name in {"features.py", "works.py"}:
            asked |= {
                str(call.args[0].value)
                for call in ast.walk(ast.parse(text))
                if isinstance(call, ast.Call) and ast.unparse(call.func).startswith("properties.") and call.args
                if isinstance(call.args[0], ast.Constant)
            }
    declared = {name for names in PROPERTIES.values() for name in names}
    assert asked - set(COMMON) == declared - {"date"}, "a date is only shown"


def test_the_page_to_draw_on_writes_nothing_that_is_not_read() -> None:
    script = resources.files("sitepipe.sketching").joinpath("assets/sketch.js").read_text("utf-8")
    (block,) = re.findall(r"const EXTRA = \{(.*?)\};", script, re.DOTALL)
    kinds = re.findall(r'(?:"([a-z ]+)"|([a-z]+)): (\[\[.*?\]\])(?=,\s+(?:"[a-z ]+"|[a-z]+):|\s*$)', block, re.DOTALL)
    assert len(kinds) == 9
    for quoted, bare, fields in kinds:
        names = re.findall(r'\["([a-z_]+)", ', fields)
        assert names
        assert set(names) <= {*COMMON, *PROPERTIES.get(KNOWN[quoted or bare], ())}


def test_who_checks_and_who_runs_reads_it(tmp_path: Path) -> None:
    maple = point(WEST + 30.0, NORTH - 30.0, kind="tree", name="Maple", trunk="2 m")
    write_drawing(make_folder(tmp_path) / "parcel.geojson", polygon(kind="parcel"), maple)
    assert any("Did you mean 'trunk_height'?" in warning for warning in read(tmp_path).warnings)
