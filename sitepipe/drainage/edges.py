"""The edge of the heights: what depends on water from beyond, and how much wider heights would settle it."""

from __future__ import annotations

import numpy as np
from shapely import Point

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.drainage.record import OpenEdge
from sitepipe.grid import Grid

LEAST_SHARE = 0.005
"""Parts of the parcel smaller than this are not worth a question."""


def edge_cells(known: BoolArray) -> BoolArray:
    """Mark the known cells at the edge of the raster or beside unknown ground.

    Examples
    --------
    >>> import numpy as np
    >>> edge_cells(np.ones((3, 3), dtype=bool)).astype(int).tolist()
    [[1, 1, 1], [1, 0, 1], [1, 1, 1]]
    """
    framed = np.zeros((known.shape[0] + 2, known.shape[1] + 2), dtype=np.bool_)
    framed[1:-1, 1:-1] = known
    inner = known.copy()
    for down in range(3):
        for right in range(3):
            inner &= framed[down : down + known.shape[0], right : right + known.shape[1]]
    return known & ~inner


@kernel
def depends_on(receiver: IntArray, order: IntArray, source: BoolArray) -> BoolArray:
    """Mark the source cells and everything that water from them passes.

    Parameters
    ----------
    receiver : (rows, columns) int32 array
    order : (cells,) int32 array
        From the outlets up.
    source : (rows, columns) bool array

    Returns
    -------
    (rows, columns) bool array

    Examples
    --------
    >>> import numpy as np
    >>> to = np.array([[1, 2, -1]], dtype=np.int32)
    >>> depends_on(to, np.array([2, 1, 0], dtype=np.int32), np.array([[False, True, False]])).tolist()
    [[False, True, True]]
    """
    to = receiver.ravel()
    marked = source.ravel().copy()
    for cell in order[::-1]:
        if marked[cell] and to[cell] >= 0:
            marked[to[cell]] = True
    return marked.reshape(receiver.shape)


@kernel
def longest_ways(receiver: IntArray, order: IntArray, cell_size: float) -> FloatArray:
    """Length of the longest way that water has come to each cell. [m]."""
    columns = receiver.shape[1]
    to = receiver.ravel()
    way = np.zeros(to.size)
    for cell in order[::-1]:
        below = to[cell]
        if below >= 0:
            is_straight = below // columns == cell // columns or below % columns == cell % columns
            step = cell_size if is_straight else cell_size * np.sqrt(2.0)
            way[below] = max(way[below], way[cell] + step)
    return way.reshape(receiver.shape)


def ask_about_edges(
    receiver: IntArray,
    order: IntArray,
    known: BoolArray,
    parcel: BoolArray,
    edge_dependent: BoolArray,
    grid: Grid,
) -> tuple[OpenEdge, ...]:
    """Say which side more water may come from, how much of the parcel it touches, and what would settle it.

    How much wider the heights should be is an estimate: the longest way that water takes here from a divide within
    the heights to where it leaves them is taken as the length of a slope of this country; the ground beyond an edge
    is taken to be such a slope, less what is seen of it.
    """
    share = float(edge_dependent[parcel].mean()) if parcel.any() else 0.0
    if share < LEAST_SHARE:
        return ()
    doors = feeds(receiver, order, parcel) & edge_cells(known)
    if not doors.any():
        return ()
    ways = longest_ways(receiver, order, grid.cell)
    whole = ways[~edge_dependent & known]
    typical = float(whole.max(initial=0.0))
    rows, columns = np.nonzero(doors)
    row, column = float(rows.mean()), float(columns.mean())
    nearest = int(np.argmin((rows - row) ** 2 + (columns - column) ** 2))
    place = grid.centre(int(rows[nearest]), int(columns[nearest]))
    to_parcel = _gap(place, parcel, grid)
    wider = max(typical, to_parcel, 10.0 * grid.cell)
    area = share * float(parcel.sum()) * grid.cell_area
    return (OpenEdge(_side(place, grid), area, wider, Point(place)),)


@kernel
def feeds(receiver: IntArray, order: IntArray, wanted: BoolArray) -> BoolArray:
    """Mark the wanted cells and every cell whose water passes one.

    Examples
    --------
    >>> import numpy as np
    >>> to = np.array([[1, 2, -1]], dtype=np.int32)
    >>> feeds(to, np.array([2, 1, 0], dtype=np.int32), np.array([[False, True, False]])).tolist()
    [[True, True, False]]
    """
    to = receiver.ravel()
    marked = wanted.ravel().copy()
    for cell in order:
        if to[cell] >= 0 and marked[to[cell]]:
            marked[cell] = True
    return marked.reshape(receiver.shape)


def _gap(place: tuple[float, float], parcel: BoolArray, grid: Grid) -> float:
    rows, columns = np.nonzero(parcel)
    return float(np.hypot(grid.x[columns] - place[0], grid.y[rows] - place[1]).min())


def _side(place: tuple[float, float], grid: Grid) -> float:
    """Return the direction of the nearest edge. [deg] from north."""
    west, south, east, north = grid.bounds
    gaps = {0.0: north - place[1], 90.0: east - place[0], 180.0: place[1] - south, 270.0: place[0] - west}
    return min(gaps, key=lambda side: gaps[side])
