"""The scale at which slope stands out from the heights' error."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.settings import Settings, make_settings
from sitepipe.terrain.scale import smoothing_for, sound_scale, typical_slope
from sitepipe.terrain.slope import HORN_NOISE, gradient
from sitepipe.terrain.smoothing import smoothed
from sitepipe.terrain.stage import derive_terrain
from tests.sites import bowl, make_site, plane


def _noisy_plane(error: float, fall: float, cell: float = 1.0, size: int = 240) -> np.ndarray:
    return plane(size, size, cell, fall) + np.random.default_rng(1).normal(scale=error, size=(size, size))


@pytest.mark.parametrize("fall", [0.005, 0.01, 0.03])
def test_noise_on_a_plane_ends_below_the_share_that_was_asked_for(fall: float) -> None:
    error = 0.05
    scale = sound_scale(_noisy_plane(error, fall), 1.0, error, 1 / 3, 100.0)
    # The law itself: .433 x error / scale is a third of the fall.
    assert scale == pytest.approx(3 * math.sqrt(12) / 8 * error / fall, rel=0.3, abs=1.0)


def test_public_lidar_on_a_lawn_wants_metres_to_tens_of_metres() -> None:
    """design.md section 6: heights good to 10 cm on a fall of .5 to 2 %."""
    for fall in (0.005, 0.02):
        assert 5.0 <= sound_scale(_noisy_plane(0.1, fall), 1.0, 0.1, 1 / 3, 100.0) <= 40.0


def test_a_garden_levelled_to_five_millimetres_wants_less_than_a_metre() -> None:
    assert sound_scale(_noisy_plane(0.005, 0.015, cell=0.25), 0.25, 0.005, 1 / 3, 100.0) < 1.0


def test_exact_heights_need_no_wider_scale() -> None:
    assert sound_scale(plane(50, 50, 2.0, 0.05), 2.0, 1e-6, 1 / 3, 50.0) == 2.0


def test_level_ground_ends_at_the_broadest_scale() -> None:
    noise = np.random.default_rng(2).normal(scale=0.05, size=(300, 300))
    assert 12.0 <= sound_scale(noise, 1.0, 0.05, 1 / 3, 20.0) <= 20.0


def test_cells_wider_than_the_broadest_scale_are_used_as_they_are() -> None:
    noise = np.random.default_rng(2).normal(scale=5.0, size=(60, 60))
    assert sound_scale(noise, 100.0, 5.0, 1 / 3, 50.0) == 100.0


@settings(max_examples=15)
@given(st.floats(0.01, 0.2), st.floats(1.0, 3.0))
def test_more_error_never_narrows_the_scale(error: float, factor: float) -> None:
    ground = plane(120, 120, 1.0, 0.02, 0.01)
    assert sound_scale(ground, 1.0, factor * error, 1 / 3, 50.0) >= sound_scale(ground, 1.0, error, 1 / 3, 50.0)


def test_typical_slope_is_freed_of_noise() -> None:
    noisy = _noisy_plane(0.05, 0.05)
    assert typical_slope(noisy, 1.0, 1, 0.05) == pytest.approx(0.05, rel=0.1)
    assert typical_slope(noisy, 1.0, 1, 0.0) > 0.052


def test_too_little_ground_has_no_typical_slope() -> None:
    assert math.isnan(typical_slope(plane(4, 4, 1.0), 1.0, 1, 0.1))


def test_from_twenty_five_cells_on_there_is_a_typical_slope() -> None:
    ground = plane(5, 5, 1.0, 0.3)
    assert typical_slope(ground, 1.0, 1, 0.0) == pytest.approx(0.3)
    ground[2, 2] = np.nan
    assert math.isnan(typical_slope(ground, 1.0, 1, 0.0))


@pytest.mark.parametrize("step", [2, 3, 4, 5])
@pytest.mark.parametrize("cell", [0.5, 2.0])
def test_a_wider_spacing_looks_only_at_the_middle_height_of_each_block(step: int, cell: float) -> None:
    size = 6 * step
    ground = np.random.default_rng(step).normal(scale=9.0, size=(size, size))
    middle = slice(step // 2, None, step)
    ground[middle, middle] = plane(size, size, cell, 0.04, 0.03)[middle, middle]
    assert typical_slope(ground, cell, step, 0.0) == pytest.approx(0.05)


def test_ground_less_steep_than_its_noise_is_level() -> None:
    assert typical_slope(plane(30, 30, 1.0, 0.01), 1.0, 1, 0.05) == 0.0


@settings(max_examples=40)
@given(
    st.floats(0.002, 0.2), st.floats(0.0, 0.3), st.sampled_from([0.5, 1.0, 3.0]), st.sampled_from([1 / 3, 0.8]),
    st.floats(2.0, 30.0),
)  # fmt: skip
def test_the_scale_is_sound_and_at_most_half_as_wide_again_as_the_first_that_is(
    fall: float, error: float, cell: float, share: float, broadest: float
) -> None:
    """Brute force over every spacing: the law of noise, and the fall less what the error is taken to add to it."""
    ground = plane(160, 160, cell, fall)
    found = sound_scale(ground, cell, error, share, broadest) / cell
    assert found == round(found)
    widest = max(1, int(broadest / cell))
    spacings = [step for step in range(1, widest + 1) if 160 // step >= 6]
    noise = {step: HORN_NOISE * error / (step * cell) for step in spacings}
    slopes = {step: math.sqrt(max(0.0, fall**2 - 2.0 * math.log(2.0) * noise[step] ** 2)) for step in spacings}
    sound = [step for step in spacings if noise[step] <= share * slopes[step] * (1.0 + 1e-9)]
    if sound:
        assert round(found) in sound
        assert sound[0] <= found <= max(sound[0], math.ceil(1.5 * (sound[0] - 1)))
    elif widest <= spacings[-1]:
        assert found == widest


@pytest.mark.parametrize(("cell", "widest"), [(1.0, 20.0), (0.5, 20.0), (3.0, 18.0)])
def test_without_any_slope_the_widest_spacing_that_is_allowed_is_used(cell: float, widest: float) -> None:
    assert sound_scale(np.full((300, 300), 4.0), cell, 0.05, 1 / 3, 20.0) == pytest.approx(widest)


def test_where_a_spacing_leaves_too_few_heights_the_last_that_had_enough_is_used() -> None:
    # 1, 2, 3, 5, 8 and 12 cells leave 5 x 5 heights of 60 x 60 or more; 18 cells leave 3 x 3.
    assert sound_scale(np.full((60, 60), 4.0), 2.0, 0.05, 1 / 3, 200.0) == 24.0
    assert sound_scale(np.full((3, 3), 4.0), 2.0, 0.05, 1 / 3, 200.0) == 2.0


@given(st.floats(0.1, 100.0), st.floats(0.1, 100.0))
def test_smoothing_and_window_have_together_the_variance_of_the_wide_window(scale: float, cell: float) -> None:
    """Horn's window from its weights: a difference over two cells spreads as a box does, 1-2-1 across by a half."""
    window = (2.0**2 / 12.0 + (1.0 * 1 + 2.0 * 0 + 1.0 * 1) / 4.0) / 2.0
    spread = smoothing_for(scale, cell)
    assert spread**2 + window == pytest.approx(window * max(1.0, scale / cell) ** 2)


def test_a_window_widened_by_smoothing_damps_noise_as_the_law_says_of_a_wide_cell() -> None:
    """Independent noise is damped further than the law, which holds for errors that go together: never less."""
    noise = np.random.default_rng(8).normal(size=(300, 300))
    for scale in (4.0, 10.0):
        east, _ = gradient(smoothed(noise, smoothing_for(scale, 1.0)), 1.0)
        assert east[40:-40, 40:-40].std() < HORN_NOISE / scale


def test_the_stage_states_scale_and_floor() -> None:
    terrain = derive_terrain(make_site(plane(120, 120, 1.0, 0.02), height_error=0.02), Settings())
    # .433 x .02 / scale is a third of .02 at 1.3 m, and gentle ground is a quarter as steep.
    assert terrain.broad_scale == pytest.approx(8.0)
    assert terrain.slope_floor == pytest.approx(math.sqrt(12) / 8 * 0.02 / 8.0)
    np.testing.assert_allclose(terrain.broad_slope, 0.02, atol=1e-9)
    np.testing.assert_allclose(terrain.slope, math.degrees(math.atan(0.02)), atol=1e-9)
    assert not terrain.slope.flags.writeable


def test_settings_decide_how_far_noise_is_borne() -> None:
    site = make_site(plane(120, 120, 1.0, 0.02), height_error=0.05)
    strict = derive_terrain(site, make_settings({"terrain": {"slope_noise_share": 0.1}}, "site.toml"))
    lax = derive_terrain(site, make_settings({"terrain": {"slope_noise_share": 1.0}}, "site.toml"))
    assert strict.broad_scale > lax.broad_scale


def test_the_broad_ground_keeps_a_wide_bowl() -> None:
    terrain = derive_terrain(make_site(bowl(90, 2.0, 3.0)), Settings())
    assert np.unravel_index(np.nanargmin(terrain.broad_elevation), (90, 90))[0] in (44, 45)
