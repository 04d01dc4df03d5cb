"""Smoothing: planes stay, noise goes, holes do not spread."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sitepipe.terrain.low_ground import lowness
from sitepipe.terrain.smoothing import REACH, WIDE, best_plane, smoothed, window_of
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


def _box(spread: float) -> np.ndarray:
    """Return whole cells and, at either end, the share of one more that makes the variance a third of the spread's."""
    wanted, half = spread**2 / 3.0, 0
    while (half + 1) * (half + 2) / 3.0 <= wanted:
        half += 1
    whole = np.arange(-half, half + 1)
    share = ((whole**2).sum() - wanted * whole.size) / (2.0 * (wanted - (half + 1.0) ** 2))
    return np.concatenate([[share], np.ones(whole.size), [share]])


def _shares(cells: int, spread: float) -> np.ndarray:
    """Return what each cell of a line takes from each: a Gaussian to three deviations; from ``WIDE`` on three boxes."""
    apart = np.abs(np.arange(cells)[:, None] - np.arange(cells))
    if spread < WIDE:
        return np.where(apart <= np.ceil(REACH * spread), np.exp(-0.5 * (apart / spread) ** 2), 0.0)
    box = _box(spread)
    reach = box.size // 2
    once = np.where(apart <= reach, box[np.minimum(reach + apart, box.size - 1)], 0.0)
    return np.asarray(np.linalg.matrix_power(once, 3))


@settings(max_examples=60)
@given(
    st.tuples(st.integers(1, 8), st.integers(1, 8)).flatmap(
        lambda shape: arrays(
            np.float64,
            shape,
            elements=st.one_of(st.integers(-50, 50).map(lambda tenths: tenths / 10.0), st.just(np.nan)),
        )
    ),
    st.sampled_from([0.2, 1.0, 1.5, WIDE, 5.3, 9.0]),
)
def test_among_holes_and_borders_it_is_the_mean_that_matrices_make(ground: np.ndarray, spread: float) -> None:
    """What each cell takes from each, written out as a matrix along rows and one along columns; known heights only."""
    known = np.isfinite(ground)
    found = smoothed(ground, spread)
    assert (np.isfinite(found) == known).all()
    if not known.any():
        return
    trend = best_plane(ground)
    down, across = _shares(ground.shape[0], spread), _shares(ground.shape[1], spread)
    sums, shares = down @ np.where(known, ground - trend, 0.0) @ across.T, down @ known @ across.T
    np.testing.assert_allclose(found[known], (sums[known] / shares[known]) + trend[known], atol=1e-9)


@given(st.floats(WIDE, 60.0))
def test_three_running_means_spread_as_far_as_they_were_asked_to(spread: float) -> None:
    """Gwosdek et al. (2011): the variance of a sum is the sum of variances; the share of the end cells is below 1."""
    half, share = window_of(spread)
    assert 0.0 <= share < 1.0
    box = np.concatenate([[share], np.ones(2 * half + 1), [share]])
    thrice = np.convolve(np.convolve(box, box), box)
    assert (thrice * (np.arange(thrice.size) - thrice.size // 2) ** 2).sum() / thrice.sum() == pytest.approx(spread**2)


@pytest.mark.parametrize("half", [4, 5, 11, 30])
@pytest.mark.parametrize("beside", [1.0 - 1e-6, 1.0 + 1e-6])
def test_a_running_mean_takes_one_more_whole_cell_as_soon_as_its_share_is_one(half: int, beside: float) -> None:
    """Built: 2 h + 1 whole cells have a variance of h (h + 1) / 3, and three such means h (h + 1)."""
    found, share = window_of(float(np.sqrt(half * (half + 1.0))) * beside)
    assert found == (half if beside > 1.0 else half - 1)
    assert share == pytest.approx(0.0 if beside > 1.0 else 1.0, abs=1e-3)
    assert 0.0 <= share < 1.0


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


@given(arrays(np.float64, (7, 9), elements=st.floats(-100, 100)), arrays(np.bool_, (7, 9)))
def test_the_best_plane_is_that_of_least_squares(ground: np.ndarray, missing: np.ndarray) -> None:
    y, x = np.mgrid[0:7, 0:9]
    columns = np.stack([np.ones(63), x.ravel(), y.ravel()], axis=1)
    for known in (np.ones(63, dtype=bool), ~missing.ravel()):
        if np.linalg.matrix_rank(columns[known]) < 3:
            continue
        heights = np.where(known, ground.ravel(), np.nan).reshape(7, 9)
        fitted = columns @ np.linalg.lstsq(columns[known], ground.ravel()[known], rcond=None)[0]
        np.testing.assert_allclose(best_plane(heights).ravel(), fitted, atol=1e-6)


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


def test_lowness_is_the_deviation_from_the_mean_in_deviations_of_an_independent_library() -> None:
    """De Reu et al. (2013) with scipy's Gaussian, far from the borders; rough ground, so that no plane is at work."""
    ground = scipy.ndimage.gaussian_filter(np.random.default_rng(4).normal(size=(160, 150)), 2.0)
    below = scipy.ndimage.gaussian_filter(ground, 3.0) - ground
    deviation = np.sqrt(scipy.ndimage.gaussian_filter(below**2, 3.0))
    inner = (slice(25, -25), slice(25, -25))
    for error in (0.02, 0.5):
        found = lowness(ground, 3.0, error)
        np.testing.assert_allclose(found[inner], (below / (deviation + error))[inner], atol=0.03)
