"""Frame: metres from the parcel's own corner, so that a shared page holds no coordinates."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from sitepipe.arrays import FloatArray
from sitepipe.site import Site

Flat = list[float]
"""x, y, x, y, ... in metres from the corner, to the centimetre."""


@dataclass(frozen=True, slots=True)
class Frame:
    """The parcel's south-west corner and its size, in m.

    Examples
    --------
    >>> frame = Frame(1000.0, 2000.0, 70.0, 60.0)
    >>> frame.place(Point(1012.345, 2001.0))
    [12.35, 1.0]
    """

    west: float
    south: float
    width: float
    height: float

    def place(self, point: Point) -> Flat:
        """Return [x, y] of a point."""
        return [_centimetres(point.x - self.west), _centimetres(point.y - self.south)]

    def line(self, line: LineString) -> Flat:
        """Return the flat coordinates of a line."""
        coordinates = shapely.get_coordinates(line) - (self.west, self.south)
        return [_centimetres(value) for value in coordinates.ravel().tolist()]

    def lines(self, geometry: BaseGeometry) -> list[Flat]:
        """Return the flat coordinates of every line in a geometry."""
        return [self.line(line) for line in lines_of(geometry)]

    def areas(self, geometry: BaseGeometry) -> list[list[Flat]]:
        """Return every polygon of a geometry as its rings, the outer one first; rings are not closed twice."""
        return [
            [self.line(LineString(ring.coords[:-1])) for ring in (polygon.exterior, *polygon.interiors)]
            for polygon in polygons_of(geometry)
        ]


def frame_of(site: Site) -> Frame:
    """Return the frame of a site's parcel."""
    west, south, east, north = site.parcel.bounds
    return Frame(west, south, east - west, north - south)


def polygons_of(geometry: BaseGeometry) -> Iterable[Polygon]:
    """Yield every polygon that a geometry holds, empty ones left out."""
    for part in shapely.get_parts(geometry, return_index=False):
        if isinstance(part, Polygon):
            if not part.is_empty:
                yield part
        elif hasattr(part, "geoms"):
            yield from polygons_of(part)


def lines_of(geometry: BaseGeometry) -> Iterable[LineString]:
    """Yield every line that a geometry holds, polygons as their rings."""
    for part in shapely.get_parts(geometry, return_index=False):
        if isinstance(part, Polygon):
            yield from (LineString(ring.coords) for ring in (part.exterior, *part.interiors))
        elif hasattr(part, "geoms"):
            yield from lines_of(part)
        elif part.geom_type in ("LineString", "LinearRing") and not part.is_empty:
            yield LineString(part.coords)


def long_axis(geometry: BaseGeometry) -> LineString:
    """Return the middle line of the rectangle around a shape, the long way."""
    a, b, c, d = shapely.get_coordinates(shapely.minimum_rotated_rectangle(geometry).exterior)[:4]
    if np.linalg.norm(b - a) < np.linalg.norm(c - b):
        a, b, c, d = b, c, d, a
    return LineString([(a + d) / 2.0, (b + c) / 2.0])


def smooth(line: LineString, tolerance: float, rounds: int = 3) -> LineString:
    """Return a line without the staircase that cells leave, its ends kept (Chaikin 1974, corner cutting).

    Parameters
    ----------
    tolerance : float
        How far the line may first be simplified. [m]
    """
    return LineString(_cut_corners(shapely.get_coordinates(line.simplify(tolerance)), rounds, is_ring=False))


def smooth_joined(lines: Sequence[LineString], tolerance: float) -> list[LineString]:
    """Return lines smoothed as one where two of them meet end to end, each still its own piece."""
    chains = list(lines_of(shapely.line_merge(MultiLineString(lines))))
    smoothed = [smooth(chain, tolerance) for chain in chains]
    pieces = []
    for line in lines:
        middle = line.interpolate(0.5, normalized=True)
        whole = smoothed[min(range(len(chains)), key=lambda k: chains[k].distance(middle))]
        start, end = (whole.project(Point(line.coords[k])) for k in (0, -1))
        pieces.append(substring(whole, start, end) if start != end else smooth(line, tolerance))
    return pieces


def smooth_area(geometry: BaseGeometry, tolerance: float) -> BaseGeometry:
    """Return polygons with their corners cut, the ring's start no exception."""
    rounded = []
    for polygon in polygons_of(geometry.simplify(tolerance)):
        rings = [
            _cut_corners(shapely.get_coordinates(ring)[:-1], 3, is_ring=True)
            for ring in (polygon.exterior, *polygon.interiors)
        ]
        rounded.append(Polygon(rings[0], rings[1:]).buffer(0.0))
    return shapely.union_all(rounded) if rounded else MultiPolygon()


def _cut_corners(points: FloatArray, rounds: int, is_ring: bool) -> FloatArray:
    for _ in range(rounds):
        following = np.roll(points, -1, axis=0)
        cut = np.stack([0.75 * points + 0.25 * following, 0.25 * points + 0.75 * following], axis=1).reshape(-1, 2)
        points = cut if is_ring else np.vstack([points[:1], cut[1:-3], points[-1:]])
    return points


def _centimetres(value: float) -> float:
    rounded = round(value, 2)
    return rounded or 0.0
