"""A parcel cut by lines into faces, and faces joined into pieces that together fill it exactly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray, IntArray

Group = list[int]

WORTH_JOINING = 0.25
"""Least share of its inner edge that a group must have in common with the use that takes it. [1]"""


@dataclass(frozen=True, slots=True)
class Mosaic:
    """Faces that share every edge with at most one other.

    Parameters
    ----------
    faces : tuple of polygons
        They fill the ground that was cut, without a gap and without an overlap.
    beside : tuple of mappings
        For each face, the faces across its edges and the length shared. [m]
    """

    faces: tuple[Polygon, ...]
    beside: tuple[dict[int, float], ...]

    def points(self) -> FloatArray:
        """Return a point inside each face, (faces, 2). [m]."""
        return np.asarray(shapely.get_coordinates(shapely.point_on_surface(np.array(self.faces, dtype=object))))

    def groups(self, labels: IntArray) -> list[Group]:
        """Return the faces of equal label that hang together along their edges, in the order of the faces."""
        group_of = np.full(len(self.faces), -1)
        found: list[Group] = []
        for first in range(len(self.faces)):
            if group_of[first] >= 0:
                continue
            group, waiting = [], [first]
            group_of[first] = len(found)
            while waiting:
                face = waiting.pop()
                group.append(face)
                for other in self.beside[face]:
                    if group_of[other] < 0 and labels[other] == labels[first]:
                        group_of[other] = len(found)
                        waiting.append(other)
            found.append(sorted(group))
        return found

    def shape(self, group: Sequence[int]) -> Polygon | MultiPolygon:
        """Return the faces of a group as one shape that keeps every corner of its edge."""
        union = shapely.coverage_union_all([self.faces[face] for face in group])
        parts = shapely.get_parts(union)
        return parts[0] if len(parts) == 1 else MultiPolygon(list(parts))

    def area(self, group: Sequence[int]) -> float:
        """Return the area of a group. [m2]."""
        return float(sum(self.faces[face].area for face in group))

    def neighbours(self, group: Sequence[int]) -> dict[int, float]:
        """Return the faces around a group and the length of edge that each shares with it. [m]."""
        members = set(group)
        around: dict[int, float] = {}
        for face in group:
            for other, length in self.beside[face].items():
                if other not in members:
                    around[other] = around.get(other, 0.0) + length
        return around


def cut(ground: Polygon | MultiPolygon, lines: Sequence[BaseGeometry]) -> Mosaic:
    """Cut a piece of ground along lines.

    Examples
    --------
    >>> from shapely import LineString, box
    >>> mosaic = cut(box(0, 0, 4, 2), [LineString([(1, -1), (1, 3)])])
    >>> sorted(face.area for face in mosaic.faces), mosaic.beside[0]
    ([2.0, 6.0], {1: 2.0})
    """
    noded = shapely.union_all([ground.boundary, *lines])
    shapely.prepare(ground)
    faces = [
        face.normalize()
        for face in shapely.get_parts(shapely.polygonize(shapely.get_parts(noded)))
        if ground.covers(face.point_on_surface())
    ]
    faces.sort(key=lambda face: face.bounds)
    return Mosaic(tuple(faces), _shared_edges(faces))


def _shared_edges(faces: Sequence[Polygon]) -> tuple[dict[int, float], ...]:
    """Find which faces lie on both sides of each edge."""
    beside: tuple[dict[int, float], ...] = tuple({} for _ in faces)
    owner: dict[tuple[float, float, float, float], int] = {}
    for number, face in enumerate(faces):
        for ring in (face.exterior, *face.interiors):
            points = shapely.get_coordinates(ring)
            lengths = np.hypot(*np.diff(points, axis=0).T)
            for (ax, ay), (bx, by), length in zip(points[:-1].tolist(), points[1:].tolist(), lengths, strict=True):
                edge = (ax, ay, bx, by) if (ax, ay) < (bx, by) else (bx, by, ax, ay)
                other = owner.setdefault(edge, number)
                if other != number:
                    beside[number][other] = beside[number].get(other, 0.0) + float(length)
                    beside[other][number] = beside[other].get(number, 0.0) + float(length)
    return beside


def joined(
    mosaic: Mosaic,
    labels: IntArray,
    allows: Callable[[int, int], bool],
    is_enough: Callable[[int, Polygon | MultiPolygon], bool],
    otherwise: int,
) -> IntArray:
    """Give each group of faces that is not enough by itself to the neighbour that shares most of its edge.

    Parameters
    ----------
    mosaic : Mosaic
    labels : (faces,) int array
    allows : (face, label) to bool
        Whether a face may carry a label.
    is_enough : (label, shape) to bool
        Whether a group may stand as it is.
    otherwise : int
        Label of a group that no neighbour may take; such a group may be of any size.

    Returns
    -------
    (faces,) int array
    """
    given = labels.copy()
    known: dict[tuple[int, ...], bool] = {}
    while True:
        small = []
        for group in mosaic.groups(given):
            label = int(given[group[0]])
            key = (label, *group)
            if key not in known:
                known[key] = is_enough(label, mosaic.shape(group))
            if not known[key]:
                taker = _taker(mosaic, group, given, allows)
                if taker is not None or label != otherwise:
                    small.append((mosaic.area(group), group, otherwise if taker is None else taker))
        if not small:
            return given
        # The smallest first, and with it all that do not touch one that has just changed.
        touched: set[int] = set()
        for _, group, taker in sorted(small):
            around = mosaic.neighbours(group)
            if touched.isdisjoint(group) and touched.isdisjoint(around):
                given[group] = taker
                touched.update(group, around)


def _taker(mosaic: Mosaic, group: Group, labels: IntArray, allows: Callable[[int, int], bool]) -> int | None:
    """Return the label around a group that it may carry and that shares most of its edge."""
    shared: dict[int, float] = {}
    own = labels[group[0]]
    for face, length in mosaic.neighbours(group).items():
        label = int(labels[face])
        if label != own:
            shared[label] = shared.get(label, 0.0) + length
    least = WORTH_JOINING * sum(shared.values())
    may = [
        (length, -label)
        for label, length in shared.items()
        if length >= least and all(allows(face, label) for face in group)
    ]
    return -max(may)[1] if may else None
