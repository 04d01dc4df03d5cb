"""Patterns that fill an area without colour; the same tiles as on the page. Lengths in px."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from sitepipe.writing.sheets.pen import Line, Pen, Point

_RIPPLES = ([(1.0, 2.5), (7.0, 2.5)], [(9.0, 7.0), (15.0, 7.0)])
_CHIPS = (
    [(0.8, 2.2), (3.0, 1.1)],
    [(3.8, 5.6), (6.0, 4.7)],
    [(4.6, 1.4), (6.0, 2.5)],
    [(0.9, 5.0), (1.9, 6.2)],
)
_TUFTS = tuple(
    stroke
    for x, y in ((3.6, 5.6), (11.1, 12.1))
    for stroke in ([(x, y), (x, y - 4.0)], [(x, y), (x - 2.3, y - 3.0)], [(x, y), (x + 2.3, y - 3.0)])
)


def pattern(name: str) -> Callable[[Pen, Sequence[Line]], None]:
    """Return the function that fills areas with a pattern."""
    return _PATTERNS[name]


def _box(areas: Sequence[Line]) -> tuple[float, float, float, float]:
    across = [x for line in areas for x, _ in line]
    down = [y for line in areas for _, y in line]
    return min(across), min(down), max(across), max(down)


def _corners(areas: Sequence[Line], width: float, height: float) -> list[Point]:
    """Return the corners of the tiles that an area's box touches; tiles start from the sheet's own corner."""
    left, top, right, bottom = _box(areas)
    return [
        (column * width, row * height)
        for row in range(math.floor(top / height), math.ceil(bottom / height))
        for column in range(math.floor(left / width), math.ceil(right / width))
    ]


def _tiles(strokes: Sequence[Line], size: tuple[float, float], width: float) -> Callable[[Pen, Sequence[Line]], None]:
    def draw(pen: Pen, areas: Sequence[Line]) -> None:
        corners = _corners(areas, *size)
        with pen.inside(areas):
            pen.stroke([[(x + a, y + b) for a, b in stroke] for x, y in corners for stroke in strokes], width)

    return draw


def _dots(pen: Pen, areas: Sequence[Line]) -> None:
    """Dot with round-ended strokes of no length: one path, where circles would be thousands."""
    places = [(x + a, y + a) for x, y in _corners(areas, 9.0, 9.0) for a in (2.2, 6.7)]
    with pen.inside(areas):
        pen.stroke([[(x, y), (x + 0.02, y)] for x, y in places], 1.9, is_round=True)


def _hatch(step: float, width: float, falls: bool) -> Callable[[Pen, Sequence[Line]], None]:
    """Return parallel strokes at half a right angle; they fall to the right, or rise."""

    def draw(pen: Pen, areas: Sequence[Line]) -> None:
        left, top, right, bottom = _box(areas)
        apart = step * math.sqrt(2.0)
        high = bottom - top
        strokes = []
        for k in range(math.floor((left - high) / apart) - 1, math.ceil((right + high) / apart) + 1):
            x = k * apart + (top if falls else -bottom) % apart
            strokes.append([(x, top), (x + high, bottom)] if falls else [(x, bottom), (x + high, top)])
        with pen.inside(areas):
            pen.stroke(strokes, width)

    return draw


_PATTERNS: dict[str, Callable[[Pen, Sequence[Line]], None]] = {
    "ripples": _tiles(_RIPPLES, (16.0, 9.0), 1.1),
    "chips": _tiles(_CHIPS, (7.0, 7.0), 0.95),
    "tufts": _tiles(_TUFTS, (15.0, 13.0), 1.25),
    "dots": _dots,
    "back-hatch-8": _hatch(8.0, 1.1, falls=True),
    "hatch-10": _hatch(10.0, 1.6, falls=False),
}
