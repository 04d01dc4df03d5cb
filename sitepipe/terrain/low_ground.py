"""How low a place lies in its surroundings."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.terrain.smoothing import smoothed


def lowness(elevation: FloatArray, spread: float, error: float) -> FloatArray:
    """Return how far each cell lies below the mean of its surroundings, in standard deviations of their heights.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    spread : float
        Standard deviation of the Gaussian weights that make up the surroundings. [cells]
    error : float
        Standard deviation of a height, above 0: on level ground, what is lower by that much counts little. [m]

    Returns
    -------
    (rows, columns) float array
        Positive in low places, 0 on a plane; NaN where the height is unknown. [1]

    References
    ----------
    De Reu et al. (2013), Application of the topographic position index to heterogeneous landscapes,
    Geomorphology 186, 39-49 ("deviation from mean elevation"; value from memory). Here the error of the heights
    is added to the deviation below the line, so that level ground is not ranked by its noise.

    Examples
    --------
    >>> import numpy as np
    >>> bool(np.allclose(lowness(np.add.outer(np.arange(8.0), np.arange(9.0)), 2.0, 0.1), 0.0))
    True
    """
    below = smoothed(elevation, spread) - elevation
    deviation = np.sqrt(np.maximum(smoothed(below**2, spread), 0.0))
    return np.asarray(below / (deviation + error))
