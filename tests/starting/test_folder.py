"""A new site folder: whole or not at all, in plain words, over nothing."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from sitepipe.errors import SettingsError, WritingError
from sitepipe.settings import presets, read_settings
from sitepipe.starting.folder import Start, copy_sample, make_folder
from sitepipe.units import Units


def test_a_folder_with_heights_is_ready_to_draw_on(tmp_path: Path) -> None:
    heights = tmp_path / "Download.TIF"
    heights.write_bytes(b"not read here")
    made = make_folder(tmp_path / "damp corner", Start("Damp corner", Units.IMPERIAL, "wet-lawn", heights))
    assert [file.name for file in made] == ["elevation.tif", "site.toml"]
    settings = read_settings(tmp_path / "damp corner" / "site.toml")
    assert settings.name == "Damp corner"
    assert settings.units is Units.IMPERIAL
    assert settings.elevation == Path("elevation.tif")
    assert settings.parcel == Path("drawn.geojson")


def test_a_folder_without_heights_brings_the_sheet_to_level_by(tmp_path: Path) -> None:
    made = make_folder(tmp_path / "new", Start("New", Units.METRIC, "damp-paddock"))
    assert [file.name for file in made] == ["level-book.pdf", "levels.csv", "site.toml"]
    assert (tmp_path / "new" / "level-book.pdf").read_bytes().startswith(b"%PDF")
    assert read_settings(tmp_path / "new" / "site.toml").levels == Path("levels.csv")


@pytest.mark.parametrize("name", ['He said "wet"', "back\\slash", "tab\there", "\u202eknil", "ümlaut 🌱"])
def test_any_name_makes_a_file_that_can_be_read(tmp_path: Path, name: str) -> None:
    make_folder(tmp_path / "new", Start(name, Units.METRIC, "wet-lawn"))
    read = tomllib.loads((tmp_path / "new" / "site.toml").read_text(encoding="utf-8"))["name"]
    assert read == "".join(sign if sign.isprintable() else " " for sign in name)


def test_nothing_that_exists_is_touched(tmp_path: Path) -> None:
    kept = tmp_path / "site" / "notes.txt"
    kept.parent.mkdir()
    kept.write_text("mine")
    with pytest.raises(SettingsError, match="is not empty"):
        make_folder(tmp_path / "site", Start("x", Units.METRIC, "wet-lawn"))
    with pytest.raises(SettingsError, match="is not empty"):
        copy_sample(tmp_path / "site")
    assert [file.name for file in kept.parent.iterdir()] == ["notes.txt"]


def test_a_preset_or_heights_that_do_not_exist_are_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="preset 'swamp' does not exist"):
        make_folder(tmp_path / "new", Start("x", Units.METRIC, "swamp"))
    with pytest.raises(SettingsError, match="is not a file"):
        make_folder(tmp_path / "new", Start("x", Units.METRIC, "wet-lawn", tmp_path / "none.tif"))
    assert list(tmp_path.iterdir()) == []


def test_a_place_that_cannot_be_written_is_said_so(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(WritingError, match="cannot be written"):
        make_folder(tmp_path / "file" / "new", Start("x", Units.METRIC, "wet-lawn"))


def test_the_sample_is_copied_whole(tmp_path: Path) -> None:
    made = copy_sample(tmp_path / "sample")
    assert {"site.toml", "elevation.tif", "drawn.geojson", "holes.csv"} <= {file.name for file in made}
    assert read_settings(tmp_path / "sample" / "site.toml").name == "Sallow Corner"


def test_every_preset_is_named_in_a_new_settings_file(tmp_path: Path) -> None:
    make_folder(tmp_path / "new", Start("x", Units.METRIC, "wet-lawn"))
    text = (tmp_path / "new" / "site.toml").read_text(encoding="utf-8")
    assert all(name in text for name in presets())
