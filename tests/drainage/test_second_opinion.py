"""The second opinion."""

from __future__ import annotations

import importlib.util

import numpy as np
import pytest

from sitepipe.drainage import second_opinion
from sitepipe.drainage.second_opinion import SecondOpinion, ask_libraries, small_map
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import Settings
from tests.drainage.grounds import rolling
from tests.sites import make_site


@pytest.fixture(scope="module")
def opinions() -> dict[str, SecondOpinion]:
    asked, missing = ask_libraries(trace_drainage(make_site(rolling(80, 70)), Settings()))
    assert missing == ()
    return {opinion.library: opinion for opinion in asked}


def test_both_libraries_are_asked_and_their_releases_named(opinions: dict[str, SecondOpinion]) -> None:
    assert list(opinions) == ["pysheds", "pyflwdir"]
    assert all(opinion.release.count(".") >= 1 for opinion in opinions.values())


def test_both_libraries_flood_the_ground_to_the_same_tenth_of_a_millimetre(opinions: dict[str, SecondOpinion]) -> None:
    assert [opinion.level_agrees for opinion in opinions.values()] == [1.0, 1.0]


def test_pysheds_differs_only_where_two_ways_are_as_steep(opinions: dict[str, SecondOpinion]) -> None:
    pysheds = opinions["pysheds"]
    assert pysheds.receiver_agrees > 0.75
    assert pysheds.theirs_steeper == 0.0
    assert pysheds.ours_steeper < 0.005
    assert pysheds.leaves == 1.0
    assert pysheds.verdict.startswith("Both lose no water; they differ only where two ways are as steep")


def test_pyflwdir_goes_to_the_lowest_and_never_by_a_steeper_way(opinions: dict[str, SecondOpinion]) -> None:
    pyflwdir = opinions["pyflwdir"]
    assert pyflwdir.theirs_steeper == 0.0
    assert pyflwdir.ours_steeper > 0.05
    assert "pyflwdir takes a less steep way" in pyflwdir.verdict


def test_the_shares_add_up_and_the_map_shows_the_difference(opinions: dict[str, SecondOpinion]) -> None:
    for opinion in opinions.values():
        shares = opinion.receiver_agrees, opinion.as_steep, opinion.ours_steeper, opinion.theirs_steeper
        assert sum(shares) == pytest.approx(1.0, abs=1e-12)
        assert opinion.ours_leaves == 1.0
        assert opinion.differs.shape == (80, 70)


def test_beside_unknown_ground_the_verdict_falls_by_conservation() -> None:
    """Pysheds 0.5 leaves a sink two cells from the hole (seen here); unknown cells are left out."""
    ground = rolling(80, 70)
    ground[:6, :9] = np.nan
    (pysheds, pyflwdir), _ = ask_libraries(trace_drainage(make_site(ground), Settings()))
    assert pysheds.leaves < 1.0
    assert "pysheds loses the water of" in pysheds.verdict
    assert pyflwdir.leaves == 1.0
    assert pysheds.ours_leaves == 1.0
    assert not pysheds.differs[:6, :9].any()


def test_a_library_that_is_not_installed_is_named(monkeypatch: pytest.MonkeyPatch) -> None:
    drainage = trace_drainage(make_site(rolling(20, 20)), Settings())
    found = importlib.util.find_spec
    monkeypatch.setattr(second_opinion, "find_spec", lambda name: None if name == "pyflwdir" else found(name))
    asked, missing = ask_libraries(drainage)
    assert [opinion.library for opinion in asked] == ["pysheds"]
    assert missing == ("pyflwdir is not installed, so it was not asked; install it with 'pip install pyflwdir'.",)


def test_lost_water_is_said_whoever_lost_it() -> None:
    nothing = np.zeros((1, 1), dtype=np.bool_)

    def verdict(leaves: float, ours: float) -> str:
        return SecondOpinion("library", "1.0", 1.0, 1.0, 0.0, 0.0, 0.0, leaves, ours, nothing).verdict

    assert verdict(0.62, 1.0) == "library loses the water of 38.0% of the cells in inner sinks; ours loses none."
    assert verdict(1.0, 0.9) == "Ours loses the water of 10.0% of the cells: a bug, please report it."


def test_the_small_map_shows_where_opinions_differ_and_what_is_unknown() -> None:
    differs = np.zeros((8, 12), dtype=np.bool_)
    known = np.ones((8, 12), dtype=np.bool_)
    differs[:4, :2] = True
    differs[0, 4] = True
    known[4:, 10:] = False
    assert small_map(differs, known, width=6) == ("#.o...", ".....")
