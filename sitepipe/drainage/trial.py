"""Trying a ground: where water stands and leaves if the heights were different."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray, frozen
from sitepipe.drainage.fill_spill_merge import DROPS_PER_METRE, fill_spill_merge, standing_depth
from sitepipe.drainage.heights import PER_METRE, whole_heights
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
    exit_area : (exits,) float array
        Ground behind each. [m2]
    storms : tuple of TrialStorm
        In the order in which their runoff was given.
    """

    ponding_depth: FloatArray
    receiver: IntArray
    upslope_area: FloatArray
    exits: IntArray
    exit_area: FloatArray
    storms: tuple[TrialStorm, ...]


def try_ground(
    elevation: FloatArray, cell: float, parcel: BoolArray, runoffs: Sequence[FloatArray] = ()
) -> TrialDrainage:
    """Drain a ground once more: quick enough to be called for every layout that is tried.

    Start from ``routing_elevation(drainage.heights, drainage.known)``, in which roofs, kerbs and drains already
    are, and raise or lower cells of a copy.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    cell : float
        Side of a cell. [m]
    parcel : (rows, columns) bool array
    runoffs : sequence of (rows, columns) float array
        Of each storm, the depth of water that runs off each cell, to see where it comes to rest. [m]

    Raises
    ------
    InputError
        If the parcel and the heights differ in shape, or no height is known.

    Examples
    --------
    A pit of 1 m in one cell holds a cubic metre.

    >>> import numpy as np
    >>> ground = np.full((5, 5), 10.0)
    >>> ground[2, 2] = 9.0
    >>> trial = try_ground(ground, 1.0, np.ones((5, 5), dtype=bool), [np.full((5, 5), 0.02)])
    >>> float(trial.ponding_depth.sum()), round(trial.storms[0].stored, 3), round(trial.storms[0].left, 3)
    (1.0, 0.02, 0.48)
    """
    if parcel.shape != elevation.shape:
        raise InputError(
            f"the parcel covers {parcel.shape} cells, the heights {elevation.shape}; they must be the same"
        )
    heights, known = whole_heights(elevation)
    network = route(heights)
    to = network.receiver.ravel()
    inside = np.flatnonzero(parcel.ravel() & known.ravel())
    goes = to[inside]
    exits = inside[(goes < 0) | ~parcel.ravel()[np.maximum(goes, 0)]].astype(np.int32)
    hollows = nest_hollows(heights, network.hollow, network.spill)

    def follow(runoff: FloatArray) -> TrialStorm:
        drops = np.where(known, np.rint(runoff * DROPS_PER_METRE), 0.0).astype(np.int64)
        standing = fill_spill_merge(heights, network.receiver, network.order, network.spill, hollows, drops)
        behind = summed_downstream(network.receiver.ravel(), network.order, drops.ravel())
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
        exit_area=frozen(network.cells.ravel()[exits].astype(np.float64) * (cell * cell)),
        storms=tuple(follow(runoff) for runoff in runoffs),
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


def routing_elevation(heights: IntArray, known: BoolArray) -> FloatArray:
    """Heights of a ``Drainage`` (``drainage.heights``, ``drainage.known``) in metres again, to change and try."""
    return np.where(known, heights / PER_METRE, np.nan)
