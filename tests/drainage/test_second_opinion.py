"""The second opinion."""

from __future__ import annotations

import numpy as np
import pytest

from sitepipe.drainage.second_opinion import SecondOpinion, ask_library
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import Settings
from tests.drainage.grounds import rolling
from tests.sites import make_site


@pytest.fixture(scope="module")
def opinion() -> SecondOpinion:
    return ask_library(trace_drainage(make_site(rolling(80, 70)), Settings()))


def test_both_flood_the_ground_to_the_same_tenth_of_a_millimetre(opinion: SecondOpinion) -> None:
    assert (opinion.library, opinion.level_agrees) == ("pysheds", 1.0)


def test_they_differ_only_where_two_ways_are_as_steep(opinion: SecondOpinion) -> None:
    assert opinion.receiver_agrees > 0.75
    assert opinion.theirs_steeper == 0.0
    assert opinion.ours_steeper < 0.005
    assert opinion.leaves == 1.0
    assert opinion.verdict.startswith("Both lose no water; they differ only where two ways are as steep")


def test_the_shares_add_up_and_the_picture_shows_the_difference(opinion: SecondOpinion) -> None:
    shares = opinion.receiver_agrees, opinion.as_steep, opinion.ours_steeper, opinion.theirs_steeper
    assert sum(shares) == pytest.approx(1.0, abs=1e-12)
    assert opinion.ours_leaves == 1.0
    assert opinion.differs.shape == (80, 70)
    assert opinion.differs.mean() == pytest.approx(1.0 - opinion.receiver_agrees)


def test_beside_unknown_ground_the_verdict_falls_by_conservation() -> None:
    """Pysheds 0.5 leaves a sink two cells from the hole (seen here); unknown cells are left out."""
    ground = rolling(80, 70)
    ground[:6, :9] = np.nan
    opinion = ask_library(trace_drainage(make_site(ground), Settings()))
    assert opinion.leaves < 1.0
    assert "pysheds loses the water of" in opinion.verdict
    assert opinion.ours_leaves == 1.0
    assert not opinion.differs[:6, :9].any()


def test_lost_water_is_said_whoever_lost_it() -> None:
    nothing = np.zeros((1, 1), dtype=np.bool_)

    def verdict(leaves: float, ours: float) -> str:
        return SecondOpinion("library", "1.0", 1.0, 1.0, 0.0, 0.0, 0.0, leaves, ours, nothing).verdict

    assert verdict(0.62, 1.0) == "library loses the water of 38.0% of the cells in inner sinks; ours loses none."
    assert verdict(1.0, 0.9) == "Ours loses the water of 10.0% of the cells: a bug, please report it."
