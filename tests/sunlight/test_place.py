"""What one place sees: horizon, arcs, hours; and the lattice that travels in the page."""

from __future__ import annotations

import base64
import json

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.errors import InputError
from sitepipe.settings import Settings
from sitepipe.site import Kind
from sitepipe.sunlight.place import horizon_at, horizon_lattice, sun_arcs, sun_path
from sitepipe.sunlight.stage import trace_sunlight
from tests.sites import make_site
from tests.sunlight.drawn import garden, sun_settings, thing

FLAT = np.full((60, 60), 50.0)


def bytes_of(text: str) -> np.ndarray[tuple[int], np.dtype[np.uint8]]:
    return np.frombuffer(base64.b64decode(text), dtype=np.uint8)


def test_in_the_open_the_horizon_is_level_and_the_hours_are_whole() -> None:
    found = horizon_at(make_site(FLAT), 30.0, 30.0, Settings())
    assert found.solid.max() == 0.0
    assert found.crowns.max() == 0.0
    np.testing.assert_allclose(found.hours, trace_sunlight(make_site(FLAT), Settings()).open_hours, atol=1e-5)


def test_a_wall_to_the_south_stands_as_high_as_height_over_distance() -> None:
    # Built: the middle of the wall's row of cells is 5 m south of the place.
    wall = thing(Kind.WALL, LineString([(0.0, 25.5), (60.0, 25.5)]), 2.0)
    found = horizon_at(make_site(FLAT, 1.0, (wall,)), 30.5, 30.5, sun_settings())
    south = int(np.argmin(np.abs(found.azimuth - 180.0)))
    assert found.solid[south] == pytest.approx(np.degrees(np.arctan(2.0 / 5.0)), abs=0.01)
    aside = int(np.argmin(np.abs(found.azimuth - 230.0)))
    assert found.solid[aside] == pytest.approx(np.degrees(np.arctan(2.0 * np.cos(np.radians(50.0)) / 5.0)), abs=0.3)
    assert found.solid[0] == 0.0


def test_crowns_are_kept_apart_and_show_the_gap_below_them() -> None:
    tree = thing(Kind.TREE, Point(30.5, 24.5), 8.0, 4.0, trunk_height="2 m")
    found = horizon_at(make_site(FLAT, 1.0, (tree,)), 30.5, 34.5, sun_settings())
    south = int(np.argmin(np.abs(found.azimuth - 180.0)))
    assert found.solid[south] == 0.0
    assert found.crowns[south] == pytest.approx(np.degrees(np.arctan(8.0 / 9.0)), abs=0.1)
    assert found.gap[south] == pytest.approx(np.degrees(np.arctan(2.0 / 11.0)), abs=0.1)


def test_place_and_map_tell_the_same_hours() -> None:
    site, chosen = garden(True), sun_settings()
    sun = trace_sunlight(site, chosen)
    apart = []
    for row, column in np.random.default_rng(2).integers(20, 140, (25, 2)):
        found = horizon_at(site, *site.grid.centre(int(row), int(column)), chosen)
        apart.append(abs(found.season_hours - sun.sun_hours[row, column]))
    assert np.mean(apart) < 0.06


def test_a_place_off_the_heights_is_refused() -> None:
    with pytest.raises(InputError, match="lies outside the heights"):
        horizon_at(make_site(FLAT), 500.0, 30.0, Settings())


@pytest.mark.parametrize(
    ("latitude", "solstice", "equinox"), [(42.0, 71.4, 48.0), (-42.0, 24.6, 48.0), (10.0, 76.6, 80.0)]
)
def test_the_arcs_reach_the_heights_of_the_textbook(latitude: float, solstice: float, equinox: float) -> None:
    # Source: geometry; at noon the sun stands at 90 less the distance of latitude and declination (23.4, 0).
    arcs = sun_arcs(latitude, -73.0)
    assert [arc["name"] for arc in arcs] == ["June solstice", "equinox", "December solstice"]
    assert max(arcs[0]["elevation_deg"]) == pytest.approx(solstice, abs=0.3)
    assert max(arcs[1]["elevation_deg"]) == pytest.approx(equinox, abs=0.5)
    for arc in arcs:
        highest = arc["hour"][int(np.argmax(arc["elevation_deg"]))]
        assert highest == pytest.approx(12.0, abs=0.3)


def test_in_a_polar_night_there_is_no_arc() -> None:
    assert sun_arcs(75.0, 20.0)[2]["hour"] == []


def test_a_sun_path_is_plain_numbers() -> None:
    path = sun_path(garden(True), 30.0, 30.0, Settings())
    again = json.loads(json.dumps(path))
    assert len(again["azimuth_deg"]) == len(again["solid_deg"]) == len(again["gap_deg"]) == 72
    assert len(again["hours_by_month"]) == 12
    assert max(again["solid_deg"]) > 5.0


def test_the_lattice_says_what_the_place_says() -> None:
    site, chosen = garden(True), sun_settings()
    lattice = json.loads(json.dumps(horizon_lattice(site, chosen)))
    index = np.frombuffer(base64.b64decode(lattice["index"]), dtype="<u2").reshape(lattice["rows"], lattice["columns"])
    solid = bytes_of(lattice["solid"]).reshape(lattice["places"], 72)
    crowns = bytes_of(lattice["crowns"]).reshape(lattice["places"], 72)
    assert sorted(index[index < 65535].tolist()) == list(range(lattice["places"]))
    assert lattice["gap"] == ""
    for row, column in np.argwhere(index < 65535)[::60]:
        place = int(index[row, column])
        x, y = lattice["west_m"] + column * lattice["spacing_m"], lattice["north_m"] - row * lattice["spacing_m"]
        found = horizon_at(site, x, y, chosen, step=5.0)
        np.testing.assert_allclose(solid[place] / 2.0, found.solid, atol=0.26)
        np.testing.assert_allclose(crowns[place] / 2.0, found.crowns, atol=0.26)


def test_the_lattice_is_small_whatever_the_parcel() -> None:
    small = horizon_lattice(make_site(FLAT, 1.0), Settings())
    large = horizon_lattice(make_site(np.full((400, 400), 5.0), 2.0), Settings())
    for lattice in (small, large):
        assert 200 < lattice["places"] <= 760
        assert len(json.dumps(lattice)) < 120_000
    assert large["spacing_m"] > small["spacing_m"]


def test_the_lattice_covers_the_parcel() -> None:
    parcel = box(12.0, 13.0, 47.0, 41.0)
    lattice = horizon_lattice(make_site(FLAT, parcel=parcel), Settings())
    index = np.frombuffer(base64.b64decode(lattice["index"]), dtype="<u2").reshape(lattice["rows"], lattice["columns"])
    rows, columns = np.nonzero(index < 65535)
    x = lattice["west_m"] + columns * lattice["spacing_m"]
    y = lattice["north_m"] - rows * lattice["spacing_m"]
    for px, py in ((12.1, 13.1), (46.9, 40.9), (30.0, 27.0), (12.1, 40.9)):
        assert np.hypot(x - px, y - py).min() <= lattice["spacing_m"]


def test_even_a_parcel_of_a_hand_has_a_place() -> None:
    assert horizon_lattice(make_site(FLAT, parcel=box(30.0, 30.0, 30.2, 30.3)), Settings())["places"] == 1
