"""The nearest marked cell, against a brute force of another library."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage
from hypothesis import given
from hypothesis.extra.numpy import array_shapes, arrays

from sitepipe.scoring.nearest import NONE, _along_columns, _along_rows, nearest_marked


@given(arrays(np.bool_, array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=14)))
def test_the_distance_is_that_of_an_independent_library(marked: np.ndarray) -> None:
    """scipy.ndimage.distance_transform_edt."""
    squared, nearest = nearest_marked(marked)
    if not marked.any():
        assert np.isinf(squared).all()
        assert (nearest == NONE).all()
        return
    np.testing.assert_allclose(np.sqrt(squared), scipy.ndimage.distance_transform_edt(~marked), atol=1e-9)
    assert marked.ravel()[nearest].all()
    row, column = np.indices(marked.shape)
    there = np.stack(np.unravel_index(nearest, marked.shape))
    np.testing.assert_allclose((row - there[0]) ** 2 + (column - there[1]) ** 2, squared)


@pytest.mark.parametrize("shape", [(1, 1), (1, 13), (13, 1), (2, 9), (9, 8)])
@pytest.mark.parametrize("share", [0.02, 0.1, 0.5])
def test_of_equally_near_cells_the_westernmost_then_the_northernmost_is_named(
    shape: tuple[int, int], share: float
) -> None:
    """Brute force over all marked cells."""
    chance = np.random.default_rng(shape[0] * shape[1])
    for _ in range(30):
        marked = chance.random(shape) < share
        squared, nearest = nearest_marked(marked)
        there = np.argwhere(marked).tolist()
        for row, column in np.ndindex(shape):
            away, _, _, named = min(
                (((row - r) ** 2 + (column - c) ** 2, c, r, r * shape[1] + c) for r, c in there),
                default=(np.inf, 0, 0, NONE),
            )
            assert (float(squared[row, column]), int(nearest[row, column])) == (away, named)


@pytest.mark.parametrize("share", [0.3, 1.0])
def test_the_search_stays_within_its_arrays(share: float) -> None:
    """Compiled code does not notice a place beyond an array's end; the same lines run by Python do."""
    marked = np.random.default_rng(1).random((4, 9)) < share
    squared, nearest = _along_columns.py_func(marked)  # type: ignore[attr-defined]
    _along_rows.py_func(squared, nearest)  # type: ignore[attr-defined]
    for plain, compiled in zip((squared, nearest), nearest_marked(marked), strict=True):
        np.testing.assert_array_equal(plain, compiled)
