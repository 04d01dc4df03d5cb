"""holes.csv: auger holes, depth to water by date."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from pathlib import Path

from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.kinds import clean_text
from sitepipe.reading.positions import Positions
from sitepipe.reading.tables import Row, Table, is_number, read_length, read_number, read_table
from sitepipe.settings import Settings
from sitepipe.site import AugerReading, Feature, Refill
from sitepipe.units import Units

TIMED = ("test from", "test to", "test minutes", "hole width")
"""A bailed or filled hole, timed: depth to water at the start and at the end, the minutes between, the hole's width."""
COLUMNS = (
    *("place", "date", "depth to water", "rain since", "hole depth", "depth where gray begins", "x", "y", "note"),
    *TIMED,
)
_GRAY = "depth where gray begins"
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


def read_holes(
    path: Path, features: Iterable[Feature], positions: Positions, settings: Settings
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
    drawn = {
        feature.name.strip().lower(): (feature.geometry.centroid.x, feature.geometry.centroid.y) for feature in features
    }
    unit, assumptions = _unit(table, settings)
    return tuple(_reading(row, table, drawn, positions, unit) for row in table.rows), assumptions


def _unit(table: Table, settings: Settings) -> tuple[float, tuple[str, ...]]:
    depths = ("depth to water", "hole depth", "depth where gray begins", "test from", "test to", "hole width")
    for row in table.rows:
        for column in depths:
            text = row.cells.get(column, "")
            if is_number(text) and column not in table.units:
                if settings.units is Units.IMPERIAL:
                    raise SettingsError(
                        f"{table.where(row)}: {column} is {text} without a unit, and the site is in feet. "
                        f"Write '{text} in', "
                        f"or the unit into the heading: '{column} [in]'"
                    )
                return 1.0, (f"{table.name}: depths without a unit are taken as metres.",)
    return 1.0, ()


def _reading(
    row: Row, table: Table, drawn: dict[str, tuple[float, float]], positions: Positions, unit: float
) -> AugerReading:
    where = table.where(row)
    cells = row.cells
    place = clean_text(cells.get("place", "")).strip()
    if "x" in cells and "y" in cells:
        x, y = (read_length(cells[one], table.units.get(one, positions.grid_unit), f"{where}: {one}") for one in "xy")
        at = positions.from_grid(x, y)
    elif place.lower() in drawn:
        at = drawn[place.lower()]
    else:
        import difflib

        close = difflib.get_close_matches(place.lower(), list(drawn), n=1, cutoff=0.5)
        hint = f" (did you mean {close[0]!r}?)" if close else ""
        raise InputError(
            f"{where}: place is {place[:60]!r}, which is not drawn{hint}. Draw a point of kind 'observation' with that "
            "name, or add columns x and y"
        )
    depth = _depth(row, "depth to water", table, unit)
    bottom = _depth(row, "hole depth", table, unit)
    if "depth to water" not in cells:
        raise InputError(f"{where} has no depth to water. Write the depth, or 'dry'")
    if depth is not None and bottom is not None and depth > bottom:
        raise InputError(
            f"{where}: water at {depth:g} m lies below the bottom of the hole at {bottom:g} m. Correct one"
        )
    return AugerReading(
        place=place,
        x=float(at[0]),
        y=float(at[1]),
        day=_day(cells.get("date", ""), where),
        depth_to_water=depth,
        hole_depth=bottom,
        rain_since=clean_text(cells.get("rain since", "")),
        gray_depth=_depth(row, "depth where gray begins", table, unit),
        refill=_refill(row, table, unit, depth, bottom),
    )


def _refill(row: Row, table: Table, unit: float, rested: float | None, bottom: float | None) -> Refill | None:
    """Read how fast a bailed hole refilled, or a filled one emptied; None where it was not timed."""
    given = [column for column in TIMED[:3] if row.cells.get(column, "").strip()]
    if not given:
        return None
    where = table.where(row)
    missing = [column for column in TIMED if not row.cells.get(column, "").strip()]
    if missing:
        raise InputError(
            f"{where}: {given[0]} is given, but {missing[0]} is not. A timed hole needs {', '.join(TIMED)}"
        )
    start, end = _depth(row, "test from", table, unit), _depth(row, "test to", table, unit)
    width = read_length(row.cells["hole width"], table.units.get("hole width", unit), f"{where}: hole width")
    minutes = read_number(row.cells["test minutes"], f"{where}: test minutes")
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


def _depth(row: Row, column: str, table: Table, unit: float) -> float | None:
    text = row.cells.get(column)
    if text is None or text.strip().lower() in DRY | NOTHING:
        return None
    where = f"{table.where(row)}: {column}"
    depth = read_length(text, table.units.get(column, unit), where)
    if not -1.0 <= depth <= DEEPEST:
        raise InputError(f"{where} is {depth:g} m; it must lie between 0 and {DEEPEST:g} m, down from the ground")
    return depth


def _day(text: str, where: str) -> date:
    try:
        return date.fromisoformat(text.strip())
    except ValueError as error:
        raise InputError(
            f"{where}: date is {clean_text(text)[:30]!r}; write year-month-day, such as 2025-04-09"
        ) from error
