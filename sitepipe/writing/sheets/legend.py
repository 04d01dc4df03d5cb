"""The legend of the sheet: at most twelve classes in four columns, each drawn as on the map. Lengths in px."""

from __future__ import annotations

from collections.abc import Iterable

from sitepipe.mapping.marks import sample_of
from sitepipe.units import INCH
from sitepipe.writing.sheets.marks import draw_marks
from sitepipe.writing.sheets.paper import MAP_WIDTH, PX, MapBox, Scale
from sitepipe.writing.sheets.pen import Pen

COLUMNS, ROW, MOST = 4, 22.0, 12

CLASSES: tuple[tuple[str, str], ...] = (
    ("mound-stands", "Mound, stands"),
    ("mound", "Mound, wanted"),
    ("mound-proposed", "Mound, proposed"),
    ("buried", "Pipe: don’t dig"),
    ("hoop-house-proposed", "Hoop house"),
    ("trellis-proposed", "Trellis"),
    ("swale-runs", "Swale"),
    ("path", "Chip path"),
    ("wet-planting", "Wet planting"),
    ("keep-clear", "Keep clear"),
    ("stands-8", "Stands 8+ in 10"),
    ("stands-5", "5 to 8 in 10"),
    ("stands-2", "2 to 5 in 10"),
    ("runs", "Water runs"),
    ("runs-guessed", "Runs, guessed"),
    ("tipping", "Tip chips here"),
)
"""(mark, what it means), in the order of the legend, which is read down each column."""
_TO_THE_PX = Scale(PX / INCH, "", 0.0, "", "")


def shown_classes(drawn: Iterable[str]) -> list[tuple[str, str]]:
    """Return the classes that the map shows, at most twelve."""
    there = set(drawn)
    return [(mark, said) for mark, said in CLASSES if mark in there][:MOST]


def height_of_legend(classes: list[tuple[str, str]]) -> float:
    """Return how high the legend stands."""
    return -(-len(classes) // COLUMNS) * ROW


def draw_legend(pen: Pen, classes: list[tuple[str, str]], left: float, top: float) -> None:
    """Draw the legend, read downwards, column by column."""
    rows = max(1, -(-len(classes) // COLUMNS))
    for index, (mark, said) in enumerate(classes):
        column, row = divmod(index, rows)
        x, y = left + column * MAP_WIDTH / COLUMNS, top + row * ROW
        draw_marks(pen, sample_of(mark), MapBox(x - 1.0, y - 2.0, 34.0, 20.0, _TO_THE_PX, 17.0, 10.0))
        pen.write((x + 42.0, y + 13.0), said)
