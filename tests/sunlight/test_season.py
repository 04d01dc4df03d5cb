"""The growing season, as given and by latitude."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.settings import SeasonSettings, make_settings
from sitepipe.sunlight.season import growing_season


def test_dates_that_are_given_are_kept() -> None:
    given_dates = make_settings(
        {"season": {"start": "05-01", "end": "09-30", "leaf_on": "05-10", "leaf_off": "10-20"}}, "site.toml"
    ).season
    season = growing_season(42.5, given_dates)
    assert (season.start, season.end) == (date(2025, 5, 1), date(2025, 9, 30))
    assert (season.leaf_on, season.leaf_off) == (date(2025, 5, 10), date(2025, 10, 20))
    assert season.months == (5, 6, 7, 8, 9)
    assert season.days.sum() == 153
    assert not season.is_guessed
    assert not season.are_leaves_guessed


def test_a_guess_is_called_a_guess() -> None:
    assert growing_season(42.5, SeasonSettings()).is_guessed


@pytest.mark.parametrize(
    ("latitude", "last_frost", "first_frost"),
    [(42.4, (4, 1), (10, 31)), (55.7, (5, 1), (10, 20)), (45.0, (4, 25), (10, 10))],
)
def test_the_guess_lies_within_weeks_of_frost_dates(
    latitude: float, last_frost: tuple[int, int], first_frost: tuple[int, int]
) -> None:
    # Mean frost dates of a coast at 42, one at 56 and an inland place at 45 north: common practice, no source.
    season = growing_season(latitude, SeasonSettings())
    assert abs((season.start - date(2025, *last_frost)).days) <= 25
    assert abs((season.end - date(2025, *first_frost)).days) <= 28


def test_the_tropics_grow_all_year() -> None:
    season = growing_season(5.0, SeasonSettings())
    assert season.days.all()
    assert season.days_in_leaf.all()
    assert season.months == tuple(range(1, 13))


def test_a_southern_season_goes_over_the_new_year() -> None:
    season = growing_season(-42.5, SeasonSettings())
    assert season.start.month in {9, 10}
    assert season.end.month in {3, 4}
    assert season.months[0] >= 10
    assert season.months[-1] <= 4
    assert season.days[[0, 364]].all()


@given(st.floats(25.0, 85.0))
def test_the_south_grows_when_the_north_rests(latitude: float) -> None:
    north, south = growing_season(latitude, SeasonSettings()), growing_season(-latitude, SeasonSettings())
    turned = np.roll(north.days, 183)
    assert (turned != south.days).mean() < 0.1


@given(st.floats(26.0, 80.0), st.floats(0.1, 5.0))
def test_farther_from_the_equator_the_season_is_never_longer(latitude: float, farther: float) -> None:
    near = growing_season(latitude, SeasonSettings()).days.sum()
    assert growing_season(min(latitude + farther, 80.0), SeasonSettings()).days.sum() <= near + 1


def test_a_season_of_days_still_has_a_month() -> None:
    brief = make_settings({"season": {"start": "06-25", "end": "07-06"}}, "site.toml").season
    assert growing_season(60.0, brief).months in {(6,), (7,)}
