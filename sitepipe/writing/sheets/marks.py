"""How each class is drawn in black: one function a mark, the same marks as on the page."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from sitepipe.mapping.palette import INSET_SHORES, MARKS
from sitepipe.writing.sheets.paper import MapBox
from sitepipe.writing.sheets.patterns import pattern
from sitepipe.writing.sheets.pen import BLACK, GREY, PALE, SOFT, WHITE, Line, Pen, Point
from sitepipe.writing.sheets.strokes import (
    Spot,
    arrow_head,
    band,
    circle,
    length_of,
    scallops,
    spots_along,
    steps,
)

Mark = Mapping[str, Any]

LEFT_OUT = frozenset({"touch", "plants", "sun-8", "sun-6", "sun-4", "sun-0", "shade-edge", "shade-edge-guessed"})
"""Marks of the page that this sheet does not draw: what a finger touches, the sun, which is another map,
and single plants, which the sheets of beds draw larger."""

_FILLS = {"stands-8": GREY, "stands-5": PALE, "water": GREY, "open-water": GREY}
LEAST_FLOW = 12.0
"""Shorter flow lines are not drawn. [px]"""
ARROWS_APART = 62.0
TICKS_APART = 6.5


def draw_mark(pen: Pen, mark: Mark, box: MapBox) -> None:
    """Draw one mark; one that a sheet does not know, such as the touch of a finger, is left out."""
    hand = _HANDS.get(mark["mark"])
    if hand is not None:
        hand(pen, mark, box)


def rings_of(mark: Mark, box: MapBox) -> list[Line]:
    """Return every ring of a mark's areas on the sheet."""
    return [box.points(ring) for rings in mark.get("area", ()) for ring in rings if len(ring) >= 6]


def lines_of(mark: Mark, box: MapBox) -> list[list[Point]]:
    """Return a mark's lines on the sheet."""
    return [box.points(line) for line in mark.get("line", ()) if len(line) >= 4]


def _shore(pen: Pen, mark: Mark, box: MapBox) -> None:
    style, areas = MARKS[mark["mark"]], rings_of(mark, box)
    if not areas:
        return
    pen.fill(areas, _FILLS.get(mark["mark"], WHITE))
    if style.pattern:
        pattern(style.pattern)(pen, areas)
    if mark["mark"] == "stands-8":
        inset_shores(pen, areas)
    shores = [[*line, line[0]] for line in lines_of(mark, box)]
    pen.stroke(shores, style.width, dashes=style.dashes, is_round=mark["mark"] == "stands-2")


def inset_shores(pen: Pen, areas: Sequence[Line]) -> None:
    """Repeat a shore inwards: wide strokes, black and grey by turns, the innermost first, kept inside."""
    with pen.inside(areas):
        for away, width in reversed(INSET_SHORES):
            pen.stroke(areas, 2.0 * away + width, is_closed=True)
            pen.stroke(areas, 2.0 * away - width, grey=GREY, is_closed=True)


def _water(pen: Pen, mark: Mark, box: MapBox) -> None:
    areas = rings_of(mark, box)
    if areas:
        pen.fill(areas, GREY)
        inset_shores(pen, areas)
        pen.stroke(areas, 2.2, is_closed=True)
    pen.stroke(lines_of(mark, box), 2.2)


def _area(pen: Pen, mark: Mark, box: MapBox) -> None:
    style, areas = MARKS.get(mark["mark"], MARKS["soft-ground"]), rings_of(mark, box)
    if not areas:
        return
    pen.stroke(areas, style.width + 2.2, grey=WHITE, is_closed=True)
    pen.fill(areas, WHITE)
    if style.pattern:
        pattern(style.pattern)(pen, areas)
    pen.stroke(areas, style.width, dashes=style.dashes, is_closed=True)


def _path(pen: Pen, mark: Mark, box: MapBox) -> None:
    half = max(3.2, mark["across"] * box.scale.px_per_metre / 2.0)
    areas = rings_of(mark, box) if half > 3.2 else []
    areas = areas or [band(line, half) for line in lines_of(mark, box)]
    if not areas:
        return
    pen.stroke(areas, 3.4, grey=WHITE, is_closed=True)
    pen.fill(areas, WHITE)
    pattern("chips")(pen, areas)
    pen.stroke(areas, MARKS["path"].width, is_closed=True)


def _mound(pen: Pen, mark: Mark, box: MapBox) -> None:
    areas = rings_of(mark, box)
    pen.stroke(areas, 4.4, grey=WHITE, is_closed=True)
    pen.fill(areas, WHITE)
    pen.stroke(areas, MARKS["mound"].width, is_closed=True)
    half = mark["half"] * box.scale.px_per_metre
    if half <= 5.0:
        return
    for crest in lines_of(mark, box):
        pen.stroke(_mound_ticks(crest, half), 1.0)


def _mound_ticks(crest: Sequence[Point], half: float) -> list[Line]:
    near, far = half * 0.52, half * 0.86
    total = length_of(crest)

    def tick(x: float, y: float, across: float, down: float) -> Line:
        return [(x + across * near, y + down * near), (x + across * far, y + down * far)]

    ticks = []
    for spot in spots_along(crest, steps(0.0, total, total / max(1, round(total / TICKS_APART)))):
        ticks += [tick(spot.x, spot.y, -spot.dy, spot.dx), tick(spot.x, spot.y, spot.dy, -spot.dx)]
    for tip, back in ((crest[-1], crest[-2]), (crest[0], crest[1])):
        turn = math.atan2(tip[1] - back[1], tip[0] - back[0])
        fan = max(2, round(math.pi * near / TICKS_APART))
        for k in range(1, fan):
            angle = turn + math.pi / 2.0 - k / fan * math.pi
            ticks.append(tick(*tip, math.cos(angle), math.sin(angle)))
    return ticks


def _hoop_house(pen: Pen, mark: Mark, box: MapBox) -> None:
    areas = rings_of(mark, box)
    if not areas:
        return
    pen.stroke(areas, 4.4, grey=WHITE, is_closed=True)
    pen.fill(areas, WHITE)
    corners = list(areas[0])[:4]
    if len(corners) == 4:
        if math.dist(corners[0], corners[1]) < math.dist(corners[1], corners[2]):
            corners = [*corners[1:], corners[0]]
        a, b, c, d = corners
        count = max(3, round(math.dist(a, b) / 11.0))
        pen.stroke([[_between(a, b, k / count), _between(d, c, k / count)] for k in range(1, count)], 1.3)
    pen.stroke(areas, MARKS["hoop-house"].width, is_closed=True)


def _between(a: Point, b: Point, share: float) -> Point:
    return a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])


def _trellis(pen: Pen, mark: Mark, box: MapBox) -> None:
    for line in lines_of(mark, box):
        pen.stroke([line], 4.4, grey=WHITE)
        pen.stroke([line], MARKS["trellis"].width)
        total = length_of(line)
        gaps = max(1, min(mark.get("posts", 2) - 1, int(total / 13.0)))
        for spot in spots_along(line, steps(0.0, total, total / gaps)):
            pen.square((spot.x, spot.y), 6.0, BLACK)


def _flow(pen: Pen, mark: Mark, box: MapBox) -> None:
    is_guessed = mark["mark"] == "runs-guessed"
    for line in lines_of(mark, box):
        total = length_of(line)
        if total < LEAST_FLOW:
            continue
        widths = mark.get("width") or [MARKS["runs"].width]
        widest = MARKS["runs-guessed"].width if is_guessed else max(widths)
        pen.stroke([line], widest + 2.4, grey=WHITE)
        if is_guessed:
            pen.stroke([line], widest, dashes=MARKS["runs-guessed"].dashes)
        else:
            for k in range(1, len(line)):
                pen.stroke([[line[k - 1], line[k]]], widths[min(k, len(widths) - 1)], is_round=True)
        first = total if is_guessed else ARROWS_APART
        for spot in spots_along(line, [*steps(first, max(total - 24.0, 0.0), ARROWS_APART), total]):
            _arrow(pen, spot)


def _arrow(pen: Pen, spot: Spot) -> None:
    head = arrow_head(spot, 8.5)
    pen.stroke([head], 3.6, grey=WHITE)
    pen.stroke([head], 2.0, is_round=True)


def _seen(pen: Pen, mark: Mark, box: MapBox) -> None:
    x, y = box.to(*mark["at"])
    pen.square((x, y), 16.0, WHITE, width=1.4)
    pen.write((x, y + 5.0), "D" if mark["mark"] == "seen-dry" else "W", face="sheet-bold", anchor="middle")


def _hole(pen: Pen, mark: Mark, box: MapBox) -> None:
    middle = box.to(*mark["at"])
    pen.circle(middle, 4.2, WHITE, width=1.4)
    pen.stroke([[(middle[0] - 4.2, middle[1]), (middle[0] + 4.2, middle[1])]], 1.4)


def _buried(pen: Pen, mark: Mark, box: MapBox) -> None:
    style = MARKS["buried"]
    for line in lines_of(mark, box):
        pen.stroke([line], 6.0, grey=WHITE)
        pen.stroke([line], style.width, dashes=style.dashes)
        for spot in spots_along(line, steps(14.0, length_of(line), 28.0)):
            cross(pen, (spot.x, spot.y), 4.5, 1.8)


def cross(pen: Pen, middle: Point, half: float, width: float) -> None:
    """Draw a slanting cross."""
    x, y = middle
    pen.stroke([[(x - half, y - half), (x + half, y + half)], [(x + half, y - half), (x - half, y + half)]], width)


def _building(pen: Pen, mark: Mark, box: MapBox) -> None:
    areas = rings_of(mark, box)
    pen.fill(areas, WHITE)
    pen.stroke([box.points(line) for line in mark.get("roof", ())], 1.0)
    pen.stroke(areas, 2.0, is_closed=True)


def _tree(pen: Pen, mark: Mark, box: MapBox) -> None:
    middle = box.to(*mark["at"])
    radius = max(6.0, mark["radius"] * box.scale.px_per_metre)
    step = min(11.0, max(7.0, radius * 0.42))
    _crown(pen, scallops(circle(middle, radius - step * 0.2), step))
    pen.circle(middle, 2.0, SOFT)


def _crown(pen: Pen, outline: Line) -> None:
    pen.fill([outline], 0.97)
    pen.stroke([outline], 1.1, grey=SOFT, is_closed=True)


def _crowns(pen: Pen, mark: Mark, box: MapBox) -> None:
    for ring in rings_of(mark, box):
        _crown(pen, scallops(ring, 12.0))


def _hedge(pen: Pen, mark: Mark, box: MapBox) -> None:
    lines = lines_of(mark, box)
    if not lines:
        _crowns(pen, mark, box)
        return
    for line in lines:
        long = length_of(line)
        even = [(spot.x, spot.y) for spot in spots_along(line, steps(0.0, long, 12.0))]
        if len(even) < 2:
            continue
        _crown(pen, scallops(band(even, 4.5), 8.6))
        for spot in spots_along(line, steps(18.0, long - 6.0, 36.0)):
            pen.circle((spot.x, spot.y), 1.3, SOFT)


def _road(pen: Pen, mark: Mark, box: MapBox) -> None:
    pen.fill(rings_of(mark, box), WHITE)
    pen.stroke(lines_of(mark, box), 1.6)


def _drive(pen: Pen, mark: Mark, box: MapBox) -> None:
    pen.stroke(lines_of(mark, box), 1.4, grey=SOFT, dashes=(0.1, 4.0), is_round=True)


def _gate(pen: Pen, mark: Mark, box: MapBox) -> None:
    for line in lines_of(mark, box):
        ends = [line[0], line[-1]]
        pen.stroke([ends], 5.0, grey=WHITE)
        pen.stroke([ends], 1.0)
        for end in ends:
            pen.square(end, 6.0, BLACK)


def _tap(pen: Pen, mark: Mark, box: MapBox) -> None:
    middle = box.to(*mark["at"])
    pen.circle(middle, 6.0 if mark["mark"] == "well" else 4.2, WHITE, width=1.8)
    pen.circle(middle, 1.4, BLACK)


def _fixed_point(pen: Pen, mark: Mark, box: MapBox) -> None:
    x, y = box.to(*mark["at"])
    ring = [(x, y - 6.0), (x + 5.2, y + 3.0), (x - 5.2, y + 3.0)]
    pen.fill([ring], WHITE)
    pen.stroke([ring], 1.6, is_closed=True)
    pen.circle((x, y), 1.2, BLACK)


def _culvert(pen: Pen, mark: Mark, box: MapBox) -> None:
    for line in lines_of(mark, box):
        pen.stroke([line], 2.0, dashes=(6.0, 5.0))
        for spot in spots_along(line, [0.0, length_of(line)]):
            x, y = spot.dy * 9.0, -spot.dx * 9.0
            pen.stroke([[(spot.x - x, spot.y - y), (spot.x + x, spot.y + y)]], 2.6)


def _ditch(pen: Pen, mark: Mark, box: MapBox) -> None:
    pen.stroke(lines_of(mark, box), 4.0)
    pen.stroke(lines_of(mark, box), 2.0, grey=WHITE)


def _wall(pen: Pen, mark: Mark, box: MapBox) -> None:
    pen.stroke(lines_of(mark, box), 1.2 if mark["mark"] == "kerb" else 3.4)


def _bed(pen: Pen, mark: Mark, box: MapBox) -> None:
    pen.stroke(rings_of(mark, box), 1.2, grey=SOFT, is_closed=True)


def _boundary(pen: Pen, mark: Mark, box: MapBox) -> None:
    style = MARKS["boundary"]
    pen.stroke(rings_of(mark, box), style.width, dashes=style.dashes, is_closed=True)


_HANDS: dict[str, Callable[[Pen, Mark, MapBox], None]] = {
    "stands-8": _shore,
    "stands-5": _shore,
    "stands-2": _shore,
    "water": _water,
    "open-water": _water,
    "runs": _flow,
    "runs-guessed": _flow,
    "seen-wet": _seen,
    "seen-dry": _seen,
    "hole": _hole,
    "mound": _mound,
    "hoop-house": _hoop_house,
    "trellis": _trellis,
    "path": _path,
    "wet-planting": _area,
    "keep-clear": _area,
    "tipping": _area,
    "soft-ground": _area,
    "soaked": _area,
    "stake-out": _area,
    "buried": _buried,
    "building": _building,
    "tree": _tree,
    "crowns": _crowns,
    "hedge": _hedge,
    "road": _road,
    "drive": _drive,
    "gate": _gate,
    "tap": _tap,
    "well": _tap,
    "fixed-point": _fixed_point,
    "culvert": _culvert,
    "ditch": _ditch,
    "wall": _wall,
    "kerb": _wall,
    "bed": _bed,
    "boundary": _boundary,
}
