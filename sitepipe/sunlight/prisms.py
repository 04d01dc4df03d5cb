"""What is drawn or planned, as upright prisms with level rims, and the exact edges that they show in one direction."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, LongArray
from sitepipe.grid import Grid
from sitepipe.site import Foliage
from sitepipe.sunlight.rays import height_at
from sitepipe.sunlight.sweep import edge_bin
from sitepipe.sunlight.tables import BINS

FLAT, SLIGHT = 0.02, 0.1
"""Corners nearer to the line between their neighbours are left out. [m], [1] of about half the outline's thickness"""

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
    """

    corner: FloatArray
    first: LongArray
    top: FloatArray
    base: FloatArray
    kind: LongArray

    def __add__(self, other: Prisms) -> Prisms:
        """Return the pieces of both."""
        return Prisms(
            np.concatenate([self.corner, other.corner]),
            np.concatenate([self.first, self.first[-1] + other.first[1:]]),
            np.concatenate([self.top, other.top]),
            np.concatenate([self.base, other.base]),
            np.concatenate([self.kind, other.kind]),
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
        slant = way @ normal.T
        with np.errstate(divide="ignore", invalid="ignore"):
            plane = np.stack([offset / slant, normal[:, 0] / slant, normal[:, 1] / slant, slant], axis=-1)
        across = way[:, ::-1] * np.array([1.0, -1.0]) @ self.corner.T
        along = way @ self.corner.T
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
        return way, frame, plane, self.first, self.top, self.base, self.kind


Sight = tuple[FloatArray, FloatArray, FloatArray, LongArray, FloatArray, FloatArray, LongArray]
"""Directions east and north; of each piece in each least and most across and along, and reach; of each side where a
ray meets it (at 0 - 1 x - 2 y) and whether it leaves there; first sides, tops, bases, kinds."""


@dataclass(frozen=True, slots=True)
class Shape:
    """One thing that stands: outline, top and base above the ground under its edge, and how it meets the light. [m]."""

    outline: BaseGeometry
    top: float
    base: float = 0.0
    foliage: Foliage = Foliage.OPAQUE


def prisms_of(shapes: Iterable[Shape], grid: Grid) -> Prisms:
    """Cut shapes into convex pieces."""
    found = [(shape, ring) for shape in shapes for ring in _convex_rings(shape.outline)]
    sizes = [len(ring) for _, ring in found]
    corners = np.concatenate([np.zeros((0, 2)), *(ring for _, ring in found)])
    return Prisms(
        corner=corners - np.array([grid.west, grid.north]),
        first=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64),
        top=np.array([shape.top for shape, _ in found], dtype=np.float64),
        base=np.array([shape.base for shape, _ in found], dtype=np.float64),
        kind=np.array([KINDS[shape.foliage] for shape, _ in found], dtype=np.int64),
    )


def _convex_rings(outline: BaseGeometry) -> Iterable[FloatArray]:
    """Yield the corners of convex pieces of an outline, counter-clockwise, none twice."""
    for part in shapely.get_parts(outline):
        thickness = part.area / max(part.length, 1e-9)
        whole = shapely.simplify(part, min(FLAT, SLIGHT * thickness))
        if whole.geom_type != "Polygon" or whole.area <= 0.0:
            continue
        is_convex = whole.convex_hull.area - whole.area < 1e-6 * whole.area
        for piece in [whole] if is_convex else shapely.get_parts(shapely.constrained_delaunay_triangles(whole)):
            yield shapely.get_coordinates(shapely.orient_polygons(piece).exterior)[:-1]


@kernel
def band_of(
    sight: Sight, a: int, piece: int, x: float, y: float, eye: float, ground: FloatArray, cell: float
) -> tuple[int, int]:
    """Return the bins (lower, upper) between which an eye sees a piece in direction ``a``; upper 0 where it does not.

    Inside an outline what is overhead is seen from its base to the zenith; inside what is opaque nothing else is.
    """
    way, frame, plane, first, top, base, _ = sight
    east, north = way[a, 0], way[a, 1]
    across, along = x * north - y * east, x * east + y * north
    edge = frame[a, piece]
    if across <= edge[0] or across >= edge[1] or along >= edge[3] or edge[2] - along > edge[4]:
        return 0, 0
    near, far = -np.inf, np.inf
    for k in range(first[piece], first[piece + 1]):
        side = plane[a, k]
        if side[3] != 0.0:
            meets = side[0] - side[1] * x - side[2] * y
            if side[3] > 0.0:
                far = min(far, meets)
            else:
                near = max(near, meets)
    if far <= max(near, 0.0) or near > edge[4]:
        return 0, 0
    behind = height_at(ground, -(y + far * north) / cell - 0.5, (x + far * east) / cell - 0.5) - eye
    if near <= 0.0:
        lower = edge_bin(behind + base[piece], far, SCALE) if base[piece] > 0.0 else 0
        return lower, BINS - 1
    front = height_at(ground, -(y + near * north) / cell - 0.5, (x + near * east) / cell - 0.5) - eye
    upper = max(edge_bin(front + top[piece], near, SCALE), edge_bin(behind + top[piece], far, SCALE))
    if base[piece] <= 0.0:
        return 0, upper
    return min(edge_bin(front + base[piece], near, SCALE), edge_bin(behind + base[piece], far, SCALE)), upper
