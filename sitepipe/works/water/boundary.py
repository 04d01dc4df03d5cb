"""The parcel's boundary in stretches that a person can find, and what crosses it where."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LinearRing, Point

from sitepipe.arrays import FloatArray, IntArray, LongArray
from sitepipe.site import Kind, Site
from sitepipe.units import Units, compass_word, say_distance

STRETCH = 15.0
"""Longest stretch of boundary that is told apart. [m]"""


@dataclass(frozen=True, slots=True)
class Stretch:
    """A piece of one side of the boundary. ``start`` and ``end`` are lengths along the ring. [m]."""

    ring: int
    start: float
    end: float
    side: str
    middle: Point


@dataclass(frozen=True, slots=True)
class Boundary:
    """All rings and stretches of the boundary."""

    rings: tuple[LinearRing, ...]
    stretches: tuple[Stretch, ...]

    def locate(self, x: FloatArray, y: FloatArray) -> tuple[IntArray, FloatArray, FloatArray]:
        """Return ring, length along it and distance from it of each place. [m]."""
        places = shapely.points(x, y)
        away = np.array([shapely.distance(ring, places) for ring in self.rings]).reshape(len(self.rings), len(x))
        nearest = np.argmin(away, axis=0).astype(np.int32)
        along = np.zeros(len(x))
        for number, ring in enumerate(self.rings):
            mine = nearest == number
            along[mine] = shapely.line_locate_point(ring, places[mine])
        return nearest, along, np.min(away, axis=0) if len(x) else np.zeros(0)

    def stretch_of(self, ring: IntArray, along: FloatArray) -> LongArray:
        """Return the index of the stretch that each located place lies at."""
        found = np.zeros(len(ring), np.int64)
        for index, stretch in enumerate(self.stretches):
            found[(ring == stretch.ring) & (along >= stretch.start)] = index
        return found


def split_boundary(site: Site) -> Boundary:
    """Cut the boundary at its corners, and long sides into equal stretches."""
    polygons = shapely.get_parts(site.parcel)
    rings = tuple(LinearRing(polygon.exterior.coords) for polygon in polygons)
    middle = site.parcel.centroid
    stretches: list[Stretch] = []
    for number, ring in enumerate(rings):
        corners = list(ring.simplify(1.0).coords)
        at = sorted({float(ring.project(Point(corner))) for corner in corners[:-1]} | {0.0})
        for start, end in zip(at, [*at[1:], ring.length], strict=True):
            count = max(1, math.ceil((end - start) / STRETCH))
            half = ring.interpolate(0.5 * (start + end))
            side = compass_word(_outward(ring, start, end, middle, half))
            for k in range(count):
                first = start + (end - start) * k / count
                last = start + (end - start) * (k + 1) / count
                stretches.append(Stretch(number, first, last, side, ring.interpolate(0.5 * (first + last))))
    return Boundary(rings, tuple(stretches))


def _outward(ring: LinearRing, start: float, end: float, middle: Point, half: Point) -> float:
    """Bearing that a side looks to, away from the parcel's middle. [deg]."""
    a, b = ring.interpolate(start), ring.interpolate(max(end - 1e-6, start))
    normal = (b.y - a.y, a.x - b.x)
    if normal[0] * (half.x - middle.x) + normal[1] * (half.y - middle.y) < 0.0:
        normal = (-normal[0], -normal[1])
    return math.degrees(math.atan2(normal[0], normal[1]))


def say_where(place: Point, site: Site, units: Units) -> str:
    """Say where a place is from something that a person can stand at: a gate, a building, a corner."""
    marks = site.of_kind(Kind.GATE) or site.of_kind(Kind.FIXED_POINT) or site.of_kind(Kind.BUILDING)
    if not marks:
        middle = site.parcel.centroid
        return _from(place, middle, "the middle of the parcel", units)
    mark = min(marks, key=lambda feature: float(feature.geometry.distance(place)))
    name = f"the {mark.name.lower()}" if mark.kind is Kind.GATE else mark.name
    return _from(place, mark.geometry.centroid, name, units)


def _from(place: Point, origin: Point, name: str, units: Units) -> str:
    far = math.hypot(place.x - origin.x, place.y - origin.y)
    if far < 1.0:
        return f"at {name}"
    bearing = math.degrees(math.atan2(place.x - origin.x, place.y - origin.y))
    return f"{say_distance(far, units)} {compass_word(bearing)} of {name}"
