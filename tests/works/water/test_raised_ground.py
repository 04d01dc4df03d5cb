"""Ridges as ground: against the distance of each cell from the crest, and what they may not do."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point

from sitepipe.works.water.raised_ground import added_height


def test_a_ridge_adds_nothing_beyond_its_foot_and_its_height_at_the_crest() -> None:
    ground = np.zeros((60, 60))
    ridge = np.array([[10.0, 15.0, 0.5, 20.0, 15.0, 0.5, 5.0]])
    added = added_height(ground, 0.0, 30.0, 0.5, ridge, 0.6, 1.5)
    y, x = np.mgrid[59:-1:-1, 0:60] * 0.5 + 0.25
    away = np.hypot(np.maximum(np.maximum(10.0 - x, x - 20.0), 0.0), y - 15.0)
    assert (added[away > 0.3 + 0.75 + 1e-9] == 0.0).all()
    assert added.max() == pytest.approx(0.5)
    assert added[29, 30] == pytest.approx(0.5)


def test_two_ridges_that_meet_are_not_added_up() -> None:
    ground = np.zeros((40, 40))
    one = [5.0, 10.0, 0.5, 15.0, 10.0, 0.5, 3.0]
    both = added_height(ground, 0.0, 20.0, 0.5, np.array([one, one]), 0.6, 1.5)
    assert np.array_equal(both, added_height(ground, 0.0, 20.0, 0.5, np.array([one]), 0.6, 1.5))


def test_unknown_ground_is_not_raised() -> None:
    ground = np.full((10, 10), np.nan)
    added = added_height(ground, 0.0, 10.0, 1.0, np.array([[2.0, 5.0, 1.0, 8.0, 5.0, 1.0, 2.0]]), 0.6, 1.5)
    assert (added == 0.0).all()


def test_a_ridge_reaches_as_far_as_it_may_and_no_farther() -> None:
    """A crest far above the ground, so that only its reach ends it: two cells each way, the second included."""
    ridge = np.array([[3.5, 3.5, 9.0, 4.5, 3.5, 9.0, 2.0]])
    added = added_height(np.zeros((7, 8)), 0.0, 7.0, 1.0, ridge, 1.0, 2.0)
    assert (added[:, 3] > 0.0).tolist() == [False, True, True, True, True, True, False]
    assert (added[3] > 0.0).tolist() == [False, True, True, True, True, True, True, False]
    assert added[3, [1, 3, 4, 6]].tolist() == [9.0 - 1.5 / 2.0, 9.0, 9.0, 9.0 - 1.5 / 2.0]


@pytest.mark.parametrize("shape", [(1, 1), (1, 7), (7, 1), (6, 5)])
@pytest.mark.parametrize("corner", [(0.0, 0.0, 1.0), (3.0, -2.0, 1.5), (-4.0, 1.0, 0.7)])
def test_what_is_added_is_what_the_distance_from_the_crest_says(
    shape: tuple[int, int], corner: tuple[float, float, float]
) -> None:
    """Cell by cell with shapely: the nearest point of the crest, its height, and the side's fall from there."""
    chance = np.random.default_rng(sum(shape))
    west, south, cell = corner
    north = south + shape[0] * cell
    for _ in range(25):
        ground = chance.choice([0.0, 0.2, 0.9, np.nan], shape)
        top, side_slope = chance.uniform(0.0, 2.0), chance.uniform(0.4, 3.0)
        ridges = np.empty((2, 7))
        for ridge in ridges:
            ends = chance.uniform(-2.0, 1.0 + max(shape) * cell, (2, 2)) + np.array([west, south])
            if chance.random() < 0.2:
                ends[1] = ends[0]
            ridge[:] = (
                *ends[0],
                chance.uniform(-0.5, 3.0),
                *ends[1],
                chance.uniform(-0.5, 3.0),
                chance.uniform(0.3, 3.0),
            )
        expected = np.zeros(shape)
        for x0, y0, z0, x1, y1, z1, reach in ridges.tolist():
            line = LineString([(x0, y0), (x1, y1)])
            for row, column in np.argwhere(~np.isnan(ground)).tolist():
                centre = Point(west + (column + 0.5) * cell, north - (row + 0.5) * cell)
                away = line.distance(centre) if line.length else Point(x0, y0).distance(centre)
                share = line.project(centre) / line.length if line.length else 0.0
                surface = z0 + share * (z1 - z0) - max(away - 0.5 * top, 0.0) / side_slope
                if away <= reach:
                    expected[row, column] = max(expected[row, column], surface - ground[row, column])
        added = added_height(ground, west, north, cell, ridges, top, side_slope)
        np.testing.assert_allclose(added, expected, atol=1e-9)
