"""Metres from the parcel's own corner."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon, box, union_all

from sitepipe.mapping.frame import Frame, frame_of, smooth, smooth_area, smooth_joined
from sitepipe.mapping.location import tie_to_earth
from sitepipe.mapping.standing import roof_lines
from tests.sites import make_site, plane


def test_places_are_counted_from_the_parcels_corner() -> None:
    site = make_site(plane(100, 100, 1.0))
    frame = frame_of(site)
    assert (frame.west, frame.south) == (10.0, 10.0)
    assert frame.place(Point(12.0, 15.5)) == [2.0, 5.5]
    assert frame.areas(MultiPolygon([box(10, 10, 11, 12)])) == [[[1.0, 0.0, 1.0, 2.0, 0.0, 2.0, 0.0, 0.0]]]


def test_minus_nought_is_written_as_nought() -> None:
    assert str(Frame(5.0, 5.0, 1.0, 1.0).place(Point(4.9999, 5.0))) == "[0.0, 0.0]"


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 40)), min_size=3, max_size=12, unique=True))
def test_smoothing_keeps_both_ends_and_stays_within_the_hull(points: list[tuple[int, int]]) -> None:
    line = LineString(points)
    rounded = smooth(line, 0.5)
    assert rounded.coords[0] == line.coords[0]
    assert rounded.coords[-1] == line.coords[-1]
    assert line.convex_hull.buffer(1e-6).covers(rounded)


def test_a_disc_of_cells_comes_out_round_and_keeps_its_area() -> None:
    """A circle is the shortest outline of its area: 2 sqrt(pi A)."""
    cells = [box(x, y, x + 1, y + 1) for x in range(-9, 9) for y in range(-9, 9) if np.hypot(x + 0.5, y + 0.5) < 8.0]
    steps = union_all(cells)
    rounded = smooth_area(steps, 0.5)
    assert rounded.area == pytest.approx(steps.area, rel=0.06)
    assert steps.length > 1.2 * 2.0 * np.sqrt(np.pi * steps.area)
    assert rounded.length < 1.06 * 2.0 * np.sqrt(np.pi * rounded.area)


def test_a_plain_roof_has_a_ridge_along_its_long_side() -> None:
    ridge = roof_lines(box(0.0, 0.0, 6.0, 4.0))
    assert len(ridge) == 1
    assert np.array(ridge[0].coords).tolist() == [[6.0, 2.0], [0.0, 2.0]] or ridge[0].length == pytest.approx(6.0)


def test_an_l_shaped_roof_has_hips_and_stays_inside_its_walls() -> None:
    plan = Polygon([(0, 0), (12, 0), (12, 7), (7, 7), (7, 12), (0, 12)])
    lines = roof_lines(plan)
    assert len(lines) >= 5
    assert all(plan.buffer(1e-6).covers(line) for line in lines)


def test_a_tied_page_turns_degrees_into_its_own_metres() -> None:
    """Against pyproj at places that the fit did not see: within 5 cm over a parcel."""
    from dataclasses import replace

    from pyproj import CRS, Transformer

    from sitepipe.grid import Grid

    site = make_site(plane(120, 120, 1.0))
    grid = Grid(512_000.0, 4_737_120.0, 1.0, 120, 120, CRS.from_epsg(32618).to_wkt())
    parcel = box(512_010.0, 4_737_010.0, 512_110.0, 4_737_110.0)
    tie = tie_to_earth(replace(site, grid=grid, parcel=parcel))
    to_degrees = Transformer.from_crs(32618, 4326, always_xy=True)
    for x, y in ((13.0, 77.0), (91.0, 20.0), (50.0, 99.0)):
        longitude, latitude = to_degrees.transform(512_010.0 + x, 4_737_010.0 + y)
        east, north = longitude - tie["longitude"], latitude - tie["latitude"]
        assert tie["x"][0] + tie["x"][1] * east + tie["x"][2] * north == pytest.approx(x, abs=0.05)
        assert tie["y"][0] + tie["y"][1] * east + tie["y"][2] * north == pytest.approx(y, abs=0.05)


def test_two_pieces_that_meet_are_smoothed_as_one_and_stay_two() -> None:
    first, second = LineString([(0.0, 0.0), (10.0, 0.0)]), LineString([(10.0, 10.0), (10.0, 0.0)])
    one, other = smooth_joined([first, second], 0.2)
    assert one.coords[0] == (0.0, 0.0)
    assert other.coords[0] == (10.0, 10.0)
    assert Point(one.coords[-1]).distance(Point(other.coords[-1])) < 1e-9
    assert Point(10.0, 0.0).distance(one) > 0.5, "the corner is cut"
    assert [smooth_joined([first], 0.2)[0].length, one.length + other.length < 20.0] == [10.0, True]
