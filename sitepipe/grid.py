"""Grid: where the cells are. North-up, square, in metres, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError


@dataclass(frozen=True, slots=True)
class Grid:
    """A north-up raster of square cells in a metric plane coordinate system.

    Parameters
    ----------
    west, north : float
        Outer edge of the north-west corner cell. [m]
    cell : float
        Side of a cell. [m]
    rows, columns : int
        Rows run north to south, columns west to east.
    crs : str
        Well-known text of the projected (or local engineering) coordinate system, in metres.

    Raises
    ------
    InputError
        If the cell is not a positive number or there are no cells.

    Examples
    --------
    >>> grid = Grid(west=100.0, north=50.0, cell=2.0, rows=10, columns=20, crs="LOCAL")
    >>> grid.bounds
    (100.0, 30.0, 140.0, 50.0)
    >>> grid.cell_at(101.0, 49.0)
    (0, 0)
    """

    west: float
    north: float
    cell: float
    rows: int
    columns: int
    crs: str

    def __post_init__(self) -> None:
        if not (np.isfinite(self.cell) and self.cell > 0):
            raise InputError(f"the heights have cells of {self.cell} m; they must be larger than 0")
        if self.rows < 1 or self.columns < 1:
            raise InputError(f"the heights have {self.rows} x {self.columns} cells; at least one is needed")

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns)."""
        return self.rows, self.columns

    @property
    def east(self) -> float:
        """Outer edge of the last column, in m."""
        return self.west + self.columns * self.cell

    @property
    def south(self) -> float:
        """Outer edge of the last row, in m."""
        return self.north - self.rows * self.cell

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(west, south, east, north), in m."""
        return self.west, self.south, self.east, self.north

    @property
    def cell_area(self) -> float:
        """Area of one cell, in m2."""
        return self.cell * self.cell

    @property
    def transform(self) -> tuple[float, float, float, float, float, float]:
        """Affine coefficients (a, b, c, d, e, f) from (column, row) to (x, y)."""
        return self.cell, 0.0, self.west, 0.0, -self.cell, self.north

    @property
    def x(self) -> FloatArray:
        """Centres of the columns, west to east, in m."""
        return self.west + (np.arange(self.columns, dtype=np.float64) + 0.5) * self.cell

    @property
    def y(self) -> FloatArray:
        """Centres of the rows, north to south, in m."""
        return self.north - (np.arange(self.rows, dtype=np.float64) + 0.5) * self.cell

    def centre(self, row: int, column: int) -> tuple[float, float]:
        """Return (x, y) of the centre of a cell, in m."""
        return self.west + (column + 0.5) * self.cell, self.north - (row + 0.5) * self.cell

    def cell_at(self, x: float, y: float) -> tuple[int, int]:
        """Return (row, column) of the cell that holds a place; it may lie outside the grid."""
        return int(np.floor((self.north - y) / self.cell)), int(np.floor((x - self.west) / self.cell))

    def around(self, bounds: tuple[float, float, float, float]) -> tuple[slice, slice]:
        """Return the rows and columns that hold every cell of a box (west, south, east, north), at least one.

        Examples
        --------
        >>> Grid(west=0.0, north=50.0, cell=2.0, rows=25, columns=20, crs="LOCAL").around((10.5, 30.5, 12.5, 32.5))
        (slice(7, 11, None), slice(4, 8, None))
        """
        (top, left), (bottom, right) = self.cell_at(bounds[0], bounds[3]), self.cell_at(bounds[2], bounds[1])
        # One more on each side: a bound on the side of a cell may be rounded into the next.
        (first, last), (west, east) = np.clip([[top - 1, bottom + 1], [left - 1, right + 1]], 0, None).tolist()
        first, west = min(first, self.rows - 1), min(west, self.columns - 1)
        return slice(first, min(last, self.rows - 1) + 1), slice(west, min(east, self.columns - 1) + 1)

    def part(self, window: tuple[slice, slice]) -> Grid:
        """Return the grid of some of the rows and columns."""
        rows, columns = window
        return Grid(
            west=self.west + columns.start * self.cell,
            north=self.north - rows.start * self.cell,
            cell=self.cell,
            rows=rows.stop - rows.start,
            columns=columns.stop - columns.start,
            crs=self.crs,
        )

    def holds(self, row: int, column: int) -> bool:
        """Tell whether a cell lies on the grid."""
        return 0 <= row < self.rows and 0 <= column < self.columns
