"""The scale at which the slope that is there stands out from the error of the heights."""

from __future__ import annotations

import math

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.terrain.slope import HORN_NOISE, gradient

STENCIL_WIDTH = math.sqrt((4.0 / 12.0 + 0.5) / 2.0)
"""Standard deviation of Horn's window: a difference over two cells one way, weights 1-2-1 the other. [cells]"""

MEDIAN_OF_NOISE = 2.0 * math.log(2.0)
"""Median of the squared length of two independent standard normal numbers. [1]"""

FEWEST = 25
"""Least number of cells from which a typical slope is taken. [1]"""


def slope_noise(error: float, scale: float) -> float:
    """Return the standard deviation that the heights' error puts into one axis of Horn's slope.

    Parameters
    ----------
    error : float
        Standard deviation of a height. [m]
    scale : float
        Spacing of the heights. [m]

    Returns
    -------
    float
        Rise per run. [1]

    References
    ----------
    Linear propagation through Horn's eight weights: sqrt(12) / 8 = .433.

    Examples
    --------
    Heights good to 10 cm, 1 m apart, give slopes good to 4.3 %:

    >>> round(slope_noise(0.1, 1.0), 4)
    0.0433
    """
    return HORN_NOISE * error / scale


def typical_slope(elevation: FloatArray, cell: float, step: int, error: float) -> float:
    """Return the median slope of every `step`-th height, the middle of its block, less what their error adds to it.

    Returns
    -------
    float
        Rise per run; 0 where error alone explains what is seen, NaN where too little ground is known. [1]
    """
    east, north = gradient(elevation[step // 2 :: step, step // 2 :: step], step * cell)
    steepness = east**2 + north**2
    steepness = steepness[np.isfinite(steepness)]
    if steepness.size < FEWEST:
        return math.nan
    noise = slope_noise(error, step * cell)
    return math.sqrt(max(0.0, float(np.median(steepness)) - MEDIAN_OF_NOISE * noise**2))


def sound_scale(elevation: FloatArray, cell: float, error: float, noise_share: float, broadest: float) -> float:
    """Return the smallest spacing of heights at which slope noise stays under a share of the slope there is.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    cell : float
        [m]
    error : float
        Standard deviation of a height. [m]
    noise_share : float
        Above 0, at most 1. At 1/3 the noise adds 5 % to a slope (sqrt(1 + 1/9)). [1]
    broadest : float
        No wider spacing is tried, except that one cell always is. [m]

    Returns
    -------
    float
        A whole number of cells, at most half as wide again as the smallest; where no spacing is sound (level
        ground), the widest that was tried. [m]

    Examples
    --------
    A 2 % field known to 5 cm: .433 x .05 / spacing is under .02 / 3 from 3.25 m on.

    >>> import numpy as np
    >>> field = np.tile(0.02 * np.arange(200.0), (200, 1))
    >>> sound_scale(field, cell=1.0, error=0.05, noise_share=1 / 3, broadest=50.0)
    4.0
    """
    step = 1
    tried = step
    while True:
        there = typical_slope(elevation, cell, step, error)
        if math.isnan(there):
            return tried * cell
        tried = step
        if slope_noise(error, step * cell) <= noise_share * there:
            return step * cell
        # The spacing that this slope would need, but at most half as wide again: slope changes with scale.
        needed = HORN_NOISE * error / (noise_share * there * cell) if there > 0.0 else math.inf
        step = min(max(step + 1, math.ceil(min(needed, 1.5 * step))), int(broadest / cell))
        if step <= tried:
            return tried * cell


def smoothing_for(scale: float, cell: float) -> float:
    """Return the spread that turns Horn's window at one cell into as wide a window as at `scale`. [cells]."""
    return STENCIL_WIDTH * math.sqrt(max(0.0, (scale / cell) ** 2 - 1.0))
