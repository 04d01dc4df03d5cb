"""A surface through points: the thin plate, bent least, whose stiffness is cut along break lines."""

from __future__ import annotations

from contextlib import AbstractContextManager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, LongArray

if TYPE_CHECKING:
    from scipy.sparse import csr_array
    from scipy.sparse.linalg import SuperLU

STIFFNESSES = tuple(10.0**power for power in np.arange(2.0, 8.1, 0.75))
"""Stiffnesses tried: ground that bends freely to ground that is a plane. [1/m2 of curvature noise]"""
SLACK = 1e-5
"""Share of the stiffness that holds pieces together which no point and no plate holds."""
MOST_TRIAL_CELLS = 1_200
"""The stiffness and the error are found on a mesh of about so many cells."""
MOST_CELLS = 60_000


@dataclass(frozen=True, slots=True)
class Mesh:
    """Square cells on which the plate is bent.

    Parameters
    ----------
    west, north, cell : float
        [m]
    active : (rows, columns) bool array
        Cells that take part.
    is_crease : (rows, columns) bool array
        Cells in which the slope may break while the height does not.
    cut_east : (rows, columns - 1) bool array
        Whether the height may jump between a cell and its eastern neighbour.
    cut_south : (rows - 1, columns) bool array
        The same for its southern neighbour.
    """

    west: float
    north: float
    cell: float
    active: BoolArray
    is_crease: BoolArray
    cut_east: BoolArray
    cut_south: BoolArray

    @property
    def numbers(self) -> LongArray:
        """Number of each active cell from 0, -1 elsewhere."""
        numbers = np.full(self.active.shape, -1, dtype=np.int64)
        numbers[self.active] = np.arange(int(self.active.sum()))
        return numbers


@dataclass(frozen=True, slots=True)
class Fit:
    """A stiffness that suits the points, and how well each point is foretold by the others.

    Parameters
    ----------
    stiffness : float
    scale : float
        By which the stated errors had to be multiplied, at least 1.
    left_out : (points,) float array
        What each point misses the surface through all the others by. [m]
    expected : (points,) float array
        Standard deviation of that: more at a corner than among neighbours. [m]
    """

    stiffness: float
    scale: float
    left_out: FloatArray
    expected: FloatArray

    @property
    def error(self) -> float:
        """Root mean square of what the points miss by: the cross-validated error. [m]."""
        return float(np.sqrt(np.mean(self.left_out**2)))


def one_thread() -> AbstractContextManager[Any]:
    """Hold the linear algebra to one thread: its blocks are small, and two threads take ten times as long over them."""
    from threadpoolctl import threadpool_limits

    limits: AbstractContextManager[Any] = threadpool_limits(1, user_api="blas")
    return limits


def fit_stiffness(mesh: Mesh, x: FloatArray, y: FloatArray, height: FloatArray, error: FloatArray) -> Fit:
    """Choose the stiffness under which the points foretell one another best.

    Each point is left out in turn (in closed form); the stiffness of the highest predictive likelihood wins,
    with the scale of the errors at its best value for each.

    Parameters
    ----------
    x, y, height, error : (points,) float array
        Error is the standard deviation of a height. [m]

    References
    ----------
    Wahba (1990), Spline models for observational data, SIAM, section 4: leaving one out in closed form;
    from memory.
    """
    best: tuple[float, Fit] | None = None
    places = _weights(mesh, x, y)
    rows = places.toarray()
    for stiffness in STIFFNESSES:
        solver = _factor(mesh, places, error, stiffness)
        surface = solver.solve(places.T @ (height / error**2))
        influence = np.einsum("ij,ji->i", rows, solver.solve(rows.T)) / error**2
        free = np.maximum(1.0 - influence, 1e-9)
        left_out = (height - places @ surface) / free
        variance = error**2 / free
        scale = max(float(np.mean(left_out**2 / variance)), 1.0)
        cost = float(np.sum(np.log(variance * scale)) + np.sum(left_out**2 / (variance * scale)))
        if best is None or cost < best[0] - 1e-9:
            best = cost, Fit(stiffness, float(np.sqrt(scale)), left_out, np.sqrt(variance * scale))
    if best is None:
        raise ValueError("no stiffness was tried")
    return best[1]


def plate_surface(
    mesh: Mesh, x: FloatArray, y: FloatArray, height: FloatArray, error: FloatArray, stiffness: float
) -> FloatArray:
    """Heights of the least bent plate through points.

    The sum of squared second differences is least, as in the thin-plate spline, together with the squared misses
    at the points. Planes cost nothing and are found exactly. Along a crease the second differences are left
    out, across a cut everything is, so that each side follows its own points.

    Parameters
    ----------
    mesh : Mesh
    x, y, height, error : (points,) float array
        [m]
    stiffness : float
        Of ``fit_stiffness``.

    Returns
    -------
    (rows, columns) float array
        NaN where the mesh is not active. [m]

    References
    ----------
    Briggs (1974), Machine contouring using minimum curvature, Geophysics 39:39-48. Terzopoulos (1988), The computation
    of visible-surface representations, IEEE PAMI 10:417-438, for the cuts. Both from memory.
    """
    places = _weights(mesh, x, y)
    solver = _factor(mesh, places, error, stiffness)
    middle = float(np.mean(height))
    surface = np.full(mesh.active.shape, np.nan)
    surface[mesh.active] = middle + solver.solve(places.T @ ((height - middle) / error**2))
    return surface


def plate_error(
    mesh: Mesh, x: FloatArray, y: FloatArray, error: FloatArray, stiffness: float, scale: float
) -> FloatArray:
    """Return the standard deviation of the plate's height at every active cell, from the inverse's diagonal. [m]."""
    solver = _factor(mesh, _weights(mesh, x, y), error, stiffness)
    variance = np.diagonal(solver.solve(np.eye(int(mesh.active.sum()))))
    deviation = np.full(mesh.active.shape, np.nan)
    deviation[mesh.active] = scale * np.sqrt(np.maximum(variance, 0.0))
    return deviation


def _factor(mesh: Mesh, places: csr_array, error: FloatArray, stiffness: float) -> SuperLU:
    from scipy.sparse import csc_array, diags_array
    from scipy.sparse.linalg import splu

    bending = _bending(mesh)
    system = csc_array(stiffness * (bending.T @ bending) + places.T @ diags_array(1.0 / error**2) @ places)
    return splu(system, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})


def _weights(mesh: Mesh, x: FloatArray, y: FloatArray) -> csr_array:
    """Rows that read the plate at places: the nearest cell and its slope towards the place, never across a cut."""
    from scipy.sparse import csr_array

    numbers = mesh.numbers
    rows, columns = mesh.active.shape
    across = (x - mesh.west) / mesh.cell - 0.5
    down = (mesh.north - y) / mesh.cell - 0.5
    entries: list[tuple[int, int, float]] = []
    for place in range(x.size):
        row = int(np.clip(round(float(down[place])), 0, rows - 1))
        column = int(np.clip(round(float(across[place])), 0, columns - 1))
        weight = {(row, column): 1.0}
        for step, is_east in ((float(across[place]) - column, True), (float(down[place]) - row, False)):
            far = _neighbour(mesh, row, column, 1 if step >= 0.0 else -1, is_east)
            side = 1.0 if step >= 0.0 else -1.0
            if far is None:
                far = _neighbour(mesh, row, column, -1 if step >= 0.0 else 1, is_east)
                side = -side
            if far is not None:
                weight[far] = weight.get(far, 0.0) + side * step
                weight[row, column] -= side * step
        entries.extend((place, int(numbers[at]), share) for at, share in weight.items())
    place_of, cell_of, share_of = zip(*entries, strict=True)
    return csr_array((share_of, (place_of, cell_of)), shape=(x.size, int(mesh.active.sum())))


def _neighbour(mesh: Mesh, row: int, column: int, step: int, is_east: bool) -> tuple[int, int] | None:
    rows, columns = mesh.active.shape
    other = (row, column + step) if is_east else (row + step, column)
    if not (0 <= other[0] < rows and 0 <= other[1] < columns and mesh.active[other]):
        return None
    if is_east and mesh.cut_east[row, min(column, other[1])]:
        return None
    if not is_east and mesh.cut_south[min(row, other[0]), column]:
        return None
    return other


def _bending(mesh: Mesh) -> csr_array:
    """Rows of second differences, and far weaker ones of first differences that hold loose pieces."""
    from scipy.sparse import csr_array

    numbers, active, crease = mesh.numbers, mesh.active, mesh.is_crease
    east = active[:, :-1] & active[:, 1:]
    south = active[:-1] & active[1:]
    whole_east, whole_south = east & ~mesh.cut_east, south & ~mesh.cut_south
    terms: list[tuple[LongArray, tuple[float, ...]]] = []
    along = whole_east[:, :-1] & whole_east[:, 1:] & ~crease[:, 1:-1]
    terms.append((_stacked(along, numbers[:, :-2], numbers[:, 1:-1], numbers[:, 2:]), (1.0, -2.0, 1.0)))
    below = whole_south[:-1] & whole_south[1:] & ~crease[1:-1]
    terms.append((_stacked(below, numbers[:-2], numbers[1:-1], numbers[2:]), (1.0, -2.0, 1.0)))
    turned = whole_east[:-1] & whole_east[1:] & whole_south[:, :-1] & whole_south[:, 1:]
    turned &= ~(crease[:-1, :-1] | crease[:-1, 1:] | crease[1:, :-1] | crease[1:, 1:])
    two = float(np.sqrt(2.0))
    corners = _stacked(turned, numbers[:-1, :-1], numbers[:-1, 1:], numbers[1:, :-1], numbers[1:, 1:])
    terms.append((corners, (two, -two, -two, two)))
    terms.append((_stacked(east, numbers[:, :-1], numbers[:, 1:]), (SLACK, -SLACK)))
    terms.append((_stacked(south, numbers[:-1], numbers[1:]), (SLACK, -SLACK)))
    row_of, cell_of, share_of = [], [], []
    first = 0
    for cells, shares in terms:
        for place, share in enumerate(shares):
            row_of.append(first + np.arange(cells.shape[1]))
            cell_of.append(cells[place])
            share_of.append(np.full(cells.shape[1], share / mesh.cell))
        first += cells.shape[1]
    return csr_array(
        (np.concatenate(share_of), (np.concatenate(row_of), np.concatenate(cell_of))),
        shape=(first, int(active.sum())),
    )


def _stacked(chosen: BoolArray, *cells: LongArray) -> LongArray:
    return np.stack([one[chosen] for one in cells])
