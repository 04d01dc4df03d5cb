"""The legend of the sheet: at most twelve classes in four columns, each drawn as on the map. Lengths in px."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from sitepipe.mapping.palette import MARKS
from sitepipe.writing.sheets.marks import cross, inset_shores
from sitepipe.writing.sheets.paper import MAP_WIDTH
from sitepipe.writing.sheets.patterns import pattern
from sitepipe.writing.sheets.pen import BLACK, GREY, PALE, WHITE, Line, Pen, Point
from sitepipe.writing.sheets.strokes import Spot, arrow_head

COLUMNS, ROW, MOST = 4, 22.0, 12
_WIDE, _HIGH = 32.0, 16.0

CLASSES: tuple[tuple[str, str], ...] = (
    ("mound", "Mound"),
    ("hoop-house", "Hoop house"),
    ("trellis", "Trellis"),
    ("path", "Chip path"),
    ("wet-planting", "Wet planting"),
    ("keep-clear", "Keep clear"),
    ("stands-8", "Stands 8+ in 10"),
    ("stands-5", "5 to 8 in 10"),
    ("stands-2", "2 to 5 in 10"),
    ("runs", "Water runs"),
    ("runs-guessed", "Runs, guessed"),
    ("buried", "Pipe: don’t dig"),
    ("tipping", "Tip chips here"),
)
"""(mark, what it means), in the order of the legend, which is read down each column."""


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
        _draw_sample(pen, mark, (x, y))
        pen.write((x + _WIDE + 10.0, y + 13.0), said)


def _rectangle(corner: Point, inset: float = 0.0) -> Line:
    x, y = corner[0] + inset, corner[1] + inset
    wide, high = _WIDE - 2.0 * inset, _HIGH - 2.0 * inset
    return [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]


def _draw_sample(pen: Pen, mark: str, corner: Point) -> None:
    hand = _SAMPLES.get(mark)
    if hand is not None:
        hand(pen, corner)
        return
    style, areas = MARKS[mark], [_rectangle(corner)]
    pen.fill(areas, {"stands-8": GREY, "stands-5": PALE}.get(mark, WHITE))
    if style.pattern:
        pattern(style.pattern)(pen, areas)
    if mark == "stands-8":
        inset_shores(pen, areas)
    pen.stroke(areas, style.width, dashes=style.dashes, is_closed=True, is_round=mark == "stands-2")


def _mound(pen: Pen, corner: Point) -> None:
    x, y = corner
    ends = [
        (x + 8.0, y),
        (x + 24.0, y),
        (x + 29.0, y + 2.5),
        (x + 32.0, y + 8.0),
        (x + 29.0, y + 13.5),
        (x + 24.0, y + 16.0),
    ]
    ring = [*ends, (x + 8.0, y + 16.0), (x + 3.0, y + 13.5), (x, y + 8.0), (x + 3.0, y + 2.5)]
    pen.stroke([ring], 1.8, is_closed=True)
    ticks = [[(x + a, y + b), (x + a, y + b + 3.4)] for a in (9.0, 13.0, 17.0, 21.0, 24.0) for b in (2.6, 10.2)]
    pen.stroke(ticks, 1.0)


def _hoop_house(pen: Pen, corner: Point) -> None:
    x, y = corner
    pen.stroke([[(x + a, y), (x + a, y + _HIGH)] for a in (5.3, 10.7, 16.0, 21.3, 26.7)], 1.3)
    pen.stroke([_rectangle(corner)], 2.0, is_closed=True)


def _trellis(pen: Pen, corner: Point) -> None:
    x, y = corner[0], corner[1] + _HIGH / 2.0
    pen.stroke([[(x + 2.0, y), (x + 30.0, y)]], 2.0)
    for a in (2.5, 11.5, 20.5, 29.5):
        pen.square((x + a, y), 5.4, BLACK)


def _path(pen: Pen, corner: Point) -> None:
    x, y = corner
    ring = [(x, y + 3.0), (x + _WIDE, y + 3.0), (x + _WIDE, y + 13.0), (x, y + 13.0)]
    pattern("chips")(pen, [ring])
    pen.stroke([ring], 1.2, is_closed=True)


def _runs(pen: Pen, corner: Point) -> None:
    x, y = corner
    curve = [(x, y + 13.0), (x + 8.0, y + 12.0), (x + 16.0, y + 8.0), (x + 24.0, y + 5.5), (x + 31.0, y + 4.0)]
    pen.stroke([curve], 2.4, is_round=True)
    pen.stroke([arrow_head(Spot(x + 32.0, y + 4.0, 0.98, -0.2), 8.0)], 2.0, is_round=True)


def _guessed(pen: Pen, corner: Point) -> None:
    x, y = corner[0], corner[1] + _HIGH / 2.0
    pen.stroke([[(x, y), (x + 30.0, y)]], 2.2, dashes=(5.0, 4.0))
    pen.stroke([arrow_head(Spot(x + 32.0, y, 1.0, 0.0), 8.0)], 2.0, is_round=True)


def _buried(pen: Pen, corner: Point) -> None:
    x, y = corner[0], corner[1] + _HIGH / 2.0
    pen.stroke([[(x, y), (x + _WIDE, y)]], 1.8, dashes=(9.0, 5.0))
    cross(pen, (x + 16.0, y), 4.5, 1.8)


_SAMPLES: dict[str, Callable[[Pen, Point], None]] = {
    "mound": _mound,
    "hoop-house": _hoop_house,
    "trellis": _trellis,
    "path": _path,
    "runs": _runs,
    "runs-guessed": _guessed,
    "buried": _buried,
}
