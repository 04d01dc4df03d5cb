"""The parcel's boundary in stretches that a person can find, and in short pieces that outflows are told apart by."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely import LinearRing, Point

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, LongArray
from sitepipe.site import Site

STRETCH = 15.0
"""Longest stretch of boundary that is told apart. [m]"""
PIECE = 1.0
"""Length along the boundary to which outflows are told apart. [m]"""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A part of one side of the boundary: its middle, and the bearing that it looks to. [deg]."""

    middle: Point
    facing: float


@dataclass(frozen=True, slots=True)
class Boundary:
    """All rings of the boundary, cut into pieces that are numbered through.

    Parameters
    ----------
    first : (rings + 1,) int array
        First piece of each ring, and one beyond the last.
    stretch_at : (pieces,) int array
        Index of the stretch that a piece belongs to.
    """

    rings: tuple[LinearRing, ...]
    stretches: tuple[Stretch, ...]
    first: LongArray
    stretch_at: LongArray

    def pieces_at(self, x: FloatArray, y: FloatArray) -> LongArray:
        """Return the piece nearest to each place."""
        places, rings = shapely.points(x, y), np.array(self.rings)
        nearest = np.argmin(shapely.distance(rings[:, None], places[None, :]), axis=0)
        along = shapely.line_locate_point(rings[nearest], places)
        pieces = self.first[nearest] + (along / PIECE).astype(np.int64)
        return np.asarray(np.minimum(pieces, self.first[nearest + 1] - 1), np.int64)

    def middle_of(self, piece: int) -> Point:
        """Return the middle of a piece."""
        number = int(np.searchsorted(self.first, piece, side="right")) - 1
        ring = self.rings[number]
        return ring.interpolate(min((piece - int(self.first[number]) + 0.5) * PIECE, ring.length))

    def around(self, reach: int) -> LongArray:
        """Return, for each piece, the pieces within reach on its ring, as far as it is long enough; itself first.

        Returns
        -------
        (pieces, 2 reach + 1) int array
            A short ring repeats the piece itself.
        """
        return pieces_around(self.first, reach)


@kernel
def pieces_around(first: LongArray, reach: int) -> LongArray:
    """Pieces within reach of each piece on its ring: itself, those before it, those after it.

    Examples
    --------
    >>> pieces_around(np.array([0, 4]), 1).tolist()
    [[0, 3, 1], [1, 0, 2], [2, 1, 3], [3, 2, 0]]
    """
    found = np.empty((first[first.size - 1], 2 * reach + 1), dtype=np.int64)
    for ring in range(first.size - 1):
        start, count = first[ring], first[ring + 1] - first[ring]
        side = min(reach, (count - 1) // 2)
        for place in range(count):
            for k in range(2 * reach + 1):
                found[start + place, k] = start + place
            for k in range(1, side + 1):
                found[start + place, k] = start + (place + count - side + k - 1) % count
                found[start + place, side + k] = start + (place + k) % count
    return found


def split_boundary(site: Site) -> Boundary:
    """Cut the boundary at its corners, and long sides into equal stretches."""
    rings = tuple(LinearRing(polygon.exterior.coords) for polygon in shapely.get_parts(site.parcel))
    stretches: list[Stretch] = []
    first, stretch_at = [0], []
    for ring in rings:
        corners = list(ring.simplify(1.0).coords)
        at = sorted({float(ring.project(Point(corner))) for corner in corners[:-1]} | {0.0})
        starts = []
        for start, end in pairwise([*at, ring.length]):
            facing = _outward(ring, start, end, site.parcel.centroid)
            cuts = np.linspace(start, end, max(1, math.ceil((end - start) / STRETCH)) + 1)
            starts += cuts[:-1].tolist()
            stretches += [Stretch(ring.interpolate(0.5 * (one + two)), facing) for one, two in pairwise(cuts)]
        pieces = max(1, math.ceil(ring.length / PIECE))
        middles = (np.arange(pieces) + 0.5) * PIECE
        stretch_at.append(len(stretches) - len(starts) + np.searchsorted(starts, middles, side="right") - 1)
        first.append(first[-1] + pieces)
    return Boundary(rings, tuple(stretches), np.array(first), np.concatenate(stretch_at))


def _outward(ring: LinearRing, start: float, end: float, middle: Point) -> float:
    """Bearing that a side looks to, away from the parcel's middle, 0 to 360. [deg]."""
    a, half, b = (ring.interpolate(at) for at in (start, 0.5 * (start + end), max(end - 1e-6, start)))
    normal = (b.y - a.y, a.x - b.x)
    if normal[0] * (half.x - middle.x) + normal[1] * (half.y - middle.y) < 0.0:
        normal = (-normal[0], -normal[1])
    return math.degrees(math.atan2(normal[0], normal[1])) % 360.0
