"""Slope and aspect of the ground, up to its borders and around its holes."""

from __future__ import annotations

import math

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, frozen

HORN_NOISE = math.sqrt(12.0) / 8.0
"""Standard deviation of one axis of Horn's slope, per height error and 1 / cell. [1]"""


def gradient(elevation: FloatArray, cell: float) -> tuple[FloatArray, FloatArray]:
    """Return how the ground rises to the east and to the north (Horn's weights).

    Horn's two differences are what a plane fitted to the 3 x 3 window gives when corners weigh 1, sides 2 and
    the middle 4. Where a cell of the window is unknown or off the grid, the same plane is fitted to those that
    are left, so that a plane is met exactly at every cell. Where they lie on one line, the rise along that
    line is returned.

    Parameters
    ----------
    elevation : (rows, columns) float array
        Height of each cell centre, NaN where unknown; row 0 is the north. [m]
    cell : float
        Side of a cell. [m]

    Returns
    -------
    east, north : (rows, columns) float array
        Rise per run. NaN where the cell is unknown or stands alone. [1]

    References
    ----------
    Horn (1981), Hill shading and the reflectance map, Proceedings of the IEEE 69, 14-47,
    doi:10.1109/PROC.1981.11918 (values from memory; the identity with a weighted plane is tested).

    Examples
    --------
    A field that rises 1 m in 10 m to the east and is level to the north:

    >>> import numpy as np
    >>> east, north = gradient(np.tile(np.arange(5.0), (4, 1)), cell=10.0)
    >>> bool(np.allclose(east, 0.1)), bool(np.allclose(north, 0.0))
    (True, True)
    """
    # A view that is closed for writing: for arrays of both sorts the kernel would be compiled twice.
    return _horn(frozen(np.ascontiguousarray(elevation, dtype=np.float64).view()), float(cell))


def slope(elevation: FloatArray, cell: float) -> FloatArray:
    """Return how steep the ground is.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    cell : float
        [m]

    Returns
    -------
    (rows, columns) float array
        0 to 90; NaN where `gradient` is. [deg]

    References
    ----------
    Horn (1981), see `gradient`.

    Examples
    --------
    >>> import numpy as np
    >>> bool(np.allclose(slope(np.tile(np.arange(4.0), (4, 1)), cell=1.0), 45.0))
    True
    """
    east, north = gradient(elevation, cell)
    return np.asarray(np.degrees(np.arctan(np.hypot(east, north))))


def aspect(elevation: FloatArray, cell: float) -> FloatArray:
    """Return the direction that the ground falls to.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown; row 0 is the north. [m]
    cell : float
        [m]

    Returns
    -------
    (rows, columns) float array
        0 up to 360, clockwise from north; NaN where `gradient` is or the ground is level. [deg]

    References
    ----------
    Horn (1981), see `gradient`.

    Examples
    --------
    Ground that rises to the east falls to the west:

    >>> import numpy as np
    >>> bool(np.allclose(aspect(np.tile(np.arange(4.0), (4, 1)), cell=1.0), 270.0))
    True
    """
    east, north = gradient(elevation, cell)
    return downslope_direction(east, north)


def downslope_direction(east: FloatArray, north: FloatArray) -> FloatArray:
    """Return the direction of fall of ground that rises by ``east`` and ``north``. [deg], NaN where level."""
    direction = np.degrees(np.arctan2(-east, -north)) % 360.0
    direction[direction >= 360.0] = 0.0
    direction[(east == 0.0) & (north == 0.0)] = np.nan
    return np.asarray(direction)


@kernel
def _horn(elevation: FloatArray, cell: float) -> tuple[FloatArray, FloatArray]:
    rows, columns = elevation.shape
    east = np.full((rows, columns), np.nan)
    north = np.full((rows, columns), np.nan)
    for row in range(rows):
        for column in range(columns):
            middle = elevation[row, column]
            if math.isnan(middle):
                continue
            n = 4.0
            sx = sy = sxx = sxy = syy = sz = sxz = syz = 0.0
            for i in range(-1, 2):
                if row + i < 0 or row + i >= rows:
                    continue
                for j in range(-1, 2):
                    if column + j < 0 or column + j >= columns or (i == 0 and j == 0):
                        continue
                    z = elevation[row + i, column + j] - middle
                    if math.isnan(z):
                        continue
                    weight = 1.0 if i != 0 and j != 0 else 2.0
                    x, y = float(j), float(-i)
                    n += weight
                    sx += weight * x
                    sy += weight * y
                    sz += weight * z
                    sxx += weight * x * x
                    sxy += weight * x * y
                    syy += weight * y * y
                    sxz += weight * x * z
                    syz += weight * y * z
            if n == 4.0:
                continue
            sxx -= sx * sx / n
            sxy -= sx * sy / n
            syy -= sy * sy / n
            sxz -= sx * sz / n
            syz -= sy * sz / n
            determinant = sxx * syy - sxy * sxy
            if determinant > 1e-9:
                east[row, column] = (syy * sxz - sxy * syz) / determinant / cell
                north[row, column] = (sxx * syz - sxy * sxz) / determinant / cell
            else:
                # All known cells lie on one line: the flattest plane through them.
                trace = sxx + syy
                east[row, column] = (sxx * sxz + sxy * syz) / (trace * trace) / cell
                north[row, column] = (sxy * sxz + syy * syz) / (trace * trace) / cell
    return east, north
