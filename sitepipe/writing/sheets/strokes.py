"""Shapes that a pen makes along a line: bands, ticks, scallops, arrow heads. Lengths in px, y down."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

Point = tuple[float, float]


class Spot(NamedTuple):
    """A place on a line and the direction in which the line runs there."""

    x: float
    y: float
    dx: float
    dy: float


def length_of(points: Sequence[Point]) -> float:
    """Return the length of a line."""
    return sum(math.dist(a, b) for a, b in pairwise(points))


def spots_along(points: Sequence[Point], distances: Sequence[float]) -> Iterator[Spot]:
    """Yield the places at rising distances from the start of a line; those beyond its end are left out."""
    walked, index = 0.0, 0
    for a, b in pairwise(points):
        piece = math.dist(a, b)
        while index < len(distances) and distances[index] <= walked + piece + 1e-9:
            share = (distances[index] - walked) / piece if piece > 0.0 else 0.0
            dx, dy = ((b[0] - a[0]) / piece, (b[1] - a[1]) / piece) if piece > 0.0 else (1.0, 0.0)
            yield Spot(a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1]), dx, dy)
            index += 1
        walked += piece


def steps(start: float, end: float, step: float) -> list[float]:
    """Return start, start + step ... up to the end.

    Examples
    --------
    >>> steps(0.0, 1.0, 0.5)
    [0.0, 0.5, 1.0]
    """
    count = int((end - start) / step + 1e-9) if step > 0.0 and end >= start else -1
    return [start + k * step for k in range(count + 1)]


def scallops(ring: Sequence[Point], step: float) -> list[Point]:
    """Return a closed ring as a row of small arcs that bulge outwards."""
    closed = [*ring, ring[0]]
    total = length_of(closed)
    count = max(7, round(total / step))
    spots = list(spots_along(closed, steps(0.0, total - total / count / 2.0, total / count)))
    outwards = 1.0 if _signed_area(ring) > 0.0 else -1.0
    outline: list[Point] = []
    for a, b in zip(spots, [*spots[1:], spots[0]], strict=True):
        outline.extend(_arc(a, b, outwards))
    return outline


def _arc(a: Spot, b: Spot, outwards: float) -> list[Point]:
    middle_x, middle_y = (a.x + b.x) / 2.0, (a.y + b.y) / 2.0
    east, south = b.x - a.x, b.y - a.y
    half = math.hypot(east, south) / 2.0
    if half < 1e-6:
        return [(a.x, a.y)]
    turn = math.atan2(south, east)
    rise = 0.72 * half
    return [
        (
            middle_x - half * math.cos(angle) * math.cos(turn) + outwards * rise * math.sin(angle) * math.sin(turn),
            middle_y - half * math.cos(angle) * math.sin(turn) - outwards * rise * math.sin(angle) * math.cos(turn),
        )
        for angle in (k * math.pi / 6.0 for k in range(6))
    ]


def _signed_area(ring: Sequence[Point]) -> float:
    return 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(ring, [*ring[1:], ring[0]], strict=True))


def circle(middle: Point, radius: float, count: int = 48) -> list[Point]:
    """Return a ring of places on a circle."""
    turns = [2.0 * math.pi * k / count for k in range(count)]
    return [(middle[0] + radius * math.cos(turn), middle[1] + radius * math.sin(turn)) for turn in turns]


def band(points: Sequence[Point], half: float) -> list[Point]:
    """Return the outline of a band around a line, with round ends."""
    left, right = [], []
    for index, point in enumerate(points):
        before, after = points[max(index - 1, 0)], points[min(index + 1, len(points) - 1)]
        long = math.dist(before, after) or 1.0
        across_x, across_y = -(after[1] - before[1]) / long, (after[0] - before[0]) / long
        left.append((point[0] + across_x * half, point[1] + across_y * half))
        right.append((point[0] - across_x * half, point[1] - across_y * half))
    return [*left, *_cap(points[-1], points[-2], half), *reversed(right), *_cap(points[0], points[1], half)]


def _cap(tip: Point, back: Point, half: float) -> list[Point]:
    turn = math.atan2(tip[1] - back[1], tip[0] - back[0])
    angles = [turn + math.pi / 2.0 - k / 8.0 * math.pi for k in range(1, 8)]
    return [(tip[0] + half * math.cos(angle), tip[1] + half * math.sin(angle)) for angle in angles]


def arrow_head(spot: Spot, size: float) -> list[Point]:
    """Return the two strokes of an open arrow head whose tip is the spot."""

    def leg(sign: float) -> Point:
        cos, sin = math.cos(sign * 0.5), math.sin(sign * 0.5)
        return (
            spot.x - size * (spot.dx * cos - spot.dy * sin),
            spot.y - size * (spot.dx * sin + spot.dy * cos),
        )

    return [leg(1.0), (spot.x, spot.y), leg(-1.0)]
