"""The wetness index: how much ground drains through a place, over how fast it can drain away."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import FloatArray


def wetness_index(specific_catchment_area: FloatArray, slope: FloatArray, slope_floor: float) -> FloatArray:
    """Return ln(a / tan b).

    Parameters
    ----------
    specific_catchment_area : (rows, columns) float array
        Ground behind a unit of contour, above 0; NaN where unknown. [m]
    slope : (rows, columns) float array
        Rise per run. [1]
    slope_floor : float
        Least slope that the heights can tell from level, above 0; the index would be endless on level ground. [1]

    Returns
    -------
    (rows, columns) float array
        NaN where either is unknown. [1]

    References
    ----------
    Beven & Kirkby (1979), A physically based, variable contributing area model of basin hydrology,
    Hydrological Sciences Bulletin 24, 43-69, doi:10.1080/02626667909491834.

    Examples
    --------
    50 m of ground behind, at 1 in 100: ln 5000.

    >>> import numpy as np
    >>> round(float(wetness_index(np.array([[50.0]]), np.array([[0.01]]), 0.001)[0, 0]), 4)
    8.5172
    """
    return np.asarray(np.log(specific_catchment_area / np.maximum(slope, slope_floor)))
