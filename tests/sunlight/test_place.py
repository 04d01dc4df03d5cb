"""What one place sees: horizon, arcs, hours; and the lattice that travels in the page."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.arrays import FloatArray
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site
from sitepipe.sunlight.place import edges_at, horizon_lattice, hours_at, places_at, sun_arcs
from sitepipe.sunlight.stage import site_scene, trace_sunlight
from sitepipe.sunlight.tables import SEASON
from tests.sites import make_site
from tests.sunlight.drawn import garden, sun_settings, thing

FLAT = np.full((60, 60), 50.0)


def edges(site: Site, x: float, y: float, *azimuths: float) -> FloatArray:
    """Return opaque edge, highest and lowest edge of the crowns that a place sees, by direction. [deg]."""
    scene = site_scene(site, sun_settings())
    return edges_at(site, scene, np.array([x]), np.array([y]), np.array(azimuths))[:, 0]


def hours(site: Site, settings: Settings, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return hours by month and of the season of places."""
    scene = site_scene(site, settings)
    return hours_at(site, scene, places_at(site, scene, x, y, scene.tables.azimuth))[:, : SEASON + 1]


def test_in_the_open_the_horizon_is_level_and_the_hours_are_whole() -> None:
    site = make_site(FLAT)
    assert edges(site, 30.0, 30.0, *range(0, 360, 5))[:2].max() == 0.0
    found = hours(site, Settings(), np.array([30.0]), np.array([30.0]))[0, :12]
    np.testing.assert_allclose(found, trace_sunlight(site, Settings()).open_hours, atol=1e-5)


def test_a_wall_to_the_south_stands_as_high_as_height_over_distance() -> None:
    # Built: the wall's face is 4.9 m south of the place.
    wall = thing(Kind.WALL, LineString([(0.0, 25.5), (60.0, 25.5)]), 2.0, 0.2)
    solid = edges(make_site(FLAT, 1.0, (wall,)), 30.5, 30.5, 180.0, 230.0, 0.0)[0]
    assert solid[0] == pytest.approx(np.degrees(np.arctan(2.0 / 4.9)), abs=0.06)
    assert solid[1] == pytest.approx(np.degrees(np.arctan(2.0 * np.cos(np.radians(50.0)) / 4.9)), abs=0.06)
    assert solid[2] == 0.0


def test_crowns_are_kept_apart_and_show_the_gap_below_them() -> None:
    tree = thing(Kind.TREE, Point(30.5, 24.5), 8.0, 4.0, trunk_height="2 m")
    solid, upper, lower = edges(make_site(FLAT, 1.0, (tree,)), 30.5, 34.5, 180.0)[:, 0]
    assert solid == 0.0
    assert upper == pytest.approx(np.degrees(np.arctan(8.0 / 8.0)), abs=0.2)
    assert lower == pytest.approx(np.degrees(np.arctan(2.0 / 12.0)), abs=0.1)


def test_place_and_map_tell_the_same_hours() -> None:
    site, chosen = garden(True), sun_settings()
    sun = trace_sunlight(site, chosen)
    rows, columns = np.random.default_rng(2).integers(20, 140, (2, 25))
    found = hours(site, chosen, site.grid.x[columns], site.grid.y[rows])[:, SEASON]
    assert np.abs(found - sun.sun_hours[rows, columns]).mean() < 0.06


@pytest.mark.parametrize(
    ("latitude", "solstice", "equinox"), [(42.0, 71.4, 48.0), (-42.0, 24.6, 48.0), (10.0, 76.6, 80.0)]
)
def test_the_arcs_reach_the_heights_of_the_textbook(latitude: float, solstice: float, equinox: float) -> None:
    # Source: geometry; at noon the sun stands at 90 less the distance of latitude and declination (23.4, 0).
    arcs = sun_arcs(latitude, -73.0)
    assert [arc["name"] for arc in arcs] == ["June solstice", "equinox", "December solstice"]
    assert max(arcs[0]["elevation"]) == pytest.approx(solstice, abs=0.3)
    assert max(arcs[1]["elevation"]) == pytest.approx(equinox, abs=0.5)
    for arc in arcs:
        highest = arc["hour"][int(np.argmax(arc["elevation"]))]
        assert highest == pytest.approx(12.0, abs=0.3)


def test_in_a_polar_night_there_is_no_arc() -> None:
    assert sun_arcs(75.0, 20.0)[2]["hour"] == []


def test_the_lattice_says_what_the_place_says() -> None:
    site, chosen = garden(True), sun_settings()
    lattice = horizon_lattice(site, chosen)
    index = lattice.index
    assert sorted(index[index < 65535].tolist()) == list(range(lattice.solid.shape[0]))
    assert lattice.gap.size == 0
    for row, column in np.argwhere(index < 65535)[::60]:
        place = int(index[row, column])
        x, y = lattice.west + column * lattice.spacing, lattice.north - row * lattice.spacing
        found = edges(site, x, y, *range(0, 360, 5))
        np.testing.assert_allclose(lattice.solid[place] / 2.0, found[0], atol=0.26)
        np.testing.assert_allclose(lattice.crowns[place] / 2.0, found[1], atol=0.26)


def test_the_lattice_is_small_whatever_the_parcel() -> None:
    small = horizon_lattice(make_site(FLAT, 1.0), Settings())
    large = horizon_lattice(make_site(np.full((400, 400), 5.0), 2.0), Settings())
    for lattice in (small, large):
        assert 200 < lattice.solid.shape[0] <= 760
    assert large.spacing > small.spacing


def test_the_lattice_covers_the_parcel() -> None:
    parcel = box(12.0, 13.0, 47.0, 41.0)
    lattice = horizon_lattice(make_site(FLAT, parcel=parcel), Settings())
    rows, columns = np.nonzero(lattice.index < 65535)
    x = lattice.west + columns * lattice.spacing
    y = lattice.north - rows * lattice.spacing
    for px, py in ((12.1, 13.1), (46.9, 40.9), (30.0, 27.0), (12.1, 40.9)):
        assert np.hypot(x - px, y - py).min() <= lattice.spacing


def test_even_a_parcel_of_a_hand_has_a_place() -> None:
    assert horizon_lattice(make_site(FLAT, parcel=box(30.0, 30.0, 30.2, 30.3)), Settings()).solid.shape[0] == 1
