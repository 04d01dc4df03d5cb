"""Several indices of wetness heard together, each by rank."""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import chain

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import Float32Array, FloatArray, IntArray, LongArray

NOBODY = -1
"""Stands where no voice is known."""


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


def combined(voices: Iterable[FloatArray]) -> tuple[FloatArray, IntArray]:
    """Hear several indices together: the mean of the log-odds of their ranks, ranked again.

    If each index were an independent witness, the odds that a place is wet would be the product of the odds that
    each gives it; log-odds add. They are not independent, so only the order of the sum is kept. A witness that
    cannot tell (all cells alike) gives every cell even odds and falls silent; one that is sure outweighs several
    that are not. All weights are 1: there is nothing to tune.

    Parameters
    ----------
    voices : iterable of (rows, columns) float array
        At least one; larger is wetter, each in any unit; NaN where unknown. One is held at a time.

    Returns
    -------
    wetness : (rows, columns) float array
        Share of the known cells that are drier. Above 0 and below 1; NaN where no voice is known. [1]
    spoken_by : (rows, columns) int32 array
        Position of the voice that says most clearly what they say together, the first of equals, the wettest where
        they say neither; -1 where unknown.

    References
    ----------
    Bordley (1982), A multiplicative formula for aggregating probability assessments, Management Science 28,
    1137-1148 (value from memory).

    Examples
    --------
    >>> import numpy as np
    >>> wetness, spoken_by = combined([np.array([[1.0, 2.0, 3.0]]), np.array([[5.0, 5.0, 9.0]])])
    >>> wetness.round(3).tolist(), spoken_by.tolist()
    ([[0.167, 0.5, 0.833]], [[0, 1, 0]])
    """
    remaining = iter(voices)
    first = next(remaining)
    total = np.zeros(first.shape)
    heard = np.zeros(first.shape, dtype=np.int32)
    wettest = np.full(first.shape, -np.inf, dtype=np.float32)
    driest = np.full(first.shape, np.inf, dtype=np.float32)
    says_wet = np.full(first.shape, NOBODY, dtype=np.int32)
    says_dry = np.full(first.shape, NOBODY, dtype=np.int32)
    for number, voice in enumerate(chain((first,), remaining)):
        _hear(ranks(voice), number, total, heard, wettest, driest, says_wet, says_dry)
    mean = np.where(heard > 0, total / np.maximum(heard, 1), np.nan)
    return ranks(mean), np.where(mean >= 0.0, says_wet, says_dry).astype(np.int32)


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


@kernel
def _hear(
    ranked: FloatArray,
    number: int,
    total: FloatArray,
    heard: IntArray,
    wettest: Float32Array,
    driest: Float32Array,
    says_wet: IntArray,
    says_dry: IntArray,
) -> None:
    """Add one voice to what was heard, and note it where it is the clearest so far."""
    rows, columns = ranked.shape
    for row in range(rows):
        for column in range(columns):
            rank = ranked[row, column]
            if math.isnan(rank):
                continue
            odds = math.log(rank / (1.0 - rank))
            total[row, column] += odds
            heard[row, column] += 1
            # Compared as it is kept, or a later voice that says the same would seem clearer by the rounding.
            said = np.float32(odds)
            if said > wettest[row, column]:
                wettest[row, column] = said
                says_wet[row, column] = number
            if said < driest[row, column]:
                driest[row, column] = said
                says_dry[row, column] = number
