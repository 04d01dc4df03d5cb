"""Trying a ground: where water stands and leaves if the heights were different."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray, frozen
from sitepipe.drainage.descent import NOWHERE
from sitepipe.drainage.fill_spill_merge import DROPS_PER_METRE, fill_spill_merge, standing_depth
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.hollows import nest_hollows
from sitepipe.drainage.network import route
from sitepipe.errors import InputError


@dataclass(frozen=True, slots=True)
class TrialStorm:
    """What comes to rest of one storm's runoff, and what it brings to the exits as if every hollow were full.

    Parameters
    ----------
    depth : (rows, columns) float array
        0 where dry or unknown. [m]
    exit_volume : (exits,) float array
        Runoff that fell behind each exit. [m3]
    stored, left : float
        Over all heights: together they are the runoff. [m3]
    """

    depth: FloatArray
    exit_volume: FloatArray
    stored: float
    left: float


@dataclass(frozen=True, slots=True)
class TrialDrainage:
    """Drainage of a ground that is only tried.

    Parameters
    ----------
    ponding_depth : (rows, columns) float array
        Depth of water with every hollow full, NaN where unknown. [m]
    receiver : (rows, columns) int32 array
        Flat index of the next cell, -1 where the water leaves, -2 where unknown.
    upslope_area : (rows, columns) float array
        [m2]
    exits : (exits,) int32 array
        Flat indices of the parcel's cells whose water crosses its boundary outwards, in order of index.
    exit_cells : (exits,) int32 array
        Cells that drain through each.
    exit_area : (exits,) float array
        Ground behind each. [m2]
    storms : tuple of TrialStorm
        In the order in which their runoff was given.
    """

    ponding_depth: FloatArray
    receiver: IntArray
    upslope_area: FloatArray
    exits: IntArray
    exit_cells: IntArray
    exit_area: FloatArray
    storms: tuple[TrialStorm, ...]


def try_ground(heights: IntArray, cell: float, parcel: BoolArray, drops: Sequence[LongArray] = ()) -> TrialDrainage:
    """Drain a ground once more: quick enough to be called for every layout that is tried.

    Start from ``routed_heights(drainage.heights, drainage.known)``, in which roofs, kerbs and drains already
    are, and raise or lower cells of a copy.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where not known. [0.1 mm]
    cell : float
        Side of a cell. [m]
    parcel : (rows, columns) bool array
    drops : sequence of (rows, columns) int64 array
        Of each storm, what runs off each cell, from ``whole_drops``, to see where it comes to rest.

    Raises
    ------
    InputError
        If the parcel and the heights differ in shape.

    Examples
    --------
    A pit of 1 m in one cell holds a cubic metre.

    >>> import numpy as np
    >>> ground = np.full((5, 5), 100_000, dtype=np.int32)
    >>> ground[2, 2] = 90_000
    >>> trial = try_ground(ground, 1.0, np.ones((5, 5), dtype=bool), [whole_drops(np.full((5, 5), 0.02))])
    >>> float(trial.ponding_depth.sum()), round(trial.storms[0].stored, 3), round(trial.storms[0].left, 3)
    (1.0, 0.02, 0.48)
    """
    if parcel.shape != heights.shape:
        raise InputError(f"the parcel covers {parcel.shape} cells, the heights {heights.shape}; they must be the same")
    network = route(heights)
    exits = exits_of(network.receiver.ravel(), parcel.ravel())
    hollows = nest_hollows(heights, network.hollow, network.spill)

    def follow(storm: LongArray) -> TrialStorm:
        standing = fill_spill_merge(heights, network.receiver, network.order, network.spill, hollows, storm)
        behind = summed_downstream(network.receiver.ravel(), network.order, storm.ravel())
        cubic = cell * cell / DROPS_PER_METRE
        return TrialStorm(
            depth=frozen(standing_depth(heights, hollows, standing)),
            exit_volume=frozen(np.asarray(behind[exits] * cubic, np.float64)),
            stored=standing.stored * cubic,
            left=standing.left * cubic,
        )

    return TrialDrainage(
        ponding_depth=frozen(network.depth),
        receiver=frozen(network.receiver),
        upslope_area=frozen(network.cells.astype(np.float64) * (cell * cell)),
        exits=frozen(exits),
        exit_cells=frozen(network.cells.ravel()[exits]),
        exit_area=frozen(network.cells.ravel()[exits].astype(np.float64) * (cell * cell)),
        storms=tuple(follow(storm) for storm in drops),
    )


@kernel
def summed_downstream(to: IntArray, order: IntArray, amount: LongArray) -> LongArray:
    """Sum of an amount over each cell and all that drain through it. ``order`` runs from the outlets up.

    Examples
    --------
    >>> import numpy as np
    >>> summed_downstream(np.array([1, 2, -1]), np.array([2, 1, 0]), np.array([5, 3, 1])).tolist()
    [5, 8, 9]
    """
    total = amount.copy()
    for cell in order[::-1]:
        if to[cell] >= 0:
            total[to[cell]] += total[cell]
    return total


@kernel
def exits_of(to: IntArray, parcel: BoolArray) -> IntArray:
    """Flat indices of the parcel's cells whose water crosses its boundary outwards, in order.

    Examples
    --------
    >>> import numpy as np
    >>> exits_of(np.array([1, 2, -1], dtype=np.int32), np.array([True, True, False])).tolist()
    [1]
    """
    found = np.empty(to.size, dtype=np.int32)
    count = 0
    for cell in range(to.size):
        if parcel[cell] and to[cell] != NOWHERE and (to[cell] < 0 or not parcel[to[cell]]):
            found[count] = cell
            count += 1
    return found[:count].copy()


@kernel
def check_sum(heights: IntArray) -> int:
    """Return a number that tells one ground from another: 31 times the sum so far and the next height, round and round.

    Examples
    --------
    >>> import numpy as np
    >>> check_sum(np.array([[1, 2]], dtype=np.int32))
    33
    """
    total = 0
    for height in heights.ravel():
        total = (total * 31 + int(height)) % 2147483647
    return total


def routed_heights(heights: IntArray, known: BoolArray) -> IntArray:
    """Heights of a ``Drainage`` (``drainage.heights``, ``drainage.known``) to change and try."""
    return np.where(known, heights, UNKNOWN).astype(np.int32)


def whole_drops(runoff: FloatArray) -> LongArray:
    """Runoff of each cell in whole drops. [m] to [1e-7 m cells]."""
    return np.rint(np.nan_to_num(runoff) * DROPS_PER_METRE).astype(np.int64)
