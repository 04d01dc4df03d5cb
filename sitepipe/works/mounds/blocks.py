"""Blocks of neighbouring mounds."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, LongArray


@kernel
def block_around(
    seed: int,
    along: FloatArray,
    across: FloatArray,
    volumes: FloatArray,
    side: float,
    end: float,
    most: int,
    volume_limit: float,
) -> LongArray:
    """Block of mounds that grows from one to those side by side with it or in line, the nearest to the first one first.

    Parameters
    ----------
    seed : int
        The mound to start from: it is in the block whatever it takes.
    along : (mounds, 2) float array
        Where each crest begins and ends along the common bearing. [m]
    across : (mounds,) float array
        Where it lies across the bearing. [m]
    volumes : (mounds,) float array
        [m3]
    side, end : float
        Mounds are neighbours up to this far across, and up to this gap along. [m]
    most : int
        Mounds in the block.
    volume_limit : float
        Of all of them together; a mound that would go beyond it is passed over for the next. [m3]

    Returns
    -------
    (chosen,) int array
        In the order in which they joined; of mounds equally near the first.

    Examples
    --------
    >>> along, across = np.array([[0.0, 4.0]] * 4), np.array([0.0, 3.0, 6.0, 12.0])
    >>> block_around(1, along, across, np.ones(4), 3.0, 1.0, 4, 9.0).tolist()
    [1, 0, 2]
    """
    count = across.size
    state = np.zeros(count, dtype=np.uint8)
    block = np.empty(min(most, count), dtype=np.int64)
    middle = 0.5 * (along[seed, 0] + along[seed, 1])
    volume = 0.0
    size = 0
    added = seed
    while True:
        block[size] = added
        size += 1
        state[added] = 2
        volume += volumes[added]
        if size == block.size:
            break
        for other in range(count):
            gap = max(along[added, 0], along[other, 0]) - min(along[added, 1], along[other, 1])
            if state[other] == 0 and abs(across[other] - across[added]) <= side and gap <= end:
                state[other] = 1
        added = -1
        nearest = np.inf
        for other in range(count):
            away = np.hypot(0.5 * (along[other, 0] + along[other, 1]) - middle, across[other] - across[seed])
            if state[other] == 1 and away < nearest and volume + volumes[other] <= volume_limit:
                nearest = away
                added = other
        if added < 0:
            break
    return block[:size]
