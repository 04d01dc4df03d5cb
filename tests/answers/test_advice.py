"""What a site folder allows, and what one more hour buys."""

from __future__ import annotations

import dataclasses

import pytest
from shapely import Point

from sitepipe.answers.advice import allowed, chance_of_right_sign, least_believed_hollow, understood, worth_an_hour
from sitepipe.settings import Settings
from sitepipe.site import Feature, Kind, Site
from sitepipe.units import Units
from tests.sites import draw_thing, make_site, plane

SETTINGS = Settings(units=Units.METRIC)


# The trade notes, 3.2 (computed by hand for the project): chance that a 3 cm hollow, one height against one rim
# height, shows with the right sign.
@pytest.mark.parametrize(
    ("height_error", "chance", "within"),
    [(0.005, 1.0, 0.001), (0.01, 0.98, 0.005), (0.02, 0.86, 0.005), (0.05, 0.66, 0.005), (0.10, 0.58, 0.005)],
)
def test_the_chance_of_a_right_sign_is_that_of_the_trade_notes(
    height_error: float, chance: float, within: float
) -> None:
    assert chance_of_right_sign(0.03, height_error) == pytest.approx(chance, abs=within)


def test_a_hollow_of_three_centimetres_needs_heights_good_to_thirteen_millimetres() -> None:
    # Trade notes 3.2: standard deviation at most 1.3 cm for 95 %.
    assert least_believed_hollow(0.013) == pytest.approx(0.030, abs=0.0005)


def test_heights_without_error_are_always_believed() -> None:
    assert chance_of_right_sign(0.03, 0.0) == 1.0


def site(error: float = 0.1, *features: Feature, open_edge: bool = False) -> Site:
    made = make_site(plane(40, 40, 1.0, north=0.01), features=features)
    return dataclasses.replace(made, open_edge=open_edge, ground=dataclasses.replace(made.ground, vertical_error=error))


def thing(kind: Kind, height: float | None = None, name: str = "") -> Feature:
    return draw_thing(1, kind, name or str(kind), Point(10.0, 10.0), height)


def verdicts(made: Site) -> dict[str, str]:
    return {answer.question: answer.verdict for answer in allowed(made, SETTINGS)}


def test_public_heights_allow_the_catchment_and_not_the_puddles() -> None:
    found = verdicts(site(0.10))
    assert found["Where water comes from"] == "yes"
    assert found["Where puddles stand"] == "no"


def test_a_levelled_garden_allows_the_puddles() -> None:
    assert verdicts(site(0.005))["Where puddles stand"] == "yes"


def test_an_open_edge_allows_the_catchment_in_part() -> None:
    assert verdicts(site(open_edge=True))["Where water comes from"] == "in part"


def test_a_tree_without_a_height_makes_the_sun_a_guess() -> None:
    assert verdicts(site(0.1, thing(Kind.TREE, 8.0)))["Where the sun reaches"] == "yes"
    assert verdicts(site(0.1, thing(Kind.TREE)))["Where the sun reaches"] == "in part"
    assert verdicts(site(0.1))["Where the sun reaches"] == "in part"


def test_stakes_need_two_things_to_tape_from() -> None:
    gate = thing(Kind.GATE)
    assert verdicts(site(0.1, gate))["Where stakes go"] == "no"
    assert verdicts(site(0.1, gate, thing(Kind.BUILDING)))["Where stakes go"] == "yes"


def test_buried_lines_come_first_and_what_is_done_is_not_asked_for_again() -> None:
    first, *_ = worth_an_hour(site(), SETTINGS)
    assert "buried lines" in first.what
    done = site(0.005, thing(Kind.SEPTIC), thing(Kind.OBSERVATION), thing(Kind.FIXED_POINT), thing(Kind.FIXED_POINT))
    stocked = dataclasses.replace(done, stock=())
    assert "stock.csv" in worth_an_hour(done, SETTINGS)[0].what
    whats = [measurement.what for measurement in worth_an_hour(stocked, SETTINGS)]
    assert len(whats) == 1
    assert "Bore three holes" in whats[0]


def test_never_more_than_five_things_are_asked_for() -> None:
    poor = site(0.2, thing(Kind.TREE), thing(Kind.ROAD), open_edge=True)
    assert len(worth_an_hour(poor, SETTINGS)) == 5


def test_what_was_read_is_counted_in_plain_words() -> None:
    drawn = site(0.1, thing(Kind.TREE), thing(Kind.TREE), thing(Kind.DITCH), thing(Kind.DITCH), thing(Kind.GATE))
    assert "Drawn: 2 trees, 2 ditches and 1 gate." in understood(drawn, SETTINGS)
    assert "Nothing is drawn but the parcel." in understood(site(), SETTINGS)
