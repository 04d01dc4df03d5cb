"""Which cells of a grid lie in a polygon."""

from __future__ import annotations

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray
from sitepipe.grid import Grid

ROWS_AT_ONCE = 256


def cells_in(geometry: BaseGeometry, grid: Grid) -> BoolArray:
    """Mark the cells whose centre lies in a polygon; only its own box is looked at.

    Examples
    --------
    >>> grid = Grid(0.0, 3.0, 1.0, 3, 3, "LOCAL")
    >>> int(cells_in(shapely.box(0.0, 0.0, 2.0, 1.0), grid).sum())
    2
    """
    mask = np.zeros(grid.shape, dtype=np.bool_)
    west, south, east, north = geometry.bounds
    top, left = grid.cell_at(west, north)
    bottom, right = grid.cell_at(east, south)
    rows = slice(max(top, 0), max(min(bottom + 1, grid.rows), 0))
    columns = slice(max(left, 0), max(min(right + 1, grid.columns), 0))
    if mask[rows, columns].size:
        shapely.prepare(geometry)
        for first in range(rows.start, rows.stop, ROWS_AT_ONCE):
            some = slice(first, min(first + ROWS_AT_ONCE, rows.stop))
            mask[some, columns] = shapely.contains_xy(geometry, *np.meshgrid(grid.x[columns], grid.y[some]))
    return mask
