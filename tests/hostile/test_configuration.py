"""Every number of the settings against numbers that are none; cases 73 to 84 of the catalogue of bad input."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from sitepipe import cli
from sitepipe.errors import SettingsError
from sitepipe.settings import Settings, make_settings, read_settings

BASE = {"name": "Test", "elevation": "elevation.tif", "parcel": "parcel.geojson"}


def numbers(section: BaseModel, *above: str) -> Iterator[tuple[tuple[str, ...], float]]:
    """Yield every number in the settings with the names that lead to it."""
    for name in type(section).model_fields:
        value = getattr(section, name)
        if isinstance(value, BaseModel):
            yield from numbers(value, *above, name)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            yield (*above, name), float(value)


PLACES = dict(numbers(Settings()))


def with_value(place: tuple[str, ...], value: object) -> dict[str, Any]:
    told: Any = value
    for name in reversed(place):
        told = {name: told}
    return BASE | dict(told)


def is_taken(place: tuple[str, ...], value: object) -> bool:
    try:
        make_settings(with_value(place, value), "site.toml")
    except SettingsError as error:
        said = str(error)
        assert "\n" not in said
        assert said.startswith("site.toml: ")
        assert ".".join(place[:1]) in said, said
        assert len(said) < 400
        return False
    return True


def test_the_walk_finds_the_numbers_there_are() -> None:
    assert len(PLACES) > 100
    assert ("sun", "turbidity") in PLACES


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1e308", "-1e308"])
def test_76_no_setting_takes_a_number_beyond_all_bounds(text: str) -> None:
    value = float(text)
    taken = [".".join(place) for place in PLACES if is_taken(place, value) or is_taken(place, f"{value} m")]
    assert taken == []


def test_75_no_number_is_taken_as_words_or_a_list() -> None:
    for wrong in ("8 inches deep", "", "0x10 m", "1,5,5 m", [1.0], {"a": 1}):
        taken = [".".join(place) for place in PLACES if is_taken(place, wrong)]
        assert taken == [], wrong


@pytest.mark.parametrize("threads", [0, -1, 1_000_000])
def test_84_a_number_of_threads_that_cannot_be_is_refused(threads: int) -> None:
    assert not is_taken(("uncertainty", "threads"), threads)


@pytest.mark.parametrize("use", ["mound", "wet_planting", "path"])
def test_78_weights_that_sum_to_nothing_are_refused(use: str) -> None:
    criteria = type(getattr(Settings().scoring, use)).model_fields
    without = {name: {"weight": 0.0} for name in criteria}
    with pytest.raises(SettingsError, match="the weights sum to 0"):
        make_settings(with_value(("scoring", use), without), "site.toml")


@pytest.mark.parametrize("depth", [3, 300, 30_000])
def test_73_settings_nested_without_end_are_refused(depth: int, tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text("name = " + "[" * depth, encoding="utf-8")
    with pytest.raises(SettingsError, match=r"^site"):
        read_settings(path)


def test_73_a_broken_line_is_named_with_line_and_column(tmp_path: Path) -> None:
    path = tmp_path / "site.toml"
    path.write_text('name = "Test"\nunits = = "m"\n', encoding="utf-8")
    with pytest.raises(SettingsError, match=r"line 2, column 9"):
        read_settings(path)


def test_74_every_misspelt_section_is_told_the_nearest() -> None:
    for name, field in Settings.model_fields.items():
        if isinstance(field.default, BaseModel) and len(name) > 3:
            with pytest.raises(SettingsError, match=rf"did you mean '{name}'"):
                make_settings(BASE | {name[:-2] + name[-1] + name[-2] + "x": {}}, "site.toml")


CONTRADICTIONS = {
    "mound": ({"shortest": "6 m", "longest": "5 m"}, "shortest is 6 and longest is 5"),
    "hoop_house": ({"room": "8 m"}, "room is 8 and better_room is 6"),
    "path": ({"width": "0.5 m"}, "side_width is 0.6 and width is 0.5"),
    "season": ({"leaf_on": "05-01", "leaf_off": "05-01"}, "leaf_on and leaf_off are both 05-01"),
    "sun": ({"light_breaks": [4.0, 6.0, 8.0]}, "must be hours that fall"),
}


@pytest.mark.parametrize("table", CONTRADICTIONS)
def test_77_settings_that_contradict_each_other_are_refused(table: str) -> None:
    told, said = CONTRADICTIONS[table]
    with pytest.raises(SettingsError, match=said) as caught:
        make_settings(BASE | {table: told}, "site.toml")
    assert str(caught.value).startswith(f"site.toml: {table}")


def test_77_a_criterion_must_have_two_ends() -> None:
    with pytest.raises(SettingsError, match="none_at and full_at are both 3"):
        make_settings(with_value(("scoring", "mound", "sun_hours"), {"none_at": 3, "full_at": 3}), "site.toml")


def test_84_there_is_no_option_for_a_number_of_jobs(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.outcome(["run", "x", "--jobs", "0"]) == 2
    assert "--jobs" in capsys.readouterr().err
