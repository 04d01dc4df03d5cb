"""Blocks and back, against slices of numpy and the interpolation of scipy."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage

from sitepipe.wetness.blocks import fold_blocks, level_at, unfold_blocks

shapes = pytest.mark.parametrize("shape", [(1, 1), (1, 10), (10, 1), (4, 6), (7, 9)])
steps = pytest.mark.parametrize("step", [1, 2, 3, 5])


@shapes
@steps
def test_a_block_has_the_mean_and_the_least_of_what_is_known_in_it(shape: tuple[int, int], step: int) -> None:
    chance = np.random.default_rng(step)
    for _ in range(10):
        values = np.where(chance.random(shape) < 0.4, np.nan, chance.normal(size=shape))
        mean, least = fold_blocks(values, step)
        assert mean.shape == least.shape == tuple(-(-side // step) for side in shape)
        for row, column in np.ndindex(mean.shape):
            part = values[row * step : (row + 1) * step, column * step : (column + 1) * step]
            part = part[~np.isnan(part)]
            expected = (part.mean(), part.min()) if part.size else (np.nan, np.nan)
            np.testing.assert_allclose((mean[row, column], least[row, column]), expected)


@shapes
@steps
@pytest.mark.parametrize("cut", [0, 1])
def test_a_fine_cell_lies_between_the_middles_of_the_known_blocks(shape: tuple[int, int], step: int, cut: int) -> None:
    """scipy.ndimage.map_coordinates of what is known, over its own weights; the rim is carried on unchanged."""
    chance = np.random.default_rng(step)
    fine = (max(shape[0] * step - cut, 1), max(shape[1] * step - cut, 1))
    at = (np.indices(fine) + 0.5) / step - 0.5
    for _ in range(5):
        coarse = np.where(chance.random(shape) < 0.3, np.nan, chance.normal(size=shape))
        known = np.isfinite(coarse)
        weight = scipy.ndimage.map_coordinates(known.astype(float), at, order=1, mode="nearest")
        total = scipy.ndimage.map_coordinates(np.where(known, coarse, 0.0), at, order=1, mode="nearest")
        expected = np.full(fine, np.nan)
        expected[weight > 1e-9] = (total / np.maximum(weight, 1e-9))[weight > 1e-9]
        found = unfold_blocks(coarse, step, fine)
        np.testing.assert_allclose(found, expected, atol=1e-12)
        row, column = (int(chance.integers(side)) for side in fine)
        np.testing.assert_array_equal(level_at(coarse, step, row, column), found[row, column])
