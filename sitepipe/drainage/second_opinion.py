"""Drainage again by an independent library: the one place that knows it."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from functools import cache
from importlib import import_module
from importlib.metadata import version
from types import FunctionType
from typing import Any

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray, frozen
from sitepipe.drainage.descent import LEAVES, NOWHERE
from sitepipe.drainage.edges import edge_cells
from sitepipe.drainage.heights import PER_METRE
from sitepipe.drainage.record import Drainage
from sitepipe.drainage.routing import accumulated

TINY = 1e-9
"""What pysheds adds per cell so that flats drain; its default of 1e-5 left sinks that swallowed 38 % of a lawn. [m]"""

AROUND = ((-1, 0), (-1, 1), (0, 1), (1, 1), (1, 0), (1, -1), (0, -1), (-1, -1))
"""(down, right) from north, clockwise."""


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """What one library makes of the same heights.

    Parameters
    ----------
    library, release : str
    level_agrees : float
        Share of known cells whose filled height is the same to a tenth of a millimetre.
    receiver_agrees : float
        Share of known cells that drain to the same neighbour, or leave in both.
    as_steep, ours_steeper, theirs_steeper : float
        Shares of the known cells on which they differ though both ways are as steep (level or filled ground, and
        ties), on which ours is steeper, and on which theirs is. The four shares add up to 1.
    leaves : float
        Share of the cells whose water, by the library's directions, comes to the edge of the heights: 1 conserves.
    ours_leaves : float
        The same by ours.
    differs : (rows, columns) bool array
        Where the receivers differ.
    """

    library: str
    release: str
    level_agrees: float
    receiver_agrees: float
    as_steep: float
    ours_steeper: float
    theirs_steeper: float
    leaves: float
    ours_leaves: float
    differs: BoolArray

    @property
    def verdict(self) -> str:
        """Which of the two is right by conservation, in a sentence."""
        name = self.library
        if self.ours_leaves < 1.0:
            return f"Ours loses the water of {1.0 - self.ours_leaves:.1%} of the cells: a bug, please report it."
        if self.leaves < 1.0:
            return f"{name} loses the water of {1.0 - self.leaves:.1%} of the cells in inner sinks; ours loses none."
        if self.ours_steeper > self.theirs_steeper:
            return f"Both lose no water; {name} takes a less steep way on {self.ours_steeper:.1%} of the cells."
        return f"Both lose no water; they differ only where two ways are as steep ({self.as_steep:.1%} of the cells)."


def ask_library(drainage: Drainage) -> SecondOpinion:
    """Ask pysheds what it makes of the heights that were routed here."""
    ground = np.where(drainage.known, drainage.heights / PER_METRE, np.nan)
    return _compared("pysheds", drainage, *ask_pysheds(ground))


def _compared(library: str, drainage: Drainage, level: FloatArray, receiver: IntArray) -> SecondOpinion:
    known = drainage.known
    own_level = drainage.heights.astype(np.int64) + np.rint(np.nan_to_num(drainage.ponding_depth) * PER_METRE).astype(
        np.int64
    )
    edge = edge_cells(known)
    ours = np.where(edge & (drainage.receiver == LEAVES), LEAVES, drainage.receiver)
    differs = known & (ours != receiver)
    here = np.flatnonzero(differs).astype(np.int64)
    gain = _steepness(own_level, here, ours) - _steepness(own_level, here, receiver)
    cells = np.count_nonzero(known)
    return SecondOpinion(
        library=library,
        release=version(library),
        level_agrees=float(np.mean(np.rint(level[known] * PER_METRE) == own_level[known])),
        receiver_agrees=float(1.0 - differs[known].mean()),
        as_steep=float(np.count_nonzero(gain == 0.0) / cells),
        ours_steeper=float(np.count_nonzero(gain > 0.0) / cells),
        theirs_steeper=float(np.count_nonzero(gain < 0.0) / cells),
        leaves=_leaving(receiver, edge, known),
        ours_leaves=_leaving(ours, edge, known),
        differs=frozen(differs),
    )


def _steepness(level: LongArray, cells: LongArray, receiver: IntArray) -> FloatArray:
    """Drop per step on the way that each cell's water takes; 0 where it ends."""
    to = receiver.ravel()[cells]
    goes = np.maximum(to, 0)
    columns = level.shape[1]
    length = np.hypot(cells // columns - goes // columns, cells % columns - goes % columns)
    drop = (level.ravel()[cells] - level.ravel()[goes]) / np.maximum(length, 1.0)
    return np.asarray(np.where(to >= 0, drop, 0.0))


def _leaving(receiver: IntArray, edge: BoolArray, known: BoolArray) -> float:
    """Share of the known cells whose water comes to an end at the edge of the heights."""
    _, cells = accumulated(np.ascontiguousarray(receiver))
    ends = (receiver == LEAVES) & edge
    return float(cells[ends].sum(dtype=np.int64) / known.sum())


def pysheds_grid(ground: FloatArray) -> tuple[Any, Any]:
    """Make a pysheds grid and raster of heights; unknown cells are NaN, never a number.

    numpy 2.4 has no ``in1d`` any more, which pysheds 0.5 calls; ``isin`` does the same and is given that name.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        if not hasattr(np, "in1d"):
            setattr(np, "in1d", np.isin)  # noqa: B010 (numpy's types know that the name is gone)
        _import_pysheds()
        from affine import Affine
        from pysheds.sgrid import sGrid
        from pysheds.sview import Raster, ViewFinder

        frame = ViewFinder(affine=Affine(1.0, 0.0, 0.0, 0.0, -1.0, float(ground.shape[0])), shape=ground.shape,
                           nodata=np.float64(np.nan))  # fmt: skip
        raster = Raster(np.array(ground, dtype=np.float64), frame)
        return sGrid.from_raster(raster), raster


@cache
def _import_pysheds() -> None:
    """Import pysheds so that its kernels are compiled when they are called.

    It compiles all 170 of them as it is imported, for a minute, though a handful is asked for; and its flood does not
    compile once a part of it comes from numba's cache (numba 0.68 then does not know a generator).
    """
    import numba

    compiles: Any = numba.njit

    def compiles_when_called(*given: Any, **options: Any) -> Any:
        options.pop("cache", None)
        functions = [one for one in given if isinstance(one, FunctionType)]
        return compiles(*functions, **options)

    numba.njit = compiles_when_called
    try:
        import_module("pysheds.sgrid")
    finally:
        numba.njit = compiles


def ask_pysheds(ground: FloatArray) -> tuple[FloatArray, IntArray]:
    """Return the filled heights, and the neighbour that each cell's water is sent to; -1 where it ends, -2 unknown."""
    known = np.isfinite(ground)
    grid, raster = pysheds_grid(ground)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        flooded = grid.fill_depressions(raster)
        directions = np.asarray(grid.flowdir(grid.resolve_flats(flooded, eps=TINY), nodata_out=np.int64(0)))
    receiver = np.full(ground.shape, LEAVES, dtype=np.int32)
    row, column = np.indices(ground.shape)
    for code, (down, right) in zip((64, 128, 1, 2, 4, 8, 16, 32), AROUND, strict=True):
        goes = directions == code
        receiver[goes] = ((row + down) * ground.shape[1] + column + right)[goes]
    return np.asarray(flooded, dtype=np.float64), _tidied(receiver, known)


def _tidied(receiver: IntArray, known: BoolArray) -> IntArray:
    """Mark unknown cells, and end the water that is sent into them."""
    tidy = receiver.copy()
    inner = tidy >= 0
    tidy[inner] = np.where(known.ravel()[tidy[inner]], tidy[inner], LEAVES)
    tidy[~known] = NOWHERE
    return tidy
