"""Nursery rotation and the order of planting on a settling mound."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.errors import SettingsError
from sitepipe.planting.nursery import rotation
from sitepipe.planting.palette import read_palette
from sitepipe.planting.succession import order_of_planting, share_settled


@given(plants=st.integers(1, 500), seasons=st.integers(1, 5), years=st.integers(1, 12))
def test_what_is_dug_was_planted_its_seasons_before(plants: int, seasons: int, years: int) -> None:
    turn = rotation(plants, seasons, years)
    planted = {(year, block) for year, block, _ in turn.planted}
    for year, block, count in turn.dug:
        assert (year - turn.blocks + 1, block) in planted
        assert count == turn.plants_per_block
    assert turn.blocks * turn.plants_per_block <= plants


def test_blocks_are_planted_and_dug_in_turn_from_the_first_year_to_the_last() -> None:
    """Worked by hand: twenty places, three seasons to size, five years."""
    turn = rotation(20, 3, 5)
    assert (turn.blocks, turn.plants_per_block) == (3, 6)
    assert turn.planted == ((1, 1, 6), (2, 2, 6), (3, 3, 6), (4, 1, 6), (5, 2, 6))
    assert turn.dug == ((3, 1, 6), (4, 2, 6), (5, 3, 6))
    assert rotation(1, 1, 1).dug == ((1, 1, 1),)


@given(plants=st.integers(1, 500), seasons=st.integers(1, 5), years=st.integers(1, 12))
def test_no_block_is_planted_before_it_was_dug_nor_stands_empty_for_a_year(
    plants: int, seasons: int, years: int
) -> None:
    turn = rotation(plants, seasons, years)
    assert [year for year, _, _ in turn.planted] == list(range(1, years + 1))
    assert [year for year, _, _ in turn.dug] == list(range(turn.blocks, years + 1))
    assert {(year + 1, block) for year, block, _ in turn.dug if year < years} == {
        (year, block) for year, block, _ in turn.planted if year > turn.blocks
    }


@pytest.mark.parametrize("numbers", [(0, 1, 1), (1, 0, 1), (1, 1, 0)])
def test_nothing_cannot_be_rotated(numbers: tuple[int, int, int]) -> None:
    with pytest.raises(SettingsError, match="at least one"):
        rotation(*numbers)


def test_most_of_the_settling_is_over_in_two_years() -> None:
    # Common practice, no source: a woody core loses most of its settlement in one to two years.
    assert share_settled(0.0) == 0.0
    assert share_settled(2.0) > 0.85


def test_shrubs_wait_a_season_and_herbs_do_not() -> None:
    plants = {plant.latin: plant for plant in read_palette()}
    said = order_of_planting([plants["Allium schoenoprasum"], plants["Vaccinium corymbosum"]], 1)
    assert "In year 1: chives" in said
    assert "From year 2" in said
    assert "highbush blueberry" in said
