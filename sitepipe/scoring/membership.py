"""How far a value meets a wish, and how several wishes are weighed together."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from sitepipe.arrays import FloatArray, IntArray

NOTHING_LIMITS = -1
"""Stands where every criterion is met in full, and where the ground is unknown."""


def membership(values: FloatArray, none_at: float, full_at: float, least: float) -> FloatArray:
    """Return how far each value meets a wish: a smooth step from `none_at` to `full_at`.

    Parameters
    ----------
    values : (rows, columns) float array
        NaN where unknown.
    none_at, full_at : float
        Where the wish is not met at all and where it is met in full; in the unit of `values`. A wish for less has
        `none_at` above `full_at`.
    least : float
        What is left at `none_at` and beyond, 0 to 1. [1]

    Returns
    -------
    (rows, columns) float array
        `least` to 1, without a kink; NaN where unknown. [1]

    References
    ----------
    Zadeh (1975), Calculus of fuzzy restrictions: the cubic through both ends with level tangents (value from memory).

    Examples
    --------
    Sun wanted: none at 2 hours, enough at 6.

    >>> import numpy as np
    >>> membership(np.array([[1.0, 4.0, 6.0, 9.0]]), 2.0, 6.0, 0.0).tolist()
    [[0.0, 0.5, 1.0, 1.0]]
    """
    part = np.clip((values - none_at) / (full_at - none_at), 0.0, 1.0)
    return np.asarray(least + (1.0 - least) * part * part * (3.0 - 2.0 * part))


def weighed(memberships: Sequence[FloatArray], weights: Sequence[float]) -> tuple[FloatArray, IntArray]:
    """Return the weighted geometric mean of memberships, and which of them pulls it down most.

    One membership of 0 makes the whole 0, whatever the others say; the unit of the weights does not matter.

    Parameters
    ----------
    memberships : sequence of (rows, columns) float array
        0 to 1; NaN where unknown. [1]
    weights : sequence of float
        0 or more, not all 0; those of 0 take no part. [1]

    Returns
    -------
    score : (rows, columns) float array
        0 to 1; NaN where any that takes part is unknown. [1]
    limited_by : (rows, columns) int32 array
        Position of the membership that lowers the score most, -1 where none does or the score is unknown.

    References
    ----------
    Yager (1977), Multiple objective decision-making using fuzzy sets, International Journal of Man-Machine
    Studies 9, 375-382 (weights as exponents; value from memory).

    Examples
    --------
    >>> import numpy as np
    >>> score, limited_by = weighed([np.array([[1.0, 0.25]]), np.array([[1.0, 1.0]])], [1.0, 1.0])
    >>> score.tolist(), limited_by.tolist()
    ([[1.0, 0.5]], [[-1, 0]])
    """
    shape = memberships[0].shape
    loss = np.zeros(shape)
    greatest = np.zeros(shape)
    limited_by = np.full(shape, NOTHING_LIMITS, dtype=np.int32)
    heaviest = max(weights)
    total = math.fsum(weight / heaviest for weight in weights)
    for number, (met, weight) in enumerate(zip(memberships, weights, strict=True)):
        if weight > 0.0:
            with np.errstate(divide="ignore"):
                lost = -np.log(met) * (weight / heaviest / total)
            loss += lost
            limited_by[lost > greatest] = number
            np.fmax(greatest, lost, out=greatest)
    limited_by[np.isnan(loss)] = NOTHING_LIMITS
    return np.exp(-loss), limited_by
