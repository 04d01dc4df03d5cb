"""Bad folders through the command line: an exit code, one line that names the thing and the remedy, nothing lost.

The numbers are those of the project's catalogue of bad input.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from sitepipe import cli
from tests.reading.folders import (
    NORTH,
    WEST,
    line,
    make_folder,
    point,
    polygon,
    ring,
    slope,
    write_drawing,
    write_heights,
)
from tests.writing.short_run import copy_of, leftovers

Spoil = Callable[[Path], object]
TOML = 'name = "Test"\nelevation = "elevation.tif"\nparcel = "parcel.geojson"\n'


def toml(text: str) -> Spoil:
    return lambda site: (site / "site.toml").write_text(TOML + text, encoding="utf-8")


def instead(text: str | bytes) -> Spoil:
    content = text.encode() if isinstance(text, str) else text
    return lambda site: (site / "site.toml").write_bytes(content)


def heights(content: bytes) -> Spoil:
    return lambda site: (site / "elevation.tif").write_bytes(content)


def drawing(content: str | bytes) -> Spoil:
    text = content if isinstance(content, bytes) else content.encode()
    return lambda site: (site / "parcel.geojson").write_bytes(text)


def raster(values: object, **options: object) -> Spoil:
    return lambda site: write_heights(site / "elevation.tif", values, **options)  # type: ignore[arg-type]


def features(*drawn: object, **options: object) -> Spoil:
    return lambda site: write_drawing(site / "parcel.geojson", *drawn, **options)  # type: ignore[arg-type]


def collection(geometry: object) -> str:
    told = {"type": "Feature", "properties": {"kind": "parcel"}, "geometry": geometry}
    return json.dumps({"type": "FeatureCollection", "features": [told]})


def folder_for_heights(site: Path) -> None:
    (site / "elevation.tif").unlink()
    (site / "elevation.tif").mkdir()


def cut_short(site: Path) -> None:
    content = (site / "elevation.tif").read_bytes()
    (site / "elevation.tif").write_bytes(content[: len(content) // 2])


def link_in_a_ring(site: Path) -> None:
    (site / "elevation.tif").unlink()
    (site / "elevation.tif").symlink_to("elevation.tif")


VRT = '<VRTDataset rasterXSize="9" rasterYSize="9"><VRTRasterBand><SimpleSource/></VRTRasterBand></VRTDataset>'
OGR_VRT = "<OGRVRTDataSource><OGRVRTLayer><SrcDataSource>/etc/passwd</SrcDataSource></OGRVRTLayer></OGRVRTDataSource>"
UNPLACED = {"crs": None}
PARCEL = polygon(kind="parcel")

CASES: dict[str, tuple[Spoil, int, str]] = {
    # Rasters
    "1 heights missing": (
        lambda site: (site / "elevation.tif").unlink(),
        3,
        r"elevation is 'elevation.tif'.*no such file",
    ),
    "2 heights are a folder": (folder_for_heights, 3, r"elevation.*folder"),
    "3 heights of no bytes": (heights(b""), 3, r"elevation.tif.*empty"),
    "4 text called .tif": (heights(b"once upon a time\n" * 99), 3, r"elevation.tif"),
    "5 heights cut short": (cut_short, 3, r"elevation.tif"),
    "6 zeros of a killed writer": (heights(bytes(4096)), 3, r"elevation.tif"),
    "7 no coordinate system, drawing in degrees": (raster(slope(), crs=None), 3, r"elevation.tif|parcel.geojson"),
    "21 nothing known": (raster(np.full((60, 80), np.nan)), 3, r"elevation.tif"),
    "23 parcel elsewhere": (
        features(polygon(ring(WEST + 9e4, NORTH, WEST + 9.1e4, NORTH + 1e3), kind="parcel")),
        3,
        r"parcel",
    ),
    "24 a picture in colours": (
        raster(np.full((3, 60, 80), 90, np.uint8)),
        3,
        r"elevation.tif.*(colour|picture|bands)",
    ),
    "25 a shaded picture": (raster((slope() % 1 * 255).astype(np.uint8)), 3, r"elevation.tif"),
    "29 a single cell": (raster(np.full((1, 1), 100.0)), 3, r"elevation.tif|parcel"),
    "33 too many bands": (raster(np.full((40, 20, 20), 9.0, np.float32)), 3, r"elevation.tif.*bands"),
    "35 complex numbers": (raster(slope().astype(np.complex64)), 3, r"elevation.tif"),
    "37 a file that names files": (heights(VRT.encode()), 3, r"elevation.tif"),
    "38 a path that is no path": (
        instead(TOML.replace('"elevation.tif"', f"'{VRT}'")),
        3,
        r"elevation is .*not the path",
    ),
    "39 a path on the network": (
        instead(TOML.replace("elevation.tif", "https://example.org/x.tif")),
        3,
        r"not the path",
    ),
    "39 a path of a library": (
        instead(TOML.replace("elevation.tif", "/vsicurl/https://example.org/x.tif")),
        3,
        r"not the path",
    ),
    "39 a path with a driver": (instead(TOML.replace("elevation.tif", "CSV:/etc/passwd")), 3, r"not the path"),
    "92 a link to itself": (link_in_a_ring, 3, r"elevation is 'elevation.tif', which cannot be opened|no such file"),
    # Drawings
    "42 no drawing": (
        lambda site: (site / "parcel.geojson").unlink(),
        3,
        r"parcel is 'parcel.geojson'.*no such file",
    ),
    "43 nothing drawn": (features(), 3, r"parcel.geojson.*(no|empty|nothing)"),
    "44 no shape": (drawing(collection(None)), 3, r"parcel.geojson"),
    "45 a corner that is no number": (
        drawing(collection({"type": "Polygon", "coordinates": [[[0, 0], [1, 0], [1, float("nan")]]]})),
        3,
        r"parcel.geojson",
    ),
    "49 two corners": (
        drawing(collection({"type": "Polygon", "coordinates": [[[0, 0], [1, 0]]]})),
        3,
        r"parcel.geojson",
    ),
    "50 a parcel drawn as a line": (features(line((WEST, NORTH), (WEST + 9, NORTH), kind="parcel")), 3, r"parcel"),
    "50 a parcel drawn as a point": (features(point(WEST, NORTH, kind="parcel")), 3, r"parcel"),
    "53 no parcel among the kinds": (features(polygon(kind="building")), 3, r"parcel"),
    "54 metres called degrees": (features(PARCEL, **UNPLACED), 3, r"parcel.geojson"),
    "55 north and east changed over": (
        features(polygon(ring(42.6, -74.9, 42.7, -74.8), kind="parcel"), **UNPLACED),
        3,
        r"parcel.geojson|parcel",
    ),
    "58 a parcel of one cell": (
        features(polygon(ring(WEST + 30, NORTH - 30, WEST + 31, NORTH - 29), kind="parcel")),
        3,
        r"parcel.geojson: the parcel has",
    ),
    "60 a kind misspelt": (
        features(PARCEL, point(WEST + 30, NORTH - 30, kind="tre")),
        3,
        r"did you mean 'tree'|'tree'",
    ),
    "61 a height without a unit": (
        features(PARCEL, point(WEST + 30, NORTH - 30, kind="tree", height="eight")),
        3,
        r"height",
    ),
    "69 a drawing that names files": (drawing(OGR_VRT), 3, r"parcel.geojson"),
    "70 garbage called a drawing": (drawing(b"SQLite format 3\x00" + bytes(500)), 3, r"parcel.geojson"),
    "71 half a drawing": (drawing('{"type": "FeatureCollection", "features": [{"type"'), 3, r"parcel.geojson"),
    "71 bytes that are no text": (drawing(b'{"type": "\xff\xfe"'), 3, r"parcel.geojson"),
    # Settings
    "73 broken settings": (instead('name = "Test'), 2, r"site.toml is not valid TOML.*(line 1|end of document)"),
    "73 settings that are no text": (instead(b"\xff\xfe\x00"), 2, r"site.toml cannot be read as UTF-8"),
    "74 an unknown key": (
        toml("elevatoin = 1\n"),
        2,
        r"site.toml: elevatoin is not a setting \(did you mean 'elevation'",
    ),
    "74 an unknown key in a table": (
        toml("[ground]\nerrr = '1 in'\n"),
        2,
        r"site.toml: ground.errr.*did you mean 'error'",
    ),
    "75 a length in words": (toml("[ground]\nerror = '8 inches deep'\n"), 2, r"ground.error.*'8 inches deep'"),
    "75 a length without a unit": (toml("[ground]\nerror = 0.05\n"), 2, r"ground.error.*no unit"),
    "76 a negative length": (toml("[ground]\nerror = '-1 in'\n"), 2, r"ground.error"),
    "76 no number at all": (toml("[sun]\nturbidity = nan\n"), 2, r"sun.turbidity"),
    "76 a number beyond all bounds": (toml("[ground]\nmargin = '1e308 m'\n"), 2, r"ground.margin"),
    "77 a section that is a word": (toml("ground = 'firm'\n"), 2, r"ground"),
    "79 a latitude beyond the pole": (toml("latitude = 93.0\n"), 2, r"latitude"),
    "80 a day that is not every year": (
        toml("[season]\nstart = '02-29'\n"),
        2,
        r"season.start.*not a day of an ordinary year",
    ),
    "80 a day that never is": (toml("[season]\nend = '13-40'\n"), 2, r"season.end"),
    "an unknown preset": (toml("preset = 'swamp'\n"), 2, r"preset is 'swamp'; it must be one of .*wet-lawn"),
    "unknown units": (toml("units = 'cubits'\n"), 2, r"units"),
    "no heights named": (instead('name = "Test"\nparcel = "parcel.geojson"\n'), 2, r"elevation is missing"),
    "no drawing named": (instead('name = "Test"\nelevation = "elevation.tif"\n'), 2, r"parcel is missing"),
    "no settings": (lambda site: (site / "site.toml").unlink(), 2, r"site.toml is missing"),
}


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """Make a sound site folder with the results of an earlier run."""
    folder = tmp_path / "site"
    folder.mkdir()
    make_folder(folder)
    (folder / "site.toml").write_text(TOML, encoding="utf-8")
    (folder / "out").mkdir()
    noted = {"made_by": "sitepipe", "files": ["map.html", "run.json"]}
    (folder / "out" / "run.json").write_text(json.dumps(noted), encoding="utf-8")
    (folder / "out" / "map.html").write_text("the earlier map", encoding="utf-8")
    return folder


def told(err: str) -> list[str]:
    """Return what was said to stderr but for the names of stages."""
    return [said for said in err.splitlines() if not re.match(r"(Reading|First run|Following)", said)]


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("command", ["run", "check"])
def test_bad_input_ends_in_one_line_and_leaves_the_earlier_run(
    command: str, case: str, site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil, code, wanted = CASES[case]
    before = copy_of(site / "out")
    spoil(site)
    found = cli.outcome([command, str(site)])
    out, err = capsys.readouterr()
    (said,) = told(err)
    assert (found, out) == (code, ""), said
    assert re.search(wanted, said), said
    assert said.startswith("sitepipe: ")
    assert len(said) < 400
    assert "Traceback" not in err
    assert copy_of(site / "out") == before
    assert leftovers(site) == []


@pytest.mark.parametrize(
    ("out", "code", "wanted"),
    [
        ("81 .", 2, "which the run reads"),
        ("82 ..", 2, "which the run reads"),
        ("90 none/out", 4, "parent folder does not exist"),
        ("91 site.toml", 4, "is a file, not a folder"),
        ("89 strangers", 4, "is not empty and holds no run.json"),
    ],
)
def test_a_bad_place_for_results_is_refused_before_anything_is_read(
    out: str, code: int, wanted: str, site: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (site / "strangers").mkdir()
    (site / "strangers" / "letter.txt").write_text("dear", encoding="utf-8")
    before = copy_of(site)
    found = cli.outcome(["run", str(site), "--out", str(site / out.split(" ", 1)[1])])
    _, err = capsys.readouterr()
    (said,) = told(err)
    assert found == code
    assert wanted in said
    assert copy_of(site) == before


@pytest.mark.parametrize("command", ["run", "check", "verify", "sketch"])
@pytest.mark.parametrize("what", ["missing", "file", "long"])
def test_a_site_that_is_no_folder_is_told_as_such(
    what: str, command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    name = {"missing": "missing", "file": "file", "long": "n" * 300}[what]
    found = cli.outcome([command, str(tmp_path / name)])
    _, err = capsys.readouterr()
    (said,) = told(err)
    assert found == 3
    assert "folder" in said


def test_a_sound_folder_is_checked_without_a_complaint(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.outcome(["check", str(site)]) == 0
    out, err = capsys.readouterr()
    assert told(err) == []
    assert "What it allows" in out


def test_a_check_can_be_read_by_a_program(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.outcome(["check", str(site), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["parcel_area_m2"] == pytest.approx(40.0 * 25.0, rel=1e-6)
    assert found["allows"][0]["question"] == "Where water comes from"
