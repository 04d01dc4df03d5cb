"""What stands, laid out on the grid."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from sitepipe.arrays import frozen
from sitepipe.errors import InputError
from sitepipe.settings import SunSettings
from sitepipe.site import Feature, Kind, Site
from sitepipe.sunlight.obstacles import Foliage, Obstacle, drawn_obstacles, footprint, standing
from tests.sites import make_site
from tests.sunlight.drawn import sun_settings, thing


def field(*things: Feature) -> Site:
    return make_site(np.full((40, 40), 10.0), 1.0, things)


def laid_out(site: Site, settings: SunSettings | None = None) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    return standing(site, drawn_obstacles(site, settings or SunSettings())[0]).opaque


def test_a_building_covers_the_cells_whose_middle_it_holds() -> None:
    opaque = laid_out(field(thing(Kind.BUILDING, box(10.2, 10.2, 15.2, 13.2), 6.0)))
    assert (opaque > 0).sum() == 15
    assert opaque.max() == 6.0


@given(st.floats(0.0, 360.0), st.floats(2.0, 18.0))
def test_no_light_slips_through_a_thin_wall(degrees: float, reach: float) -> None:
    # Cells that share a side, end to end: a walk over corners cannot pass between them.
    east, north = np.sin(np.radians(degrees)) * reach, np.cos(np.radians(degrees)) * reach
    site = field()
    wall = Obstacle(LineString([(20.3, 20.4), (20.3 + east, 20.4 + north)]), 2.0, width=0.1)
    rows, columns, covered = footprint(site.grid, wall)
    cells = {(row + rows.start, column + columns.start) for row, column in np.argwhere(covered)}
    here, seen = site.grid.cell_at(20.3, 20.4), set()
    waiting = [here]
    while waiting:
        row, column = waiting.pop()
        if (row, column) in cells and (row, column) not in seen:
            seen.add((row, column))
            waiting += [(row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)]
    assert site.grid.cell_at(20.3 + east * 0.999999, 20.4 + north * 0.999999) in seen
    assert seen == cells


def test_things_beyond_the_heights_are_left_out_and_things_on_the_edge_cut() -> None:
    opaque = laid_out(
        field(thing(Kind.BUILDING, box(-30, -30, -20, -20), 6.0), thing(Kind.BUILDING, box(36, 36, 60, 60), 3.0))
    )
    assert (opaque > 0).sum() == 16
    assert opaque.max() == 3.0


def test_a_height_that_is_not_drawn_is_assumed_and_said() -> None:
    site = field(
        thing(Kind.BUILDING, box(5, 5, 9, 9)), thing(Kind.TREE, Point(25, 25)), thing(Kind.TREE, Point(30, 10))
    )
    obstacles, sentences = drawn_obstacles(site, SunSettings())
    assert [obstacle.top for obstacle in obstacles] == [5.0, 8.0, 8.0]
    assert obstacles[1].width == pytest.approx(0.6 * 8.0)
    assert sentences == (
        "1 of kind building drawn without a height: taken as 5 m.",
        "2 of kind tree drawn without a height: taken as 8 m.",
    )


def test_trees_are_deciduous_unless_drawn_as_evergreen() -> None:
    kinds = [
        drawn_obstacles(field(thing(Kind.TREE, Point(20, 20), 6.0, **attributes)), SunSettings())[0][0].foliage
        for attributes in ({}, {"leaf": "evergreen"}, {"evergreen": True}, {"evergreen": "no"}, {"leaf": "Deciduous"})
    ]
    assert kinds == [
        Foliage.DECIDUOUS, Foliage.EVERGREEN, Foliage.EVERGREEN, Foliage.DECIDUOUS, Foliage.DECIDUOUS
    ]  # fmt: skip


def test_trees_grow_to_their_full_height_and_hedges_are_cut() -> None:
    site = field(
        thing(Kind.TREE, Point(10, 10), 4.0),
        thing(Kind.TREE, Point(20, 20), 4.0, growth_per_year="0.5 m", full_height="6 m"),
        thing(Kind.HEDGE, LineString([(5, 30), (30, 30)]), 2.0),
    )
    obstacles, sentences = drawn_obstacles(site, sun_settings(years_ahead=10).sun)
    assert [obstacle.top for obstacle in obstacles] == [pytest.approx(7.0), 6.0, 2.0]
    assert "in 10 years" in sentences[-1]


def test_a_surface_model_gives_the_heights_of_what_was_drawn_without() -> None:
    surface = np.zeros((40, 40))
    surface[10:14, 10:14] = 7.0  # the building
    surface[30:33, 30:33] = 9.0  # something nobody drew
    site = field(
        thing(Kind.BUILDING, Polygon([(10, 26), (14, 26), (14, 30), (10, 30)])),
        thing(Kind.TREE, Point(25, 5)),
    )
    site = replace(site, obstacle_height=frozen(surface))
    obstacles, sentences = drawn_obstacles(site, SunSettings())
    stands = standing(site, obstacles)
    assert stands.opaque[11, 11] == 7.0
    assert stands.opaque[31, 31] == 9.0
    assert stands.crowns[0].top.max() == 8.0  # the model shows nothing where the tree was drawn
    assert "taken from the surface model, else 8 m" in sentences[1]


def test_a_drawn_crown_is_not_taken_for_a_wall_where_the_model_shows_it() -> None:
    surface = np.zeros((40, 40))
    surface[17:23, 17:23] = 6.0
    site = replace(field(thing(Kind.TREE, box(17, 17, 23, 23))), obstacle_height=frozen(surface))
    stands = standing(site, drawn_obstacles(site, SunSettings())[0])
    assert stands.opaque.max() == 0.0
    assert stands.crowns[0].top[20, 20] == 6.0


@pytest.mark.parametrize(
    ("attributes", "message"),
    [
        ({"leaf": "plastic"}, "leaf is 'plastic'; it must be 'evergreen' or 'deciduous'"),
        ({"trunk_height": "tall"}, "trunk_height: 'tall' is not a length"),
        ({"trunk_height": "9 m"}, "trunk_height is 9 m and height 6.3 m"),
        ({"growth_per_year": -1.0}, "growth_per_year is -1 m; it must be from 0 to 200 m"),
    ],
)
def test_what_cannot_be_is_named_with_its_value(attributes: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        drawn_obstacles(
            field(thing(Kind.TREE, Point(20, 20), 6.0, None, **attributes)), sun_settings(years_ahead=1).sun
        )
