"""The order of building, as access asks for it."""

from __future__ import annotations

import pytest
from shapely import LineString

from sitepipe.works.jobs.order import haul_along_paths, order_of_building
from sitepipe.works.jobs.record import YearOfWork
from sitepipe.works.ways.record import Path
from tests.works.grounds import mound, place_at


def a_path(number: int, *places: tuple[float, float]) -> Path:
    line = LineString(places)
    outline = line.buffer(0.45)
    return Path(number, line, outline, (None, None), 0.9, True, (), 1.0, 0.0, line.length, line.length, line.length)


PLACE = place_at(0.0, 0.0, work=0.0)
SPINE = a_path(1, (2.5, 0.0), (30.0, 0.0))
BRANCH = a_path(2, (20.0, 0.5), (20.0, 12.0))
MOUNDS = (mound(1, 8.0, 2.0, 12.0, 2.0), mound(2, 26.0, 2.0, 30.0, 2.0), mound(3, 18.0, 13.5, 22.0, 13.5))


def test_the_haul_is_walked_along_the_paths() -> None:
    far = haul_along_paths({one.number: one.outline for one in MOUNDS}, PLACE, (SPINE, BRANCH))
    # the pile's edge is at x = 2, paths come beside it from 2.5 to 3.5, so the walk starts there
    assert far[1] == pytest.approx(8.0 - 3.5 - 1.1, abs=0.6)
    assert far[2] == pytest.approx(26.0 - 3.5 - 1.1, abs=0.6)
    assert far[3] == pytest.approx((20.0 - 3.5) + 12.0 - 1.0, abs=1.2)


def test_the_farthest_mound_is_built_first() -> None:
    assert order_of_building(MOUNDS, PLACE, (SPINE, BRANCH)) == (3, 2, 1)


def test_years_come_before_distance() -> None:
    years = (YearOfWork(1, (1,), (), 2.0, 4.0, ()), YearOfWork(2, (2, 3), (1,), 4.0, 8.0, ()))
    assert order_of_building(MOUNDS, PLACE, (SPINE, BRANCH), years) == (1, 3, 2)


def test_mounds_that_no_path_reaches_come_last_by_number() -> None:
    assert order_of_building(MOUNDS, PLACE, (SPINE,)) == (2, 1, 3)
    assert order_of_building(MOUNDS, None, (SPINE,)) == (1, 2, 3)
    assert order_of_building(MOUNDS, PLACE, ()) == (1, 2, 3)


def test_a_path_that_does_not_meet_the_others_carries_nothing() -> None:
    apart = a_path(2, (20.0, 5.0), (20.0, 12.0))
    far = haul_along_paths({3: MOUNDS[2].outline}, PLACE, (SPINE, apart))
    assert far == {}
