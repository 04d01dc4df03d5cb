"""Cells sorted into patches of one use: none too narrow, none too small."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.terrain.outline import patches_of

ROUNDS = 4
"""Joining a narrow or small patch may leave another; after so many rounds the rest is left to the polygons. [1]"""


def tidied(labels: IntArray, may_be: BoolArray, is_fixed: BoolArray, half_width: float, least_cells: float) -> IntArray:
    """Return labels whose patches are wide and large enough, what was not having gone to the nearest that is.

    Parameters
    ----------
    labels : (rows, columns) int32 array
        0 and up; -1 for cells that take no part.
    may_be : (labels, rows, columns) bool array
        Whether a cell may carry a label.
    is_fixed : (rows, columns) bool array
        Cells that keep their label.
    half_width : float
        Half the least width. [cells]
    least_cells : float
        Least size of a patch. [cells]

    Returns
    -------
    (rows, columns) int32 array
    """
    tidy = labels.copy()
    for _ in range(ROUNDS):
        keeps = is_fixed | (tidy < 0)
        for label in range(may_be.shape[0]):
            keeps |= _opened(tidy == label, half_width)
        keeps &= is_fixed | (tidy < 0) | ~_is_small(tidy, keeps, least_cells)
        if keeps.all():
            break
        changed = _handed_over(tidy, keeps, may_be, is_fixed)
        if np.array_equal(changed, tidy):
            break
        tidy = changed
    return tidy


def _opened(patch: BoolArray, half_width: float) -> BoolArray:
    """Return the part of a patch that a disc of the least width can reach without leaving it."""
    # A cell's centre lies half a cell inside its edge.
    core = (_away(~patch) - 0.5 >= half_width) & patch
    return np.asarray(patch & (_away(core) <= half_width + 0.5))


def _away(marked: BoolArray) -> FloatArray:
    """Return how far each cell's centre lies from the nearest marked one, infinite where none is. [cells]."""
    from scipy.ndimage import distance_transform_edt

    return np.asarray(distance_transform_edt(~marked) if marked.any() else np.full(marked.shape, np.inf))


def _is_small(labels: IntArray, keeps: BoolArray, least_cells: float) -> BoolArray:
    """Return the cells of patches that hold fewer cells than are wanted."""
    numbers = patches_of(np.where(keeps, labels, -1).astype(np.int32))
    sizes = np.bincount(numbers.ravel() + 1)
    sizes[0] = np.iinfo(sizes.dtype).max
    return np.asarray(sizes[numbers + 1] < least_cells)


def _handed_over(labels: IntArray, keeps: BoolArray, may_be: BoolArray, is_fixed: BoolArray) -> IntArray:
    """Give every cell that does not keep its label the nearest one that it may carry."""
    best = np.full(labels.shape, np.inf)
    given = labels.copy()
    for label in range(may_be.shape[0]):
        away = _away(keeps & (labels == label) & ~is_fixed)
        nearer = ~keeps & may_be[label] & (away < best)
        best[nearer] = away[nearer]
        given[nearer] = label
    return given
