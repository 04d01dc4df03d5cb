"""Scores of the ground for each use, and what limits it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box

from sitepipe.drainage.cells import cells_inside
from sitepipe.scoring.record import Reason, Use
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Kind
from tests.scoring.records import filled
from tests.sites import bowl, draw_thing, make_site, plane

GENTLE = plane(60, 60, 1.0, 0.02)
SETTINGS = make_settings({"storm": {"depths": ["25 mm"]}}, "site.toml")
AT = (30, 30)


def test_damp_sunny_gentle_ground_suits_a_mound() -> None:
    scores = filled(make_site(GENTLE), SETTINGS, wet=0.6).scores(SETTINGS)
    assert scores.suitability_mound[AT] > 0.95
    assert scores.limited_by[Use.MOUND][AT] == -1 or scores.suitability_mound[AT] < 1.0


def test_shade_limits_a_mound() -> None:
    scores = filled(make_site(GENTLE), SETTINGS, hours=2.5).scores(SETTINGS)
    assert scores.suitability_mound[AT] < 0.5
    assert scores.criteria[Use.MOUND][scores.limited_by[Use.MOUND][AT]] == "sun_hours"


def test_the_wettest_ground_suits_wet_plants_and_no_path() -> None:
    scores = filled(make_site(bowl(60, 1.0, 0.1)), SETTINGS, wet=0.97).scores(SETTINGS)
    assert scores.suitability_wet_planting[AT] > 0.9
    assert scores.suitability_path[AT] < 0.3
    assert scores.criteria[Use.PATH][scores.limited_by[Use.PATH][AT]] in {"wetness", "standing_water_m"}


def test_dry_ground_suits_a_path_better_than_a_mound_or_wet_plants() -> None:
    scores = filled(make_site(GENTLE), SETTINGS, wet=0.05, depth=2.0).scores(SETTINGS)
    assert scores.suitability_path[AT] > scores.suitability_mound[AT]
    assert scores.suitability_wet_planting[AT] == 0.0


def test_deep_water_rules_a_mound_out_altogether() -> None:
    scores = filled(make_site(bowl(80, 1.0, 3.0)), SETTINGS).scores(SETTINGS)
    assert scores.suitability_mound[40, 40] == 0.0


def test_steep_ground_limits_paths_by_slope() -> None:
    scores = filled(make_site(plane(60, 60, 1.0, 0.14)), SETTINGS, wet=0.1).scores(SETTINGS)
    assert scores.criteria[Use.PATH][scores.limited_by[Use.PATH][AT]] == "slope_percent"


def test_far_from_the_gate_the_way_to_carry_counts() -> None:
    gate = draw_thing(1, Kind.GATE, "Gate", Point(6, 30))
    scores = filled(make_site(plane(60, 400, 1.0, 0.02), features=(gate,)), SETTINGS).scores(SETTINGS)
    assert scores.suitability_mound[30, 340] < scores.suitability_mound[30, 45]
    assert scores.criteria[Use.MOUND][scores.limited_by[Use.MOUND][30, 340]] == "haul_m"


def test_outside_the_parcel_there_is_no_score() -> None:
    site = make_site(GENTLE, parcel=box(20, 20, 40, 40))
    scores = filled(site, SETTINGS).scores(SETTINGS)
    inside = cells_inside(site.grid, site.parcel)
    for score in (scores.suitability_mound, scores.suitability_wet_planting, scores.suitability_path):
        assert (np.isfinite(score) == inside).all()
    assert (scores.limited_by[Use.PATH][~inside] == -1).all()


def test_an_exclusion_sets_the_score_to_nothing_and_is_named() -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(25, 25, 35, 35))
    scores = filled(make_site(GENTLE, features=(house,)), SETTINGS).scores(SETTINGS)
    assert scores.suitability_path[AT] == 0.0
    assert scores.exclusions[-2 - scores.limited_by[Use.PATH][AT]].reason is Reason.BUILDING
    beside = (30, 37)
    assert scores.suitability_mound[beside] == 0.0
    assert scores.exclusions[-2 - scores.limited_by[Use.MOUND][beside]].reason is Reason.WALL_FALL
    assert scores.suitability_path[beside] > 0.0


def test_a_stretch_of_water_takes_a_strip_not_a_line() -> None:
    """A mound has an extent: what passes within half of the least width of a zone counts."""
    ground = plane(200, 60, 1.0, 0.0, 0.02)
    ground[:, 30] -= 0.03
    strict = make_settings(
        {
            "storm": {"depths": ["25 mm"]},
            "scoring": {"mound": {"water_behind_m2": {"none_at": 700.0, "full_at": 80.0}}},
        },
        "site.toml",
    )
    scores = filled(make_site(ground), strict).scores(strict)
    row = scores.suitability_mound[150]
    assert row[29] < row[15] - 0.05
    assert row[31] < row[15] - 0.05


@settings(max_examples=8)
@given(st.floats(0.1, 20.0))
def test_scaling_all_weights_of_a_use_changes_nothing(factor: float) -> None:
    site = make_site(bowl(40, 1.0, 0.4))
    plain = filled(site, SETTINGS).scores(SETTINGS)
    weights = {
        name: {"weight": factor * getattr(SETTINGS.scoring.mound, name).weight}
        for name in type(SETTINGS.scoring.mound).model_fields
    }
    scaled_settings = make_settings({"storm": {"depths": ["25 mm"]}, "scoring": {"mound": weights}}, "site.toml")
    scaled = filled(site, scaled_settings).scores(scaled_settings)
    np.testing.assert_allclose(scaled.suitability_mound, plain.suitability_mound, atol=1e-9)


@settings(max_examples=8)
@given(st.floats(0.0, 14.0), st.floats(0.0, 14.0))
def test_more_sun_never_makes_ground_worse(one: float, other: float) -> None:
    site = make_site(bowl(40, 1.0, 0.4))
    low, high = sorted((one, other))
    dark = filled(site, SETTINGS, hours=low).scores(SETTINGS)
    light = filled(site, SETTINGS, hours=high).scores(SETTINGS)
    known = np.isfinite(dark.suitability_mound)
    assert (light.suitability_mound[known] >= dark.suitability_mound[known] - 1e-12).all()
    assert (light.suitability_wet_planting[known] >= dark.suitability_wet_planting[known] - 1e-12).all()


@settings(max_examples=8)
@given(st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_wetter_ground_is_never_better_for_a_path_nor_worse_for_wet_plants(one: float, other: float) -> None:
    site = make_site(GENTLE)
    low, high = sorted((one, other))
    dry, wet = filled(site, SETTINGS, wet=low).scores(SETTINGS), filled(site, SETTINGS, wet=high).scores(SETTINGS)
    assert wet.suitability_path[AT] <= dry.suitability_path[AT] + 1e-12
    assert wet.suitability_wet_planting[AT] >= dry.suitability_wet_planting[AT] - 1e-12


def test_scores_are_closed_for_writing_and_between_nought_and_one() -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(10, 10, 16, 18))
    pipe = draw_thing(2, Kind.BURIED_LINE, "Pipe", LineString([(10, 40), (50, 44)]))
    scores = filled(make_site(bowl(60, 1.0, 1.0), features=(house, pipe)), Settings()).scores(Settings())
    for score in (scores.suitability_mound, scores.suitability_wet_planting, scores.suitability_path):
        assert not score.flags.writeable
        assert np.nanmin(score) >= 0.0
        assert np.nanmax(score) <= 1.0 + 1e-12


@pytest.mark.parametrize("use", [Use.MOUND, Use.WET_PLANTING, Use.PATH])
def test_what_limits_a_cell_is_a_criterion_or_an_exclusion_that_there_is(use: Use) -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(10, 10, 16, 18))
    scores = filled(make_site(bowl(60, 1.0, 1.0), features=(house,)), Settings()).scores(Settings())
    limit = scores.limited_by[use]
    assert limit.max() < len(scores.criteria[use])
    assert limit.min() >= -1 - len(scores.exclusions)
    for number in np.unique(limit[limit <= -2]):
        assert use in scores.exclusions[-2 - int(number)].uses
