"""Level lines and banks."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString, Point

from sitepipe.mapping.contours import area_between, lines_at
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.levels import IMPERIAL_INTERVALS, banks, choose_interval, datum_of, level_lines
from sitepipe.mapping.relief import draw_ground
from sitepipe.site import Kind
from sitepipe.units import INCH, Units
from tests.sites import draw_thing, make_site, plane


@pytest.mark.parametrize(
    ("relief", "inches"), [(0.3, 1), (0.9, 2), (1.4, 3), (2.5, 6), (5.0, 12), (11.0, 24), (25.0, 60)]
)
def test_the_interval_is_the_first_that_gives_at_most_twenty_lines(relief: float, inches: int) -> None:
    """The list 1, 2, 3, 6 in, 1, 2, 5 ft is the page design's own."""
    interval = choose_interval(0.0, relief, Units.IMPERIAL)
    assert round(interval / INCH) == inches
    finer = [one for one in IMPERIAL_INTERVALS if one < interval]
    assert all(relief / one > 20 for one in finer)


def test_level_lines_of_a_plane_are_straight_and_evenly_apart() -> None:
    site = make_site(plane(120, 120, 1.0, north=0.05))
    ground, frame = draw_ground(site), frame_of(site)
    drawn, said = level_lines(site, ground, frame, Units.METRIC)
    inside = [line for level in drawn if not level.mark.endswith("-beyond") for line in level.line]
    heights = sorted(float(np.mean(line[1::2])) for line in inside)
    assert all(np.ptp(line[1::2]) < 0.05 for line in inside)
    assert np.diff(heights) == pytest.approx(np.full(len(heights) - 1, 0.5 / 0.05), abs=0.05)
    assert said == "level lines every 50\u00a0cm, counted from the lowest ground"


def test_heights_are_counted_from_the_culvert_where_there_is_one() -> None:
    culvert = draw_thing(1, Kind.CULVERT, "Culvert", LineString([(50.0, 20.0), (50.0, 8.0)]))
    site = make_site(plane(100, 100, 1.0, north=0.02), features=(culvert,))
    datum = datum_of(site, draw_ground(site))
    assert datum.name == "the culvert"
    assert datum.height == pytest.approx(100.0 + 0.02 * 7.5, abs=0.02)


def test_a_bank_gets_ticks_that_run_down_it_and_a_lawn_gets_none() -> None:
    heights = plane(80, 80, 0.5, north=0.01)
    lawn = make_site(heights.copy(), cell=0.5)
    assert banks(lawn, draw_ground(lawn), frame_of(lawn)) == []
    rows = np.arange(80)[:, None] * 0.5
    site = make_site(heights - np.clip((rows - 18.0) / 2.5, 0.0, 1.0) * 1.2, cell=0.5)
    drawn = banks(site, draw_ground(site), frame_of(site))
    assert drawn
    for edge in drawn:
        east, north = np.array(edge["down"][0::2]), np.array(edge["down"][1::2])
        assert (north < 0.0).all()
        assert (np.abs(east) < 0.3 * np.abs(north)).mean() > 0.9


def test_the_area_inside_a_value_of_a_cone_is_a_disc() -> None:
    """Area pi r2 and length 2 pi r, exact for a cone up to the cells' own size."""
    x = y = np.arange(-30.0, 30.5, 0.5)
    away = np.hypot(x[None, :], y[:, None])
    disc = area_between(x, y, away, -1.0, 20.0)
    assert disc.area == pytest.approx(np.pi * 400.0, rel=2e-3)
    assert lines_at(x, y, away, 20.0)[0].length == pytest.approx(2.0 * np.pi * 20.0, rel=2e-3)
    ring = area_between(x, y, away, 10.0, 20.0)
    assert ring.area == pytest.approx(np.pi * 300.0, rel=2e-3)
    assert not ring.contains(Point(0.0, 0.0))


def test_small_pieces_and_holes_are_let_go() -> None:
    x = y = np.arange(40.0)
    values = np.zeros((40, 40))
    values[5:30, 5:30] = 1.0
    values[15, 15] = 0.0
    values[35, 35] = 1.0
    area = area_between(x, y, values, 0.5, least=4.0)
    assert shapely.get_num_geometries(area) == 1
    assert area.contains(Point(15.0, 15.0))
