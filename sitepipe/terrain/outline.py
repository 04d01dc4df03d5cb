"""Lines around patches of cells, smooth to the eye."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.grid import Grid

OUTSIDE = -1
"""Label of what lies off the grid."""

CORNER_CUTS = 2
"""How often corners are cut; each halves the angle that is left, two leave 22 degrees of a right angle. [1]"""


def border_lines(labels: IntArray, grid: Grid) -> list[LineString]:
    """Return the lines between cells of unlike labels, from junction to junction, along the cells' sides.

    Parameters
    ----------
    labels : (rows, columns) int32 array
        What each cell belongs to.
    grid : Grid

    Returns
    -------
    list of lines
        Closed where no third label touches; the grid's own edge is among them, except beside ``OUTSIDE``. [m]
    """
    corners = _border_runs(np.pad(labels, 1, constant_values=OUTSIDE).astype(np.int32))
    if corners.shape[0] == 0:
        return []
    runs = shapely.linestrings(
        np.stack([grid.west + grid.cell * corners[..., 0], grid.north - grid.cell * corners[..., 1]], axis=-1)
    )
    merged = shapely.line_merge(shapely.multilinestrings(runs))
    return [line for line in shapely.get_parts(merged) if line.length > 0.0]


def softened(line: LineString, tolerance: float) -> LineString:
    """Return the line without its steps: straightened within a tolerance, then its corners cut, by twice that at most.

    Ends stay where they are; a closed line has none. [m]
    """
    straight = line.simplify(tolerance, preserve_topology=True)
    points = np.asarray(straight.coords)
    is_closed = line.is_closed
    if is_closed and len(points) < 4:
        points = np.asarray(line.coords)
    for _ in range(CORNER_CUTS):
        if len(points) < 3:
            break
        first, second = points[:-1], points[1:]
        cut = np.empty((2 * len(first), 2))
        length = np.hypot(*(second - first).T)
        share = np.minimum(0.25, 2.0 * tolerance / np.maximum(length, tolerance))[:, None]
        cut[0::2] = (1.0 - share) * first + share * second
        cut[1::2] = share * first + (1.0 - share) * second
        points = np.vstack([cut, cut[:1]]) if is_closed else np.vstack([points[:1], cut[1:-1], points[-1:]])
    return LineString(points)


def outlines(is_patch: BoolArray, grid: Grid) -> list[Polygon]:
    """Return a polygon for each patch of cells that touch along their sides, from north-west to south-east.

    Parameters
    ----------
    is_patch : (rows, columns) bool array
    grid : Grid

    Returns
    -------
    list of polygons
        With holes where there are; their steps are softened within three quarters of a cell. [m]

    Examples
    --------
    >>> import numpy as np
    >>> grid = Grid(0.0, 20.0, 1.0, 20, 20, "LOCAL")
    >>> patch = np.zeros((20, 20), dtype=bool)
    >>> patch[5:15, 5:15] = True
    >>> [round(polygon.area) for polygon in outlines(patch, grid)]
    [92]
    """
    lines = [softened(line, 0.75 * grid.cell) for line in border_lines(is_patch.astype(np.int32) - 1, grid)]
    if not lines:
        return []
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.node(shapely.multilinestrings(lines)))))
    chosen = []
    for face in faces:
        inside = face.representative_point()
        row, column = grid.cell_at(inside.x, inside.y)
        if grid.holds(row, column) and is_patch[row, column]:
            chosen.append(face.normalize())
    return sorted(chosen, key=lambda face: (-face.bounds[3], face.bounds[0]))


def polygons_of(geometry: shapely.Geometry) -> Polygon | MultiPolygon:
    """Return only what has an area: a cut along an edge leaves lines and points behind."""
    whole = [part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon" and part.area > 0.0]
    return whole[0] if len(whole) == 1 else MultiPolygon(whole)


@kernel
def _border_runs(padded: IntArray) -> FloatArray:
    """Return straight runs of cell sides between unlike labels, as ((column, row), (column, row)) of their ends."""
    rows, columns = padded.shape
    across = 0
    for row in range(1, rows):
        for column in range(1, columns):
            across += padded[row, column] != padded[row - 1, column]
            across += padded[row, column] != padded[row, column - 1]
    runs = np.empty((across, 2, 2))
    count = 0
    for row in range(1, rows):
        start = -1
        for column in range(1, columns):
            is_border = padded[row, column] != padded[row - 1, column]
            is_crossed = (
                padded[row, column] != padded[row, column - 1] or padded[row - 1, column] != padded[row - 1, column - 1]
            )
            if start >= 0 and (not is_border or is_crossed):
                runs[count] = np.array([[start - 1.0, row - 1.0], [column - 1.0, row - 1.0]])
                count += 1
                start = -1
            if is_border and start < 0:
                start = column
        if start >= 0:
            runs[count] = np.array([[start - 1.0, row - 1.0], [columns - 1.0, row - 1.0]])
            count += 1
    for column in range(1, columns):
        start = -1
        for row in range(1, rows):
            is_border = padded[row, column] != padded[row, column - 1]
            is_crossed = (
                padded[row, column] != padded[row - 1, column] or padded[row, column - 1] != padded[row - 1, column - 1]
            )
            if start >= 0 and (not is_border or is_crossed):
                runs[count] = np.array([[column - 1.0, start - 1.0], [column - 1.0, row - 1.0]])
                count += 1
                start = -1
            if is_border and start < 0:
                start = row
        if start >= 0:
            runs[count] = np.array([[column - 1.0, start - 1.0], [column - 1.0, rows - 1.0]])
            count += 1
    return runs[:count]
