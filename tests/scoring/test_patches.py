"""Patches of cells: wide and large enough."""

from __future__ import annotations

import numpy as np
import scipy.ndimage
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sitepipe.scoring.patches import tidied
from sitepipe.terrain.outline import patches_of


def _free(labels: np.ndarray, count: int = 2) -> tuple[np.ndarray, np.ndarray]:
    return np.ones((count, *labels.shape), dtype=np.bool_), np.zeros(labels.shape, dtype=np.bool_)


@given(arrays(np.int32, (9, 11), elements=st.integers(-1, 2)))
def test_patches_are_counted_as_an_independent_library_counts_them(labels: np.ndarray) -> None:
    """scipy.ndimage.label, label by label."""
    numbers = patches_of(labels)
    count = sum(scipy.ndimage.label(labels == label)[1] for label in (0, 1, 2))
    assert numbers.max() + 1 == count
    assert ((numbers < 0) == (labels < 0)).all()


def test_a_strip_too_narrow_goes_to_what_surrounds_it() -> None:
    labels = np.zeros((30, 30), dtype=np.int32)
    labels[14:16] = 1
    assert (tidied(labels, *_free(labels), half_width=2.0, least_cells=1) == 0).all()


def test_a_wide_strip_stays() -> None:
    labels = np.zeros((30, 30), dtype=np.int32)
    labels[10:16] = 1
    np.testing.assert_array_equal(tidied(labels, *_free(labels), half_width=2.0, least_cells=1), labels)


def test_a_patch_too_small_goes_and_a_larger_one_stays() -> None:
    labels = np.zeros((40, 40), dtype=np.int32)
    labels[5:9, 5:9] = 1
    labels[20:30, 20:30] = 1
    tidy = tidied(labels, *_free(labels), half_width=0.5, least_cells=20)
    assert (tidy[5:9, 5:9] == 0).all()
    assert (tidy[21:29, 21:29] == 1).all()


def test_a_cell_never_gets_a_label_that_it_may_not_carry() -> None:
    labels = np.zeros((30, 30), dtype=np.int32)
    labels[14:16] = 1
    may_be, is_fixed = _free(labels)
    may_be[0, 14:16] = False
    assert (tidied(labels, may_be, is_fixed, half_width=2.0, least_cells=1)[14:16] == 1).all()


def test_fixed_cells_stay_however_small() -> None:
    labels = np.zeros((20, 20), dtype=np.int32)
    labels[9, 9] = 1
    may_be, is_fixed = _free(labels)
    is_fixed[9, 9] = True
    assert tidied(labels, may_be, is_fixed, half_width=2.0, least_cells=9)[9, 9] == 1


@settings(max_examples=30)
@given(arrays(np.int32, (25, 25), elements=st.integers(0, 2)))
def test_no_cell_is_lost_or_invented(labels: np.ndarray) -> None:
    labels[:3] = -1
    tidy = tidied(labels, *_free(labels, 3), half_width=1.0, least_cells=6)
    assert ((tidy < 0) == (labels < 0)).all()
    assert set(np.unique(tidy)) <= {-1, 0, 1, 2}
