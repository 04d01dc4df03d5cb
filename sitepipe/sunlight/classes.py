"""Classes of light, from hours of direct sun."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import FloatArray, IntArray

LIGHT_NAMES = ("sun all day", "full sun", "part sun", "shade")
"""From most to least; full sun from 6 hours and part sun from 4 are published, the rest are the page's own."""


def light_class(hours: FloatArray, breaks: tuple[float, float, float]) -> IntArray:
    """Return the class of each cell: 0 for most sun to 3 for least, -1 where unknown.

    Parameters
    ----------
    hours : float array
        Of direct sun. [h/day]
    breaks : (float, float, float)
        Least hours of the first three classes, falling; ``settings.sun.light_breaks``. [h/day]

    Examples
    --------
    >>> light_class(np.array([9.0, 8.0, 6.5, 4.0, 3.9, np.nan]), (8.0, 6.0, 4.0)).tolist()
    [0, 0, 1, 2, 3, -1]
    """
    classes = np.full(np.shape(hours), 3, dtype=np.int32)
    for number in (2, 1, 0):
        classes[np.asarray(hours) >= breaks[number]] = number
    classes[~np.isfinite(hours)] = -1
    return classes
