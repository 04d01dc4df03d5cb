"""What is drawn or planned, as upright prisms with level rims, and the exact edges that they show in one direction."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, IntArray, LongArray
from sitepipe.grid import Grid
from sitepipe.site import Foliage
from sitepipe.sunlight.rays import height_at
from sitepipe.sunlight.sweep import edge_bin
from sitepipe.sunlight.tables import BINS

FLAT, SLIGHT = 0.05, 0.1
"""Corners nearer to the line between their neighbours are left out. [m], [1] of about half the outline's thickness"""

ROUND = 0.99
"""Share of the circle around it that an outline fills to be taken for one. [1]"""

LEAST_TANGENT = 0.01
"""What stands lower over the horizon is left out. [1]"""

OPAQUE = -1
KINDS = {Foliage.OPAQUE: OPAQUE, Foliage.DECIDUOUS: 0, Foliage.EVERGREEN: 1}
"""The last two are places in the tables."""

SCALE = BINS - 1.0


@dataclass(frozen=True, slots=True)
class Prisms:
    """Convex pieces of all that stands, on one grid; places in metres east and north of its north-west corner.

    Parameters
    ----------
    corner : (corners, 2) float array
        Of all pieces, one after the other, counter-clockwise. [m]
    first : (pieces + 1,) int array
        First corner of each piece.
    top, base : (pieces,) float array
        Above the ground under the edge. [m]
    kind : (pieces,) int array
        ``OPAQUE``, or the foliage's place in the tables.
    round : (pieces, 3) float array
        Middle and radius of what is a circle; radius 0 of all else. [m]
    """

    corner: FloatArray
    first: LongArray
    top: FloatArray
    base: FloatArray
    kind: LongArray
    round: FloatArray

    def __add__(self, other: Prisms) -> Prisms:
        """Return the pieces of both."""
        return Prisms(
            np.concatenate([self.corner, other.corner]),
            np.concatenate([self.first, self.first[-1] + other.first[1:]]),
            np.concatenate([self.top, other.top]),
            np.concatenate([self.base, other.base]),
            np.concatenate([self.kind, other.kind]),
            np.concatenate([self.round, other.round]),
        )

    def toward(self, azimuth: FloatArray, lowest: FloatArray, relief: float) -> Sight:
        """Return the pieces as they lie across some directions.

        Parameters
        ----------
        azimuth : (directions,) float array
            [deg]
        lowest : (directions,) float array
            Tangent below which nothing counts. [1]
        relief : float
            Greatest height of the ground over a place. [m]
        """
        turn = np.radians(azimuth)
        way = np.stack([np.sin(turn), np.cos(turn)], axis=1)
        after = np.arange(self.corner.shape[0]) + 1
        after[self.first[1:] - 1] = self.first[:-1]
        side = self.corner[after] - self.corner
        normal = np.stack([side[:, 1], -side[:, 0]], axis=1)
        offset = (normal * self.corner).sum(axis=1)
        slant = _along(way, normal)
        with np.errstate(divide="ignore", invalid="ignore"):
            plane = np.stack([offset / slant, normal[:, 0] / slant, normal[:, 1] / slant, slant], axis=-1)
        across = _along(way[:, ::-1] * np.array([1.0, -1.0]), self.corner)
        along = _along(way, self.corner)
        starts = self.first[:-1]
        frame = np.stack(
            [
                np.minimum.reduceat(across, starts, axis=1),
                np.maximum.reduceat(across, starts, axis=1),
                np.minimum.reduceat(along, starts, axis=1),
                np.maximum.reduceat(along, starts, axis=1),
                (self.top + relief) / np.maximum(lowest, LEAST_TANGENT)[:, None],
            ],
            axis=-1,
        )
        about = np.column_stack([self.first[:-1], self.first[1:], self.top, self.base, self.kind, self.round])
        return way, frame, plane, about


Sight = tuple[FloatArray, FloatArray, FloatArray, FloatArray]
"""Directions east and north; of each piece in each least and most across and along, and reach; of each side where a
ray meets it (at 0 - 1 x - 2 y) and whether it leaves there; of each piece first side, end of sides, top, base, kind,
middle and radius."""


def beside(one: Sight, other: Sight) -> Sight:
    """Return the pieces of both in the same directions, as those of their sum are."""
    about = other[3].copy()
    about[:, :2] += one[2].shape[1]
    return one[0], np.hstack([one[1], other[1]]), np.hstack([one[2], other[2]]), np.vstack([one[3], about])


def _along(way: FloatArray, sides: FloatArray) -> FloatArray:
    """Return each side along each way, to the same last digit in whatever company it comes."""
    return way[:, :1] * sides[:, 0] + way[:, 1:] * sides[:, 1]


@dataclass(frozen=True, slots=True)
class Shape:
    """One thing that stands: outline, top and base above the ground under its edge, and how it meets the light. [m]."""

    outline: BaseGeometry
    top: float
    base: float = 0.0
    foliage: Foliage = Foliage.OPAQUE


def prisms_of(shapes: Iterable[Shape], grid: Grid) -> Prisms:
    """Cut shapes into convex pieces."""
    corner = np.array([grid.west, grid.north])
    found = [
        (shape, shapely.get_coordinates(shapely.orient_polygons(piece).exterior)[:-1] - corner, _round(piece, corner))
        for shape in shapes
        for piece in _convex(shape.outline)
    ]
    return Prisms(
        corner=np.concatenate([np.zeros((0, 2)), *(ring for _, ring, _ in found)]),
        first=np.concatenate([[0], np.cumsum([len(ring) for _, ring, _ in found])]).astype(np.int64),
        top=np.array([shape.top for shape, _, _ in found], dtype=np.float64),
        base=np.array([shape.base for shape, _, _ in found], dtype=np.float64),
        kind=np.array([KINDS[shape.foliage] for shape, _, _ in found], dtype=np.int64),
        round=np.array([circle for _, _, circle in found], dtype=np.float64).reshape(-1, 3),
    )


def _convex(outline: BaseGeometry) -> Iterator[Polygon]:
    """Yield convex pieces of an outline; a circle as it is."""
    for part in shapely.get_parts(outline):
        whole = shapely.simplify(part, min(FLAT, SLIGHT * part.area / max(part.length, 1e-9)))
        if whole.geom_type != "Polygon" or whole.area <= 0.0:
            continue
        if _is_round(part):
            yield part
        elif whole.convex_hull.area - whole.area < 1e-6 * whole.area:
            yield whole
        else:
            yield from shapely.get_parts(shapely.constrained_delaunay_triangles(whole))


def _is_round(part: Polygon) -> bool:
    return bool(part.area > ROUND * np.pi * shapely.minimum_bounding_radius(part) ** 2)


def _round(piece: Polygon, corner: FloatArray) -> tuple[float, float, float]:
    if not _is_round(piece):
        return 0.0, 0.0, 0.0
    return piece.centroid.x - corner[0], piece.centroid.y - corner[1], float(np.sqrt(piece.area / np.pi))


@kernel
def join(bands: IntArray, p: int, count: int, kind: int, lower: int, upper: int) -> int:
    """Lay a band of bins to those of its kind at a place, made one with all that it touches; return how many are then.

    Parameters
    ----------
    bands : (places, most, 3) int32 array
        Kind, lower and upper bin; written in place.
    """
    k = 0
    while k < count:
        if bands[p, k, 0] == kind and bands[p, k, 1] <= upper and lower <= bands[p, k, 2]:
            lower, upper = min(lower, bands[p, k, 1]), max(upper, bands[p, k, 2])
            count -= 1
            for part in range(3):
                bands[p, k, part] = bands[p, count, part]
            k = 0
        else:
            k += 1
    bands[p, count, 0], bands[p, count, 1], bands[p, count, 2] = kind, lower, upper
    return count + 1


@kernel
def add_piece(
    sight: Sight,
    a: int,
    piece: int,
    x: FloatArray,
    y: FloatArray,
    eye: FloatArray,
    ground: FloatArray,
    cell: float,
    hard: LongArray,
    bands: IntArray,
    counts: LongArray,
) -> None:
    """Add what places see of a piece in a direction: to their opaque edge, or to their bands of foliage.

    Inside an outline what is overhead is seen from its base to the zenith; inside what is opaque nothing else is.

    Parameters
    ----------
    sight : Sight
    a, piece : int
    x, y, eye : (places,) float array
        East and north of the grid's north-west corner, and height. [m]
    ground : (rows, columns) float array
        [m]
    cell : float
        [m]
    hard : (places,) int array
        Bin of the opaque edge; raised in place.
    bands : (places, most, 3) int32 array
    counts : (places,) int array
        Bands of each place; written in place.
    """
    ways, frame, plane, about = sight
    east, north = ways[a, 0], ways[a, 1]
    least, most, front, back, reach = frame[a, piece]
    first, end, kind = int(about[piece, 0]), int(about[piece, 1]), int(about[piece, 4])
    top, base, radius = about[piece, 2], about[piece, 3], about[piece, 7]
    aside = about[piece, 5] * north - about[piece, 6] * east
    ahead = about[piece, 5] * east + about[piece, 6] * north
    for p in range(x.size):
        across, along = x[p] * north - y[p] * east, x[p] * east + y[p] * north
        if across <= least or across >= most or along >= back or front - along > reach:
            continue
        near, far = -np.inf, np.inf
        if radius > 0.0:
            half = np.sqrt(max(radius * radius - (aside - across) ** 2, 0.0))
            near, far = ahead - along - half, ahead - along + half
        else:
            for k in range(first, end):
                meets = plane[a, k, 0] - plane[a, k, 1] * x[p] - plane[a, k, 2] * y[p]
                if plane[a, k, 3] > 0.0:
                    far = min(far, meets)
                elif plane[a, k, 3] < 0.0:
                    near = max(near, meets)
        if far <= max(near, 0.0) or near > reach:
            continue
        upper, lower = BINS - 1, 0
        if base > 0.0:
            foot = height_at(ground, -(y[p] + far * north) / cell - 0.5, (x[p] + far * east) / cell - 0.5) - eye[p]
            lower = edge_bin(foot + base, far, SCALE)
        if near > 0.0:
            foot = height_at(ground, -(y[p] + near * north) / cell - 0.5, (x[p] + near * east) / cell - 0.5) - eye[p]
            upper = edge_bin(foot + top, near, SCALE)
            lower = min(lower, edge_bin(foot + base, near, SCALE))
        if kind < 0:
            hard[p] = max(hard[p], upper)
        elif upper > lower:
            counts[p] = join(bands, p, counts[p], kind, lower, upper)
