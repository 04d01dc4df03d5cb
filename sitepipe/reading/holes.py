"""holes.csv: auger holes, depth to water by date."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from sitepipe.errors import InputError
from sitepipe.reading.positions import PLACING, Positions, drawn_places, find_place, refuse_elsewhere
from sitepipe.reading.tables import Row, read_table
from sitepipe.reading.tapes import Place
from sitepipe.settings import Settings
from sitepipe.site import AugerReading, Refill

TIMED = ("test from", "test to", "test minutes", "hole width")
"""A bailed or filled hole, timed: depth to water at the start and at the end, the minutes between, the hole's width."""
_GRAY = "depth where gray begins"
DEPTHS = ("depth to water", "hole depth", _GRAY, "test from", "test to", "hole width")
"""Columns of lengths, metres where nothing else is stated."""
COLUMNS = ("place", "date", "rain since", *DEPTHS, "test minutes", *PLACING, "note")
ALIASES = {
    "hole": "place",
    "point": "place",
    "name": "place",
    "day": "date",
    "water": "depth to water",
    "depth": "depth to water",
    "rain": "rain since",
    "depth of hole": "hole depth",
    "gray": _GRAY,
    "grey": _GRAY,
    "gray depth": _GRAY,
    "grey depth": _GRAY,
    "depth where grey begins": _GRAY,
    "depth where gray colors begin": _GRAY,
    "depth where grey colours begin": _GRAY,
    "remark": "note",
    "minutes": "test minutes",
    "hole diameter": "hole width",
    "diameter": "hole width",
    "width": "hole width",
}
DRY = frozenset({"dry", "none", "no water"})
NOTHING = frozenset({"none", "not seen", "-", "no"})
DEEPEST = 10.0
"""[m]."""
EARLIEST = date(1950, 1, 1)


def read_holes(
    path: Path, positions: Positions, settings: Settings
) -> tuple[tuple[AugerReading, ...], tuple[str, ...]]:
    """Read the auger holes, and what was taken for granted.

    Raises
    ------
    InputError
        If a row has no place, date or depth, or one that cannot be.
    """
    table = read_table(path, ALIASES, COLUMNS)
    for column in ("place", "date", "depth to water"):
        if not table.has(column):
            raise InputError(f"{table.name} has no column {column!r}. It needs place, date and depth to water")
    told = table.take_metres((*DEPTHS, *positions.bare), settings.units, "Write its unit behind it, such as '8 in'")
    table.refuse_split_numbers(DEPTHS)
    known = drawn_places(positions.features)
    return tuple(_reading(row, positions, known) for row in table.rows), told


def _reading(row: Row, positions: Positions, known: dict[str, frozenset[Place]]) -> AugerReading:
    name = row.text("place")
    if not name:
        raise InputError(f"{row.where} names no place. Write the name of its hole")
    x, y = _place(row, name, positions, known)
    if "depth to water" not in row.cells:
        raise InputError(f"{row.where} has no depth to water. Write the depth, or 'dry'")
    depth, bottom = _depth(row, "depth to water"), _depth(row, "hole depth")
    if depth is not None and bottom is not None and depth > bottom:
        raise InputError(
            f"{row.where}: water at {depth:g} m lies below the bottom of the hole at {bottom:g} m. Correct one"
        )
    return AugerReading(
        place=name,
        x=x,
        y=y,
        day=_day(row),
        depth_to_water=depth,
        hole_depth=bottom,
        rain_since=row.text("rain since"),
        gray_depth=_depth(row, _GRAY),
        refill=_refill(row, depth, bottom),
    )


def _place(row: Row, name: str, positions: Positions, known: dict[str, frozenset[Place]]) -> Place:
    place = positions.place(row, 1.0, known)
    if place is None:
        remedy = "Add columns x and y, or draw a point of kind 'observation'"
        return find_place(name, known, f"{row.where}: place", remedy)
    refuse_elsewhere(row, name, place, known)
    known[name.lower()] = frozenset({place})
    return place


def _refill(row: Row, rested: float | None, bottom: float | None) -> Refill | None:
    """Read how fast a bailed hole refilled, or a filled one emptied; None where it was not timed."""
    given = [column for column in TIMED[:3] if column in row.cells]
    if not given:
        return None
    where = row.where
    missing = [column for column in TIMED if column not in row.cells]
    if missing:
        raise InputError(
            f"{where}: {given[0]} is given, but {missing[0]} is not. A timed hole needs {', '.join(TIMED)}"
        )
    start, end = _depth(row, "test from"), _depth(row, "test to")
    width, minutes = row.length("hole width", 1.0) or 0.0, row.number("test minutes")
    if start is None or end is None or start == end:
        raise InputError(f"{where}: test from and test to must be two different depths to water")
    if not (0.0 < minutes <= 10_080.0 and 0.02 <= width <= 0.6):
        raise InputError(
            f"{where}: test minutes is {minutes:g} and hole width {width:g} m; they must lie between 0 and 10080 min "
            "(a week) and between 0.02 and 0.6 m"
        )
    if bottom is None or max(start, end) >= bottom:
        raise InputError(f"{where}: a timed hole needs its hole depth, below both test from and test to")
    if end < start and (rested is None or end < rested):
        raise InputError(
            f"{where}: water rose from {start:g} to {end:g} m, so the hole was bailed; that needs the depth to "
            "water at rest, above both"
        )
    if end > start and rested is not None and end > rested:
        raise InputError(f"{where}: water sank to {end:g} m, below where it rests at {rested:g} m. Correct one")
    return Refill(start, end, 60.0 * minutes, 0.5 * width)


def _depth(row: Row, column: str) -> float | None:
    if row.text(column).lower() in DRY | NOTHING:
        return None
    depth = row.length(column, 1.0)
    if depth is not None and not -1.0 <= depth <= DEEPEST:
        raise InputError(
            f"{row.where}: {column} is {depth:g} m; it must lie between 0 and {DEEPEST:g} m, down from the ground"
        )
    return depth


def _day(row: Row) -> date:
    try:
        day = date.fromisoformat(row.text("date"))
    except ValueError as error:
        raise InputError(
            f"{row.where}: date is {row.text('date')[:30]!r}; write year-month-day, such as 2025-04-09"
        ) from error
    if not EARLIEST <= day <= date.today():  # noqa: DTZ011 (a day as the grower's own calendar has it)
        raise InputError(f"{row.where}: date is {day}, which is long past or yet to come. Write the day of the reading")
    return day
