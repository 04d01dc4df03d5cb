"""Steepest descent, cell by cell against its definition."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.arrays import IntArray
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.descent import LEAVES, LEVEL, NOWHERE, steepest_receivers
from sitepipe.drainage.heights import UNKNOWN
from tests.drainage.grounds import holed_heights, neighbours


def receiver_by_definition(level: IntArray, heights: IntArray, cell: int) -> int:
    """Steepest, then lowest bare ground, then lowest outlook, then first in reading order: slowly and plainly."""
    water, ground = level.ravel().tolist(), heights.ravel().tolist()
    if water[cell] == UNKNOWN:
        return NOWHERE
    shape = (level.shape[0], level.shape[1])
    around = neighbours(cell, shape)
    lower = [(other, away) for other, away in around if water[other] < water[cell]]
    if not lower:
        is_at_edge = len(around) < 8
        is_beside_unknown = any(water[other] == UNKNOWN for other, _ in around)
        return LEAVES if is_at_edge or is_beside_unknown else LEVEL

    def rank(one: tuple[int, int]) -> tuple[Fraction, int, int, int]:
        other, away = one
        outlook = min(water[beyond] for beyond, _ in neighbours(other, shape))
        return -Fraction((water[cell] - water[other]) ** 2, away), ground[other], outlook, other

    return min(lower, key=rank)[0]


def receivers_by_definition(level: IntArray, heights: IntArray) -> list[int]:
    return [receiver_by_definition(level, heights, cell) for cell in range(level.size)]


@given(holed_heights(most=7))
def test_water_takes_the_steepest_way_of_the_definition(heights: IntArray) -> None:
    level = filled(heights)
    assert steepest_receivers(level, heights).ravel().tolist() == receivers_by_definition(level, heights)


@given(st.integers(1, 7), st.integers(1, 7), st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_ties_are_broken_by_bare_ground_then_outlook_then_reading_order(
    rows: int, columns: int, tallest: int, seed: int
) -> None:
    """Water and ground drawn apart, so that each rule is met alone: equal water over unequal ground and the reverse."""
    random = np.random.default_rng(seed)
    level = random.integers(0, tallest + 1, (rows, columns)).astype(np.int32)
    level[random.random((rows, columns)) < 0.1] = UNKNOWN
    heights = np.where(level == UNKNOWN, UNKNOWN, level - random.integers(0, 3, (rows, columns))).astype(np.int32)
    assert steepest_receivers(level, heights).ravel().tolist() == receivers_by_definition(level, heights)


@pytest.mark.parametrize(("side", "corner", "wanted"), [(5, 7, 5), (7, 10, 2), (12, 17, 2), (12, 16, 5), (0, 1, 2)])
def test_a_corner_is_steeper_only_beyond_the_square_root_of_two(side: int, corner: int, wanted: int) -> None:
    """5 * 1.41421 = 7.07, 7 * 1.41421 = 9.90, 12 * 1.41421 = 16.97: worked out by head."""
    level = np.full((3, 3), 20, dtype=np.int32)
    level[1, 2] -= side
    level[0, 2] -= corner
    assert steepest_receivers(level, level)[1, 1] == wanted


def test_heights_beyond_any_mountain_do_not_overflow() -> None:
    """A side that falls by 150 km and a corner by 200 km: the side is steeper (200 / 1.41 = 141)."""
    level = np.full((3, 3), 1_000_000_000, dtype=np.int32)
    level[1, 2] = -500_000_000
    level[2, 2] = -1_000_000_000
    assert steepest_receivers(level, level)[1, 1] == 5
