"""Blocks of mounds that grow from one to its neighbours."""

from __future__ import annotations

import math

import numpy as np
import pytest

from sitepipe.arrays import FloatArray
from sitepipe.works.mounds.blocks import block_around


def plainly(
    seed: int,
    along: FloatArray,
    across: FloatArray,
    volumes: FloatArray,
    side: float,
    end: float,
    most: int,
    limit: float,
) -> list[int]:
    """Take again and again, of all that neighbour the block and still fit, the nearest to the first."""
    middle = along.mean(axis=1)

    def is_beside(one: int, other: int) -> bool:
        gap = max(along[one, 0], along[other, 0]) - min(along[one, 1], along[other, 1])
        return bool(abs(across[one] - across[other]) <= side and gap <= end)

    def away(one: int) -> float:
        return math.hypot(middle[one] - middle[seed], across[one] - across[seed])

    block = [seed]
    while len(block) < most:
        room = limit - sum(volumes[one] for one in block)
        outside = (one for one in range(across.size) if one not in block and volumes[one] <= room + 1e-12)
        open_ones = [one for one in outside if any(is_beside(one, other) for other in block)]
        if not open_ones:
            break
        block.append(min(open_ones, key=lambda one: (away(one), one)))
    return block


@pytest.mark.parametrize("count", [1, 2, 7, 15])
def test_a_block_is_what_a_plain_search_finds(count: int) -> None:
    chance = np.random.default_rng(count)
    for _ in range(60):
        # Quarters, so that gaps and spacings are met exactly and mounds lie equally near.
        start = chance.integers(0, 24, count) / 4.0
        along = np.column_stack([start, start + chance.integers(2, 12, count) / 4.0])
        across = chance.integers(0, 12, count) / 2.0
        volumes = chance.integers(1, 6, count) / 2.0
        seed, most = int(chance.integers(count)), int(chance.integers(1, count + 3))
        limit = float(chance.choice([0.0, 2.0, 4.5, 100.0]))
        found = block_around(seed, along, across, volumes, 1.0, 0.75, most, limit)
        assert found.tolist() == plainly(seed, along, across, volumes, 1.0, 0.75, most, limit)
