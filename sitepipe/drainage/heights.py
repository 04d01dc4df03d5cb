"""Heights as whole tenths of a millimetre: exact, order-independent, the same in any language."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.errors import InputError

PER_METRE = 10_000
"""Tenths of a millimetre in a metre."""

UNKNOWN = 2**31 - 1
"""Stands where the height is not known: above every height, so that no water runs there by descent."""

HIGHEST = 200_000.0
"""Heights beyond this do not fit into 32 bits. [m]"""


def whole_heights(elevation: FloatArray) -> tuple[IntArray, BoolArray]:
    """Heights in whole tenths of a millimetre, and where they are known.

    Parameters
    ----------
    elevation : (rows, columns) float array
        Height of each cell centre, NaN where unknown. [m]

    Returns
    -------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where the height is not known. [0.1 mm]
    known : (rows, columns) bool array

    Raises
    ------
    InputError
        If no height is known, or one lies beyond 200 km.

    Examples
    --------
    >>> import numpy as np
    >>> heights, known = whole_heights(np.array([[1.00004, np.nan]]))
    >>> heights.tolist(), known.tolist()
    ([[10000, 2147483647]], [[True, False]])
    """
    known = np.isfinite(elevation)
    if not known.any():
        raise InputError("the heights hold no known cell; bring heights that cover the parcel")
    extreme = float(np.abs(np.where(known, elevation, 0.0)).max())
    if extreme > HIGHEST:
        raise InputError(
            f"the heights reach {extreme:.6g} m; they must stay within 200 km, check unit and nodata value"
        )
    heights = np.full(elevation.shape, UNKNOWN, dtype=np.int32)
    heights[known] = np.rint(elevation[known] * PER_METRE).astype(np.int32)
    return heights, known
