"""The ground under the map: the site's own heights under three lights, quiet enough to draw on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from sitepipe.arrays import BoolArray, ByteArray, FloatArray
from sitepipe.grid import Grid
from sitepipe.site import Site
from sitepipe.terrain.smoothing import smoothed

LIGHTS = ((315.0, 0.55), (265.0, 0.25), (5.0, 0.20))
"""(azimuth, weight). A single light hides swales that run towards it."""
FALL_TAKEN_OFF = 0.75
"""Share of the mean fall removed first, so that ground that falls away from the light is not a grey slab."""
SMOOTHING, SMOOTHING_SHARE = 1.5, 0.012
"""Standard deviation of the smoothing [m], and its least share of the drawn side: a wide field is drawn broadly."""
SOLID_TO, CLEAR_FROM = 1.5, 8.0
"""The ground fades into paper between these distances beyond the boundary. [m]"""
LEVEL_TONE, TONE_RANGE, DARKEST_TONE = 0.62, 0.36, 0.22
"""Tone of level ground, how far slopes move it, and the darkest tone, between shaded 0 and lit 1."""
FINEST_CELL, MOST_CELLS = 0.5, 520
"""Cell of the drawn ground [m], and how many of them it may be wide."""


@dataclass(frozen=True, slots=True)
class DrawnGround:
    """The heights around the parcel, resampled and smoothed for drawing.

    Parameters
    ----------
    west, north, cell : float
        Outer edge of the north-west cell, side of a cell. [m]
    heights : (rows, columns) float array
        Smoothed; NaN where not surveyed. [m]
    nearness : (rows, columns) float array
        1 in the parcel and to 1.5 m beyond it, falling to 0 at 8 m.
    """

    west: float
    north: float
    cell: float
    heights: FloatArray
    nearness: FloatArray

    @property
    def x(self) -> FloatArray:
        """Centres of the columns. [m]."""
        return np.asarray(self.west + (np.arange(self.heights.shape[1]) + 0.5) * self.cell, dtype=np.float64)

    @property
    def y(self) -> FloatArray:
        """Centres of the rows, north to south. [m]."""
        return np.asarray(self.north - (np.arange(self.heights.shape[0]) + 0.5) * self.cell, dtype=np.float64)


def draw_ground(site: Site) -> DrawnGround:
    """Resample the heights around the parcel to cells fit for drawing, and smooth them."""
    west, south, east, north = site.parcel.buffer(CLEAR_FROM + 1.0).bounds
    cell = max(FINEST_CELL, (east - west) / MOST_CELLS, (north - south) / MOST_CELLS)
    columns, rows = int(np.ceil((east - west) / cell)), int(np.ceil((north - south) / cell))
    x = west + (np.arange(columns) + 0.5) * cell
    y = north - (np.arange(rows) + 0.5) * cell
    sampled = sample(site.elevation, site.grid, x, y)
    spread = max(SMOOTHING, 0.8 * site.grid.cell, SMOOTHING_SHARE * max(east - west, north - south)) / cell
    return DrawnGround(west, north, cell, smoothed(sampled, spread), _nearness(site, x, y))


def sample(values: FloatArray, grid: Grid, x: FloatArray, y: FloatArray) -> FloatArray:
    """Read a layer between its cell centres, bilinear; NaN within half a cell of the unknown and outside."""
    column = (x - grid.west) / grid.cell - 0.5
    row = (grid.north - y) / grid.cell - 0.5
    left = np.clip(np.floor(column), 0, max(grid.columns - 2, 0)).astype(np.intp)
    upper = np.clip(np.floor(row), 0, max(grid.rows - 2, 0)).astype(np.intp)
    right, lower = np.minimum(left + 1, grid.columns - 1), np.minimum(upper + 1, grid.rows - 1)
    east_share = np.clip(column - left, 0.0, 1.0)[None, :]
    south_share = np.clip(row - upper, 0.0, 1.0)[:, None]
    top = values[np.ix_(upper, left)] * (1 - east_share) + values[np.ix_(upper, right)] * east_share
    bottom = values[np.ix_(lower, left)] * (1 - east_share) + values[np.ix_(lower, right)] * east_share
    read = top * (1 - south_share) + bottom * south_share
    outside = (column < -0.5) | (column > grid.columns - 0.5)
    read[:, outside] = np.nan
    read[(row < -0.5) | (row > grid.rows - 0.5), :] = np.nan
    return np.asarray(read, dtype=np.float64)


def relief_tone(heights: FloatArray, cell: float) -> FloatArray:
    """Tone of the ground, 0 shaded to 1 lit.

    The slope, less three quarters of the mean fall, is compressed with asinh and scaled to its 90th percentile:
    a lawn of 1 % gets the whole range of tone, a bank does not blacken. Level ground is 0.62, and nothing is darker
    than 0.22: level lines must stay legible on it.

    Examples
    --------
    >>> float(relief_tone(np.zeros((4, 4)), 1.0)[0, 0])
    0.62
    """
    known = np.isfinite(heights)
    filled = np.where(known, heights, np.nanmean(heights) if known.any() else 0.0)
    southwards, eastwards = np.gradient(filled, cell) if min(heights.shape) > 1 else (filled * 0, filled * 0)
    northwards = -southwards
    inner = known & _eroded(known)
    if inner.any():
        northwards = northwards - FALL_TAKEN_OFF * northwards[inner].mean()
        eastwards = eastwards - FALL_TAKEN_OFF * eastwards[inner].mean()
    steepness = np.hypot(eastwards, northwards)
    typical = float(np.percentile(steepness[inner], 90)) if inner.any() else 0.0
    if typical <= 1e-9:
        return np.full(heights.shape, LEVEL_TONE)
    squeezed = np.arcsinh(steepness / typical) / np.arcsinh(1.0) / np.maximum(steepness, 1e-12)
    facing = np.zeros(heights.shape)
    for azimuth, weight in LIGHTS:
        turn = np.radians(azimuth)
        facing -= weight * (eastwards * np.sin(turn) + northwards * np.cos(turn))
    return np.asarray(np.clip(LEVEL_TONE + TONE_RANGE * facing * squeezed, DARKEST_TONE, 1.0))


def relief_picture(ground: DrawnGround) -> tuple[ByteArray, ByteArray]:
    """Tone and opacity of the ground as bytes; paper where nothing was surveyed."""
    known = np.isfinite(ground.heights)
    tone = relief_tone(ground.heights, ground.cell)
    edge = np.clip(2.0 * _blurred(known.astype(np.float64), 1.5) - 1.0, 0.0, 1.0)
    opacity = np.where(known, ground.nearness * edge, 0.0)
    return np.round(255 * tone).astype(np.uint8), np.round(255 * opacity).astype(np.uint8)


def _nearness(site: Site, x: FloatArray, y: FloatArray) -> FloatArray:
    """Measure on a coarse grid, since distances are slow, and read between."""
    step = max(len(x), len(y)) / 130.0
    across = np.linspace(x[0], x[-1], max(2, int(len(x) / step)))
    down = np.linspace(y[0], y[-1], max(2, int(len(y) / step)))
    places = shapely.points(*np.meshgrid(across, down))
    away = shapely.distance(site.parcel, places)
    rows = np.array([np.interp(x, across, row) for row in away])
    full = np.array([np.interp(-y, -down, column) for column in rows.T]).T
    ramp = np.clip((CLEAR_FROM - full) / (CLEAR_FROM - SOLID_TO), 0.0, 1.0)
    return np.asarray(ramp * ramp * (3.0 - 2.0 * ramp))


def _eroded(mask: BoolArray) -> BoolArray:
    padded = np.pad(mask, 1)
    return np.asarray(padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2] & padded[1:-1, 2:])


def _blurred(values: FloatArray, spread: float) -> FloatArray:
    from scipy.ndimage import correlate1d

    reach = max(1, int(np.ceil(3.0 * spread)))
    weights = np.exp(-0.5 * (np.arange(-reach, reach + 1) / spread) ** 2)
    weights /= weights.sum()
    for axis in (0, 1):
        values = correlate1d(values, weights, axis=axis, mode="constant")
    return values
