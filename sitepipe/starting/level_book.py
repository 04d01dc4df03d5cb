"""A sheet for the field: how to level a garden, and the lines to write the readings on."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from sitepipe.units import Units

ROWS = 24
HEADS = (
    "Point", "Height", "Back sight", "Between", "Fore sight", "From 1", "Tape 1", "From 2", "Tape 2", "Side",
)  # fmt: skip
"""The heading of the sheet; ``levels.csv`` takes it as it is printed."""
LENGTHS = frozenset({"Height", "Back sight", "Between", "Fore sight", "Tape 1", "Tape 2"})
_SHARES = (0.11, 0.09, 0.10, 0.10, 0.10, 0.13, 0.09, 0.13, 0.09, 0.06)

_STEPS = """\
1. Choose a bench mark that will not move: a door sill, a gate post, a stone. It counts as 100 if you write no height.
2. Set up the level (or hang the water level) where you see the bench mark and many spots. Read the staff on the bench \
mark: back sight.
3. Read the staff on each spot: between. Spots every 5 m (15 ft), every 2 m (6 ft) in hollows, on every edge, spill \
and drain mouth.
4. Before you move the level, read a firm spot: fore sight. Move, read it again: back sight, on the same line.
5. Come back to the bench mark at the end. Without that nobody can tell how good the heights are.
6. For each spot write where it is: two tapes from two named points that are not in line with it, and on which side \
of the way from the first to the second it lies, left or right; or metres (feet) east and north of a corner.
7. Copy the heading and the lines into levels.csv as they stand. A spot that cannot be placed is left out and named.
Water level: the two standing columns are read against two staffs; swap the ends and take the mean, chase the bubbles \
out, keep the tube in the shade.""".splitlines()


def write_level_book(path: Path, units: Units) -> None:
    """Write the sheet as a PDF, Letter for feet and A4 for metres; the same bytes each time."""
    from reportlab.lib.pagesizes import A4, letter
    from reportlab.pdfgen.canvas import Canvas

    size = letter if units is Units.IMPERIAL else A4
    canvas = Canvas(str(path), pagesize=size, invariant=True)
    canvas.setTitle("Level book")
    width, height = size
    y = height - 48
    canvas.setFont("Times-Bold", 17)
    canvas.drawString(48, y, "Level book")
    canvas.setFont("Times-Roman", 12)
    canvas.drawRightString(width - 48, y, "Place ____________________   Date ____________")
    y -= 20
    for step in _STEPS:
        y = _paragraph(canvas, step, y, width)
    _table(canvas, y - 4, width, "ft" if units is Units.IMPERIAL else "m")
    canvas.setFont("Times-Italic", 10.5)
    canvas.drawString(
        48, 34, "Call before you dig or drive stakes; private lines are not marked. Do not level in a thunderstorm."
    )
    canvas.showPage()
    canvas.save()


def _paragraph(canvas: Any, text: str, y: float, width: float) -> float:
    from reportlab.lib.utils import simpleSplit

    canvas.setFont("Times-Roman", 10.5)
    for line in simpleSplit(text, "Times-Roman", 10.5, width - 96):
        canvas.drawString(48, y, line)
        y -= 13
    return y - 1


def _table(canvas: Any, top: float, width: float, unit: str) -> None:
    left, right = 48.0, width - 48.0
    row = (top - 52.0) / (ROWS + 1)
    edges = [left]
    for share in _SHARES:
        edges.append(edges[-1] + share * (right - left))
    canvas.setFont("Times-Bold", 9)
    for edge, head in zip(edges, HEADS, strict=False):
        lines = f"{head} {unit}".rsplit(" ", 2) if head in LENGTHS else [head]
        lines = [" ".join(lines[:-1]), lines[-1]] if len(lines) == 3 and len(head) > 7 else [" ".join(lines)]
        for number, words in enumerate(reversed(lines)):
            canvas.drawString(edge + 3, top - row + 4 + 9 * number, words)
    canvas.setLineWidth(0.5)
    for k in range(ROWS + 2):
        canvas.line(left, top - k * row, right, top - k * row)
    for edge in edges:
        canvas.line(edge, top, edge, top - (ROWS + 1) * row)
