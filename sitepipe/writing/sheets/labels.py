"""Names and numbered rings on the map, set down so that none covers another. Lengths in px."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from sitepipe.mapping.marks import MARKS, Drawn
from sitepipe.writing.sheets.fonts import BOLD, ITALIC, REGULAR, width_of
from sitepipe.writing.sheets.paper import MapBox
from sitepipe.writing.sheets.pen import BLACK, WHITE, Pen, Point

NAME_SIZE, RING_SIZE, RING = 14.0, 17.0, 15.0
LONG_ENOUGH = 94.0
"""A number sits on its thing only if that is so long in one direction; else it stands beside it on a leader."""
_GROWN = {"tree", "hedge", "bed"}
LONGEST_NAME = 28
SQUARE = 6.0

Rectangle = tuple[float, float, float, float]


@dataclass(slots=True)
class Room:
    """What is taken on the map already."""

    box: MapBox
    taken: list[Rectangle] = field(default_factory=list)
    drawn: set[tuple[int, int]] = field(default_factory=set)
    """Squares of the map with a line in them that a number had better not cover."""

    def is_free(self, box: Rectangle) -> bool:
        """Tell whether a rectangle lies on the map and touches nothing."""
        left, top, right, bottom = box
        if left < self.box.left + 3 or right > self.box.right - 3:
            return False
        if top < self.box.top + 3 or bottom > self.box.bottom - 3:
            return False
        return not any(left < r and l < right and top < b and t < bottom for l, t, r, b in self.taken)  # noqa: E741

    def take(self, box: Rectangle) -> None:
        """Mark a rectangle as taken."""
        self.taken.append(box)

    def note(self, places: Iterable[Point]) -> None:
        """Remember places on lines, by the squares that they lie in."""
        self.drawn.update((int(x // SQUARE), int(y // SQUARE)) for x, y in places)

    def covers(self, box: Rectangle) -> int:
        """Count the squares with a line in them that a rectangle would cover."""
        left, top, right, bottom = (int(edge // SQUARE) for edge in box)
        return sum((x, y) in self.drawn for x in range(left, right + 1) for y in range(top, bottom + 1))

    def crosses(self, start: Point, end: Point) -> int:
        """Count the taken rectangles and the squares with a line that a leader would run over."""
        count = max(2, int(math.dist(start, end) / SQUARE))
        spots = [_between(start, end, k / count) for k in range(1, count)]
        over = sum(any(le <= x <= ri and to <= y <= bo for x, y in spots) for le, to, ri, bo in self.taken)
        return 3 * over + sum((int(x // SQUARE), int(y // SQUARE)) in self.drawn for x, y in spots)


def place_rings(pen: Pen, places: Iterable[tuple[int, Point, float]], room: Room) -> None:
    """Draw the numbers: (number, anchor, reach), both in px."""
    for number, anchor, reach in places:
        spot = _ring_spot(anchor, reach, room)
        if spot is None:
            continue
        x, y = spot
        room.take((x - RING - 2, y - RING - 2, x + RING + 2, y + RING + 2))
        if math.dist(spot, anchor) > RING + 4:
            pen.stroke([[spot, anchor]], 3.4, grey=WHITE)
            pen.stroke([[spot, anchor]], 1.2)
            room.note(_between(spot, anchor, k / 8.0) for k in range(1, 9))
            pen.circle(anchor, 2.2, BLACK)
        pen.circle(spot, RING, WHITE, width=1.8)
        pen.write((x, y + 6.2), str(number), RING_SIZE, BOLD, anchor="middle")


def _ring_spot(anchor: Point, reach: float, room: Room) -> Point | None:
    tries = [anchor] if reach >= LONG_ENOUGH else []
    for away in (30.0, 40.0, 52.0, 66.0, 84.0):
        tries += [
            (anchor[0] + away * math.cos(math.radians(turn)), anchor[1] + away * math.sin(math.radians(turn)))
            for turn in (180.0, 0.0, -90.0, 90.0, -135.0, -45.0, 135.0, 45.0, 202.5, 22.5, 157.5, -22.5)
        ]
    free = [(x, y) for x, y in tries if room.is_free((x - RING - 2, y - RING - 2, x + RING + 2, y + RING + 2))]
    if free and free[0] == anchor:
        return anchor

    def cost(spot: Point) -> tuple[int, float]:
        x, y = spot
        covered = room.covers((x - RING, y - RING, x + RING, y + RING))
        return covered + room.crosses(spot, anchor), math.dist(spot, anchor)

    return min(free, key=cost, default=None)


def place_names(pen: Pen, marks: Iterable[Drawn], room: Room) -> None:
    """Write the names of what stands there; one that finds no room is left out."""
    written: set[str] = set()
    for mark in marks:
        name = mark.name
        if not name or mark.mark == "boundary":
            continue
        name = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"
        if name in written:
            continue
        if _write_name(pen, mark, name, room):
            written.add(name)


def _write_name(pen: Pen, mark: Drawn, name: str, room: Room) -> bool:
    if mark.mark == "road":
        return _write_road(pen, mark, name, room)
    face = ITALIC if mark.mark in _GROWN else REGULAR
    wide = width_of(name, NAME_SIZE, face)
    left, _, right, _ = _reach(mark, room.box)
    best: tuple[int, float, float, float, Rectangle] | None = None
    for x, y, turn in _name_spots(mark, wide, room.box):
        high, across = (wide, NAME_SIZE) if turn else (NAME_SIZE, wide)
        rectangle = (x - across / 2 - 2, y - high / 2 - 1, x + across / 2 + 2, y + high / 2 + 1)
        if not room.is_free(rectangle):
            continue
        covered = 0 if left < x - across / 2 and x + across / 2 < right else room.covers(rectangle)
        if best is None or covered < best[0]:
            best = (covered, x, y, turn, rectangle)
        if not covered:
            break
    if best is None:
        return False
    _, x, y, turn, rectangle = best
    room.take(rectangle)
    foot = (x + NAME_SIZE * 0.34, y) if turn else (x, y + NAME_SIZE * 0.34)
    pen.write(foot, name, NAME_SIZE, face, "middle", has_edge=True, turn=turn)
    return True


def _between(start: Point, end: Point, share: float) -> Point:
    return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])


def _name_spots(mark: Drawn, wide: float, box: MapBox) -> list[tuple[float, float, float]]:
    """Return where a name may stand: in the thing if it fits, then beside, above and below; along a tall hedge."""
    left, top, right, bottom = _reach(mark, box)
    x, y = (left + right) / 2.0, (top + bottom) / 2.0
    if mark.mark in {"hedge", "drive"} and bottom - top > 2.0 * (right - left) and bottom - top > wide:
        return [(left - 12.0, y, 90.0), (right + 12.0, y, 90.0), (left - 12.0, y - 40.0, 90.0)]
    spots = [(x, y - 4.0, 0.0)] if right - left > wide + 8.0 and bottom - top > 20.0 else []
    spots += [
        (x, top - 11.0, 0.0),
        (right + wide / 2.0 + 6.0, y, 0.0),
        (left - wide / 2.0 - 6.0, y, 0.0),
        (x, bottom + 12.0, 0.0),
        (right + wide / 2.0 + 2.0, top - 9.0, 0.0),
        (left - wide / 2.0 - 2.0, top - 9.0, 0.0),
        (right + wide / 2.0 + 2.0, bottom + 10.0, 0.0),
        (left - wide / 2.0 - 2.0, bottom + 10.0, 0.0),
        (x, top - 28.0, 0.0),
        (x, bottom + 28.0, 0.0),
    ]
    return spots


def _reach(mark: Drawn, box: MapBox) -> Rectangle:
    band = MARKS[mark.mark].band or (6.0 if mark.at else 0.0)
    half = max(band, mark.half * box.scale.px_per_metre) if band else 0.0
    rings = [mark.at] if mark.at else [ring for rings in mark.area for ring in rings] or mark.line
    points = [point for ring in rings for point in box.points(ring)]
    across, down = [x for x, _ in points], [y for _, y in points]
    return min(across) - half, min(down) - half, max(across) + half, max(down) + half


def _write_road(pen: Pen, mark: Drawn, name: str, room: Room) -> bool:
    """Space a road's name along it, in its own band, where that crosses the map level or upright."""
    if not mark.area:
        return False
    left, top, right, bottom = _reach(mark, room.box)
    left, right = max(left, room.box.left), min(right, room.box.right)
    top, bottom = max(top, room.box.top), min(bottom, room.box.bottom)
    wide = width_of(name, NAME_SIZE) + 6.0 * (len(name) - 1)
    if right - left < wide + 20.0 or bottom - top < 12.0 or bottom - top > 120.0:
        return False
    y = (top + bottom) / 2.0
    for share in (0.5, 0.3, 0.7, 0.15, 0.85):
        x = left + share * (right - left)
        rectangle = (x - wide / 2, y - 8, x + wide / 2, y + 8)
        if room.is_free(rectangle):
            room.take(rectangle)
            pen.write((x, y + 4.8), name, NAME_SIZE, anchor="middle", has_edge=True, spaced=6.0)
            return True
    return False
