"""True north on a plane map, against a step along the meridian."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from shapely import box

from sitepipe.mapping.north import convergence, north_said
from sitepipe.site import Site
from tests.sites import make_site, plane


def site_at(code: int, longitude: float, latitude: float) -> Site:
    crs = CRS.from_epsg(code)
    x, y = Transformer.from_crs(4326, crs, always_xy=True).transform(longitude, latitude)
    here = make_site(plane(20, 20, 1.0, 0.0, 0.02))
    return replace(here, grid=replace(here.grid, crs=crs.to_wkt()), parcel=box(x - 5, y - 5, x + 5, y + 5))


@given(longitude=st.floats(6.5, 11.5), latitude=st.floats(-60.0, 70.0))
def test_the_angle_is_that_of_a_step_along_the_meridian(longitude: float, latitude: float) -> None:
    crs = CRS.from_epsg(32632)
    across = Transformer.from_crs(4326, crs, always_xy=True)
    (x, y), (further, up) = (across.transform(longitude, at) for at in (latitude, latitude + 1e-3))
    meridian = math.degrees(math.atan2(further - x, up - y))
    assert convergence(site_at(32632, longitude, latitude)) == pytest.approx(-meridian, abs=2e-3)


def test_a_transverse_mercator_grid_turns_by_the_sine_of_the_latitude() -> None:
    # First term of the series for transverse Mercator (Snyder 1987, eq. 8-9 rearranged; value from memory):
    # tan(angle) = tan(longitude from the middle meridian) * sin(latitude).
    wanted = math.degrees(math.atan(math.tan(math.radians(2.0)) * math.sin(math.radians(56.0))))
    assert convergence(site_at(25832, 11.0, 56.0)) == pytest.approx(wanted, abs=0.01)


def test_what_is_over_half_a_degree_is_said_and_on_which_side() -> None:
    assert "1.7 degrees west" in north_said(site_at(25832, 11.0, 56.0))
    assert "1.7 degrees east" in north_said(site_at(25832, 7.0, 56.0))
    assert "degrees west" not in north_said(site_at(25832, 9.1, 56.0))
    assert "magnetic" in north_said(site_at(25832, 9.1, 56.0))


def test_ground_without_a_place_on_the_earth_is_drawn_with_its_own_north() -> None:
    assert convergence(make_site(plane(20, 20, 1.0, 0.0, 0.02))) == 0.0
