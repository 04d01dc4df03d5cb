"""Ranks, and several indicators taken together."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.special import logit

from sitepipe.wetness.indicators import combined, ranks

few = arrays(np.float64, (5, 6), elements=st.integers(0, 6).map(float))


@given(few, arrays(np.bool_, (5, 6)))
def test_ranks_are_those_of_an_independent_library(values: np.ndarray, unknown: np.ndarray) -> None:
    """scipy.stats.rankdata with the mean of ties, counted from a half."""
    values = np.where(unknown, np.nan, values)
    known = ~unknown
    ranked = ranks(values)
    assert (np.isnan(ranked) == unknown).all()
    if known.any():
        np.testing.assert_allclose(ranked[known], (scipy.stats.rankdata(values[known]) - 0.5) / known.sum())


@given(few)
def test_the_unit_of_a_indicator_does_not_matter(values: np.ndarray) -> None:
    np.testing.assert_array_equal(ranks(np.exp(0.3048 * values) + 7.0), ranks(values))


@given(few, few)
def test_the_order_of_the_indicators_does_not_matter(one: np.ndarray, other: np.ndarray) -> None:
    np.testing.assert_allclose(combined([one, other]), combined([other, one]))


@given(few)
def test_one_indicator_alone_is_its_ranks(values: np.ndarray) -> None:
    np.testing.assert_allclose(combined([values]), ranks(values), atol=1e-12)


@given(few)
def test_a_indicator_that_cannot_tell_changes_nothing(values: np.ndarray) -> None:
    np.testing.assert_allclose(combined([values, np.zeros((5, 6))]), ranks(values), atol=1e-12)


@given(few, few, few)
def test_a_cell_that_every_indicator_finds_wetter_is_wetter(a: np.ndarray, b: np.ndarray, c: np.ndarray) -> None:
    wetness = combined([a, b, c])
    flat = [indicator.ravel() for indicator in (a, b, c)]
    for i in range(0, 30, 7):
        wetter = np.all([indicator > indicator[i] for indicator in flat], axis=0)
        assert (wetness.ravel()[wetter] > wetness.ravel()[i]).all()


@given(few, few)
def test_turned_ground_is_turned_in_wetness(one: np.ndarray, other: np.ndarray) -> None:
    turned = combined([np.rot90(one), np.rot90(other)])
    np.testing.assert_allclose(turned, np.rot90(combined([one, other])))


def test_a_silent_indicator_is_left_out_where_it_is_unknown() -> None:
    wetness = combined([np.array([[1.0, 2.0, 3.0]]), np.array([[np.nan, np.nan, 1.0]])])
    assert np.isfinite(wetness).all()


def test_ground_that_no_indicator_knows_has_no_wetness() -> None:
    wetness = combined([np.array([[1.0, np.nan]]), np.array([[2.0, np.nan]])])
    assert np.isnan(wetness[0, 1])


@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (7, 1), (4, 6)])
@pytest.mark.parametrize("count", [1, 2, 4])
def test_together_they_say_the_mean_of_the_log_odds_of_those_that_know(shape: tuple[int, int], count: int) -> None:
    """Second way: scipy.special.logit of scipy.stats.rankdata, a mean that leaves out what is unknown, ranked again."""
    chance = np.random.default_rng(count)
    for _ in range(25):
        indicators = chance.integers(0, 9, (count, *shape)).astype(float)
        indicators[chance.random(indicators.shape) < 0.25] = np.nan
        odds = np.full(indicators.shape, np.nan)
        for indicator, said in zip(indicators, odds, strict=True):
            is_known = ~np.isnan(indicator)
            said[is_known] = logit((scipy.stats.rankdata(indicator[is_known]) - 0.5) / max(is_known.sum(), 1))
        heard = ~np.isnan(odds).all(axis=0)
        mean = np.nanmean(odds[:, heard], axis=0).round(9)
        wetness = combined(indicators)
        assert (np.isnan(wetness) == ~heard).all()
        # Sums that differ by rounding alone may fall either way; away from such ties the order is that of the means.
        order = np.subtract.outer(mean, mean)
        assert (np.subtract.outer(wetness[heard], wetness[heard])[order > 0.0] > 0.0).all()


def test_two_sure_witnesses_outweigh_three_that_waver() -> None:
    """Log-odds, unlike a plain mean of ranks, listen to who is sure (a hollow among flat dry ground)."""
    n = 200
    sure = np.arange(n, dtype=float)[None, :]
    rng = np.random.default_rng(4)
    waver = [rng.permutation(n).astype(float)[None, :] for _ in range(3)]
    for indicator in waver:
        indicator[0, n - 1] = n / 4
    wetness = combined([sure, sure, *waver])
    mean = np.mean([ranks(indicator) for indicator in (sure, sure, *waver)], axis=0)
    assert wetness[0, n - 1] > ranks(mean)[0, n - 1]
    assert wetness[0, n - 1] == pytest.approx(1.0, abs=0.05)
