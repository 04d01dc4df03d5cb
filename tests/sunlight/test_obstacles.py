"""What stands, laid out on the grid."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from sitepipe.arrays import frozen
from sitepipe.reading.features import measured
from sitepipe.settings import DrawnSettings
from sitepipe.site import Feature, Kind, Origin, Site
from sitepipe.sunlight.obstacles import Obstacle, drawn_obstacles, footprint, standing
from tests.sites import draw_thing, make_site
from tests.sunlight.drawn import thing


def field(*things: Feature) -> Site:
    return make_site(np.full((40, 40), 10.0), 1.0, things)


def laid_out(site: Site) -> np.ndarray[tuple[int, ...], np.dtype[np.float32]]:
    return standing(site, drawn_obstacles(site)).opaque


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


def test_trees_grow_to_their_full_height_and_hedges_are_cut() -> None:
    ahead = DrawnSettings(years_ahead=10.0)
    site = field(
        draw_thing(1, Kind.TREE, "A", Point(10, 10), 4.0, settings=ahead),
        draw_thing(
            2,
            Kind.TREE,
            "B",
            Point(20, 20),
            4.0,
            attributes={"growth_per_year": "0.5 m", "full_height": "6 m"},
            settings=ahead,
        ),
        draw_thing(3, Kind.HEDGE, "C", LineString([(5, 30), (30, 30)]), 2.0, settings=ahead),
    )
    assert [obstacle.top for obstacle in drawn_obstacles(site)] == [pytest.approx(7.0), 6.0, 2.0]


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
    site = replace(site, obstacle_height=frozen(surface), features=features)
    stands = standing(site, drawn_obstacles(site))
    assert stands.opaque[11, 11] == 7.0
    assert stands.opaque[31, 31] == 9.0
    assert stands.crowns[0].top.max() == 8.0


def test_a_drawn_crown_is_not_taken_for_a_wall_where_the_model_shows_it() -> None:
    surface = np.zeros((40, 40))
    surface[17:23, 17:23] = 6.0
    site = field(thing(Kind.TREE, box(17, 17, 23, 23)))
    site = replace(site, obstacle_height=frozen(surface), features=measured(site.features, surface, site.grid))
    stands = standing(site, drawn_obstacles(site))
    assert stands.opaque.max() == 0.0
    assert stands.crowns[0].top[20, 20] == 6.0
