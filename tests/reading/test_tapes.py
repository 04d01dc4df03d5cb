"""Places by tape against worked examples (shared check values, L06 to L10)."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import Polygon

from sitepipe.reading.tapes import offset_place, refuse_weak, trilaterate, walked_place

BASE = ((0.0, 0.0), (20.0, 0.0))


def test_area_and_perimeter_by_hand() -> None:
    """L06, computed by hand: the parcel's area is shapely's."""
    parcel = Polygon([(0, 0), (60, 10), (75, 45), (40, 70), (-5, 50)])
    assert parcel.area == pytest.approx(3875.0)
    assert parcel.length == pytest.approx(241.412, abs=5e-4)


def test_a_right_angle_by_hand() -> None:
    """L07, computed by hand: base 20, tapes 12 and 16."""
    place = trilaterate(*BASE, 12.0, 16.0, "left")
    assert (place.x, place.y, place.angle) == pytest.approx((7.2, 9.6, 90.0))


def test_equal_tapes_by_hand() -> None:
    """L08, computed by hand: base 24, tapes 15 and 15."""
    place = trilaterate((0.0, 0.0), (24.0, 0.0), 15.0, 15.0, "left")
    assert (place.x, place.y) == pytest.approx((12.0, 9.0))


def test_a_weak_angle_is_refused_with_its_error_by_hand() -> None:
    """L09, computed by hand: base 20, tapes 10.2 and 10.2, tape error 2 cm: y 2.010, 7.2 cm across."""
    place = trilaterate(*BASE, 10.2, 10.2, "left", tape_error=0.02)
    assert place.y == pytest.approx(2.010, abs=5e-4)
    assert place.error_across == pytest.approx(0.072, abs=5e-4)
    with pytest.raises(ValueError, match=r"meet at 23 degrees, so the place is only good to 0\.07 m"):
        refuse_weak(place)


def test_a_traverse_by_hand() -> None:
    """L10, computed by hand: four legs miss their start by 0.0707 m, 1 in 5092."""
    legs = [(45, 100.00), (135, 80.02), (225, 100.05), (315, 79.97)]
    place = (0.0, 0.0)
    for bearing, length in legs:
        place = walked_place(place, bearing, length)
    miss = math.hypot(*place)
    assert miss == pytest.approx(0.0707, abs=5e-5)
    assert sum(leg[1] for leg in legs) / miss == pytest.approx(5092, abs=1)


def test_tapes_that_do_not_meet_are_refused() -> None:
    with pytest.raises(ValueError, match=r"miss each other by 5\.00 m"):
        trilaterate(*BASE, 7.0, 8.0, "left")
    with pytest.raises(ValueError, match="the same place"):
        trilaterate((1.0, 1.0), (1.0, 1.0), 7.0, 8.0, "left")


coordinate = st.floats(-50.0, 50.0)


@given(coordinate, coordinate, coordinate, coordinate, coordinate, coordinate)
def test_distances_give_back_the_place(ax: float, ay: float, bx: float, by: float, px: float, py: float) -> None:
    base, first, second = math.dist((ax, ay), (bx, by)), math.dist((ax, ay), (px, py)), math.dist((bx, by), (px, py))
    assume(min(base, first, second) > 1.0)
    turn = (bx - ax) * (py - ay) - (by - ay) * (px - ax)
    assume(abs(turn) > 0.05 * base * max(first, second))
    place = trilaterate((ax, ay), (bx, by), first, second, "left" if turn > 0.0 else "right")
    assert (place.x, place.y) == pytest.approx((px, py), abs=1e-6)


@given(coordinate, coordinate, coordinate, coordinate, st.floats(-30, 30), st.floats(-30, 30))
def test_an_offset_is_as_far_along_and_across_as_it_says(
    ax: float, ay: float, bx: float, by: float, along: float, offset: float
) -> None:
    base = math.dist((ax, ay), (bx, by))
    assume(base > 1.0)
    x, y = offset_place((ax, ay), (bx, by), along, offset)
    east, north = (bx - ax) / base, (by - ay) / base
    assert (x - ax) * east + (y - ay) * north == pytest.approx(along, abs=1e-9)
    assert (x - ax) * north - (y - ay) * east == pytest.approx(offset, abs=1e-9)
