"""Volumes of ridges with sloping sides and rounded ends, by the prismoidal rule."""

from __future__ import annotations

import math

import numpy as np

from sitepipe.arrays import FloatArray


def ridge_section(height: FloatArray, top: float, side_slope: float) -> FloatArray:
    """Area of a cross-section with a level top and equal sides. [m2].

    Examples
    --------
    >>> ridge_section(np.array([0.5]), 0.6, 1.5).round(3).tolist()
    [0.675]
    """
    height = np.maximum(height, 0.0)
    return np.asarray(top * height + side_slope * height * height)


def prismoidal_volume(heights: FloatArray, top: float, side_slope: float, spacing: float) -> float:
    """Volume of a ridge whose height runs straight from station to station: exact for such a ridge. [m3].

    Parameters
    ----------
    heights : (stations,) float array
        Height of the crest above the ground. [m]
    top : float
        Width of the level top. [m]
    side_slope : float
        Run per rise. [1]
    spacing : float
        Between stations. [m]

    References
    ----------
    Vose (1857), Handbook of railroad construction: L (A1 + 4 Am + A2) / 6.

    Examples
    --------
    >>> round(prismoidal_volume(np.array([0.6, 0.3]), 0.6, 1.5, 10.0), 3)
    5.85
    """
    areas = ridge_section(heights, top, side_slope)
    middles = ridge_section(0.5 * (heights[1:] + heights[:-1]), top, side_slope)
    return float(spacing / 6.0 * np.sum(areas[1:] + areas[:-1] + 4.0 * middles))


def round_mound_volume(top_radius: float, base_radius: float, height: float) -> float:
    """Volume of a cut cone. [m3].

    Examples
    --------
    >>> round(round_mound_volume(0.5, 1.25, 0.5), 4)
    1.2763
    """
    return math.pi * height / 3.0 * (top_radius**2 + top_radius * base_radius + base_radius**2)


def ridge_volume(heights: FloatArray, top: float, side_slope: float, spacing: float) -> float:
    """Volume of a ridge with half a cut cone at each end, as high as the end station. [m3].

    The level top ends in half rounds of half its width, so the end cones are cut ones.

    Examples
    --------
    >>> round(ridge_volume(np.array([0.5, 0.5]), 0.6, 1.5, 6.0), 4)
    4.8393
    """
    ends = sum(
        0.5 * round_mound_volume(0.5 * top, 0.5 * top + side_slope * end, end)
        for end in (float(max(heights[0], 0.0)), float(max(heights[-1], 0.0)))
    )
    return prismoidal_volume(heights, top, side_slope, spacing) + ends
