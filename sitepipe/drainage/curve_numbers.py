"""Runoff from rain by the curve number method, by what covers the ground."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.units import INCH

GROUPS = "ABCD"

CURVE_NUMBERS: dict[tuple[str, str], tuple[int, int, int, int]] = {
    ("lawn", "good"): (39, 61, 74, 80),
    ("lawn", "fair"): (49, 69, 79, 84),
    ("lawn", "poor"): (68, 79, 86, 89),
    ("pasture", "good"): (39, 61, 74, 80),
    ("pasture", "fair"): (49, 69, 79, 84),
    ("pasture", "poor"): (68, 79, 86, 89),
    ("meadow", "good"): (30, 58, 71, 78),
    ("brush", "good"): (30, 48, 65, 73),
    ("brush", "fair"): (35, 56, 70, 77),
    ("brush", "poor"): (48, 67, 77, 83),
    ("woods", "good"): (30, 55, 70, 77),
    ("woods", "fair"): (36, 60, 73, 79),
    ("woods", "poor"): (45, 66, 77, 83),
    ("woods and grass", "good"): (32, 58, 72, 79),
    ("road", "paved"): (98, 98, 98, 98),
    ("road", "gravel"): (76, 85, 89, 91),
    ("road", "dirt"): (72, 82, 87, 89),
    ("roof", ""): (98, 98, 98, 98),
    ("water", ""): (100, 100, 100, 100),
}
"""By cover, condition (or surface) and hydrologic soil group A to D: NRCS TR-55 (1986), tables 2-2a to 2-2c.
The rows of lawn in fair and poor condition are values from memory; on open water all rain counts."""


def curve_number(cover: str, condition: str, group: str) -> int:
    """Look up a curve number; a cover listed in one condition only has that in every condition.

    Examples
    --------
    >>> curve_number("lawn", "good", "B"), curve_number("meadow", "poor", "D")
    (61, 78)
    """
    row = CURVE_NUMBERS.get((cover, condition)) or CURVE_NUMBERS[cover, "good"]
    return row[GROUPS.index(group)]


def runoff_depth(rain: float, number: FloatArray) -> FloatArray:
    """Depth of rain that runs off.

    Parameters
    ----------
    rain : float
        Depth of the storm. [m]
    number : float array
        Curve number, above 0 and at most 100.

    Returns
    -------
    float array
        At least 0, at most ``rain``. [m]

    References
    ----------
    NRCS TR-55 (1986), Urban Hydrology for Small Watersheds, equations 2-1 to 2-4: Q = (P - .2 S)^2 / (P + .8 S)
    with S = 1000 / CN - 10 in inches; nothing runs off until the rain exceeds .2 S.

    Examples
    --------
    6 in on curve number 75.2, TR-55 example 2-2:

    >>> float(round(runoff_depth(6 * 0.0254, np.array([75.2]))[0] / 0.0254, 2))
    3.3
    """
    storage = (1000.0 / number - 10.0) * INCH
    beyond = np.maximum(rain - 0.2 * storage, 0.0)
    return np.asarray(beyond * beyond / (rain + 0.8 * storage))
