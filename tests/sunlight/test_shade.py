"""Rows and their shade, held against the row tables."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Polygon, box

from sitepipe.errors import InputError
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Kind, Site
from sitepipe.sunlight.place import edges_at, hours_at, places_at
from sitepipe.sunlight.shade import bed_hours_lost, standing_row
from sitepipe.sunlight.stage import Scene, site_scene
from sitepipe.sunlight.tables import SEASON
from tests.sites import make_site
from tests.sunlight.drawn import sun_settings, thing

SITE = make_site(np.zeros((100, 100)), latitude=42.5)
EAST_WEST = LineString([(-4950.0, 50.0), (5050.0, 50.0)])
NORTH_SOUTH = LineString([(50.0, -4950.0), (50.0, 5050.0)])


def scene_of(day: str) -> Scene:
    """Only one day of the year, so that the season's mean is that day; many azimuths, for the table's tenths."""
    season = {"start": day, "end": day}
    return site_scene(SITE, make_settings({"season": season, "sun": {"azimuths": 1440}}, "site.toml"))


def hours_beside(scene: Scene, row: LineString, x: float, y: float) -> float:
    seen = places_at(SITE, scene, np.array([x]), np.array([y]), scene.tables.azimuth)
    return float(hours_at(SITE, scene, seen, standing_row(SITE, row, 2.0))[0, SEASON])


# Source: check tables H05 and H06, computed by hand from geometry without air, at 42.5 N beside an opaque 2 m row;
# refraction adds up to .12 h, the sun's drift through the day up to .1 h. Its row of 1 May has the sun at 15.0 degrees
# of declination, as on 30 April 2025; at 1 m a fifth of a degree more is worth .4 h, as the sun grazes it at noon.
@pytest.mark.parametrize(
    ("day", "row", "expected"),
    [
        ("06-21", "EW", (10.2, 15.1, 15.1, 15.1, 15.1)),
        ("04-30", "EW", (5.9, 11.2, 13.9, 13.9, 13.9)),
        ("06-21", "NS", (8.5, 9.4, 10.9, 11.9, 13.4)),
        ("03-20", "NS", (6.7, 7.4, 8.4, 9.2, 10.4)),
    ],
)
def test_hours_beside_a_row_are_those_of_the_table(day: str, row: str, expected: tuple[float, ...]) -> None:
    scene = scene_of(day)
    for distance, hours in zip((0.5, 1.0, 2.0, 3.0, 6.0), expected, strict=True):
        found = (
            hours_beside(scene, EAST_WEST, 50.0, 50.0 + distance)
            if row == "EW"
            else hours_beside(scene, NORTH_SOUTH, 50.0 + distance, 50.0)
        )
        assert found == pytest.approx(hours, abs=0.22)


def test_at_the_equinox_the_shade_of_a_row_has_a_sharp_edge() -> None:
    # Source: geometry (H04, H05): 2 m at 42.5 N shade 1.83 m to the north all day, and nothing beyond.
    scene = scene_of("03-20")
    assert hours_beside(scene, EAST_WEST, 50.0, 51.0) < 0.5
    assert hours_beside(scene, EAST_WEST, 50.0, 53.0) == pytest.approx(12.0, abs=0.35)


def test_a_row_north_of_beds_costs_them_little_and_one_south_much() -> None:
    bed = box(30.0, 50.0, 50.0, 51.2)
    south = bed_hours_lost(SITE, Settings(), LineString([(30.0, 49.5), (50.0, 49.5)]), 2.0, [bed])
    north = bed_hours_lost(SITE, Settings(), LineString([(30.0, 51.7), (50.0, 51.7)]), 2.0, [bed])
    assert [month for month, _, _ in south] == list(range(1, 13))
    assert south[2][1] > 5.0  # March: in its shade most of the day
    assert north[2][1] < 0.5
    assert north[5][1] > south[5][1]  # in June the sun rises and sets north of the row
    assert south[2][2] < south[2][1]  # turned, it would cost less in March


def test_turning_a_row_by_a_right_angle_swaps_the_two_answers() -> None:
    bed = box(38.0, 46.0, 42.0, 54.0)
    one = bed_hours_lost(SITE, Settings(), LineString([(35.0, 50.0), (45.0, 50.0)]), 2.0, [bed])
    two = bed_hours_lost(SITE, Settings(), LineString([(40.0, 45.0), (40.0, 55.0)]), 2.0, [bed])
    for month in range(12):
        assert one[month][1] == pytest.approx(two[month][2], abs=1e-9)
        assert one[month][2] == pytest.approx(two[month][1], abs=1e-9)


def test_what_passes_light_costs_its_share_and_more_beds_cost_more() -> None:
    row, bed = LineString([(30.0, 49.5), (50.0, 49.5)]), box(30.0, 50.0, 50.0, 51.2)
    solid = bed_hours_lost(SITE, Settings(), row, 2.0, [bed])
    film = bed_hours_lost(SITE, Settings(), row, 2.0, [bed], passes=0.7)
    twice = bed_hours_lost(SITE, Settings(), row, 2.0, [bed, bed])
    for month in range(12):
        assert film[month][1] == pytest.approx(0.3 * solid[month][1])
        assert twice[month][1] == pytest.approx(2.0 * solid[month][1])


def test_an_hour_that_a_house_takes_is_not_lost_again() -> None:
    row, bed = LineString([(40.0, 49.5), (60.0, 49.5)]), box(45.0, 50.0, 55.0, 51.2)
    house = thing(Kind.BUILDING, box(30.0, 40.0, 70.0, 48.0), 9.0)
    behind = bed_hours_lost(make_site(np.zeros((100, 100)), 1.0, (house,)), sun_settings(), row, 2.0, [bed])
    alone = bed_hours_lost(SITE, sun_settings(), row, 2.0, [bed])
    assert sum(lost for _, lost, _ in behind) < 0.3 * sum(lost for _, lost, _ in alone)


def solid_edge(site: Site, row: LineString | Polygon, height: float, x: float, y: float, azimuth: float) -> float:
    """Return the tangent of the edge that a place sees in one direction. [1]."""
    scene = site_scene(site, sun_settings())
    stands = replace(scene.stands, prisms=standing_row(site, row, height))
    edges = edges_at(site, replace(scene, stands=stands), np.array([x]), np.array([y]), np.array([azimuth]))
    return float(np.tan(np.radians(edges[0, 0, 0])))


def test_a_house_of_film_is_dark_inside_and_a_row_has_no_shade_ahead_of_the_sun() -> None:
    outline = box(40.0, 40.0, 50.0, 46.0)
    assert solid_edge(SITE, outline, 3.0, 45.0, 43.0, 77.0) > 1000.0
    assert solid_edge(SITE, outline, 3.0, 45.0, 50.0, 180.0) == pytest.approx(3.0 / 4.0, abs=0.01)  # its near wall
    assert solid_edge(SITE, outline, 3.0, 45.0, 50.0, 5.0) == 0.0


def test_a_row_on_a_slope_reaches_farther_downhill() -> None:
    # Source: check H07, geometry: 2 m, sun at 30 degrees: 4.083 m on ground that falls 5 degrees away, 3.008 m on
    # ground that rises.
    fall = float(np.tan(np.radians(5.0)))
    for slope, reach in ((-fall, 4.083), (fall, 3.008)):
        site = make_site(100.0 + slope * np.arange(60.0)[::-1][:, None] * 0.5 + np.zeros((60, 60)), 0.5)
        row = LineString([(-900.0, 10.0), (900.0, 10.0)])
        edge = solid_edge(site, row, 2.0, 15.0, 10.0 + reach, 180.0)
        assert edge == pytest.approx(np.tan(np.radians(30.0)), rel=5e-3)


def test_what_cannot_be_asked_is_said() -> None:
    row = LineString([(40.0, 50.0), (60.0, 50.0)])
    with pytest.raises(InputError, match="no bed was given"):
        bed_hours_lost(SITE, Settings(), row, 2.0, [])
    with pytest.raises(InputError, match="must be higher than 0"):
        bed_hours_lost(SITE, Settings(), row, 0.0, [box(40.0, 51.0, 60.0, 52.0)])
