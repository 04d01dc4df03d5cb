"""``check`` refuses what ``run`` would, and reads every file from the site folder."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from sitepipe import cli
from sitepipe.planting.palette import read_palette
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.settings import read_settings
from tests.hostile.test_command_line import TOML
from tests.reading.folders import make_folder, polygon, ring, slope, write_drawing, write_heights

OWN = "latin,common,form\nSalix fragilis,Crack willow,tree\n"


def told(folder: Path, text: str, capsys: pytest.CaptureFixture[str], command: str = "check") -> tuple[int, str]:
    (folder / "site.toml").write_text(TOML + text, encoding="utf-8")
    code = cli.outcome([command, str(folder)])
    return code, capsys.readouterr().err


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ('[mound]\ncrops = ["bananas"]\n', 2, "mound.crops.0 is 'bananas'"),
        ('[mound]\nfills = ["straw"]\n', 2, "mound.fills.0 is 'straw'"),
        ('[planting]\npalette = "none.csv"\n', 3, "none.csv (planting.palette) is empty"),
        ('[planting]\npalette = "mine.csv"\n', 3, "mine.csv line 2: min_temp_c is '?'"),
        ('[planting.seen]\n"Beech fern" = 20.0\n', 2, "planting.seen names 'Beech fern'"),
        ('levels = "levels.csv"\n', 3, "levels.csv (levels) is empty"),
    ],
)
def test_what_a_run_would_refuse_is_refused(
    text: str, code: int, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make_folder(tmp_path)
    (tmp_path / "mine.csv").write_text("latin,common,min_temp_c\nA b,c,?\n", encoding="utf-8")
    (tmp_path / "none.csv" if "levels" not in text else tmp_path / "levels.csv").touch()
    found, said = told(tmp_path, text, capsys)
    assert (found, words in said) == (code, True), said


@pytest.mark.parametrize("key", ["exports]\nlocation", "page]\nshare_location"])
def test_a_place_that_is_nowhere_is_not_shared(key: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    write_heights(tmp_path / "elevation.tif", slope(), None, (1.0, 0.0, 0.0, 0.0, -1.0, 60.0))
    write_drawing(tmp_path / "parcel.geojson", polygon(ring(20, 20, 60, 45), kind="parcel"), crs=None)
    code, said = told(tmp_path, f"latitude = 45.0\nlongitude = -73.0\n[{key} = true\n", capsys)
    assert (code, f"{key.replace(']' + chr(10), '.')} is true" in said) == (2, True), said


def test_what_became_of_a_gap_in_the_heights_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    heights = slope()
    heights[30, 40] = np.nan
    write_heights(tmp_path / "elevation.tif", heights, None, (1.0, 0.0, 0.0, 0.0, -1.0, 60.0))
    write_drawing(tmp_path / "parcel.geojson", polygon(ring(20, 20, 60, 45), kind="parcel"), crs=None)
    (tmp_path / "site.toml").write_text(f"{TOML}latitude = 45.0\nlongitude = -73.0\n", encoding="utf-8")
    assert cli.outcome(["check", str(tmp_path)]) == 0
    assert "1 gap in the heights" in capsys.readouterr().out


def test_the_users_own_plants_are_looked_for_in_the_site_folder(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    site, elsewhere = tmp_path / "site", tmp_path / "elsewhere"
    site.mkdir()
    elsewhere.mkdir()
    make_folder(site)
    (site / "mine.csv").write_text(OWN, encoding="utf-8")
    (elsewhere / "mine.csv").write_text("latin,common\nA wrong,one\n", encoding="utf-8")
    monkeypatch.chdir(elsewhere)
    code, _ = told(site, '[planting]\npalette = "mine.csv"\nreplaces_palette = true\n', capsys)
    assert code == 0
    found = read_site(open_folder(site, read_settings(site / "site.toml")))
    assert [plant.common for plant in read_palette(found.plant_list, replaces=True)] == ["Crack willow"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
@pytest.mark.parametrize("name", ["site.toml", "levels.csv", "elevation.tif"])
def test_a_pipe_is_no_file_and_nobody_waits_for_it(name: str, tmp_path: Path) -> None:
    make_folder(tmp_path)
    (tmp_path / "site.toml").write_text(TOML, encoding="utf-8")
    (tmp_path / name).unlink(missing_ok=True)
    os.mkfifo(tmp_path / name)
    command = [sys.executable, "-m", "sitepipe", "check", str(tmp_path)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert done.returncode == (2 if name == "site.toml" else 3)
    assert name in done.stderr
