"""The presets: each can be read, differs for a reason, and stays in the order of dry to wet."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sitepipe.errors import SettingsError
from sitepipe.scoring.membership import membership
from sitepipe.settings import Criterion, Settings, make_settings, presets, read_settings

NAMES = ("damp-paddock", "district", "heavy-clay", "wet-lawn")


def _read(folder: Path, text: str) -> Settings:
    path = folder / "site.toml"
    path.write_text(text, encoding="utf-8")
    return read_settings(path)


def _meets(criterion: Criterion, value: float) -> float:
    values = np.array([[value]])
    return float(membership(values, criterion.none_at, criterion.full_at, criterion.least)[0, 0])


def test_at_least_three_presets_ship() -> None:
    assert set(NAMES) <= set(presets())


@pytest.mark.parametrize("name", NAMES)
def test_a_preset_can_be_read_and_names_itself(name: str, tmp_path: Path) -> None:
    assert _read(tmp_path, f'preset = "{name}"').preset == name


@pytest.mark.parametrize("name", NAMES)
def test_every_line_that_sets_a_number_gives_its_reason(name: str) -> None:
    lines = presets()[name].read_text(encoding="utf-8").splitlines()
    set_lines = [line for line in lines if "=" in line and not line.lstrip().startswith(("#", "preset"))]
    assert all("#" in line for line in set_lines)


def test_the_lawn_is_the_default(tmp_path: Path) -> None:
    assert _read(tmp_path, "") == _read(tmp_path, 'preset = "wet-lawn"') == Settings()


def test_no_two_presets_are_alike(tmp_path: Path) -> None:
    read = [_read(tmp_path, f'preset = "{name}"') for name in NAMES]
    assert all(read[i].scoring != read[j].scoring for i in range(3) for j in range(i))


def test_clay_wants_mounds_where_a_lawn_no_longer_does(tmp_path: Path) -> None:
    """On clay the wanted depth to water is .2 to .3 m more (trade figures, from memory)."""
    clay, lawn = _read(tmp_path, 'preset = "heavy-clay"'), Settings()
    assert _meets(clay.scoring.mound.water_table_m, 0.9) > _meets(lawn.scoring.mound.water_table_m, 0.9) + 0.2


def test_a_puddle_stops_a_path_on_clay_sooner(tmp_path: Path) -> None:
    clay, lawn = _read(tmp_path, 'preset = "heavy-clay"'), Settings()
    assert _meets(clay.scoring.path.standing_water_m, 0.05) < _meets(lawn.scoring.path.standing_water_m, 0.05)


def test_a_paddock_plants_more_of_its_damp_ground_and_in_wider_pieces(tmp_path: Path) -> None:
    paddock, lawn = _read(tmp_path, 'preset = "damp-paddock"'), Settings()
    assert _meets(paddock.scoring.wet_planting.wetness, 0.5) > _meets(lawn.scoring.wet_planting.wetness, 0.5)
    assert paddock.scoring.least_width > lawn.scoring.least_width
    assert paddock.scoring.least_area_m2 > lawn.scoring.least_area_m2


@pytest.mark.parametrize("name", NAMES)
def test_every_membership_stays_within_nought_and_one_in_every_preset(name: str, tmp_path: Path) -> None:
    scoring = _read(tmp_path, f'preset = "{name}"').scoring
    for use in (scoring.mound, scoring.wet_planting, scoring.path):
        for key in type(use).model_fields:
            criterion = getattr(use, key)
            span = criterion.full_at - criterion.none_at
            for part in (-1.0, 0.0, 0.3, 1.0, 2.0):
                assert criterion.least <= _meets(criterion, criterion.none_at + part * span) <= 1.0


def test_one_number_of_one_criterion_may_be_changed_alone(tmp_path: Path) -> None:
    changed = _read(tmp_path, "[scoring.mound.sun_hours]\nfull_at = 8.0").scoring.mound.sun_hours
    assert changed.full_at == 8.0
    assert changed.none_at == Settings().scoring.mound.sun_hours.none_at


def test_a_site_may_change_one_number_of_a_preset(tmp_path: Path) -> None:
    text = 'preset = "heavy-clay"\n[scoring.path.slope_percent]\nweight = 1.0'
    slope = _read(tmp_path, text).scoring.path.slope_percent
    assert (slope.weight, slope.none_at) == (1.0, 10.0)


@pytest.mark.parametrize(
    ("values", "message"),
    [
        ({"scoring": {"path": {"wetness": {"none_at": 0.4, "full_at": 0.4}}}}, "must differ"),
        ({"scoring": {"path": {"sun": {"weight": 1.0}}}}, "is not a setting"),
        ({"scoring": {"mound": {"sun_hours": {"weight": -1.0}}}}, "greater than or equal to 0"),
        ({"scoring": {"mound": {"sun_hours": {"wieght": 1.0}}}}, "did you mean 'weight'"),
        (
            {
                "scoring": {
                    "path": {
                        key: {"weight": 0.0}
                        for key in ("wetness", "standing_water_m", "slope_percent", "water_behind_m2")
                    }
                }
            },
            "weights sum to 0",
        ),
        ({"terrain": {"slope_noise_share": 0.0}}, "greater than 0"),
        ({"keep_clear": {"house": 3.0}}, "has no unit"),
    ],
)
def test_what_cannot_be_is_refused_with_its_place(values: dict[str, object], message: str) -> None:
    with pytest.raises(SettingsError, match=message):
        make_settings(values, "site.toml")
