"""Works as ground on whole numbers: only + - * / and the square root, so that every language rounds alike."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, IntArray
from sitepipe.drainage.heights import PER_METRE, UNKNOWN
from sitepipe.site import Site

RIDGE, LAYER, TRENCH, PAD = range(4)
"""A ridge with a straight crest, a layer that follows the ground, a trench with a level bed, a level floor."""
SHAPES = {"mound": RIDGE, "path": LAYER, "swale": TRENCH, "pad": PAD, "pile": LAYER}
"""What each kind of work that is tried does to the ground."""
STATION = 500
"""The ground along a work is read so often. [mm]"""
PER_MILLIMETRE = 10.0
"""Steps of height in a millimetre."""


@kernel
def work_row(
    heights: IntArray, cell: float, kind: int, x0: int, y0: int, x1: int, y1: int, rise: int, half: int, slope: float
) -> FloatArray:
    """Return one work as ``built_ground`` takes it, its crest, bed or floor laid on the ground below it.

    A crest runs straight over the line that fits the ground along it best; a trench has one bed, below its lower end;
    a floor lies over the mean of the ground that it covers.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where not known. [0.1 mm]
    cell : float
        [mm]
    kind : int
        One of the four above.
    x0, y0, x1, y1 : int
        Both ends, from the north-west corner of the cells to the east and to the south. [mm]
    rise : int
        Above the ground; of a trench below it. [0.1 mm]
    half : int
        Half the width of the level top, bed or floor. [mm]
    slope : float
        Of its sides, run per rise; 0 for upright ones.

    Returns
    -------
    (10,) float array
        kind, x0, y0, x1, y1, height of crest, bed or floor at both ends, half, slope, rise: whole but for the slope.

    Examples
    --------
    >>> ground = np.array([[100, 100, 100, 100]], dtype=np.int32)
    >>> work_row(ground, 1000.0, RIDGE, 500, 500, 3500, 500, 5000, 300, 1.5)[5:7].tolist()
    [5100.0, 5100.0]
    """
    rows, columns = heights.shape
    dx, dy = x1 - x0, y1 - y0
    count = max(int(np.ceil(np.sqrt(dx * dx + dy * dy) / STATION)), 1)
    known = 0
    shares, squares, total, moment = 0.0, 0.0, 0.0, 0.0
    for k in range(count + 1):
        share = k / count
        row = int(np.floor((y0 + share * dy) / cell))
        column = int(np.floor((x0 + share * dx) / cell))
        if 0 <= row < rows and 0 <= column < columns and heights[row, column] != UNKNOWN:
            own = heights[row, column]
            known += 1
            shares += share
            squares += share * share
            total += own
            moment += share * own
    fall = 0.0
    start = total / max(known, 1)
    if known > 1:
        fall = (known * moment - shares * total) / (known * squares - shares * shares)
        start = (total - fall * shares) / known
    z0 = np.floor(start + 0.5)
    z1 = np.floor(start + fall + 0.5)
    if kind == TRENCH:
        z0 = min(z0, z1) - rise
        z1 = z0
    elif kind == PAD:
        z0 = _mean_under(heights, cell, x0, y0, x1, y1, half) + rise
        z1 = z0
    else:
        z0 += rise
        z1 += rise
    laid = np.empty(10, dtype=np.float64)
    laid[0], laid[1], laid[2], laid[3], laid[4] = kind, x0, y0, x1, y1
    laid[5], laid[6], laid[7], laid[8], laid[9] = z0, z1, half, slope, rise
    return laid


@kernel
def _mean_under(heights: IntArray, cell: float, x0: int, y0: int, x1: int, y1: int, half: int) -> float:
    """Mean of the known ground under a rectangle around a middle line, to a whole step; 0 where none is known."""
    rows, columns = heights.shape
    dx, dy = x1 - x0, y1 - y0
    long2 = float(dx * dx + dy * dy)
    known = 0
    total = 0.0
    for row in range(_first(min(y0, y1) - half, cell), min(_first(max(y0, y1) + half, cell) + 1, rows)):
        for column in range(_first(min(x0, x1) - half, cell), min(_first(max(x0, x1) + half, cell) + 1, columns)):
            x = (column + 0.5) * cell - x0
            y = (row + 0.5) * cell - y0
            along = x * dx + y * dy
            across = x * dy - y * dx
            is_under = 0.0 <= along <= long2 and across * across <= half * half * long2
            if is_under and heights[row, column] != UNKNOWN:
                known += 1
                total += heights[row, column]
    return float(np.floor(total / max(known, 1) + 0.5))


@kernel
def _first(place: float, cell: float) -> int:
    """Row or column that a place lies in, 0 if it lies before the first. [mm]."""
    return max(int(np.floor(place / cell)), 0)


@kernel
def built_ground(heights: IntArray, cell: float, works: FloatArray) -> IntArray:
    """Return the ground with works built into it; where two meet, the higher stands, and a trench is cut last drawn.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where not known, which stays so. [0.1 mm]
    cell : float
        [mm]
    works : (works, 10) float array
        Rows of ``work_row``.

    Returns
    -------
    (rows, columns) int32 array
        [0.1 mm]

    Examples
    --------
    A ridge of half a metre, 60 cm wide on top, with sides of one to one:

    >>> ridge = np.array([[RIDGE, 1000, 1500, 2000, 1500, 5000, 5000, 300, 1.0, 5000]])
    >>> built_ground(np.zeros((3, 3), dtype=np.int32), 1000.0, ridge)[1].tolist()
    [3000, 5000, 3000]
    """
    rows, columns = heights.shape
    built = heights.copy()
    for k in range(works.shape[0]):
        kind, x0, y0, x1, y1 = works[k, 0], works[k, 1], works[k, 2], works[k, 3], works[k, 4]
        z0, z1, half, slope, rise = works[k, 5], works[k, 6], works[k, 7], works[k, 8], works[k, 9]
        reach = half
        if slope > 0.0:
            reach = half + slope * rise / PER_MILLIMETRE + cell
        dx, dy = x1 - x0, y1 - y0
        long2 = dx * dx + dy * dy
        for row in range(_first(min(y0, y1) - reach, cell), min(_first(max(y0, y1) + reach, cell) + 1, rows)):
            y = (row + 0.5) * cell - y0
            for column in range(_first(min(x0, x1) - reach, cell), min(_first(max(x0, x1) + reach, cell) + 1, columns)):
                ground = heights[row, column]
                if ground == UNKNOWN:
                    continue
                x = (column + 0.5) * cell - x0
                beyond = 0.0
                if long2 > 0.0:
                    beyond = (x * dx + y * dy) / long2
                along = min(max(beyond, 0.0), 1.0)
                across = x - along * dx
                down = y - along * dy
                away = np.sqrt(across * across + down * down)
                if away > reach or (kind == PAD and along != beyond):
                    continue
                side = 0.0
                if slope > 0.0:
                    side = max(away - half, 0.0) * PER_MILLIMETRE / slope
                line = z0 + along * (z1 - z0)
                own = float(built[row, column])
                if kind == TRENCH:
                    own = min(own, np.floor(line + side + 0.5))
                elif kind == LAYER:
                    own = max(own, ground + np.floor(max(rise - side, 0.0) + 0.5))
                else:
                    own = max(own, np.floor(line - side + 0.5))
                built[row, column] = np.int32(own)
    return built


@dataclass(frozen=True, slots=True)
class WholeGround:
    """The ground that works are built into: whole heights above the lowest, places in whole mm.

    Places are counted from the parcel's south-west corner, so that what is said of them tells no place on earth.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        Above the lowest, so that sums stay small; ``UNKNOWN`` where not known. [0.1 mm]
    cell : float
        [mm]
    west, south : float
        The parcel's corner. [m]
    right, down : int
        The same corner from the north-west corner of the cells. [mm]
    """

    heights: IntArray
    cell: float
    west: float
    south: float
    right: int
    down: int

    @property
    def elevation(self) -> FloatArray:
        """Height above the lowest, NaN where unknown. [m]."""
        return np.where(self.heights == UNKNOWN, np.nan, self.heights / PER_METRE)

    def place(self, x: float, y: float) -> tuple[int, int]:
        """Return a place in mm east and north of the parcel's corner."""
        return round((x - self.west) * 1000.0), round((y - self.south) * 1000.0)

    def row(self, work: WholeWork) -> FloatArray:
        """Lay a work on this ground."""
        (x0, y0), (x1, y1) = work.start, work.end
        ends = (self.right + x0, self.down - y0, self.right + x1, self.down - y1)
        return work_row(self.heights, self.cell, work.kind, *ends, work.rise, work.half, work.slope)

    def fill_of(self, work: WholeWork) -> float:
        """Volume that a work takes. [m3]."""
        steps = int((self.with_works(self.row(work)[None]) - self.heights).sum(dtype=np.int64))
        return steps / PER_METRE * (self.cell / 1000.0) ** 2

    def with_works(self, works: FloatArray) -> IntArray:
        """Build rows of works into it."""
        return built_ground(self.heights, self.cell, works)


@dataclass(frozen=True, slots=True)
class WholeWork:
    """A straight piece of work: ends in mm from the parcel's corner, rise in 0.1 mm, half width in mm."""

    kind: int
    start: tuple[int, int]
    end: tuple[int, int]
    rise: int
    half: int
    slope: float = 0.0


def whole_ground(site: Site, heights: IntArray) -> WholeGround:
    """Take the ground of a site for works to be built into; ``heights`` are those of its routing. [0.1 mm]."""
    grid = site.grid
    west, south, _, _ = site.parcel.bounds
    known = heights != UNKNOWN
    lowest = int(heights[known].min()) if known.any() else 0
    above = np.where(known, heights - lowest, UNKNOWN).astype(np.int32)
    corner = (round((west - grid.west) * 1000.0), round((grid.north - south) * 1000.0))
    return WholeGround(above, grid.cell * 1000.0, west, south, *corner)


def whole_steps(metres: float) -> int:
    """Return a height or depth in whole steps. [m] to [0.1 mm]."""
    return round(metres * PER_METRE)
