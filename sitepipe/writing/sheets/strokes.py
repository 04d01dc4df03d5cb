"""Places, figures and rows of arcs along a line. Lengths in px, y down."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely

from sitepipe.mapping.marks import Figure

Point = tuple[float, float]
Line = Sequence[Point]


class Spot(NamedTuple):
    """A place on a line and the direction in which the line runs there."""

    x: float
    y: float
    dx: float
    dy: float


def length_of(points: Line) -> float:
    """Return the length of a line."""
    return sum(math.dist(a, b) for a, b in pairwise(points))


def spots_along(points: Line, distances: Sequence[float]) -> list[Spot]:
    """Return the places at given distances from the start of a line; those beyond its end are left out."""
    places = np.asarray(points, dtype=np.float64)
    legs = np.diff(places, axis=0)
    long = np.hypot(*legs.T)
    walked = np.concatenate([[0.0], np.cumsum(long)])
    at = np.array([distance for distance in distances if distance <= walked[-1] + 1e-9])
    leg = np.clip(np.searchsorted(walked, at) - 1, 0, len(legs) - 1)
    ways = legs[leg] / np.maximum(long[leg], 1e-9)[:, None]
    spots = places[leg] + ways * (at - walked[leg])[:, None]
    return [Spot(*row) for row in np.hstack([spots, ways]).tolist()]


def steps(start: float, end: float, step: float) -> list[float]:
    """Return start, start + step ... up to the end.

    Examples
    --------
    >>> steps(0.0, 1.0, 0.5)
    [0.0, 0.5, 1.0]
    """
    count = int((end - start) / step + 1e-9) if step > 0.0 and end >= start else -1
    return [start + k * step for k in range(count + 1)]


def figure_places(figure: Figure, length: float, apart: float) -> list[float]:
    """Return where on a line of so many px its figures stand, no two nearer than ``apart``."""
    if figure.first:
        end = [length] if figure.has_end else []
        return [*steps(figure.first, length - (24.0 if end else 0.0), figure.each), *end]
    each = max(figure.each, apart)
    count = max(1, round(length / each)) if figure.each else 1
    return [k * length / count for k in range(count + 1)]


def set_down(figure: Figure, spot: Spot, size: float) -> list[list[Point]]:
    """Return the strokes of a figure at a spot, turned as the line runs there."""
    return [
        [
            (spot.x + size * (a * spot.dx - r * spot.dy), spot.y + size * (a * spot.dy + r * spot.dx))
            for a, r in zip(stroke[0::2], stroke[1::2], strict=True)
        ]
        for stroke in figure.strokes
    ]


def around(points: Line, half: float) -> list[Point]:
    """Return the outline of a band around a line, with round ends, or a circle around a place."""
    shape = shapely.LineString(points) if len(points) > 1 else shapely.Point(points[0])
    return [(x, y) for x, y in shape.buffer(half, quad_segs=4 + int(half / 6.0)).exterior.coords[:-1]]


def scallops(ring: Line, step: float) -> list[Point]:
    """Return a closed ring as a row of small arcs that bulge outwards."""
    closed = [*ring, ring[0]]
    total = length_of(closed)
    count = max(7, round(total / step))
    spots = np.array([spot[:2] for spot in spots_along(closed, [k * total / count for k in range(count)])])
    half = (np.roll(spots, -1, axis=0) - spots) / 2.0
    bulge = np.column_stack([half[:, 1], -half[:, 0]]) * (1.0 if shapely.LinearRing(closed).is_ccw else -1.0)
    turns = np.arange(6)[:, None, None] * math.pi / 6.0
    arcs = spots + half * (1.0 - np.cos(turns)) + 0.72 * bulge * np.sin(turns)
    return [(x, y) for x, y in arcs.transpose(1, 0, 2).reshape(-1, 2).tolist()]
