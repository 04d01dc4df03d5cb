"""Where water leaves the parcel, from how much ground and how deep, and where more leaves than before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, LongArray
from sitepipe.works.water.boundary import PIECE, Boundary
from sitepipe.works.water.edge_flow import GATHERING, sheet_depth, unit_peak

WIDTH = 3
"""Pieces of edge over which water leaves at least; what gathers in a narrower rill is deeper there."""
SAME_OUTLET = 5
"""What leaves over a width of edge is held against the most that left over any such width so many pieces around."""
LEAST_GROUND = 30.0
"""Ground by which the ground behind an outlet must grow to count: our own choice. [m2]"""
SHEET = 0.0305
"""Water is a sheet up to about a tenth of a foot (TR-55, table 3-1); deeper it is a stream, whose depth this
formula does not tell. [m]"""


@dataclass(frozen=True, slots=True)
class Leaving:
    """What leaves over each piece of the boundary.

    Parameters
    ----------
    ground, volume : (pieces,) float array
        Ground behind the piece alone, and the runoff that comes from it in the largest storm. [m2], [m3]
    gathered : (pieces,) float array
        Ground behind ``WIDTH`` of edge around the piece. [m2]
    depth : (pieces,) float array
        Of the sheet over that width at the storm's peak: 0 where water leaves by a drawn channel, infinite where it
        is deeper than a sheet. [m]
    """

    ground: FloatArray
    volume: FloatArray
    gathered: FloatArray
    depth: FloatArray


@dataclass(frozen=True, slots=True)
class Grown:
    """An outlet that drains more ground than any near there before.

    ``place`` is the piece of it that drains most; ``after`` and ``before`` are those around which most is gathered.
    """

    place: int
    after: int
    before: int


def gather_outflow(
    x: FloatArray,
    y: FloatArray,
    ground: FloatArray,
    volume: FloatArray,
    falls: FloatArray,
    over_land: BoolArray,
    boundary: Boundary,
) -> Leaving:
    """Add up what crosses the boundary piece by piece.

    Parameters
    ----------
    x, y : (exits,) float array
        Where water crosses outwards. [m]
    ground, volume : (exits,) float array
        Behind each, and the runoff from it. [m2], [m3]
    falls : (exits,) float array
        Of the ground there. [1]
    over_land : (exits,) bool array
        Whether it leaves over land and not by a ditch, a stream or a pipe, which a sheet is no picture of.
    """
    at, around = boundary.pieces_at(x, y), boundary.around(WIDTH // 2)

    def by_piece(values: FloatArray) -> FloatArray:
        return summed_by_piece(at, values, len(boundary.stretch_at))

    def gathered(values: FloatArray) -> FloatArray:
        return summed_around(by_piece(values), around)

    wide = gathered(ground * over_land)
    fall = gathered(ground * over_land * falls) / np.where(wide > 0.0, wide, np.inf)
    flow = unit_peak(GATHERING) * gathered(volume * over_land) / (WIDTH * PIECE)
    depth = np.where(wide > 0.0, sheet_depth(flow, np.where(wide > 0.0, fall, 1.0)), 0.0)
    depth[depth > SHEET] = np.inf
    return Leaving(by_piece(ground), by_piece(volume), gathered(ground), depth)


def grown_outlets(before: Leaving, after: Leaving, boundary: Boundary, share: float) -> list[Grown]:
    """Find outlets behind which the ground grows by more than a share, and by more than ``LEAST_GROUND``.

    Reaches are equal: ``WIDTH`` of edge is held against the most that left over any such width within ``SAME_OUTLET``
    before, so that an outlet that wanders a few steps is none, and a sheet that is gathered to a rill is one. Asked
    the other way round, with before and after exchanged, it finds where water no longer leaves.

    Returns
    -------
    list of Grown
        Largest growth first, no two nearer than twice ``SAME_OUTLET``.
    """
    near, apart, wide = (boundary.around(reach) for reach in (SAME_OUTLET, 2 * SAME_OUTLET, WIDTH // 2))
    grown = outlets_that_grow(before.gathered, after.gathered, after.ground, near, apart, wide, share)
    return [Grown(*one) for one in grown.tolist()]


@kernel
def summed_by_piece(at: LongArray, amount: FloatArray, pieces: int) -> FloatArray:
    """Sum of an amount over the exits of each piece of the boundary. ``at`` is the piece of each exit."""
    total = np.zeros(pieces, dtype=np.float64)
    for k in range(at.size):
        total[at[k]] += amount[k]
    return total


@kernel
def summed_around(amount: FloatArray, around: LongArray) -> FloatArray:
    """Sum over the pieces around each piece, one that a short ring repeats counted once."""
    total = np.empty(amount.size, dtype=np.float64)
    for piece in range(amount.size):
        total[piece] = amount[piece]
        for k in range(1, around.shape[1]):
            if around[piece, k] != piece:
                total[piece] += amount[around[piece, k]]
    return total


@kernel
def outlets_that_grow(
    before: FloatArray,
    after: FloatArray,
    ground: FloatArray,
    near: LongArray,
    apart: LongArray,
    wide: LongArray,
    share: float,
) -> LongArray:
    """Outlets that ``grown_outlets`` finds, each a row of ``Grown``.

    ``before`` and ``after`` are what is gathered around each piece, ``ground`` what leaves there over the piece alone.
    [m2]
    """
    pieces = before.size
    was = np.empty(pieces, dtype=np.int64)
    more = np.empty(pieces, dtype=np.float64)
    for piece in range(pieces):
        was[piece] = piece
        for k in range(1, near.shape[1]):
            if before[near[piece, k]] > before[was[piece]]:
                was[piece] = near[piece, k]
        grown = after[piece] - before[was[piece]]
        more[piece] = grown if grown > LEAST_GROUND and grown > share * before[was[piece]] else 0.0
    found = np.empty((pieces, 3), dtype=np.int64)
    count = 0
    while True:
        peak = 0
        for piece in range(1, pieces):
            if more[piece] > more[peak]:
                peak = piece
        if more[peak] <= 0.0:
            break
        most = peak
        for k in range(1, wide.shape[1]):
            if ground[wide[peak, k]] > ground[most]:
                most = wide[peak, k]
        found[count, 0] = most
        found[count, 1] = peak
        found[count, 2] = was[peak]
        count += 1
        for k in range(apart.shape[1]):
            more[apart[peak, k]] = 0.0
    return found[:count].copy()
