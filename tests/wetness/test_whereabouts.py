"""Directions from something that a helper can stand at."""

from __future__ import annotations

import pytest
from shapely import LineString, Point, box

from sitepipe.site import Feature, Kind
from sitepipe.units import compass_word
from sitepipe.wetness.whereabouts import direction, whereabouts
from tests.sites import draw_thing, make_site, plane


def _named(number: int, kind: Kind, name: str, x: float, y: float) -> Feature:
    return draw_thing(number, kind, name, Point(x, y))


@pytest.mark.parametrize(
    ("east", "north", "degrees", "word"),
    [(0, 1, 0.0, "north"), (1, 1, 45.0, "north-east"), (0, -1, 180.0, "south"), (-1, 0, 270.0, "west")],
)
def test_directions_turn_with_the_clock_from_north(east: float, north: float, degrees: float, word: str) -> None:
    assert direction(Point(0, 0), Point(east, north)) == pytest.approx(degrees)
    assert compass_word(degrees) == word


def test_the_nearest_thing_is_taken() -> None:
    site = make_site(
        plane(50, 50, 1.0), features=(_named(1, Kind.GATE, "Gate", 10, 10), _named(2, Kind.TAP, "Tap", 30, 10))
    )
    name, distance, degrees = whereabouts(Point(28, 10), site)
    assert (name, distance, degrees) == ("Tap", 2.0, 270.0)


def test_two_trees_of_one_name_are_of_no_use() -> None:
    trees = tuple(_named(number, Kind.TREE, "tree", 20 + number, 20) for number in (1, 2))
    site = make_site(plane(50, 50, 1.0), features=(*trees, _named(3, Kind.GATE, "Gate", 5, 5)))
    assert whereabouts(Point(22, 20), site)[0] == "Gate"


def test_a_house_is_told_by_its_corner() -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(10, 10, 20, 16))
    name, distance, _ = whereabouts(Point(22, 18), make_site(plane(50, 50, 1.0), features=(house,)))
    assert name == "House, north-east corner"
    assert distance == pytest.approx(8**0.5)


def test_a_gate_drawn_as_a_line_is_stood_at_in_its_middle() -> None:
    gate = draw_thing(1, Kind.GATE, "Gate", LineString([(10, 5), (14, 5)]))
    assert whereabouts(Point(12, 9), make_site(plane(50, 50, 1.0), features=(gate,)))[1:] == (4.0, 0.0)


def test_with_nothing_drawn_a_corner_of_the_parcel_serves() -> None:
    name, distance, degrees = whereabouts(Point(8, 42), make_site(plane(50, 50, 1.0)))
    assert name == "north-west corner of the parcel"
    assert distance == pytest.approx(18**0.5)
    assert degrees == pytest.approx(135.0)
