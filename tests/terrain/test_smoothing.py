"""Smoothing: planes stay, noise goes, holes do not spread."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sitepipe.terrain.low_ground import lowness
from sitepipe.terrain.smoothing import WIDE, best_plane, smoothed
from tests.sites import bowl, plane

spreads = st.sampled_from([0.6, 1.5, WIDE, 9.0])


@given(spread=spreads, missing=arrays(np.bool_, (12, 15)), east=st.floats(-1, 1), north=st.floats(-1, 1))
def test_a_plane_stays_a_plane_beside_borders_and_holes(
    spread: float, missing: np.ndarray, east: float, north: float
) -> None:
    ground = plane(12, 15, 1.0, east, north)
    ground[missing] = np.nan
    np.testing.assert_allclose(smoothed(ground, spread), ground, atol=1e-6)


@pytest.mark.parametrize(("spread", "within"), [(1.0, 0.01), (3.0, 0.01), (5.0, 0.06), (20.0, 0.06)])
def test_far_from_borders_it_is_the_gaussian_of_an_independent_library(spread: float, within: float) -> None:
    rough = np.random.default_rng(5).normal(size=(420, 400))
    ground = scipy.ndimage.gaussian_filter(rough, 6.0)
    ground /= ground.std()
    peer = scipy.ndimage.gaussian_filter(ground, spread, truncate=6.0)
    margin = int(6 * spread)
    inner = (slice(margin, -margin), slice(margin, -margin))
    np.testing.assert_allclose(smoothed(ground, spread)[inner], peer[inner], atol=within)


@pytest.mark.parametrize("spread", [2.0, 8.0])
def test_white_noise_falls_with_the_spread(spread: float) -> None:
    """The mean of white noise under Gaussian weights has sd 1 / (2 sqrt(pi) spread) (textbook, value from memory)."""
    noise = np.random.default_rng(3).normal(size=(500, 500))
    left = smoothed(noise, spread)[50:-50, 50:-50].std()
    assert left == pytest.approx(1.0 / (2.0 * np.sqrt(np.pi) * spread), rel=0.12)


@given(spread=spreads)
def test_what_is_unknown_stays_unknown_and_nothing_else_does(spread: float) -> None:
    ground = bowl(21, 1.0, 2.0)
    ground[4:9, 7:12] = np.nan
    assert (np.isnan(smoothed(ground, spread)) == np.isnan(ground)).all()


def test_a_spread_of_nothing_is_the_ground_itself() -> None:
    ground = bowl(9, 1.0, 1.0)
    assert (smoothed(ground, 0.0) == ground).all()


def test_ground_without_a_known_cell_is_handed_back() -> None:
    assert np.isnan(smoothed(np.full((4, 4), np.nan), 2.0)).all()


@given(arrays(np.float64, (7, 9), elements=st.floats(-100, 100)))
def test_the_best_plane_is_that_of_least_squares(ground: np.ndarray) -> None:
    y, x = np.mgrid[0:7, 0:9]
    columns = np.stack([np.ones(63), x.ravel(), y.ravel()], axis=1)
    fitted = columns @ np.linalg.lstsq(columns, ground.ravel(), rcond=None)[0]
    np.testing.assert_allclose(best_plane(ground).ravel(), fitted, atol=1e-8)


def test_low_ground_is_low_and_high_ground_is_not() -> None:
    ground = bowl(61, 1.0, 2.0)
    low = lowness(ground, 8.0, 0.05)
    assert low[30, 30] > 0.99 * low.max()
    assert low[30, 30] > 1.0
    assert low[30, 8] < 0.0


@given(st.floats(0.5, 20.0), st.floats(-50, 50))
def test_lowness_knows_no_lift_and_with_the_error_no_unit(factor: float, lift: float) -> None:
    ground = bowl(31, 1.0, 1.0)
    np.testing.assert_allclose(
        lowness(factor * ground + lift, 3.0, factor * 0.05), lowness(ground, 3.0, 0.05), atol=1e-6
    )
