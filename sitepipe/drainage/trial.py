"""Trying a ground: where water stands and leaves if the heights were different."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, IntArray, frozen
from sitepipe.drainage.fill_spill_merge import DROPS_PER_METRE, fill_spill_merge, standing_depth
from sitepipe.drainage.heights import PER_METRE, whole_heights
from sitepipe.drainage.hollows import nest_hollows
from sitepipe.drainage.network import route
from sitepipe.errors import InputError


@dataclass(frozen=True, slots=True)
class TrialDrainage:
    """Drainage of a ground that is only tried.

    Parameters
    ----------
    ponding_depth : (rows, columns) float array
        Depth of water with every hollow full, NaN where unknown. [m]
    storm_depth : (rows, columns) float array
        Depth after the runoff that was asked for; 0 where dry, everywhere without runoff. [m]
    receiver : (rows, columns) int32 array
        Flat index of the next cell, -1 where the water leaves, -2 where unknown.
    upslope_area : (rows, columns) float array
        [m2]
    exits : (exits,) int32 array
        Flat indices of the parcel's cells whose water crosses its boundary outwards, in order of index.
    exit_area : (exits,) float array
        Ground behind each. [m2]
    ponded_area, ponded_volume, deepest : float
        Of full hollows within the parcel. [m2], [m3], [m]
    storm_stored, storm_left : float
        Over all heights: ``stored + left`` is the runoff. [m3]
    """

    ponding_depth: FloatArray
    storm_depth: FloatArray
    receiver: IntArray
    upslope_area: FloatArray
    exits: IntArray
    exit_area: FloatArray
    ponded_area: float
    ponded_volume: float
    deepest: float
    storm_stored: float
    storm_left: float


def try_ground(
    elevation: FloatArray, cell: float, parcel: BoolArray, runoff: float | FloatArray = 0.0
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
    runoff : float or (rows, columns) float array
        Depth of water that runs off each cell in a storm, to see where it comes to rest. [m]

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
    >>> trial = try_ground(ground, 1.0, np.ones((5, 5), dtype=bool), runoff=0.02)
    >>> trial.ponded_volume, round(trial.storm_stored, 3), round(trial.storm_left, 3)
    (1.0, 0.02, 0.48)
    """
    if parcel.shape != elevation.shape:
        raise InputError(
            f"the parcel covers {parcel.shape} cells, the heights {elevation.shape}; they must be the same"
        )
    heights, known = whole_heights(elevation)
    network = route(heights)
    depth = network.depth
    storm_depth = np.zeros(elevation.shape)
    stored = left = 0.0
    drops = np.where(known, np.rint(np.asarray(runoff) * DROPS_PER_METRE), 0.0).astype(np.int64)
    if drops.any():
        hollows = nest_hollows(heights, network.hollow, network.spill)
        standing = fill_spill_merge(heights, network.receiver, network.order, network.spill, hollows, drops)
        storm_depth = standing_depth(heights, hollows, standing)
        stored, left = (amount / DROPS_PER_METRE * cell * cell for amount in (standing.stored, standing.left))
    to = network.receiver.ravel()
    inside = np.flatnonzero(parcel.ravel() & known.ravel())
    goes = to[inside]
    exits = inside[(goes < 0) | ~parcel.ravel()[np.maximum(goes, 0)]].astype(np.int32)
    within = depth[parcel & known]
    return TrialDrainage(
        ponding_depth=frozen(depth),
        storm_depth=frozen(storm_depth),
        receiver=frozen(network.receiver),
        upslope_area=frozen(network.cells.astype(np.float64) * (cell * cell)),
        exits=frozen(exits),
        exit_area=frozen(network.cells.ravel()[exits].astype(np.float64) * (cell * cell)),
        ponded_area=float(np.count_nonzero(within > 0.0)) * cell * cell,
        ponded_volume=float(within.sum()) * cell * cell,
        deepest=float(within.max(initial=0.0)),
        storm_stored=float(stored),
        storm_left=float(left),
    )


def routing_elevation(heights: IntArray, known: BoolArray) -> FloatArray:
    """Heights of a ``Drainage`` (``drainage.heights``, ``drainage.known``) in metres again, to change and try."""
    return np.where(known, heights / PER_METRE, np.nan)
