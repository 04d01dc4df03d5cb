"""How parcels are read, and what of the region's layers goes into the drawing of one."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path

import pytest

from sitepipe import cli
from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.layers import read_layer
from sitepipe.region.folder import open_region
from sitepipe.region.parcel import Cutter, Parcel, parcels_of, site_toml
from sitepipe.settings import read_settings
from tests.reading.folders import NORTH, WEST, line, point, polygon, write_drawing
from tests.region.districts import TOML, lots, make_region


def test_shapes_with_one_key_are_one_parcel_and_a_missing_key_fails_alone(tmp_path: Path) -> None:
    one, other, third = lots(3)
    twice = polygon(third[1]["coordinates"][0], lot="L0000")
    found = parcels_of(open_region(make_region(tmp_path, [one, polygon(other[1]["coordinates"][0], lot=None), twice])))
    assert [(parcel.key, len(parcel.shapes), bool(parcel.fault)) for parcel in found] == [
        ("L0000", 2, False),
        ("feature 2", 1, True),
    ]


def test_a_parcel_without_a_shape_fails_alone(tmp_path: Path) -> None:
    region = make_region(tmp_path, [*lots(1), ({"lot": "flat"}, {"type": "Polygon", "coordinates": []})])
    sound, flat = parcels_of(open_region(region))
    assert not sound.fault
    assert "has no geometry" in flat.fault


def test_keys_that_differ_in_capitals_would_share_a_folder_on_some_systems(tmp_path: Path) -> None:
    shapes = [polygon(lot[1]["coordinates"][0], lot=key) for lot, key in zip(lots(2), ("a1", "A1"), strict=True)]
    assert [bool(parcel.fault) for parcel in parcels_of(open_region(make_region(tmp_path, shapes)))] == [False, True]


@pytest.mark.case(93)
@pytest.mark.parametrize("key", ["../../etc", "CON", "nul.txt", "a/b", "", ".hidden", "x" * 300, "½ acre", "end."])
def test_no_key_names_a_folder_that_a_system_refuses_or_that_lies_elsewhere(key: str) -> None:
    name = Parcel(key, ()).folder
    assert name
    assert Path(name).name == name
    assert not name.startswith(".")
    assert len(name) <= 64
    assert name.lower().split(".")[0] not in {"con", "nul"}


def test_the_drawing_holds_what_stands_near_and_what_carries_water_from_farther(tmp_path: Path) -> None:
    [lot] = lots(1)
    region = make_region(tmp_path, [lot], toml=TOML + '\n[things.more]\nfile = "more.geojson"\n')
    far = WEST + 52.0
    write_drawing(
        region / "more.geojson",
        point(far + 90.0, NORTH - 30.0, kind="tree", owner="somebody", height="5 m"),
        point(far + 110.0, NORTH - 30.0, kind="tree"),
        line((far + 300.0, NORTH - 30.0), (far + 900.0, NORTH - 30.0), kind="ditch"),
        line((far + 600.0, NORTH - 30.0), (far + 900.0, NORTH - 30.0), kind="ditch"),
    )
    opened = open_region(region)
    path = tmp_path / "drawn.geojson"
    path.write_bytes(Cutter(opened).drawing(parcels_of(opened)[0]))
    drawn = read_layer(path)
    assert [str(each.properties["kind"]) for each in drawn.features] == ["parcel", "building", "tree", "ditch"]
    assert "owner" not in json.dumps([dict(each.properties) for each in drawn.features])
    assert drawn.features[3].geometry.bounds[2] == pytest.approx(far + 500.0)


def test_the_settings_of_a_parcel_are_those_of_the_region(tmp_path: Path) -> None:
    toml = TOML.replace("[ground]", '[hoop_house]\nsizes = [["9 m", "4 m"]]\n\n[ground]')
    opened = open_region(make_region(tmp_path, lots(1), toml=toml))
    written = tmp_path / "site.toml"
    written.write_bytes(site_toml(opened, parcels_of(opened)[0], tmp_path))
    own = read_settings(written)
    assert own.model_copy(update={"name": "Site", "elevation": None, "parcel": None}) == opened.settings
    assert tomllib.loads(written.read_text(encoding="utf-8"))["elevation"] == "heights.tif"


@pytest.mark.parametrize(
    ("spoilt", "told"),
    [
        (TOML.replace("key =", "keys ="), r"region\.toml: key"),
        (TOML.replace('key = "lot"', 'key = "lott"'), r"key is 'lott', and parcels\.geojson has no such column.*lot"),
        (TOML.replace('kind = "building"', 'kind = "bilding"'), r"things\.houses\.kind is 'bilding'"),
        (TOML.replace('kind = "building"\n', ""), r"houses\.geojson has no column 'kind'"),
        (TOML + "\n[grond]\nerror = '1 in'\n", r"grond is not a setting \(did you mean 'ground'\?\)"),
        (TOML.replace("widest_window", "widest"), r"ground\.widest is not a setting"),
        ('levels = "levels.csv"\n' + TOML, r"levels belongs to one parcel"),
    ],
)
def test_a_region_that_asks_for_what_cannot_be_is_refused_in_one_line(tmp_path: Path, spoilt: str, told: str) -> None:
    with pytest.raises(SettingsError, match=told):
        open_region(make_region(tmp_path, lots(1), toml=spoilt))


def test_a_list_of_tiles_is_read_as_text_and_reaches_nowhere_else(tmp_path: Path) -> None:
    region = make_region(tmp_path, lots(1), toml=TOML.replace("heights.tif", "all.vrt"))
    listed = region / "all.vrt"
    source = '<VRTDataset><VRTRasterBand><SimpleSource><SourceFilename relativeToVRT="{}">{}</SourceFilename>'
    listed.write_text(source.format(1, "heights.tif"), encoding="utf-8")
    assert [raster.name for raster in open_region(region).rasters] == ["heights.tif"]
    for written in (source.format(1, "../heights.tif"), source.format(0, "/etc/passwd")):
        listed.write_text(written, encoding="utf-8")
        with pytest.raises(InputError, match="no tile beside it or below"):
            open_region(region)
    listed.write_text(source.format(1, "heights.tif").replace("<VRTRasterBand", '<VRTRasterBand subClass="x"'))
    with pytest.raises(InputError, match="more than a list of tiles"):
        open_region(region)


def test_check_tells_what_a_region_takes_and_what_cannot_be_run(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    bow = polygon(
        [[WEST, NORTH], [WEST + 9, NORTH - 9], [WEST + 9, NORTH], [WEST, NORTH - 9], [WEST, NORTH]], lot="bow"
    )
    off = polygon([[x + 5000.0, y] for x, y in lots(1)[0][1]["coordinates"][0]], lot="off")
    region = make_region(tmp_path, [*lots(3), bow, off])
    assert cli.outcome(["check", str(region)]) == 0
    said = capsys.readouterr().out
    assert "5 parcels over 1 file of heights; 2 of them cannot be run." in said
    assert "- bow: its outline crosses or touches itself" in said
    assert "- off: it lies off the heights of heights.tif." in said
    assert cli.outcome(["check", str(region), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    # Three boxes of 32 m with 30 m of margin and half of what is looked at around, at 1 m; the window is cut at 20,000.
    assert told["cells"] == 3 * 20_000
    assert list(told["faults"]) == ["bow", "off"]
