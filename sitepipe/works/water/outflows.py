"""Water that crosses the boundary outwards, and where it did not before."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import FloatArray, IntArray
from sitepipe.drainage.trial import TrialDrainage
from sitepipe.grid import Grid
from sitepipe.works.water.boundary import Boundary

SAME_OUTFLOW = 5.0
"""Water that crosses within this distance of where it crossed before is no new outflow. [m]"""
NEW_OUTFLOW = 30.0
"""Ground that a new outflow must drain to count: our own choice. [m2]"""
WIDTH = 3
"""Metres of edge over which water leaves at least; what gathers in a narrower rill is deeper there. [bins]"""
BIN = 1.0
"""Length along the boundary to which outflows are told apart. [m]"""


@dataclass(frozen=True, slots=True)
class Outflows:
    """Where water leaves the parcel: ring, length along it [m], ground behind it [m2]."""

    ring: IntArray
    along: FloatArray
    area: FloatArray


def locate_outflows(trial: TrialDrainage, grid: Grid, boundary: Boundary) -> Outflows:
    """Find where along the boundary each exit of a drained ground lies."""
    rows, columns = np.divmod(trial.exits.astype(np.int64), grid.columns)
    ring, along, _ = boundary.locate(grid.x[columns], grid.y[rows])
    return Outflows(ring, along, trial.exit_area)


def sum_by_stretch(outflows: Outflows, boundary: Boundary) -> FloatArray:
    """Ground that drains out over each stretch. [m2]."""
    stretch = boundary.stretch_of(outflows.ring, outflows.along)
    return np.asarray(np.bincount(stretch, outflows.area, minlength=len(boundary.stretches)), np.float64)


def new_outflows(before: Outflows, after: Outflows, boundary: Boundary) -> list[tuple[int, float, float]]:
    """Places where much more ground drains out than drained out near there before.

    Returns
    -------
    list of (ring, length along it [m], ground more than before [m2])
        Largest first on each ring, no two nearer than twice ``SAME_OUTFLOW``.
    """
    found: list[tuple[int, float, float]] = []
    for number, ring in enumerate(boundary.rings):
        bins = max(1, math.ceil(ring.length / BIN))
        reach = min(round(SAME_OUTFLOW / BIN), (bins - 1) // 4)
        # What crosses now within a reach is held against what crossed within two: the old place may lie at either end.
        was = _near_sums(before, number, bins, 2 * reach)
        will = _near_sums(after, number, bins, reach)
        here = _near_sums(after, number, bins, 0)
        more = will - was
        is_new = (more > NEW_OUTFLOW) & (was < 0.5 * will)
        while is_new.any():
            peak = int(np.argmax(np.where(is_new, more, -np.inf)))
            around = np.arange(peak - reach, peak + reach + 1) % bins
            most = int(around[np.argmax(here[around])])
            found.append((number, min((most + 0.5) * BIN, float(ring.length)), float(more[peak])))
            is_new[np.arange(peak - 2 * reach, peak + 2 * reach + 1) % bins] = False
    return found


@dataclass(frozen=True, slots=True)
class Grown:
    """A place on a ring where more leaves than near there before: ground behind ``WIDTH`` of edge. Along in m, m2."""

    ring: int
    along: float
    before: float
    after: float


def grown_outflows(before: Outflows, after: Outflows, boundary: Boundary, share: float) -> list[Grown]:
    """Places where the ground behind ``WIDTH`` of edge grows by more than a share, and by more than ``NEW_OUTFLOW``.

    It is held against the most that left over any such width within ``SAME_OUTFLOW`` before, so that an outlet that
    wanders a few steps is none, and a sheet that is gathered to a rill is one. Asked the other way round, with before
    and after exchanged, it finds where water no longer leaves.

    Returns
    -------
    list of Grown
        Largest growth first on each ring, no two nearer than twice ``SAME_OUTFLOW``.
    """
    found: list[Grown] = []
    for number, ring in enumerate(boundary.rings):
        bins = max(1, math.ceil(ring.length / BIN))
        reach = min(round(SAME_OUTFLOW / BIN), (bins - 1) // 4)
        side = min(WIDTH // 2, (bins - 1) // 4)
        near = _near_sums(before, number, bins, side)
        was = np.max([np.roll(near, shift) for shift in range(-reach, reach + 1)], axis=0)
        will = _near_sums(after, number, bins, side)
        here = _near_sums(after, number, bins, 0)
        more = will - was
        is_grown = (more > NEW_OUTFLOW) & (more > share * was)
        while is_grown.any():
            peak = int(np.argmax(np.where(is_grown, more, -np.inf)))
            around = np.arange(peak - side, peak + side + 1) % bins
            most = int(around[np.argmax(here[around])])
            along = min((most + 0.5) * BIN, float(ring.length))
            found.append(Grown(number, along, float(was[peak]), float(will[peak])))
            is_grown[np.arange(peak - 2 * reach, peak + 2 * reach + 1) % bins] = False
    return found


def _near_sums(outflows: Outflows, ring: int, bins: int, reach: int) -> FloatArray:
    """Ground that drains out within reach of each bin of a ring. [m2]."""
    mine = outflows.ring == ring
    at = np.minimum((outflows.along[mine] / BIN).astype(np.int64), bins - 1)
    sums = np.bincount(at, outflows.area[mine], minlength=bins)
    round_the_ring = np.concatenate([sums[bins - reach :], sums, sums[:reach]])
    return np.asarray(np.convolve(round_the_ring, np.ones(2 * reach + 1), "valid"), np.float64)
