"""The search for places of a rectangle: layers in one window, every direction tried, the best of each small square."""

from __future__ import annotations

from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np
from shapely import Point, Polygon

from sitepipe.arrays import BoolArray, FloatArray, LongArray
from sitepipe.works.houses.footprints import Lattice, Wishes, try_every_place, turned_sums

MOST_PLACES = 1_200_000
"""Lattice points per direction; a larger parcel is searched in coarser steps."""
STEPS_ACROSS = 6
"""Least lattice points over the width of a house, so that coarse cells do not blunt the search."""
LEAST_BIN = 1.0
"""Of all places whose middle falls into one square of this side only the best is kept. [m]"""


@dataclass(frozen=True, slots=True)
class SearchGround:
    """The window that is searched.

    Parameters
    ----------
    west, north, cell : float
        Outer north-west corner and cell. [m]
    layers : (rows, columns, SOFT + n) float array
        As ``turned_sums`` wants them.
    access : (rows, columns) float array
        What the way to a cell multiplies a score by; 0 where no middle may lie. [1]
    wishes : Wishes
    rooms : (least, middle, better)
        Room on each side. [m]
    """

    west: float
    north: float
    cell: float
    layers: FloatArray
    access: FloatArray
    wishes: Wishes
    rooms: tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Place:
    """One place of a rectangle: its middle, its ridge's bearing, and the product of its criteria."""

    x: float
    y: float
    bearing: float
    length: float
    width: float
    product: float

    @property
    def outline(self) -> Polygon:
        """The rectangle on the ground. [m]."""
        return rectangle(self.x, self.y, self.bearing, self.length, self.width)

    @property
    def ends(self) -> tuple[Point, Point]:
        """The middles of its two short sides. [m]."""
        east = self.length / 2.0 * np.sin(np.radians(self.bearing))
        north = self.length / 2.0 * np.cos(np.radians(self.bearing))
        return Point(self.x + east, self.y + north), Point(self.x - east, self.y - north)


def rectangle(x: float, y: float, bearing: float, length: float, width: float) -> Polygon:
    """Return a rectangle around its middle, its long side to a bearing.

    Examples
    --------
    >>> rectangle(0.0, 0.0, 90.0, 4.0, 2.0).bounds
    (-2.0, -1.0, 2.0, 1.0)
    """
    sine, cosine = np.sin(np.radians(bearing)), np.cos(np.radians(bearing))
    corners = [(0.5, 0.5), (0.5, -0.5), (-0.5, -0.5), (-0.5, 0.5)]
    return Polygon(
        [
            (
                round(float(x + a * length * sine + b * width * cosine), 9),
                round(float(y + a * length * cosine - b * width * sine), 9),
            )
            for a, b in corners
        ]
    )


def stack_layers(soft: Sequence[FloatArray], elevation: FloatArray, banned: BoolArray, solid: BoolArray) -> FloatArray:
    """Put the layers in the order of ``turned_sums``; unknown heights are banned, the rest count from their mean."""
    known = np.isfinite(elevation)
    middle = float(elevation[known].mean()) if known.any() else 0.0
    height = np.where(known, elevation - middle, 0.0)
    return np.stack([height, banned | ~known, solid, *map(np.nan_to_num, soft)], axis=-1)


def search(
    ground: SearchGround, size: tuple[float, float], bearings: tuple[tuple[float, float], ...]
) -> tuple[FloatArray, FloatArray]:
    """Try every place in every direction.

    Parameters
    ----------
    size : (length, width)
        [m]
    bearings : tuple of (bearing deg, what it multiplies a score by)

    Returns
    -------
    allowed, hoped : (n, 6) float array
        The best of each bin, best first: product, bearing [deg], x, y, length, width [m], see ``place_of``;
        ``hoped`` are places that sun, access and direction alone would choose.
    """
    step = step_of(ground, size)
    rows, columns = ground.access.shape
    bin_side = max(LEAST_BIN, step)
    shape = (int(rows * ground.cell / bin_side) + 1, int(columns * ground.cell / bin_side) + 1, 4)
    halves = (range(0, len(bearings), 2), range(1, len(bearings), 2))
    with ThreadPoolExecutor(2) as pool:
        parts = list(pool.map(lambda half: _search_some(ground, size, bearings, half, step, shape), halves))
    best, hoped = (_better(parts[0][which], parts[1][which]) for which in (0, 1))
    return _candidates(best, ground, size, bearings), _candidates(hoped, ground, size, bearings)


def step_of(ground: SearchGround, size: tuple[float, float]) -> float:
    """Step between lattice points: a cell, finer for coarse cells, coarser for a very large window. [m]."""
    rows, columns = ground.access.shape
    area = rows * columns * ground.cell**2
    return float(max(min(ground.cell, size[1] / STEPS_ACROSS), np.sqrt(area / MOST_PLACES)))


def lattice_box(size: tuple[float, float], step: float) -> LongArray:
    """Lattice points along and across a rectangle, at least two each way."""
    return np.array([max(round(size[0] / step), 2), max(round(size[1] / step), 2)], np.int64)


def _search_some(
    ground: SearchGround,
    size: tuple[float, float],
    bearings: tuple[tuple[float, float], ...],
    numbers: range,
    step: float,
    shape: tuple[int, int, int],
) -> tuple[FloatArray, FloatArray]:
    rows, columns = ground.access.shape
    wide, high = columns * ground.cell, rows * ground.cell
    rooms = np.array([round(room / step) for room in ground.rooms], np.int64)
    best, hoped = np.zeros(shape), np.zeros(shape)
    longest = int(np.hypot(wide, high) / step) + 2
    space = np.empty(longest * longest * (ground.layers.shape[2] + 2))
    for number in numbers:
        bearing, membership = bearings[number]
        sine, cosine = abs(np.sin(np.radians(bearing))), abs(np.cos(np.radians(bearing)))
        along = int((wide * sine + high * cosine) / step) + 1
        across = int((wide * cosine + high * sine) / step) + 1
        lattice = Lattice(ground.cell, wide / 2.0, high / 2.0, bearing, step)
        try_every_place(
            turned_sums(ground.layers, lattice, along, across, space),
            ground.access,
            lattice,
            lattice_box(size, step),
            rooms,
            ground.wishes,
            np.array([membership, float(number)]),
            max(LEAST_BIN, step),
            best,
            hoped,
        )
    return best, hoped


def _better(one: FloatArray, other: FloatArray) -> FloatArray:
    """Merge two tables of bins; equal scores go to the lower direction number."""
    first = (one[..., 0] > other[..., 0]) | ((one[..., 0] == other[..., 0]) & (one[..., 1] <= other[..., 1]))
    return np.where(first[..., None], one, other)


def _candidates(
    bins: FloatArray, ground: SearchGround, size: tuple[float, float], bearings: tuple[tuple[float, float], ...]
) -> FloatArray:
    found = bins.reshape(-1, 4)
    found = found[found[:, 0] > 0.0]
    turned = np.array([bearing for bearing, _ in bearings])[found[:, 1].astype(np.int64)]
    sides = np.broadcast_to(np.array(size), (found.shape[0], 2))
    return best_first(
        np.column_stack([found[:, 0], turned, ground.west + found[:, 2], ground.north - found[:, 3], sides])
    )


def best_first(candidates: FloatArray) -> FloatArray:
    """Sort candidates by their product, then by place and bearing, so that equals have one order."""
    order = np.lexsort((candidates[:, 1], candidates[:, 2], -candidates[:, 3], -candidates[:, 0]))
    return candidates[order]


def place_of(candidate: FloatArray) -> Place:
    """Return the place that a row of candidates stands for."""
    product, bearing, x, y, length, width = (float(value) for value in candidate)
    return Place(x, y, bearing, length, width, product)
