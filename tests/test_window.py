"""How much ground must be read: built slopes, hollows and ridges."""

from __future__ import annotations

import numpy as np
from shapely import box

from sitepipe.arrays import FloatArray
from sitepipe.reading.growth import Reach
from sitepipe.settings import DrainageSettings
from sitepipe.site import Site
from sitepipe.window import reached_sides as tell_sides
from tests.sites import bowl, make_site, plane


def reached(site: Site) -> Reach:
    return tell_sides(site, DrainageSettings())


def test_water_comes_from_the_side_that_the_ground_rises_to() -> None:
    found = reached(make_site(plane(40, 40, 1.0, north=0.05), parcel=box(15, 15, 25, 25)))
    assert found.comes == (False, False, False, True)


def test_an_outflow_that_has_not_fallen_clearly_is_followed() -> None:
    gentle = reached(make_site(plane(40, 40, 1.0, north=0.01), parcel=box(15, 15, 25, 25)))
    steep = reached(make_site(plane(40, 40, 1.0, north=0.10), parcel=box(15, 15, 25, 25)))
    assert gentle.leaves == (False, True, False, False)
    assert steep.leaves == (False, False, False, False)


def test_nothing_comes_to_a_hilltop() -> None:
    found = reached(make_site(200.0 - bowl(61, 1.0, 5.0), parcel=box(25, 25, 35, 35)))
    assert found.comes == (False, False, False, False)


def test_all_of_a_hollow_that_the_parcel_shares_counts() -> None:
    """The parcel holds the west end of a trough that spills to the south; its far end is fed from the east."""
    y, x = np.mgrid[39:-1:-1, 0:60].astype(np.float64)
    ground: FloatArray = 100.0 + 0.05 * np.abs(y - 20.0) + 0.02 * np.abs(x - 30.0)
    ground = np.where((np.abs(y - 20.0) <= 2.0) & (np.abs(x - 30.0) <= 20.0), 99.0, ground)
    east = np.where(x > 52.0, 0.3 * (x - 52.0), 0.0)
    found = reached(make_site(ground + east, parcel=box(10, 18, 16, 22)))
    assert found.comes[2]


def test_a_turned_ground_turns_the_sides() -> None:
    for turns, side in ((0, 3), (1, 0), (2, 1), (3, 2)):
        ground = np.rot90(plane(40, 40, 1.0, north=0.05), turns).copy()
        found = reached(make_site(ground, parcel=box(15, 15, 25, 25)))
        assert [number for number in range(4) if found.comes[number]] == [side]
