"""Stakes: worked trilaterations, weak angles, tapes that go round a house, heights against the bench mark."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from sitepipe.reading.tapes import trilaterate
from sitepipe.saying import NO_BREAK, say_length
from sitepipe.site import Feature, Kind, Site
from sitepipe.units import Units
from sitepipe.works.stakes import (
    FixedPoint,
    Peg,
    find_fixed_points,
    prepare_setting_out,
    set_out,
    side_of,
    tape_angle,
    tape_peg,
)
from tests.sites import draw_thing, make_site, plane


def fixed(number: int, name: str, x: float, y: float, **attributes: bool) -> Feature:
    return draw_thing(number, Kind.FIXED_POINT, name, Point(x, y), attributes=attributes)


def staked_site(*features: Feature) -> Site:
    return make_site(plane(60, 60, 1.0, north=0.01), features=features)


def test_the_pair_that_meets_squarest_is_chosen() -> None:
    site = staked_site(fixed(1, "Post", 10.0, 10.0), fixed(2, "Twin post", 10.0, 11.0), fixed(3, "Pin", 22.0, 10.0))
    stake = tape_peg(Peg("1A", Point(10.0, 20.0), 101.0), prepare_setting_out(site, 30.0, 30.0))[0]
    names = {name for name, _ in stake.from_points}
    assert "Pin" in names
    assert stake.angle > 45.0
    for name, length in stake.from_points:
        feature = next(one for one in site.features if one.name == name)
        assert length == pytest.approx(feature.geometry.distance(stake.place))


def test_a_tape_does_not_go_through_the_house() -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(18.0, 18.0, 26.0, 24.0))
    site = staked_site(house, fixed(2, "Post", 10.0, 10.0))
    stake = tape_peg(Peg("1A", Point(22.0, 12.0), 100.0), prepare_setting_out(site, 30.0, 30.0))[0]
    names = {name for name, _ in stake.from_points}
    assert not any("north" in name for name in names), "the far corners are hidden behind the walls"
    assert len(names) == 2


def test_corners_and_posts_have_names_a_helper_can_find() -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(18.0, 18.0, 26.0, 24.0))
    gate = draw_thing(2, Kind.GATE, "Gate", LineString([(10.0, 6.0), (13.0, 6.0)]))
    names = {point.name for point in find_fixed_points(staked_site(house, gate))}
    assert {"House, south-west corner", "House, north-east corner", "Gate, west post", "Gate, east post"} <= names


def test_an_angled_house_keeps_every_corner_of_its_own() -> None:
    shape = Polygon([(8.6, 52.6), (15.6, 51.8), (15.0, 47.4), (20.9, 46.8), (22.3, 59.7), (9.4, 61.1)])
    house = draw_thing(1, Kind.BUILDING, "House", shape)
    points = find_fixed_points(make_site(plane(80, 80, 1.0), features=(house,)))
    assert len(points) >= 4
    assert all(min(Point(p.x, p.y).distance(Point(c)) for c in shape.exterior.coords) < 1e-9 for p in points)


def test_heights_count_from_the_drawn_bench_mark() -> None:
    site = staked_site(fixed(1, "Post", 10.0, 10.0), fixed(2, "Doorstep", 30.0, 30.0, bench_mark=True))
    setting_out = prepare_setting_out(site, 30.0, 30.0)
    assert setting_out.bench_mark == "Doorstep"
    row, column = site.grid.cell_at(30.0, 30.0)
    stake = tape_peg(Peg("1A", Point(20.0, 15.0), float(site.elevation[row, column]) + 0.40), setting_out)[0]
    assert stake.height == pytest.approx(0.40)


def test_weak_angles_are_pointed_out() -> None:
    site = staked_site(fixed(1, "Post", 10.0, 10.0), fixed(2, "Twin post", 11.0, 10.0))
    stake = tape_peg(Peg("1A", Point(40.0, 12.0), 100.0), prepare_setting_out(site, 30.0, 30.0))[0]
    assert stake.angle < 30.0


def test_without_fixed_points_the_stake_says_so_by_its_angle() -> None:
    stake = tape_peg(Peg("1A", Point(20.0, 20.0), 100.0), prepare_setting_out(staked_site(), 30.0, 30.0))[0]
    assert stake.angle == 0.0
    assert all(math.isnan(length) for _, length in stake.from_points)


def test_tapes_are_said_to_a_quarter_inch_and_a_centimetre() -> None:
    # U04: 5 ft 7 3/8 in is 1.711325 m; the nearest quarter inch is 5 ft 7¼ or 7½ in.
    assert say_length(1.711325 - 0.004, Units.IMPERIAL).replace(NO_BREAK, " ") == "5 ft 7 in"
    assert say_length(1.714, Units.METRIC).replace(NO_BREAK, " ") == "1.71 m"


@given(st.floats(-40.0, 40.0), st.floats(-40.0, 40.0), st.floats(0.0, 360.0))
def test_the_tapes_and_the_side_lead_to_one_place_only(x: float, y: float, turn: float) -> None:
    a = FixedPoint("A", 0.0, 0.0)
    b = FixedPoint("B", 20.0 * math.cos(math.radians(turn)), 20.0 * math.sin(math.radians(turn)))
    place = Point(x, y)
    # Near the line both crossings are the same place, and tapes do not tell the two sides apart.
    assume(tape_angle(a, b, place) > 0.1)
    found = trilaterate((a.x, a.y), (b.x, b.y), math.hypot(x, y), math.hypot(x - b.x, y - b.y), side_of(a, b, place))
    assert (found.x, found.y) == pytest.approx((x, y), abs=1e-4)


def test_a_far_mound_is_taped_from_the_stakes_of_a_near_one() -> None:
    site = staked_site(fixed(1, "Post", 2.0, 2.0), fixed(2, "Pin", 12.0, 2.0))
    near = [Peg("1A", Point(4.0, 20.0), 100.0), Peg("1B", Point(14.0, 20.0), 100.0)]
    far = [Peg("2A", Point(4.0, 48.0), 100.0), Peg("2B", Point(14.0, 48.0), 100.0)]
    setting_out = prepare_setting_out(site, 30.0, 30.0)
    stakes = set_out([*far, *near], setting_out)
    assert {name for name, _ in stakes["1A"].from_points} == {"Post", "Pin"}
    sources = {name for label in ("2A", "2B") for name, _ in stakes[label].from_points}
    assert sources & {"stake 1A", "stake 1B"}
    alone = {peg.label: tape_peg(peg, setting_out)[0] for peg in far}
    for label, one in alone.items():
        longest = max(length for _, length in stakes[label].from_points)
        assert longest < max(length for _, length in one.from_points)
        assert longest <= 30.0


def test_a_tape_starts_only_at_what_stands_already() -> None:
    random = np.random.default_rng(3)
    site = staked_site(fixed(1, "Post", 5.0, 5.0), fixed(2, "Pin", 15.0, 6.0))
    pegs = [Peg(f"{k}A", Point(*random.uniform(5.0, 55.0, 2)), 100.0) for k in range(1, 25)]
    stakes = set_out(pegs, prepare_setting_out(site, 20.0, 30.0))
    assert sorted(stake.order for stake in stakes.values()) == list(range(1, 25))
    for stake in stakes.values():
        for name, length in stake.from_points:
            if name.startswith("stake "):
                source = stakes[name.removeprefix("stake ")]
                assert source.order < stake.order
                assert length == pytest.approx(source.place.distance(stake.place))


def test_what_a_stake_may_be_off_is_carried_on() -> None:
    """A chain of stakes is looser at each link than the one before, so that no chain is longer than it must be."""
    point = [FixedPoint("A", 0.0, 0.0), FixedPoint("B", 10.0, 0.0)]
    setting_out = replace(prepare_setting_out(staked_site(), 30.0, 30.0), points=tuple(point))
    _, first = tape_peg(Peg("1A", Point(5.0, 8.0), 0.0), setting_out)
    loose = replace(setting_out, points=tuple(replace(one, looseness=first) for one in point))
    _, second = tape_peg(Peg("1A", Point(5.0, 8.0), 0.0), loose)
    assert second > 1.5 * first
