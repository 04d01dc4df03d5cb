"""Marks drawn in black: the strokes of ``mapping.marks`` under a pen on paper."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby, pairwise

from sitepipe.mapping.marks import INSET_SHORES, MARKS, TILES, Drawn, Figure, Mark, Tile
from sitepipe.mapping.palette import COLOURS
from sitepipe.writing.sheets.paper import MapBox
from sitepipe.writing.sheets.pen import BOLD, WHITE, Line, Pen
from sitepipe.writing.sheets.strokes import Spot, around, figure_places, length_of, scallops, set_down, spots_along

_ORDER = {name: place for place, name in enumerate(MARKS)}
LEAST_LINE = 12.0
"""A shorter line has no figures. [px]"""


def draw_marks(pen: Pen, drawn: Iterable[Drawn], box: MapBox) -> None:
    """Draw marks one kind over another, in the order of their table."""
    for name, group in groupby(sorted(drawn, key=lambda one: _ORDER[one.mark]), key=lambda one: one.mark):
        style, things = MARKS[name], list(group)
        for steps in (("edge",), ("line",), ("fill",)) if style.is_joined else (("edge", "fill", "line"),):
            for thing in things:
                _draw(pen, thing, style, box, steps)


def outline_of(drawn: Drawn, box: MapBox) -> tuple[list[Line], list[Line]]:
    """Return the rings of a thing and the open lines of its pen, on paper."""
    style = MARKS[drawn.mark]
    half = max(style.band, drawn.half * box.scale.px_per_metre)
    step = min(max(0.42 * half, 7.0), 11.0) if style.is_scalloped else 0.0
    rings: list[Line] = [box.points(ring) for area in drawn.area for ring in area if len(ring) >= 6]
    lines: list[Line] = [box.points(line) for line in drawn.line if len(line) >= 4]
    if style.band:
        rings += [around(line, half - 0.2 * step) for line in (*lines, *([place] for place in box.points(drawn.at)))]
        lines = []
    if step:
        rings = [scallops(ring, step) for ring in rings]
    return rings, lines


def _draw(pen: Pen, drawn: Drawn, style: Mark, box: MapBox, steps: Sequence[str]) -> None:
    rings, lines = outline_of(drawn, box)
    followed, is_closed = (lines, False) if lines else (rings, True)
    width = max(drawn.widths, default=style.width)
    if "edge" in steps and style.edge and followed:
        pen.stroke(followed, width + style.edge, grey=WHITE, is_closed=is_closed)
    if "fill" in steps and rings:
        if style.fill:
            pen.fill(rings, COLOURS[style.fill].grey)
        if style.pattern:
            _fill_with(pen, rings, TILES[style.pattern])
        if style.is_inset:
            _inset_shores(pen, rings, style)
    if "line" in steps:
        if style.line and followed:
            grey = COLOURS[style.line].grey if rings else 1.0 - style.opacity * (1.0 - COLOURS[style.line].grey)
            dotted = bool(style.dashes) and style.dashes[0] < 1.0
            for part, wide in _pieces(drawn, followed) or [(followed, width)]:
                pen.stroke(part, wide, grey, style.dashes, is_closed, is_round=dotted or bool(drawn.widths))
        for figure in style.figures:
            _draw_figure(pen, figure, drawn, lines, box)
        for x, y in box.points(drawn.at) if style.letter else ():
            pen.write((x, y + 5.0), style.letter, face=BOLD, anchor="middle", grey=COLOURS[style.letter_role].grey)


def _pieces(drawn: Drawn, lines: Sequence[Line]) -> list[tuple[list[Line], float]]:
    """Return the pieces of a line that widens on its way, each with its width."""
    return [([pair], wide) for line in lines for pair, wide in zip(pairwise(line), drawn.widths[1:], strict=False)]


def _draw_figure(pen: Pen, figure: Figure, drawn: Drawn, lines: Sequence[Line], box: MapBox) -> None:
    half = drawn.half * box.scale.px_per_metre
    if half < figure.least:
        return
    if figure.strokes:
        size = half if figure.in_halves else 1.0
        strokes = [stroke for spot in _spots(figure, drawn, lines, box) for stroke in set_down(figure, spot, size)]
    else:
        strokes = [list(line) for line in lines]
    if figure.edge:
        pen.stroke(strokes, figure.width + figure.edge, grey=WHITE, is_round=figure.is_round)
    pen.stroke(strokes, figure.width, COLOURS[figure.role].grey, is_round=figure.is_round)


def _spots(figure: Figure, drawn: Drawn, lines: Sequence[Line], box: MapBox) -> Iterator[Spot]:
    """Yield the places of a figure: along lines, on or around the axis, or where the thing's places are."""
    if drawn.at:
        yield from (Spot(x, y, 1.0, 0.0) for x, y in box.points(drawn.at))
    axis = [box.points(drawn.axis)] if figure.in_halves and drawn.axis else []
    size = box.scale.px_per_metre
    for way in axis or lines:
        line = way
        if figure.around:
            ring = around(way, figure.around * drawn.half * size)
            line = [*ring, ring[0]]
        long = length_of(line)
        if long >= LEAST_LINE or not figure.first:
            yield from spots_along(line, figure_places(figure, long, drawn.apart * size))


def _inset_shores(pen: Pen, rings: Sequence[Line], style: Mark) -> None:
    """Repeat a shore inwards: wide strokes, line and fill by turns, the innermost first, kept inside."""
    with pen.inside(rings):
        for away, width in reversed(INSET_SHORES):
            pen.stroke(rings, 2.0 * away + width, COLOURS[style.line].grey, is_closed=True)
            pen.stroke(rings, 2.0 * away - width, COLOURS[style.fill].grey, is_closed=True)


def _fill_with(pen: Pen, rings: Sequence[Line], tile: Tile) -> None:
    """Lay tiles over an area, in the tile's own turned frame, and keep them inside."""
    cos, sin = math.cos(math.radians(tile.turn)), math.sin(math.radians(tile.turn))
    turned = [(x * cos + y * sin, y * cos - x * sin) for ring in rings for x, y in ring]
    across, down = [x for x, _ in turned], [y for _, y in turned]
    strokes = [
        [
            (x * cos - y * sin, x * sin + y * cos)
            for x, y in zip(
                (column * tile.width + a for a in stroke[0::2]),
                (row * tile.height + b for b in stroke[1::2]),
                strict=True,
            )
        ]
        for row in range(math.floor(min(down) / tile.height), math.ceil(max(down) / tile.height))
        for column in range(math.floor(min(across) / tile.width), math.ceil(max(across) / tile.width))
        for stroke in tile.strokes
    ]
    with pen.inside(rings):
        pen.stroke(strokes, tile.pen, COLOURS[tile.role].grey, is_round=tile.is_round)
