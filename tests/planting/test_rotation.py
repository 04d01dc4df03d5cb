"""Families of vegetables move on, and only to ground that suits them."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest

from sitepipe.planting.rotation import YEARS, moves, usual_return

FOUR = [frozenset({name}) for name in ("beans", "cabbages", "onions", "tomatoes")]


def test_four_plots_that_suit_everything_wait_four_years() -> None:
    # Three to four years until a family comes back: common practice, no source.
    found = moves(np.ones((4, 4)), FOUR)
    assert all(sorted(year) == [0, 1, 2, 3] for year in found)
    assert all(sorted(year[plot] for year in found) == [0, 1, 2, 3] for plot in range(4))
    assert usual_return(found, FOUR) == YEARS


def test_what_suits_only_two_plots_changes_between_them() -> None:
    fits = np.array([[1.0, 1, 0, 0], [1, 1, 0, 0], [0, 0, 1, 1], [0, 0, 1, 1]])  # deep beds and shallow ones
    found = moves(fits, FOUR)
    assert all(fits[came, plot] == 1.0 for year in found for plot, came in enumerate(year))
    assert usual_return(found, FOUR) == 2


@pytest.mark.parametrize("beds", [2, 3, 4])
def test_the_second_year_is_the_best_of_all_orders(beds: int) -> None:
    # Independent: every order of the plots, by what fits and what comes back after one year.
    fits = np.random.default_rng(beds).random((beds, beds))
    families = FOUR[:beds]
    second = moves(fits, families)[1]

    def worth(order: tuple[int, ...]) -> float:
        return float(sum(fits[came, plot] - (came == plot) for plot, came in enumerate(order)))

    best = max(permutations(range(beds)), key=worth)
    assert worth(tuple(second)) >= worth(best) - 0.01 * beds
