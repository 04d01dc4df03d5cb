"""Several indicators of wetness taken together, each by rank."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, LongArray


def ranks(values: FloatArray) -> FloatArray:
    """Return the share of known cells that lie below each cell, ties counted half.

    Parameters
    ----------
    values : (rows, columns) float array
        NaN where unknown.

    Returns
    -------
    (rows, columns) float array
        Above 0 and below 1; NaN where unknown. [1]

    Examples
    --------
    >>> import numpy as np
    >>> ranks(np.array([[3.0, 1.0, 3.0, 9.0]])).tolist()
    [[0.5, 0.125, 0.5, 0.875]]
    """
    flat = np.ascontiguousarray(values, dtype=np.float64).ravel()
    return _middle_ranks(flat, np.argsort(flat)).reshape(values.shape)


def combined(indicators: Iterable[FloatArray]) -> FloatArray:
    """Take several indicators together: the mean of the log-odds of their ranks, ranked again.

    If each were an independent witness, the odds that a place is wet would be the product of the odds that each
    gives it; log-odds add. They are not independent, so only the order of the sum is kept. A witness that cannot tell
    (all cells alike) gives every cell even odds and falls silent; one that is sure outweighs several that are not.
    All weights are 1: there is nothing to tune.

    Parameters
    ----------
    indicators : iterable of (rows, columns) float array
        At least one; larger is wetter, each in any unit; NaN where unknown. One is held at a time.

    Returns
    -------
    (rows, columns) float array
        Share of the known cells that are drier. Above 0 and below 1; NaN where no indicator is known. [1]

    References
    ----------
    Bordley (1982), A multiplicative formula for aggregating probability assessments, Management Science 28,
    1137-1148 (value from memory).

    Examples
    --------
    >>> import numpy as np
    >>> combined([np.array([[1.0, 2.0, 3.0]]), np.array([[5.0, 5.0, 9.0]])]).round(3).tolist()
    [[0.167, 0.5, 0.833]]
    """
    odds = map(log_odds, map(ranks, indicators))
    first = next(odds)
    total, known = np.nan_to_num(first), np.isfinite(first).astype(np.int32)
    for each in odds:
        total += np.nan_to_num(each)
        known += np.isfinite(each)
    return ranks(np.where(known > 0, total / np.maximum(known, 1), np.nan))


def log_odds(chance: FloatArray) -> FloatArray:
    """Return ln(p / (1 - p))."""
    return np.asarray(np.log(chance / (1.0 - chance)))


@kernel
def _middle_ranks(flat: FloatArray, order: LongArray) -> FloatArray:
    """Give equal values the middle of the places that they take up; unknown ones come last in `order`."""
    ranked = np.full(flat.size, np.nan)
    known = flat.size
    while known > 0 and math.isnan(flat[order[known - 1]]):
        known -= 1
    first = 0
    while first < known:
        beyond = first + 1
        while beyond < known and flat[order[beyond]] == flat[order[first]]:
            beyond += 1
        for place in range(first, beyond):
            ranked[order[place]] = 0.5 * (first + beyond) / known
        first = beyond
    return ranked
