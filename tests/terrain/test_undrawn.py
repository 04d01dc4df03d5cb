"""What only the surface model shows is claimed by what is drawn about it, or kept clear."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import Point, box

from sitepipe.arrays import FloatArray, frozen
from sitepipe.site import Feature, Kind, Site
from sitepipe.terrain.undrawn import LEAST_PATCH, undrawn_ground, undrawn_height
from tests.sites import draw_thing, make_site, plane


def field(surface: FloatArray, *features: Feature) -> Site:
    return replace(make_site(plane(60, 60, 1.0), 1.0, features), obstacle_height=frozen(surface))


def disc(radius: float, x: float = 30.0, y: float = 30.0, height: float = 10.0) -> FloatArray:
    """Cells whose middle lies in a circle; row 0 is the northernmost."""
    rows, columns = np.mgrid[0:60, 0:60]
    return np.where(np.hypot(columns + 0.5 - x, 59.5 - rows - y) <= radius, height, 0.0)


def test_a_crown_drawn_too_narrow_claims_the_whole_crown() -> None:
    tree = draw_thing(1, Kind.TREE, "Oak", Point(30.0, 30.0), 10.0, 3.0)
    assert undrawn_height(field(disc(5.0), tree), (tree,)).max() == 0.0


def test_a_tree_at_the_edge_of_a_wood_claims_no_more_of_it_than_its_crown_can_be() -> None:
    wood = np.zeros((60, 60))
    wood[:, 30:] = 10.0
    tree = draw_thing(1, Kind.TREE, "Oak", Point(32.0, 30.0), 10.0, 4.0)
    left = undrawn_height(field(wood, tree), (tree,))
    claimed = (wood > 0.0) & (left == 0.0)
    assert 0.0 < claimed.sum() <= np.pi * (2.0 + 5.0) ** 2
    assert (left[:, 45:] == 10.0).all()


def test_a_neighbour_that_does_not_hang_together_with_it_is_not_claimed() -> None:
    tree = draw_thing(1, Kind.TREE, "Oak", Point(30.0, 30.0), 10.0, 3.0)
    both = disc(2.0) + disc(1.2, x=35.0)
    left = undrawn_height(field(both, tree), (tree,))
    assert (left > 0.0).sum() == (disc(1.2, x=35.0) > 0.0).sum()


@pytest.mark.parametrize(("height", "is_kept"), [(0.9, False), (1.1, True)])
def test_low_growth_is_no_hindrance_and_what_stands_is(height: float, is_kept: bool) -> None:
    ground = undrawn_ground(field(disc(5.0, height=height)), 1.0)
    assert ground.area == pytest.approx(np.pi * 25.0 if is_kept else 0.0, rel=0.06)


def test_posts_and_noise_are_passed_over() -> None:
    surface = np.zeros((60, 60))
    surface[30, 30:32] = 3.0
    assert LEAST_PATCH > 2.0
    assert undrawn_ground(field(surface), 1.0).is_empty


def test_without_a_surface_model_nothing_is_undrawn() -> None:
    site = make_site(plane(60, 60, 1.0), 1.0, (draw_thing(1, Kind.BUILDING, "House", box(9, 9, 20, 20)),))
    assert undrawn_ground(site, 1.0).is_empty
