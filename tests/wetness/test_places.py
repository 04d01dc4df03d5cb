"""The soggiest places: what is said of a place is said of the same water."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import box

from sitepipe.arrays import FloatArray
from sitepipe.drainage.ponding_uncertainty import estimate_ponding_uncertainty
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import make_settings
from sitepipe.site import Site
from sitepipe.terrain.stage import derive_terrain
from sitepipe.wetness.record import SoggyPlace
from sitepipe.wetness.stage import estimate_wetness
from tests.sites import make_site

STORM = {"storm": {"depths": ["50 mm"]}, "uncertainty": {"grounds": 16}}


def nested() -> FloatArray:
    """Dig a level-floored basin of 50 x 50 m, .5 m deep, with a pit of 8 x 8 m another .6 m deep in its middle."""
    ground = np.full((70, 70), 10.0)
    ground[:, :3] -= 0.01 * np.arange(3, 0, -1)
    row, column = np.mgrid[0:70, 0:70]
    middle = np.maximum(np.abs(row - 34.5), np.abs(column - 34.5))
    ground[middle < 25] = 9.5 + 0.004 * middle[middle < 25]
    ground[middle < 4] = 8.9
    return ground


def places(site: Site) -> tuple[SoggyPlace, ...]:
    settings = make_settings(STORM, "site.toml")
    terrain, drainage = derive_terrain(site, settings), trace_drainage(site, settings)
    uncertainty = estimate_ponding_uncertainty(site, drainage, settings)
    return estimate_wetness(site, terrain, drainage, uncertainty, settings).soggy_places


def test_a_hollow_within_a_hollow_is_as_large_as_what_the_storm_wets() -> None:
    """Of 50 mm on a lawn in fair condition on group D, 21 mm run off (TR-55): 2,500 m2 bring some 53 m3 to the pit.

    The pit takes 38 m3, the rest spreads thinly around it: far from the 2,500 m2 of the full basin.
    """
    site = make_site(nested(), height_error=0.01)
    deep = [place for place in places(site) if place.depth is not None]
    assert deep[0].area < 1000.0
    assert deep[0].outline.area == pytest.approx(deep[0].area)
    assert deep[0].depth == pytest.approx(0.62, abs=0.08)


def test_a_depth_lies_within_its_own_range() -> None:
    for error in (0.01, 0.05, 0.1):
        site = make_site(nested(), height_error=error)
        site = replace(site, ground=replace(site.ground, vertical_error=error))
        for place in places(site):
            if place.depth is not None:
                assert place.depth_low is not None
                assert place.depth_high is not None
                assert place.depth_low <= place.depth <= place.depth_high


def test_only_what_lies_on_the_parcel_is_said() -> None:
    """The parcel takes the north of the basin and none of the pit: its water is shallow there, or there is none."""
    site = make_site(nested(), height_error=0.01, parcel=box(5, 42, 65, 68))
    for place in places(site):
        assert place.outline.difference(site.parcel.buffer(1e-6)).area == 0.0
        assert place.depth is None or place.depth < 0.15
