"""A table with ruled lines. Lengths in px."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sitepipe.writing.sheets.fonts import BOLD, REGULAR, wrapped
from sitepipe.writing.sheets.paper import MAP_WIDTH
from sitepipe.writing.sheets.pen import SOFT, Pen

SIZE, LINE, ROW, HEAD_ROW = 14.0, 18.0, 22.0, 24.0


@dataclass(frozen=True, slots=True)
class Column:
    """A column's head and its share of the width."""

    head: str
    share: float
    is_bold: bool = False


def height_of_table(columns: Sequence[Column], rows: Sequence[Sequence[str]]) -> float:
    """Return how high a table stands; nothing without rows."""
    return HEAD_ROW + sum(height_of_row(columns, row) for row in rows) + 4.0 if rows else 0.0


def height_of_row(columns: Sequence[Column], row: Sequence[str]) -> float:
    """Return how high a row stands: its longest cell is broken into lines."""
    lines = max(len(_lines(column, text)) for column, text in zip(columns, row, strict=True))
    return ROW + LINE * (lines - 1)


def draw_table(
    pen: Pen,
    columns: Sequence[Column],
    rows: Sequence[Sequence[str]],
    left: float,
    top: float,
    width: float = MAP_WIDTH,
) -> float:
    """Draw a table and return where it ends; the shares of its columns are of the whole sheet, whatever its width."""
    if not rows:
        return top
    starts = [left + MAP_WIDTH * sum(column.share for column in columns[:k]) for k in range(len(columns))]
    right = left + width
    rule = left + 0.03 * MAP_WIDTH if columns[0].share <= 0.03 else left
    pen.stroke([[(left, top), (right, top)]], 1.4)
    for start, column in zip(starts, columns, strict=True):
        pen.write((start, top + 16.0), column.head, SIZE)
    y = top + HEAD_ROW
    for row in rows:
        pen.stroke([[(rule, y), (right, y)]], 0.7, grey=SOFT)
        for start, column, text in zip(starts, columns, row, strict=True):
            for k, line in enumerate(_lines(column, text)):
                pen.write((start, y + 16.0 + k * LINE), line, SIZE, BOLD if column.is_bold else REGULAR)
        y += height_of_row(columns, row)
    pen.stroke([[(left, y), (right, y)]], 1.4)
    return y + 4.0


def _lines(column: Column, text: str) -> list[str]:
    return wrapped(text, SIZE, column.share * MAP_WIDTH - 6.0, BOLD if column.is_bold else REGULAR) or [""]
