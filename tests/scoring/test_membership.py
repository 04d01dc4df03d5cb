"""Memberships and their weighted geometric mean."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sitepipe.scoring.membership import NOTHING_LIMITS, membership, weighed

shares = arrays(np.float64, (3, 4), elements=st.floats(0.0, 1.0))
full_shares = arrays(np.float64, (3, 4), elements=st.floats(0.01, 1.0))
weight = st.floats(0.01, 50.0)
ends = st.tuples(st.floats(-100, 100), st.floats(-100, 100)).filter(lambda pair: abs(pair[0] - pair[1]) > 0.01)


def _one(value: float, none_at: float, full_at: float, least: float = 0.0) -> float:
    return float(membership(np.array([[value]]), none_at, full_at, least)[0, 0])


def test_the_step_passes_its_ends_and_its_middle() -> None:
    assert [_one(hours, 2.0, 6.0) for hours in (0.0, 2.0, 4.0, 6.0, 14.0)] == [0.0, 0.0, 0.5, 1.0, 1.0]


def test_a_wish_for_less_runs_the_other_way() -> None:
    assert [_one(depth, 0.3, 0.1) for depth in (0.05, 0.2, 0.4)] == pytest.approx([1.0, 0.5, 0.0])


@given(ends, st.floats(0, 0.9), st.floats(-200, 200), st.floats(-200, 200))
def test_it_is_monotone_and_stays_between_least_and_one(
    ends: tuple[float, float], least: float, one: float, other: float
) -> None:
    none_at, full_at = ends
    low, high = sorted((one, other))
    rises = full_at > none_at
    nearer, farther = (high, low) if rises else (low, high)
    assert least <= _one(farther, none_at, full_at, least) <= _one(nearer, none_at, full_at, least) <= 1.0


@given(ends)
def test_it_has_no_kink_at_its_ends(ends: tuple[float, float]) -> None:
    none_at, full_at = ends
    step = 1e-4 * (full_at - none_at)
    assert _one(none_at + step, none_at, full_at) < 1e-6
    assert _one(full_at - step, none_at, full_at) > 1.0 - 1e-6


def test_unknown_stays_unknown() -> None:
    assert np.isnan(_one(np.nan, 0.0, 1.0))


@given(st.lists(st.tuples(full_shares, weight), min_size=1, max_size=5))
def test_the_mean_is_that_of_an_independent_library(pairs: list[tuple[np.ndarray, float]]) -> None:
    """scipy.stats.gmean with weights."""
    met, weights = [pair[0] for pair in pairs], [pair[1] for pair in pairs]
    score, _ = weighed(met, weights)
    np.testing.assert_allclose(
        score, scipy.stats.gmean(np.stack(met), axis=0, weights=np.array(weights)[:, None, None])
    )


@given(shares, shares, weight, weight, st.floats(0.01, 100.0))
def test_the_unit_of_the_weights_does_not_matter(
    one: np.ndarray, other: np.ndarray, w: float, v: float, factor: float
) -> None:
    score, limited_by = weighed([one, other], [w, v])
    scaled, limited_again = weighed([one, other], [factor * w, factor * v])
    np.testing.assert_allclose(scaled, score, atol=1e-12)
    assert (limited_by == limited_again).mean() > 0.9


@given(shares, shares, weight, weight)
def test_the_score_lies_between_its_memberships(one: np.ndarray, other: np.ndarray, w: float, v: float) -> None:
    score, _ = weighed([one, other], [w, v])
    assert (score >= np.minimum(one, other) - 1e-12).all()
    assert (score <= np.maximum(one, other) + 1e-12).all()


@given(shares, shares, shares, weight, weight)
def test_meeting_a_wish_better_never_lowers_the_score(
    one: np.ndarray, other: np.ndarray, better: np.ndarray, w: float, v: float
) -> None:
    assert (weighed([np.maximum(one, better), other], [w, v])[0] >= weighed([one, other], [w, v])[0] - 1e-12).all()


@given(shares, weight)
def test_one_impossible_wish_is_not_bought_off(other: np.ndarray, w: float) -> None:
    score, limited_by = weighed([other, np.zeros((3, 4))], [50.0, w])
    assert (score == 0.0).all()
    assert (limited_by[other > 0.0] == 1).all()


def test_a_wish_without_weight_has_no_say() -> None:
    score, limited_by = weighed([np.array([[0.0]]), np.array([[0.5]])], [0.0, 2.0])
    assert (score[0, 0], limited_by[0, 0]) == (pytest.approx(0.5), 1)


def test_where_all_is_well_nothing_limits() -> None:
    assert weighed([np.ones((1, 1))] * 3, [1.0, 2.0, 3.0])[1][0, 0] == NOTHING_LIMITS


def test_the_heavier_of_two_equal_faults_limits() -> None:
    assert weighed([np.full((1, 1), 0.5)] * 2, [1.0, 2.0])[1][0, 0] == 1


def test_what_is_unknown_in_one_is_unknown_in_all() -> None:
    score, limited_by = weighed([np.array([[np.nan, 0.5]]), np.array([[0.5, 0.5]])], [1.0, 1.0])
    assert np.isnan(score[0, 0])
    assert limited_by[0, 0] == NOTHING_LIMITS
    assert score[0, 1] == pytest.approx(0.5)
