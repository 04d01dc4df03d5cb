"""How far ground lies above the water it drains to, and above the nearest water by the easiest way."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray

_DIAGONAL = 1.4142135623730951


@kernel
def height_above_nearest_drainage(
    elevation: FloatArray, receiver: IntArray, order: IntArray, reference: FloatArray
) -> FloatArray:
    """Height of each cell above the reference that its water reaches first.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    receiver : (rows, columns) int32 array
    order : (cells,) int32 array
        From the outlets up.
    reference : (rows, columns) float array
        Height of the channel or hollow at its cells, NaN elsewhere. [m]

    Returns
    -------
    (rows, columns) float array
        At least 0; NaN where unknown, and where water leaves the heights before it reaches a reference. [m]

    References
    ----------
    Renno et al. (2008), HAND, Remote Sensing of Environment 112:3469-3481; Nobre et al. (2011), Height Above
    the Nearest Drainage, Journal of Hydrology 404:13-29.

    Examples
    --------
    >>> import numpy as np
    >>> ground = np.array([[3.0, 2.0, 0.5]])
    >>> channel = np.array([[np.nan, np.nan, 0.5]])
    >>> to, order = np.array([[1, 2, -1]], dtype=np.int32), np.array([2, 1, 0], dtype=np.int32)
    >>> height_above_nearest_drainage(ground, to, order, channel)
    array([[2.5, 1.5, 0. ]])
    """
    ground = elevation.ravel()
    to = receiver.ravel()
    own = reference.ravel()
    base = np.full(ground.size, np.nan)
    above = np.full(ground.size, np.nan)
    for cell in order:
        if not np.isnan(own[cell]):
            base[cell] = own[cell]
        elif to[cell] >= 0:
            base[cell] = base[to[cell]]
        if not np.isnan(base[cell]):
            above[cell] = max(ground[cell] - base[cell], 0.0)
    return above.reshape(elevation.shape)


@kernel
def steepness(elevation: FloatArray, cell_size: float) -> FloatArray:
    """Rise per run of the ground, from neighbours on both sides where both are known, else from one.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    cell_size : float
        [m]

    Returns
    -------
    (rows, columns) float array
        NaN where unknown. [1]

    Examples
    --------
    >>> import numpy as np
    >>> steepness(np.array([[0.0, 0.2, 0.4]]), 2.0)
    array([[0.1, 0.1, 0.1]])
    """
    rows, columns = elevation.shape
    rise = np.full((rows, columns), np.nan)
    for row in range(rows):
        for column in range(columns):
            own = elevation[row, column]
            if np.isnan(own):
                continue
            before = elevation[row, column - 1] if column > 0 else np.nan
            after = elevation[row, column + 1] if column < columns - 1 else np.nan
            east = _difference(before, own, after)
            before = elevation[row - 1, column] if row > 0 else np.nan
            after = elevation[row + 1, column] if row < rows - 1 else np.nan
            south = _difference(before, own, after)
            rise[row, column] = np.sqrt(east * east + south * south) / cell_size
    return rise


@kernel
def _difference(before: float, own: float, after: float) -> float:
    """Rise from cell to cell along one axis; 0 where neither neighbour is known."""
    if np.isnan(before):
        return 0.0 if np.isnan(after) else after - own
    if np.isnan(after):
        return own - before
    return (after - before) / 2.0


@kernel
def least_climb(rise: FloatArray, is_water: BoolArray, cell_size: float) -> FloatArray:
    """Sum of slope times length along the way from water on which it is least.

    Sweeps in both reading orders until nothing changes: exact, and few are needed since the ways to the nearest
    water are short.

    Parameters
    ----------
    rise : (rows, columns) float array
        Slope of the ground as rise per run, NaN where unknown. [1]
    is_water : (rows, columns) bool array
    cell_size : float
        [m]

    Returns
    -------
    (rows, columns) float array
        0 at water; NaN where unknown or out of its reach. [m]

    References
    ----------
    Murphy, Ogilvie & Arp (2009), Topographic modelling of soil moisture conditions: a comparison and
    verification of two models, European Journal of Soil Science 60:94-109: the sum over a way's cells of
    slope times 1 (a side) or 1.414 (a corner) times the cell. The slope of the water cell itself counts nothing.

    Examples
    --------
    >>> import numpy as np
    >>> least_climb(np.full((1, 3), 0.1), np.array([[True, False, False]]), 2.0)
    array([[0. , 0.2, 0.4]])
    """
    rows, columns = rise.shape
    climb = np.full((rows + 2, columns + 2), np.inf)
    for row in range(rows):
        for column in range(columns):
            if is_water[row, column] and not np.isnan(rise[row, column]):
                climb[row + 1, column + 1] = 0.0
    changed = True
    while changed:
        changed = False
        for row in range(1, rows + 1):
            for column in range(1, columns + 1):
                slope = rise[row - 1, column - 1] * cell_size
                side = min(climb[row - 1, column], climb[row, column - 1]) + slope
                corner = min(climb[row - 1, column - 1], climb[row - 1, column + 1]) + slope * _DIAGONAL
                least = min(side, corner)
                if least < climb[row, column]:
                    climb[row, column] = least
                    changed = True
        for row in range(rows, 0, -1):
            for column in range(columns, 0, -1):
                slope = rise[row - 1, column - 1] * cell_size
                side = min(climb[row + 1, column], climb[row, column + 1]) + slope
                corner = min(climb[row + 1, column + 1], climb[row + 1, column - 1]) + slope * _DIAGONAL
                least = min(side, corner)
                if least < climb[row, column]:
                    climb[row, column] = least
                    changed = True
    reached = climb[1:-1, 1:-1].copy()
    for row in range(rows):
        for column in range(columns):
            if np.isinf(reached[row, column]):
                reached[row, column] = np.nan
    return reached
