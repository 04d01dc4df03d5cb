"""What was seen at a place, and how it fades around it."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import expit, logit

from sitepipe.wetness.sway import swayed


@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (9, 1), (7, 6)])
@pytest.mark.parametrize(("per_cell", "per_metre", "ring"), [(1.0, 1.0, 3.0), (0.5, 2.0, 2.0), (0.25, 0.0, 1.0)])
def test_every_cell_moves_by_what_all_sights_say_there(
    shape: tuple[int, int], per_cell: float, per_metre: float, ring: float
) -> None:
    """Second way: all cells from all sights at once with numpy, log-odds by scipy.special."""
    chance = np.random.default_rng(shape[0])
    row, column = np.indices(shape)
    for count in (0, 1, 4):
        wetness = np.where(chance.random(shape) < 0.1, np.nan, chance.uniform(0.02, 0.98, shape))
        elevation = np.where(chance.random(shape) < 0.1, np.nan, chance.choice([0.0, 0.5, 1.0], shape))
        at = np.column_stack([chance.integers(0, shape[0], count), chance.integers(0, shape[1], count)])
        places = np.column_stack([at * per_cell, chance.choice([0.0, 0.5], count)])
        weights = chance.normal(0.0, 2.0, count)
        odds, is_told = logit(wetness), np.zeros(shape, np.bool_)
        for place, weight in zip(places, weights, strict=True):
            distance = np.sqrt(
                (row * per_cell - place[0]) ** 2
                + (column * per_cell - place[1]) ** 2
                + (elevation * per_metre - place[2]) ** 2
            )
            is_near = distance < ring
            odds[is_near] += weight * np.exp(-distance[is_near])
            is_told |= is_near
        found = swayed(wetness, elevation, per_cell, per_metre, places, weights, ring)
        np.testing.assert_allclose(found, np.where(is_told, expit(odds), wetness), rtol=1e-12)
        np.testing.assert_array_equal(found[~is_told], wetness[~is_told])
