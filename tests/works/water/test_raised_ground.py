"""Works as ground: against the distance of each cell from the crest, and what they may not do."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point

from sitepipe.arrays import FloatArray, IntArray
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.works.water.raised_ground import LAYER, PAD, RIDGE, TRENCH, built_ground, work_row

Ends = tuple[int, int, int, int]


def level(rows: int, columns: int, height: int = 10_000) -> IntArray:
    return np.full((rows, columns), height, dtype=np.int32)


def built(ground: IntArray, cell: float, *works: tuple[int, Ends, int, int, float]) -> IntArray:
    rows = [work_row(ground, cell, kind, *ends, rise, half, slope) for kind, ends, rise, half, slope in works]
    return built_ground(ground, cell, np.array(rows))


def away_from(ground: IntArray, cell: float, ends: Ends) -> FloatArray:
    """Distance of each cell from a line, by shapely. [mm]."""
    line = LineString([ends[:2], ends[2:]]) if ends[:2] != ends[2:] else Point(ends[:2])
    places = np.ndindex(ground.shape)
    away = [line.distance(Point((column + 0.5) * cell, (row + 0.5) * cell)) for row, column in places]
    return np.array(away).reshape(ground.shape)


@pytest.mark.parametrize("ends", [(10_000, 15_000, 20_000, 15_000), (9_000, 22_000, 17_300, 8_100), (14_000,) * 4])
def test_on_level_ground_every_work_is_as_high_as_its_distance_says(ends: Ends) -> None:
    """Half a metre up or down, 60 cm across, sides of 3 in 2: top, side and foot by the distance from the line."""
    ground, cell = level(60, 60), 500.0
    away = away_from(ground, cell, ends)
    rise = np.rint(np.maximum(5000.0 - np.maximum(away - 300.0, 0.0) * 10.0 / 1.5, 0.0))
    for kind, sign in ((RIDGE, 1), (LAYER, 1), (TRENCH, -1)):
        np.testing.assert_allclose(built(ground, cell, (kind, ends, 5000, 300, 1.5)), ground + sign * rise, atol=1)
    upright = built(ground, cell, (LAYER, ends, 800, 700, 0.0))
    assert (upright == np.where(away <= 700.0, 10_800, 10_000)).all()


def test_a_crest_is_straight_over_rolling_ground_a_layer_follows_it_and_a_bed_is_level() -> None:
    ground = level(40, 80)
    ground += (300 * np.arange(80) + np.where(np.arange(80) % 2, 40, -40)).astype(np.int32)
    ends = (10_250, 10_250, 30_250, 10_250)
    row = work_row(ground, 500.0, RIDGE, *ends, 6000, 300, 1.5)
    assert row[6] - row[5] == pytest.approx(300 * 40, abs=60)
    assert row[5] == pytest.approx(10_000 + 300 * 20 + 6000, abs=60)
    layer = built(ground, 500.0, (LAYER, ends, 800, 450, 0.0))
    assert set(np.unique(layer - ground).tolist()) == {0, 800}
    trench = work_row(ground, 500.0, TRENCH, *ends, 3000, 300, 1.0)
    assert trench[5] == trench[6] == pytest.approx(10_000 + 300 * 20 - 3000, abs=60)
    cut = built_ground(ground, 500.0, trench[None])
    assert (cut <= ground).all()
    assert (cut[20, 25:55] == trench[5]).all()


def test_a_pad_has_square_ends_and_the_mean_of_its_ground() -> None:
    ground = level(20, 40) + (100 * np.arange(40)).astype(np.int32)
    pad = built(ground, 500.0, (PAD, (5_000, 5_000, 15_000, 5_000), 2000, 1500, 0.0))
    under = pad != ground
    assert np.argwhere(under).min(axis=0).tolist() == [7, 10]
    assert np.argwhere(under).max(axis=0).tolist() == [12, 29]
    assert (pad[under] == 10_000 + 1950 + 2000).all()


def test_works_that_meet_are_not_added_up_and_unknown_ground_stays_so() -> None:
    ground = level(40, 40)
    ground[10:15] = UNKNOWN
    one = (RIDGE, (5_000, 8_000, 15_000, 8_000), 5000, 300, 1.5)
    both = built(ground, 500.0, one, one)
    assert np.array_equal(both, built(ground, 500.0, one))
    assert (both[10:15] == UNKNOWN).all()
    assert (both[15:20] > 10_000).any()


def test_where_no_ground_is_known_nothing_is_built() -> None:
    nowhere = level(9, 9, UNKNOWN)
    for kind in (RIDGE, LAYER, TRENCH, PAD):
        assert (built(nowhere, 500.0, (kind, (0, 0, 4_000, 4_000), 5000, 300, 1.0)) == UNKNOWN).all()


@pytest.mark.parametrize("ends", [(-9_000, -9_000, 2_000, 2_000), (3_000, 2_500, 99_000, 2_500)])
def test_a_work_that_runs_off_the_heights_is_built_as_far_as_they_go(ends: Ends) -> None:
    ground = level(6, 7)
    away = away_from(ground, 1000.0, ends)
    rise = np.rint(np.maximum(9000.0 - np.maximum(away - 500.0, 0.0) * 5.0, 0.0))
    np.testing.assert_allclose(built(ground, 1000.0, (RIDGE, ends, 9000, 500, 2.0)), ground + rise, atol=1)
