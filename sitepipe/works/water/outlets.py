"""Where water leaves the parcel, from how much ground and how deep, and where more leaves than before."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray
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
        return np.bincount(at, values, minlength=len(boundary.stretch_at)).astype(np.float64)

    def gathered(values: FloatArray) -> FloatArray:
        return np.asarray(by_piece(values)[around].sum(axis=1))

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
    was = near[np.arange(len(near)), np.argmax(before.gathered[near], axis=1)]
    more = after.gathered - before.gathered[was]
    grows = (more > LEAST_GROUND) & (more > share * before.gathered[was])
    found = []
    while grows.any():
        peak = int(np.argmax(np.where(grows, more, -np.inf)))
        most = wide[peak, np.argmax(after.ground[wide[peak]])]
        found.append(Grown(int(most), peak, int(was[peak])))
        grows[apart[peak]] = False
    return found
