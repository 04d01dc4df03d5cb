"""What one row takes of the sun around it, by the sun engine on level ground."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.losses import Window, losses
from sitepipe.sunlight.prisms import Shape, prisms_of
from sitepipe.sunlight.tables import sun_tables

REACH = 6.0
"""Heights of the row around it in which its shade is counted; beyond, it falls in the first and last hour. [1]"""

HALF_THROUGH = 0.25
"""Half of what a row of leaves is through. Common practice, no source. [m]"""


@dataclass(frozen=True, slots=True)
class RowShade:
    """The shade of a row, seen from its middle.

    Parameters
    ----------
    lost : (12, rows, columns) float array
        Hours of direct sun lost on a mean day of each month; the middle cell is the row's middle. [h/day]
    cell : float
        [m]
    bearing : float
        [deg]
    """

    lost: FloatArray
    cell: float
    bearing: float

    @property
    def half(self) -> int:
        """Cells from the middle to the edge."""
        return int(self.lost.shape[1] - 1) // 2


def row_shade(site: Site, length: float, height: float, bearing: float, cell: float, settings: Settings) -> RowShade:
    """Stand a row on level ground, ask the sun engine what it takes, and keep it for every place.

    The row is opaque but for ``trellis.let_through``.
    """
    half = int(np.ceil((length / 2.0 + REACH * height) / cell))
    size = 2 * half + 1
    grid = Grid(-size * cell / 2.0, size * cell / 2.0, cell, size, size, site.grid.crs)
    row = row_line(0.0, 0.0, bearing, length).buffer(HALF_THROUGH, cap_style="flat")
    heights = np.asarray(site.elevation[np.isfinite(site.elevation)])
    level = float(np.median(heights)) if heights.size else 0.0
    tables = sun_tables(site.latitude, site.longitude, level, settings.season, settings.sun)
    window = Window(slice(0, size), slice(0, size))
    flat, bare = np.zeros((size, size)), np.zeros((size, size), dtype=np.float32)
    found = losses(flat, bare, prisms_of([Shape(row, height)], grid), cell, window, tables)
    lost = np.moveaxis(found.lost[..., :12].astype(np.float64), 2, 0).copy() * (1.0 - settings.trellis.let_through)
    lost[:, shapely.contains_xy(row, *np.meshgrid(grid.x, grid.y))] = 0.0
    return RowShade(lost, cell, bearing)


def row_cells(half: int, length: float, bearing: float, cell: float) -> BoolArray:
    """Cells of a row through the middle of a square of cells."""
    size = 2 * half + 1
    mask = np.zeros((size, size), dtype=np.bool_)
    steps = max(int(np.ceil(length / cell * 4.0)), 1)
    along = (np.arange(steps + 1) / steps - 0.5) * length / cell
    rows = np.floor(half - along * np.cos(np.radians(bearing)) + 0.5).astype(np.int64)
    columns = np.floor(half + along * np.sin(np.radians(bearing)) + 0.5).astype(np.int64)
    mask[rows, columns] = True
    return mask


def bed_hours_of(shade: RowShade, beds: FloatArray, row: int, column: int) -> FloatArray:
    """Bed-hours that a row with its middle in a cell takes, month by month. [m2 h/day].

    Parameters
    ----------
    beds : (rows, columns) float array
        Square metres of bed in each cell, on cells of ``shade.cell``. [m2]
    row, column : int

    Returns
    -------
    (12,) float array
    """
    half = shade.half
    top, left = row - half, column - half
    rows = slice(max(top, 0), min(row + half + 1, beds.shape[0]))
    columns = slice(max(left, 0), min(column + half + 1, beds.shape[1]))
    part = shade.lost[:, rows.start - top : rows.stop - top, columns.start - left : columns.stop - left]
    return np.asarray((part * beds[rows, columns]).sum(axis=(1, 2)))


def bed_hours_everywhere(lost: FloatArray, beds: FloatArray) -> FloatArray:
    """Bed-hours that a row takes, for its middle in every cell at once. [m2 h/day].

    The same sum as ``bed_hours_of`` for one kind of day, as a correlation by fast Fourier transform.
    """
    # scipy.signal would do it in one call, and takes a second to import.
    from scipy.fft import irfft2, next_fast_len, rfft2

    rows, columns = (a + b - 1 for a, b in zip(beds.shape, lost.shape, strict=True))
    size = next_fast_len(rows, real=True), next_fast_len(columns, real=True)
    whole = irfft2(rfft2(beds, size) * rfft2(lost[::-1, ::-1], size), size)
    top, left = ((length - 1) // 2 for length in lost.shape)
    return np.maximum(whole[top : top + beds.shape[0], left : left + beds.shape[1]], 0.0)


def clear_distance(shade: RowShade, open_hours: float, month: int, share: float = 0.25) -> float:
    """How far from a row the ground keeps all but a share of the month's sun, square to its middle. [m].

    The farther of its two sides speaks.
    """
    half, cell = shade.half, shade.cell
    sine, cosine = np.sin(np.radians(shade.bearing + 90.0)), np.cos(np.radians(shade.bearing + 90.0))
    far = 0.0
    for side in (1.0, -1.0):
        for step in range(1, half + 1):
            row, column = round(half - side * step * cosine), round(half + side * step * sine)
            if shade.lost[month - 1, row, column] > share * open_hours:
                far = max(far, step * cell)
    return far + cell / 2.0


def row_line(x: float, y: float, bearing: float, length: float) -> LineString:
    """Return a row around its middle. [m].

    Examples
    --------
    >>> row_line(0.0, 0.0, 90.0, 4.0).bounds
    (-2.0, 0.0, 2.0, 0.0)
    """
    east, north = (
        round(float(np.sin(np.radians(bearing))) * length / 2.0, 9),
        round(float(np.cos(np.radians(bearing))) * length / 2.0, 9),
    )
    return LineString([(x - east, y - north), (x + east, y + north)])
