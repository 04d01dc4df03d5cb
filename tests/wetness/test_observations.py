"""What was seen, how far it is believed, and how far it reaches."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.stats
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point

from sitepipe.settings import ObservationSettings
from sitepipe.site import Kind, Observation, Ref
from sitepipe.wetness.observations import (
    SUREST,
    UNDATED,
    Sight,
    agreement,
    area_under_curve,
    shifted,
    sights_of,
    trust_of,
)
from tests.sites import draw_thing, make_site, plane

SETTINGS = ObservationSettings()


def _seen(word: str, x: float = 50.0, y: float = 50.0, number: int = 1, **more: str | float) -> Observation:
    made = draw_thing(number, Kind.OBSERVATION, f"spot {number}", Point(x, y), attributes={"seen": word, **more})
    assert isinstance(made, Observation)
    return made


def _sight(is_wet: bool, row: int, column: int, trust: float = SUREST) -> Sight:
    return Sight(is_wet, trust, row, column, _seen("wet" if is_wet else "dry"))


def _odds(share: float) -> float:
    return float(np.log(share / (1.0 - share)))


@given(st.lists(st.integers(0, 9), min_size=1, max_size=12), st.lists(st.integers(0, 9), min_size=1, max_size=12))
def test_the_area_under_the_curve_is_mann_and_whitneys_u(wet: list[int], dry: list[int]) -> None:
    """scipy.stats.mannwhitneyu over the number of pairs."""
    peer = scipy.stats.mannwhitneyu(wet, dry, method="asymptotic").statistic / (len(wet) * len(dry))
    assert area_under_curve(np.array(wet, dtype=float), np.array(dry, dtype=float)) == pytest.approx(peer)


def test_with_one_kind_only_there_is_no_curve() -> None:
    assert area_under_curve(np.array([0.5]), np.array([])) is None


def test_agreement_counts_what_the_model_got_right_before_it_is_shifted() -> None:
    wetness = np.array([[0.9, 0.6, 0.2], [0.4, 0.7, 0.1]])
    found = agreement(wetness, (_sight(True, 0, 0), _sight(True, 1, 0), _sight(False, 0, 2), _sight(False, 1, 1)))
    assert found is not None
    assert (found.seen_wet, found.seen_dry, found.right) == (2, 2, 2)
    assert found.area_under_curve == pytest.approx(0.75)


def test_without_sights_there_is_nothing_to_agree_with() -> None:
    assert agreement(np.zeros((2, 2)), ()) is None


def test_sights_are_read_with_their_words_and_hours() -> None:
    site = make_site(
        plane(100, 100, 1.0),
        features=(
            _seen("wet", number=1, hours=72.0),
            _seen("Rushes", number=2),
            _seen("dry", number=3, hours="24 h"),
            _seen("puddle", number=4),
        ),
    )
    sights, unused = sights_of(site, SETTINGS)
    assert [sight.is_wet for sight in sights] == [True, True, False, True]
    assert [sight.trust for sight in sights] == [SUREST, 0.9, SUREST, UNDATED]
    assert unused == ()


def test_auger_holes_and_other_words_are_no_sights() -> None:
    site = make_site(plane(100, 100, 1.0), features=(_seen("hole"), _seen("frogs", number=7)))
    assert sights_of(site, SETTINGS) == ((), ())


def test_a_sight_off_the_heights_is_said() -> None:
    sight = _seen("wet", x=900.0)
    site = make_site(plane(100, 100, 1.0), features=(sight,))
    assert sights_of(site, SETTINGS) == ((), (Ref(Kind.OBSERVATION, sight.number),))


@given(st.floats(0, 500), st.floats(0, 500))
def test_water_that_stays_longer_and_ground_that_dries_sooner_are_believed_more(one: float, other: float) -> None:
    early, late = sorted((one, other))
    assert trust_of(True, early, SETTINGS) <= trust_of(True, late, SETTINGS) <= SUREST
    assert SUREST >= trust_of(False, early, SETTINGS) >= trust_of(False, late, SETTINGS) >= 0.0


def test_one_sight_moves_its_own_cell_by_its_trust_times_the_difference() -> None:
    """Simple kriging of one value with an error variance: weight = 1 / (1 + (1 - trust) / trust) = trust."""
    wetness = np.full((21, 21), 0.3)
    for trust in (0.2, 0.5, 0.95):
        moved = shifted(wetness, np.zeros((21, 21)), 1.0, (_sight(True, 10, 10, trust),), SETTINGS)
        expected = _odds(0.3) + trust * (_odds(0.95) - _odds(0.3))
        assert _odds(moved[10, 10]) == pytest.approx(expected)


def test_its_say_falls_to_37_in_100_at_its_reach() -> None:
    wetness = np.full((1, 61), 0.5)
    moved = shifted(wetness, np.zeros((1, 61)), 1.0, (_sight(True, 0, 30),), SETTINGS)
    assert _odds(moved[0, 42]) == pytest.approx(np.exp(-1.0) * _odds(moved[0, 30]))


def test_a_pool_says_nothing_of_the_bank_above_it() -> None:
    wetness, ground = np.full((1, 41), 0.5), np.zeros((1, 41))
    ground[0, 22:] = 1.0
    moved = shifted(wetness, ground, 1.0, (_sight(True, 0, 20),), SETTINGS)
    assert moved[0, 18] > 0.85
    assert moved[0, 22] < 0.51


def test_far_away_nothing_changes() -> None:
    wetness = np.full((1, 200), 0.4)
    moved = shifted(wetness, np.zeros((1, 200)), 1.0, (_sight(True, 0, 5),), SETTINGS)
    assert (moved[0, 80:] == 0.4).all()


def test_a_map_that_is_surer_than_the_sight_is_left_alone() -> None:
    wetness = np.full((5, 5), 0.99)
    moved = shifted(wetness, np.zeros((5, 5)), 1.0, (_sight(True, 2, 2),), SETTINGS)
    np.testing.assert_array_equal(moved, wetness)


def test_ten_pins_in_one_puddle_do_not_count_ten_times() -> None:
    wetness = np.full((1, 61), 0.5)
    one = shifted(wetness, np.zeros((1, 61)), 1.0, (_sight(True, 0, 30),), SETTINGS)
    ten = shifted(wetness, np.zeros((1, 61)), 1.0, tuple(_sight(True, 0, 30) for _ in range(10)), SETTINGS)
    assert _odds(ten[0, 30]) < 1.06 * _odds(one[0, 30])


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 14), st.integers(0, 14), st.floats(0.01, 0.95)), max_size=6))
def test_the_map_stays_between_dry_and_wet_and_every_sight_is_met_half_way_or_left(
    pins: list[tuple[bool, int, int, float]],
) -> None:
    wetness = np.random.default_rng(1).uniform(0.02, 0.98, (15, 15))
    moved = shifted(wetness, np.zeros((15, 15)), 2.0, tuple(_sight(w, r, c, t) for w, r, c, t in pins), SETTINGS)
    assert ((moved > 0.0) & (moved < 1.0)).all()
    if not pins:
        np.testing.assert_array_equal(moved, wetness)


def test_sights_of_both_kinds_pull_their_own_way() -> None:
    wetness = np.full((1, 101), 0.5)
    moved = shifted(wetness, np.zeros((1, 101)), 1.0, (_sight(True, 0, 20), _sight(False, 0, 80)), SETTINGS)
    assert moved[0, 20] > 0.9
    assert moved[0, 80] < 0.1
    assert moved[0, 50] == pytest.approx(0.5, abs=1e-9)
