"""Every refused heights, drawing, table and archive once more from outside: the command line and a finished run.

What must hold for each: the exit code, one line that names the file and says what to do, the earlier results as they
were, nothing temporary, no network (see ``conftest``), and under two seconds of computing. Last, that no number of
the catalogue of bad input is without a test.
"""

from __future__ import annotations

import json
import re
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sitepipe import cli
from tests.hostile import test_drawings as drawings
from tests.hostile import test_rasters as rasters
from tests.reading.folders import make_folder, slope
from tests.writing.short_run import copy_of, leftovers

Spoil = Callable[[Path], Any]
TESTS = Path(__file__).resolve().parents[1]
TOML = 'name = "Test"\nelevation = "elevation.tif"\nparcel = "{parcel}"\n{more}'
LONGEST = 2.0
"""Computing time of a refusal. [s]"""
REMEDY = re.compile(
    r"[.:;,] (or )?(Set|Under .* write|Write|Save|Zip|Bring|Draw|Export|Give|Copy|Name|Take|Put|Fetch|Check|Cut|Choose|"
    r"It closes on itself: save)\b|must (be|lie)\b|; write\b|did you mean"
)


def own_drawing(name: str, content: bytes) -> Spoil:
    return lambda folder: (folder / name).write_bytes(content)


def cloud(change: str) -> Spoil:
    def spoil(folder: Path) -> None:
        from tests.reading.test_cloud import plane, scattered, write_cloud

        x, y = scattered(3_000)
        path = folder / "elevation.laz"
        write_cloud(path, x, y, plane(x, y), 1 if change == "no class" else 2, None if change == "no crs" else 32618)
        content = path.read_bytes()
        path.write_bytes({"cut": content[: len(content) // 2], "empty": b""}.get(change, content))
        text = (folder / "site.toml").read_text(encoding="utf-8").replace("elevation.tif", "elevation.laz")
        (folder / "site.toml").write_text(text, encoding="utf-8")

    return spoil


LEVELS = {
    "72 too few levels": "point,x,y,height\nA,1,1,1 m\n",
    "72 a formula for a height": "point,x,y,height\nA,1,1,=cmd()\n",
    "72 a row that is too long": "point,x,y,height\nA,1,1,1 m,9\n",
    "72 a heading misspelt": "point,x,y,heigth\nA,1,1,1 m\n",
    "72 a height without a unit": "point,x,y,height [furlong]\nA,1,1,1\n",
    "72 a heading alone": "point,x,y,height\n",
    "72 levels on one line": "point,x,y,height\n" + "\n".join(f"P{n},{n},{2 * n},{n} m" for n in range(8)),
    "72 one place, two heights": "point,x,y,height\n" + "\n".join(f"P{n},{n // 2},{n % 3},{n} m" for n in range(16)),
    "72 bytes that are no text": "point,x,y,height\nA,1,1,\ud83d\n",
    "72 nothing": "",
    "72 a NUL": "point,x,y,height\nA\0,1,1,1 m\n",
}


CASES: dict[str, tuple[Spoil, str, str, str]] = {
    # name: (what spoils the folder, the drawing that is named, more settings, the file that must be named)
    **{name: (change, "parcel.geojson", "", "elevation.tif|parcel") for name, change, _ in rasters.REFUSED},
    **{f"drawn, {name}": (change, "parcel.geojson", "", "parcel.geojson") for name, change, _ in drawings.REFUSED},
    **{
        f"66 {name}": (own_drawing("drawn.zip", content), "drawn.zip", "", r"drawn\.zip")
        for name, content, _ in drawings.ZIPS
    },
    **{
        name: (own_drawing("drawn.kml", text.encode()), "drawn.kml", "", r"drawn\.kml") for name, text in drawings.KMLS
    },
    **{
        name: (own_drawing("levels.csv", text.encode("utf-8", "surrogatepass")), "parcel.geojson",
               'levels = "levels.csv"\n', r"levels\.csv")
        for name, text in LEVELS.items()
    },
    **{
        f"42 {change}": (cloud(change), "parcel.geojson", "", r"elevation\.laz")
        for change in ("no class", "no crs", "cut", "empty")
    },
    "64 no system": (lambda folder: drawings.zip_shapefile(folder, leave_out=".prj"), "drawn.zip", "", r"drawn\.zip"),
    "59 too many corners": (
        own_drawing("parcel.geojson", b'{"type":"Polygon","coordinates":[[' + b"[1,2]," * 3_000_000 + b"[1,2]]]}"),
        "parcel.geojson", "", "parcel.geojson",
    ),
    "30 no room": (
        rasters.sparse(200_000, 200_000), "parcel.geojson", '[ground]\nmargin = "600 m"\n', "elevation.tif|cells fit"
    ),
    "15 feet along, height unknown": (
        rasters.rewrite(slope(), crs="EPSG:2225", transform=(3.0, 0, 6.0e6, 0, -3.0, 2.0e6)),
        "parcel.geojson", "", "elevation.tif",
    ),
    "70 cut short": (
        lambda folder: _cut(drawings.write_vector(folder / "drawn.gpkg", "GPKG")), "drawn.gpkg", "", r"drawn\.gpkg"
    ),
}  # fmt: skip


def _cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:5000])


@pytest.fixture(scope="module", autouse=True)
def _warm(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Import what a refusal imports: the time of that is counted elsewhere."""
    folder = sound(tmp_path_factory.mktemp("warm"))
    for command in ("check", "run"):
        (folder / "parcel.geojson").write_text("{", encoding="utf-8")
        assert cli.outcome([command, str(folder)]) == 3


def sound(folder: Path, parcel: str = "parcel.geojson", more: str = "") -> Path:
    """Make a sound site folder with the results of an earlier run."""
    make_folder(folder)
    (folder / "site.toml").write_text(TOML.format(parcel=parcel, more=more), encoding="utf-8")
    (folder / "out").mkdir()
    noted = {"made_by": "sitepipe", "files": ["map.html", "run.json"]}
    (folder / "out" / "run.json").write_text(json.dumps(noted), encoding="utf-8")
    (folder / "out" / "map.html").write_text("the earlier map", encoding="utf-8")
    return folder


@pytest.mark.parametrize("command", ["check", "run"])
@pytest.mark.parametrize("case", CASES)
def test_what_cannot_be_used_ends_in_one_line_and_costs_nothing(
    case: str, command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    spoil, parcel, more, file = CASES[case]
    site = sound(tmp_path, parcel, more)
    spoil(site)
    before = copy_of(site)
    began = time.process_time()
    code = cli.outcome([command, str(site)])
    took = time.process_time() - began
    out, err = capsys.readouterr()
    (said,) = [line for line in err.splitlines() if not re.match(r"(Reading|First run)", line)]
    # Feet whose heights have no unit want a setting: that is the user's answer to give, not a fault of the file.
    assert (code, out) == (2 if case.startswith("15 ") else 3, ""), said
    assert re.search(file, said), said
    assert REMEDY.search(said), said
    assert said.startswith("sitepipe: ")
    assert said.isprintable()
    assert len(said) < 500, said
    assert str(tmp_path) not in said.replace("site.toml", "")
    assert copy_of(site) == before
    assert leftovers(site) == []
    assert took < LONGEST


@pytest.mark.parametrize(("change", "said"), [case[1:] for case in rasters.WARNED], ids=[c[0] for c in rasters.WARNED])
def test_what_looks_wrong_is_shown_by_check(
    change: Spoil, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site = sound(tmp_path)
    change(site)
    assert cli.outcome(["check", str(site), "--json"]) == 0
    warnings = json.loads(capsys.readouterr().out)["warnings"]
    assert any(re.search(said, warning) for warning in warnings), warnings


NOT_HERE = {
    83: "no setting and no argument is a pattern of file names",
}
"""Numbers of the catalogue that concern nothing this program has."""


def numbers_in(text: str) -> Iterator[int]:
    """Yield the numbers of the catalogue that a test file says it tries: in names, ids of cases and marks."""
    for found in re.findall(r"def test_(\d+)_(?:(?:and|to)_(\d+)_)?", text):
        yield from (int(number) for number in found if number)
    for found in re.findall(r"mark\.case\(([\d, ]+)\)", text):
        yield from (int(number) for number in found.split(","))
    yield from (int(number) for number in re.findall(r'\(?"(?:drawn, )?(\d{1,3}) [a-zN.=\-][^"]*"[:,)]', text))


def test_every_number_of_the_catalogue_has_a_test_or_a_reason() -> None:
    tried: dict[int, list[str]] = {}
    for path in sorted(TESTS.rglob("test_*.py")):
        for number in numbers_in(path.read_text(encoding="utf-8")):
            tried.setdefault(number, []).append(path.name)
    missing = set(range(1, 113)) - set(tried) - set(NOT_HERE)
    assert missing == set()
    assert not set(NOT_HERE) & {n for n, where in tried.items() if where != ["test_catalogue.py"]}


def test_there_are_at_least_150_cases() -> None:
    from tests.hostile.test_command_line import CASES as FOLDERS

    assert len(CASES) + len(FOLDERS) + len(rasters.WARNED) >= 150
