"""Where a place is, from something that a helper can stand at."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator

import numpy as np
from shapely import MultiPolygon, Point, Polygon, get_coordinates
from shapely.ops import nearest_points

from sitepipe.site import Feature, Kind, Site

STANDABLE = (Kind.GATE, Kind.TAP, Kind.WELL, Kind.BUILDING, Kind.FIXED_POINT, Kind.CULVERT, Kind.TREE)


def whereabouts(place: Point, site: Site) -> tuple[str, float, float]:
    """Return the nearest thing that can be told apart by name, how far it is, and which way to walk from it.

    Without any, a corner of the parcel serves.

    Returns
    -------
    (name, distance, direction)
        Distance in m; direction in degrees clockwise from north.
    """
    marks = list(_marks(site))
    how_often = Counter(name for name, _ in marks)
    unique = [(name, mark) for name, mark in marks if how_often[name] == 1]
    if not unique:
        unique = [(f"{name} of the parcel", mark) for name, mark in _corners("", site.parcel)]
    name, mark = min(unique, key=lambda named: (named[1].distance(place), named[0]))
    return name, mark.distance(place), direction(mark, place)


def direction(start: Point, end: Point) -> float:
    """Return the direction from one point to another. [deg] clockwise from north, 0 up to 360."""
    return math.degrees(math.atan2(end.x - start.x, end.y - start.y)) % 360.0


def _marks(site: Site) -> Iterator[tuple[str, Point]]:
    for feature in site.of_kind(*STANDABLE):
        if feature.kind is Kind.BUILDING and isinstance(feature.geometry, Polygon | MultiPolygon):
            yield from _corners(f"{feature.name}, ", feature.geometry)
        else:
            yield feature.name, _middle(feature)


def _corners(of: str, outline: Polygon | MultiPolygon) -> Iterator[tuple[str, Point]]:
    """Yield the corner that lies furthest out in each of the four diagonal directions."""
    corners = get_coordinates(outline)
    for word, east, north in (
        ("north-east", 1, 1),
        ("south-east", 1, -1),
        ("south-west", -1, -1),
        ("north-west", -1, 1),
    ):
        furthest = int(np.argmax(np.round(east * corners[:, 0] + north * corners[:, 1], 6)))
        yield f"{of}{word} corner", Point(corners[furthest])


def _middle(feature: Feature) -> Point:
    """Return the point of a feature that is nearest to its middle."""
    return nearest_points(feature.geometry, feature.geometry.centroid)[0]
