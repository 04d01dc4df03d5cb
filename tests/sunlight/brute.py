"""What lines and rays see, looked up point by point: no hulls, no early end, no shortcuts. Slow, and plain to read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import FloatArray, IntArray
from sitepipe.sunlight.sweep import Bearing


@dataclass(frozen=True, slots=True)
class Line:
    """What stands at each step of one line, from the sun's edge of the heights; only steps over the heights.

    Parameters
    ----------
    step : (points,) int array
        Steps away from the sun's edge.
    bare : (points,) float array
        Ground, interpolated between the two cells that the line passes between; the last cell goes on beyond it. [m]
    nearest : (points,) int array
        Nearest cell across; the next one where the line runs midway.
    along : (points,) int array
        Cell along.
    """

    step: IntArray
    bare: FloatArray
    nearest: IntArray
    along: IntArray


def line_of(ground: FloatArray, way: Bearing, line: int) -> Line | None:
    """Return where one line runs over heights that are laid (along, across); None if only rounding says where."""
    along, across = ground.shape
    step = np.arange(along)
    place = line + way.drift * step
    on = (place > -1.0) & (place < across)
    if (np.abs(place + 1.0) < 1e-9).any() or (np.abs(place - across) < 1e-9).any():
        return None
    step, place = step[on], place[on]
    u = along - 1 - step if way.from_far_end else step
    before = np.floor(place).astype(int)
    share = place - before
    low, up = np.clip(before, 0, across - 1), np.clip(before + 1, 0, across - 1)
    bare = ground[u, low] * (1.0 - share) + ground[u, up] * share
    return Line(step, bare, np.where(share >= 0.5, up, low), u)


def highest(high: FloatArray, eye: FloatArray, step: IntArray, run: float) -> FloatArray:
    """Return for each eye on a line the steepest sight to a point that it has passed; minus infinity for none. [1]."""
    apart = (step[:, None] - step) * run
    with np.errstate(divide="ignore", invalid="ignore"):
        sights = np.where(apart > 0, (high - eye[:, None]) / apart, -np.inf)
    return np.asarray(sights.max(axis=1, initial=-np.inf))


def bins_of(tangent: FloatArray, bins: int) -> FloatArray:
    """Return sines as bins, not rounded; 0 below the horizon."""
    steep = np.maximum(tangent, 0.0)
    with np.errstate(invalid="ignore"):
        return np.where(np.isinf(steep), 1.0, steep / np.hypot(1.0, steep)) * (bins - 1.0)
