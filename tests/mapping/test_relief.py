"""The drawn ground: lit from the north-west, blank where nothing was surveyed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter

from sitepipe.mapping.relief import DARKEST_TONE, LEVEL_TONE, draw_ground, relief_picture, relief_tone, sample
from sitepipe.terrain.smoothing import smoothed
from tests.sites import bowl, make_site, plane


def test_level_ground_has_the_tone_of_level_ground() -> None:
    assert relief_tone(np.zeros((5, 7)), 1.0) == pytest.approx(np.full((5, 7), LEVEL_TONE))


def test_slopes_that_face_north_west_are_lighter_than_those_that_face_south_east() -> None:
    y, x = np.mgrid[0:41, 0:41] - 20.0
    hill = 3.0 * np.exp(-(x**2 + y**2) / 80.0)
    tone = relief_tone(hill, 1.0)
    assert tone[14, 14] > LEVEL_TONE > tone[26, 26]


@given(st.floats(0.001, 1.0), st.floats(-50.0, 50.0))
def test_the_tone_knows_neither_units_nor_sea_level(scale: float, lift: float) -> None:
    ground = bowl(21, 1.0, 0.5) - 100.0
    assert relief_tone(scale * ground + lift, 1.0) == pytest.approx(relief_tone(ground, 1.0), abs=1e-5)


def test_nothing_is_too_dark_to_draw_on() -> None:
    steep = np.random.default_rng(5).normal(0.0, 5.0, (40, 40))
    assert relief_tone(steep, 0.5).min() >= DARKEST_TONE


def test_unsurveyed_ground_is_blank_paper() -> None:
    heights = plane(60, 60, 1.0, east=0.01)
    heights[20:30, 20:30] = np.nan
    ground = draw_ground(make_site(heights))
    tone, opacity = relief_picture(ground)
    unknown = ~np.isfinite(ground.heights)
    assert unknown.any()
    assert (opacity[unknown] == 0).all()
    assert tone.shape == opacity.shape == ground.heights.shape


def test_the_ground_fades_beyond_the_boundary() -> None:
    ground = draw_ground(make_site(plane(100, 100, 1.0, north=0.02)))
    middle = ground.nearness.shape[0] // 2
    row = ground.nearness[middle]
    assert row[len(row) // 2] == 1.0
    assert row[0] < 0.02
    assert (np.diff(row[: len(row) // 2]) >= -1e-9).all()


def test_smoothing_agrees_with_scipy_where_everything_is_known() -> None:
    heights = np.random.default_rng(3).normal(100.0, 1.0, (60, 60))
    expected = gaussian_filter(heights, 2.0, truncate=3.0)
    assert smoothed(heights, 2.0)[15:-15, 15:-15] == pytest.approx(expected[15:-15, 15:-15], abs=1e-6)


def test_reading_between_cells_is_exact_on_a_plane() -> None:
    site = make_site(plane(20, 30, 2.0, east=0.03, north=-0.01), cell=2.0)
    x, y = np.array([11.3, 30.0]), np.array([9.1, 25.7])
    read = sample(site.elevation, site.grid, x, y)
    expected = 100.0 + 0.03 * (x[None, :] - 1.0) - 0.01 * (y[:, None] - 1.0)
    assert read == pytest.approx(expected)
