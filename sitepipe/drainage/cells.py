"""Cells under drawn shapes, and shapes around cells."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray
from sitepipe.grid import Grid


def cells_inside(grid: Grid, geometry: BaseGeometry) -> BoolArray:
    """Mark the cells whose centre lies inside a polygon (or several).

    A centre on the boundary itself counts for one side only, so that shapes which share a border share no cell.

    Examples
    --------
    >>> from shapely import box
    >>> grid = Grid(0.0, 3.0, 1.0, 3, 3, "LOCAL")
    >>> cells_inside(grid, box(1, 0, 3, 1)).astype(int).tolist()
    [[0, 0, 0], [0, 0, 0], [0, 1, 1]]
    """
    mask = np.zeros(grid.shape, dtype=np.bool_)
    rings = shapely.get_rings(shapely.get_parts(np.array([geometry])))
    if rings.size == 0:
        return mask
    corners, which = shapely.get_coordinates(rings, return_index=True)
    column = (corners[:, 0] - grid.west) / grid.cell - 0.5
    row = (grid.north - corners[:, 1]) / grid.cell - 0.5
    same = which[1:] == which[:-1]
    _fill_rows(mask, row[:-1][same], column[:-1][same], row[1:][same], column[1:][same])
    return mask


@kernel
def _fill_rows(
    mask: BoolArray, row_from: FloatArray, column_from: FloatArray, row_to: FloatArray, column_to: FloatArray
) -> None:
    """Flip every cell to the right of each edge: what is flipped an odd number of times lies inside."""
    rows, columns = mask.shape
    for edge in range(row_from.size):
        low = min(row_from[edge], row_to[edge])
        high = max(row_from[edge], row_to[edge])
        if low == high:
            continue
        for row in range(max(int(np.ceil(low)), 0), min(int(np.ceil(high)), rows)):
            part = (row - row_from[edge]) / (row_to[edge] - row_from[edge])
            crossing = column_from[edge] + part * (column_to[edge] - column_from[edge])
            if crossing < columns:
                first = max(int(np.ceil(crossing)), 0)
                if first < columns:
                    mask[row, first] = not mask[row, first]
    for row in range(rows):
        is_inside = False
        for column in range(columns):
            is_inside = is_inside != mask[row, column]
            mask[row, column] = is_inside


def cells_along(grid: Grid, geometry: BaseGeometry) -> list[IntArray]:
    """Flat indices of the cells that each line passes, in its direction, each once in a row; outside the grid none.

    Examples
    --------
    >>> from shapely import LineString
    >>> grid = Grid(0.0, 3.0, 1.0, 3, 3, "LOCAL")
    >>> [cells.tolist() for cells in cells_along(grid, LineString([(0.5, 2.5), (2.5, 2.5)]))]
    [[0, 1, 2]]
    """
    found = []
    for line in shapely.get_parts(np.array([geometry])):
        close = shapely.segmentize(line, grid.cell / 8.0) if line.length > 0.0 else line
        corners = shapely.get_coordinates(close)
        column = np.floor((corners[:, 0] - grid.west) / grid.cell).astype(np.int64)
        row = np.floor((grid.north - corners[:, 1]) / grid.cell).astype(np.int64)
        on_grid = (row >= 0) & (row < grid.rows) & (column >= 0) & (column < grid.columns)
        cells = (row * grid.columns + column)[on_grid]
        if cells.size:
            found.append(cells[np.r_[True, np.diff(cells) != 0]].astype(np.int32))
    return found


def outline_of(grid: Grid, mask: BoolArray, north: int = 0, west: int = 0) -> Polygon | MultiPolygon:
    """Outline of the marked cells, along their sides.

    Parameters
    ----------
    grid : Grid
    mask : (rows, columns) bool array
        A window of the grid; at least one cell is marked.
    north, west : int
        Row and column of the window's first cell on the grid.

    Examples
    --------
    >>> grid = Grid(0.0, 3.0, 1.0, 3, 3, "LOCAL")
    >>> outline_of(grid, np.array([[True, True]])).bounds
    (0.0, 2.0, 2.0, 3.0)
    """
    framed = np.zeros((mask.shape[0] + 2, mask.shape[1] + 2), dtype=np.bool_)
    framed[1:-1, 1:-1] = mask
    corners, starts = _rings(framed)
    x = grid.west + (corners[:, 1] + west - 1) * grid.cell
    y = grid.north - (corners[:, 0] + north - 1) * grid.cell
    places = np.column_stack((x, y))
    rings = [simple for start, end in pairwise(starts.tolist()) for simple in _simple_rings(places[start:end])]
    if len(rings) == 1:
        return Polygon(rings[0])
    shells = [ring for ring in rings if _is_clockwise(ring)]
    holes = [ring for ring in rings if not _is_clockwise(ring)]
    if len(shells) == 1:
        return Polygon(shells[0], holes)
    parts = [Polygon(shell) for shell in shells]
    owned: list[list[FloatArray]] = [[] for _ in parts]
    for hole in holes:
        corner = hole[np.lexsort((hole[:, 0], -hole[:, 1]))[0]]
        within = shapely.contains_xy(parts, corner[0] + grid.cell / 2.0, corner[1] - grid.cell / 2.0)
        owned[int(np.argmin(np.where(within, shapely.area(parts), np.inf)))].append(hole)
    return MultiPolygon([Polygon(shell, its) for shell, its in zip(shells, owned, strict=True)])


def _simple_rings(ring: FloatArray) -> list[FloatArray]:
    """Part a ring where it touches itself."""
    simple = []
    path: list[tuple[float, float]] = []
    seen: dict[tuple[float, float], int] = {}
    for x, y in ring.tolist():
        if (x, y) in seen:
            start = seen[x, y]
            simple.append(np.array([*path[start:], (x, y)]))
            for corner in path[start:]:
                del seen[corner]
            del path[start:]
        seen[x, y] = len(path)
        path.append((x, y))
    return simple


def _is_clockwise(ring: FloatArray) -> bool:
    x, y = ring[:, 0] - ring[0, 0], ring[:, 1] - ring[0, 1]
    return bool(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) < 0.0)


@kernel
def _rings(mask: BoolArray) -> tuple[LongArray, LongArray]:
    """Follow every border of the marked cells, marked cells to the right; corners where the direction turns.

    Cells that touch at a corner only are kept apart. The mask has an empty frame one cell wide.
    """
    rows, columns = mask.shape
    done = np.zeros((rows, columns), dtype=np.bool_)
    marked = np.count_nonzero(mask)
    # A cell has four corners, and each ring closes with one more.
    corners = np.empty((5 * marked, 2), dtype=np.int64)
    starts = np.zeros(marked + 1, dtype=np.int64)
    count = 0
    rings = 0
    downs = np.array([0, 1, 0, -1])
    rights = np.array([1, 0, -1, 0])
    for first_row in range(1, rows - 1):
        for first_column in range(1, columns - 1):
            if not mask[first_row, first_column] or mask[first_row - 1, first_column]:
                continue
            if done[first_row, first_column]:
                continue
            row = first_row
            column = first_column
            towards = 0
            while True:
                if towards == 0:
                    done[row, column] = True
                # The corner at the end of the side just walked.
                row_end = row + (1 if towards in (1, 2) else 0)
                column_end = column + (1 if towards in (0, 1) else 0)
                ahead_row = row + downs[towards]
                ahead_column = column + rights[towards]
                left = (towards + 3) % 4
                if not mask[ahead_row, ahead_column]:
                    turned = (towards + 1) % 4
                elif mask[ahead_row + downs[left], ahead_column + rights[left]]:
                    row = ahead_row + downs[left]
                    column = ahead_column + rights[left]
                    turned = left
                else:
                    row = ahead_row
                    column = ahead_column
                    turned = towards
                if turned != towards:
                    corners[count, 0] = row_end
                    corners[count, 1] = column_end
                    count += 1
                towards = turned
                if row == first_row and column == first_column and towards == 0:
                    break
            corners[count, 0] = corners[starts[rings], 0]
            corners[count, 1] = corners[starts[rings], 1]
            count += 1
            rings += 1
            starts[rings] = count
    return corners[:count].copy(), starts[: rings + 1].copy()
