"""What stands, laid out on the grid."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from sitepipe.arrays import frozen
from sitepipe.reading.features import measured
from sitepipe.settings import DrawnSettings
from sitepipe.site import Feature, Kind, Origin, Site
from sitepipe.sunlight.obstacles import shape_of, standing
from sitepipe.sunlight.place import edges_at
from sitepipe.sunlight.prisms import OPAQUE, Prisms
from sitepipe.sunlight.stage import site_scene
from tests.sites import draw_thing, make_site
from tests.sunlight.drawn import sun_settings, thing


def field(*things: Feature) -> Site:
    return make_site(np.full((40, 40), 10.0), 1.0, things)


def prisms(*things: Feature) -> Prisms:
    return standing(field(*things)).prisms


def test_a_building_is_one_piece_and_a_bent_wall_is_cut_into_some_that_fill_it() -> None:
    house = prisms(thing(Kind.BUILDING, box(10.2, 10.2, 15.2, 13.2), 6.0))
    assert (house.top.tolist(), house.base.tolist(), house.kind.tolist()) == ([6.0], [0.0], [OPAQUE])
    bent = prisms(thing(Kind.WALL, LineString([(5, 5), (20, 5), (20, 20)]), 2.0, 0.3))
    assert bent.top.size > 1
    area = sum(Polygon(bent.corner[one:other]).area for one, other in pairwise(bent.first.tolist()))
    assert area == pytest.approx(LineString([(5, 5), (20, 5), (20, 20)]).buffer(0.15).area, rel=0.01)


@given(st.floats(0.0, 360.0), st.floats(2.0, 18.0), st.floats(0.0, 360.0))
def test_no_light_slips_through_a_thin_wall(degrees: float, reach: float, azimuth: float) -> None:
    # Built: where another library's ray meets the wall there is an edge, nowhere else.
    east, north = np.sin(np.radians(degrees)) * reach, np.cos(np.radians(degrees)) * reach
    site = field(thing(Kind.WALL, LineString([(20.3, 20.4), (20.3 + east, 20.4 + north)]), 2.0, 0.1))
    scene = site_scene(site, sun_settings())
    x, y = np.array([8.0, 21.1, 33.3]), np.array([9.0, 31.7, 18.2])
    found = edges_at(site, scene, x, y, np.array([azimuth]))[0, :, 0]
    outline = site.features[0].outline
    way = 200.0 * np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
    for k in range(3):
        ray = LineString([(x[k], y[k]), (x[k] + way[0], y[k] + way[1])])
        away = outline.distance(Point(x[k], y[k]))
        assert found[k] == 0.0 or ray.distance(outline) < 0.02
        if away > 0.1 and ray.intersection(outline.buffer(-0.02)).length > 0.02:
            near = Point(x[k], y[k]).distance(ray.intersection(outline))
            assert np.tan(np.radians(found[k])) == pytest.approx(2.0 / near, abs=0.02)


def test_trees_grow_to_their_full_height_and_hedges_are_cut() -> None:
    ahead = DrawnSettings(years_ahead=10.0)
    grown = {"growth_per_year": "0.5 m", "full_height": "6 m"}
    things = (
        draw_thing(1, Kind.TREE, "A", Point(10, 10), 4.0, settings=ahead),
        draw_thing(2, Kind.TREE, "B", Point(20, 20), 4.0, attributes=grown, settings=ahead),
        draw_thing(3, Kind.HEDGE, "C", LineString([(5, 30), (30, 30)]), 2.0, settings=ahead),
    )
    tops = [shape_of(thing).top for thing in things]
    assert tops == [pytest.approx(7.0), 6.0, 2.0]


def test_a_surface_model_gives_the_heights_of_what_was_drawn_without() -> None:
    surface = np.zeros((40, 40))
    surface[10:14, 10:14] = 7.0  # the building
    surface[30:33, 30:33] = 9.0  # something nobody drew
    site = field(
        thing(Kind.BUILDING, Polygon([(10, 26), (14, 26), (14, 30), (10, 30)])),
        thing(Kind.TREE, Point(25, 5)),
    )
    features = measured(site.features, surface, site.grid)
    assert [(feature.height, feature.height_by) for feature in features] == [
        (7.0, Origin.SURFACE),
        (8.0, Origin.GUESSED),  # the model shows nothing where the tree was drawn
    ]
    stands = standing(replace(site, obstacle_height=frozen(surface), features=features))
    assert stands.shown[11, 11] == 7.0
    assert stands.shown[31, 31] == 9.0
    assert stands.prisms.top.tolist() == [8.0]


def test_a_drawn_crown_claims_what_the_model_shows_about_it() -> None:
    # Issue 16, item 9: a crown drawn narrower than the model shows it had an opaque ring.
    surface = np.zeros((40, 40))
    surface[16:24, 16:24] = 6.0
    surface[30:33, 30:33] = 9.0
    site = field(thing(Kind.TREE, box(17, 17, 23, 23)))
    site = replace(site, obstacle_height=frozen(surface), features=measured(site.features, surface, site.grid))
    stands = standing(site)
    assert stands.shown[10:28, 10:28].max() == 0.0
    assert stands.shown[31, 31] == 9.0
    assert stands.prisms.top.tolist() == [6.0]
