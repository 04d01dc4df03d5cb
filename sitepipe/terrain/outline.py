"""Lines around patches of cells, smooth to the eye."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon

from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray
from sitepipe.grid import Grid

OUTSIDE = -1
"""Label of what lies off the grid."""

STRAIGHT = 0.1
"""A point nearer than this to the line between its neighbours is not needed. [cells]"""

SOFT = 1.5
"""Spread along the line that makes the steps of a slanting border vanish. [cells]"""


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
    return list(shapely.get_parts(merged))


def softened(line: LineString, cell: float, spread: float) -> LineString:
    """Return a line along the sides of cells without its steps.

    The middles of the sides are averaged along the line with binomial weights; straight stretches then lose the
    points that they do not need.

    Parameters
    ----------
    line : line
        From `border_lines`. Its ends stay where they are; a closed line has none. [m]
    cell : float
        [m]
    spread : float
        Standard deviation of the weights, along the line. [m]
    """
    sides = np.asarray(shapely.segmentize(line, cell * 1.001).coords)
    points = 0.5 * (sides[:-1] + sides[1:])
    is_closed = line.is_closed
    if not is_closed:
        points = np.vstack([sides[:1], points, sides[-1:]])
    # Weights of 1-2-1 over 4 have a variance of a half.
    points = _averaged_along(points, max(1, round(2.0 * (spread / cell) ** 2)), is_closed)
    if is_closed:
        points = np.vstack([points, points[:1]])
    return LineString(points).simplify(STRAIGHT * cell, preserve_topology=True)


def outlines(is_patch: BoolArray, grid: Grid) -> list[Polygon]:
    """Return a polygon for each patch of cells that touch along their sides, in reading order.

    Parameters
    ----------
    is_patch : (rows, columns) bool array
    grid : Grid

    Returns
    -------
    list of polygons
        With holes where there are; their steps are softened. [m]

    Examples
    --------
    >>> import numpy as np
    >>> grid = Grid(0.0, 20.0, 1.0, 20, 20, "LOCAL")
    >>> patch = np.zeros((20, 20), dtype=bool)
    >>> patch[5:15, 5:15] = True
    >>> [round(polygon.area) for polygon in outlines(patch, grid)]
    [95]
    """
    rows, columns = np.nonzero(is_patch.any(axis=1))[0], np.nonzero(is_patch.any(axis=0))[0]
    if rows.size == 0:
        return []
    # Only the box that holds them: on a farm each of a hundred hollows would be looked for on all of its ground.
    box = slice(int(rows[0]), int(rows[-1]) + 1), slice(int(columns[0]), int(columns[-1]) + 1)
    is_patch, grid = is_patch[box], grid.part(box)
    patches = patches_of(np.where(is_patch, 0, -1).astype(np.int32))
    lines = [softened(line, grid.cell, SOFT * grid.cell) for line in border_lines(patches, grid)]
    noded = shapely.union_all(lines)
    shapes: dict[int, Polygon] = {}
    for face in shapely.get_parts(shapely.polygonize(shapely.get_parts(noded))):
        inside = face.point_on_surface()
        row, column = grid.cell_at(inside.x, inside.y)
        patch = int(patches[row, column]) if grid.holds(row, column) else -1
        if patch >= 0 and (patch not in shapes or shapes[patch].area < face.area):
            shapes[patch] = face.normalize()
    for patch in set(range(int(patches.max()) + 1)) - shapes.keys():
        shapes[patch] = _along_sides(patches == patch, grid)
    return [shapes[patch] for patch in sorted(shapes)]


def _along_sides(is_patch: BoolArray, grid: Grid) -> Polygon:
    """Return the cells of one patch as they are: softening has lost it."""
    rows, columns = np.nonzero(is_patch)
    west, north = grid.west + grid.cell * columns, grid.north - grid.cell * rows
    return shapely.union_all(shapely.box(west, north - grid.cell, west + grid.cell, north)).normalize()


def polygons_of(geometry: shapely.Geometry) -> Polygon | MultiPolygon:
    """Return only what has an area: a cut along an edge leaves lines and points behind."""
    whole = [part for part in shapely.get_parts(geometry) if part.geom_type == "Polygon" and part.area > 0.0]
    return whole[0] if len(whole) == 1 else MultiPolygon(whole)


def _border_runs(padded: IntArray) -> FloatArray:
    """Return straight runs of cell sides between unlike labels, as ((column, row), (column, row)) of their ends."""
    is_above = padded[1:, 1:-1] != padded[:-1, 1:-1]
    is_before = padded[1:-1, 1:] != padded[1:-1, :-1]
    line, first, last = _runs(is_above, is_before)
    across = np.stack([first, line, last, line], axis=-1)
    line, first, last = _runs(np.ascontiguousarray(is_before.T), np.ascontiguousarray(is_above.T))
    down = np.stack([line, first, line, last], axis=-1)
    return np.concatenate([across, down]).reshape(-1, 2, 2).astype(np.float64)


def _runs(is_border: BoolArray, is_beside: BoolArray) -> tuple[LongArray, LongArray, LongArray]:
    """Return line, first and last corner of the runs of border sides along each row; a side across ends a run."""
    level = np.zeros((1, is_beside.shape[1]), dtype=np.bool_)
    is_crossed = np.concatenate([level, is_beside]) | np.concatenate([is_beside, level])
    begins, ends = is_border.copy(), is_border.copy()
    begins[:, 1:] &= ~is_border[:, :-1] | is_crossed[:, 1:-1]
    ends[:, :-1] &= ~is_border[:, 1:] | is_crossed[:, 1:-1]
    line, first = np.nonzero(begins)
    return line, first, np.nonzero(ends)[1] + 1


def patches_of(labels: IntArray) -> IntArray:
    """Return a number for each patch of equal labels that touch along cell sides; -1 where the label is below 0.

    Patches are numbered in the reading order of their first cells.

    Examples
    --------
    >>> import numpy as np
    >>> patches_of(np.array([[0, 0, 1], [1, -1, 1]], dtype=np.int32)).tolist()
    [[0, 0, 1], [2, -1, 1]]
    """
    from scipy.ndimage import label

    patches = np.zeros(labels.shape, dtype=np.int64)
    for value in np.unique(labels[labels >= 0]):
        found, _ = label(labels == value)
        patches += np.where(found > 0, found + patches.max(), 0)
    _, first, number = np.unique(patches[patches > 0], return_index=True, return_inverse=True)
    numbered = np.full(labels.shape, -1, dtype=np.int32)
    numbered[patches > 0] = np.argsort(np.argsort(first))[number]
    return numbered


def _averaged_along(points: FloatArray, times: int, is_closed: bool) -> FloatArray:
    """Average each point with its two neighbours by weights of 1-2-1; the ends of an open line stay."""
    for _ in range(times):
        ends = points[[-1]] if is_closed else points[[0]], points[[0]] if is_closed else points[[-1]]
        around = np.concatenate([ends[0], points, ends[1]])
        averaged = 0.25 * around[:-2] + 0.5 * points + 0.25 * around[2:]
        if not is_closed:
            averaged[[0, -1]] = points[[0, -1]]
        points = averaged
    return points
