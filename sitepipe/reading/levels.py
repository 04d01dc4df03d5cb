"""levels.csv: finished heights or a level book, each point placed by coordinates, two tapes, or an offset."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.kinds import clean_text
from sitepipe.reading.level_book import LevelRun, Sight, allowance, reduce_book
from sitepipe.reading.tables import Row, Table, is_number, read_length, read_number, read_table
from sitepipe.reading.tapes import Place, offset_place, refuse_weak, trilaterate
from sitepipe.reading.vertical import UNITS_BY_NAME
from sitepipe.settings import Settings
from sitepipe.units import Units

COLUMNS = (
    "point", "x", "y", "longitude", "latitude", "height", "error",
    "back sight", "intermediate sight", "fore sight", "distance",
    "from 1", "tape 1", "from 2", "tape 2", "side", "line from", "line to", "along", "offset", "note",
)  # fmt: skip
ALIASES = {
    "name": "point", "id": "point", "station": "point", "easting": "x", "northing": "y", "east": "x", "north": "y",
    "z": "height", "elevation": "height", "level": "height", "reduced level": "height", "rl": "height",
    "lon": "longitude", "lng": "longitude", "lat": "latitude", "sd": "error",
    "bs": "back sight", "backsight": "back sight", "is": "intermediate sight", "intermediate": "intermediate sight",
    "fs": "fore sight", "foresight": "fore sight", "remark": "note", "remarks": "note", "comment": "note",
}  # fmt: skip
HEIGHT_ERROR = 0.005
"""Finished heights that say nothing of their error: a laser or water level in a garden, trade 3.1. [m]"""
SAME_PLACE = 0.05
"""Two levels closer than this are taken of one place. [m]"""

ToPlane = Callable[[float, float], Place]


@dataclass(frozen=True, slots=True)
class Level:
    """One surveyed point on the site's plane. [m]."""

    point: str
    x: float
    y: float
    height: float
    error: float


@dataclass(frozen=True, slots=True)
class Levels:
    """All surveyed points, and what was found on the way."""

    name: str
    points: tuple[Level, ...]
    run: LevelRun | None
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Positions:
    """How written positions become places on the site's plane.

    Parameters
    ----------
    fixed : mapping
        Places of the drawn points, by name in lower case. [m]
    from_grid : callable
        (x, y) as written, in metres where the column states a unit -> place.
    from_earth : callable or None
        (longitude, latitude) -> place; None on a local plane.
    grid_unit : float
        Metres per unit of bare coordinates.
    """

    fixed: Mapping[str, Place]
    from_grid: ToPlane
    from_earth: ToPlane | None
    grid_unit: float


def read_levels(path: Path, positions: Positions, settings: Settings) -> Levels:
    """Read surveyed levels.

    Raises
    ------
    InputError
        If a row cannot be read, a place is unknown or weak, two levels of one place disagree, or a loop does not
        close within its allowance and site.toml does not accept it.
    SettingsError
        If the unit of bare numbers is open.
    """
    table = read_table(path, ALIASES, COLUMNS)
    if not table.has("point"):
        raise InputError(f"{table.name} has no column 'point'. Name each point, such as A1")
    is_book = table.has("back sight", "fore sight")
    if not is_book and not table.has("height"):
        raise InputError(
            f"{table.name} has neither a column 'height' (finished heights) nor 'back sight' and 'fore sight' "
            "(a level book). Add one or the other"
        )
    unit, assumptions = _unit(table, settings)
    run = None
    warnings: list[str] = []
    if is_book:
        run = _reduced(table, unit, settings)
        told, doubts = _judged(run, settings)
        assumptions.append(told)
        warnings.extend(doubts)
        heights = _heights_of_book(run, settings)
    else:
        heights = _finished(table, unit, settings, assumptions)
    places = _places(table, unit, positions)
    points, unplaced = [], []
    for point, (height, error, where) in heights.items():
        if point in places:
            points.append(Level(point, *places[point], height, error))
        elif not where.endswith("turn"):
            unplaced.append(point)
    if unplaced:
        named = ", ".join(unplaced[:5])
        warnings.append(
            f"{table.name}: {len(unplaced)} points have a height and no place ({named}); they are left out of "
            "the surface."
        )
    return Levels(table.name, _merged(points, table.name), run, tuple(assumptions), tuple(warnings))


def _unit(table: Table, settings: Settings) -> tuple[float, list[str]]:
    said = settings.survey.unit
    if said is not None:
        return UNITS_BY_NAME[said], []
    measured = ("height", "back sight", "intermediate sight", "fore sight", "tape 1", "tape 2", "along", "offset")
    bare = [
        (row, column)
        for row in table.rows
        for column in measured
        if column not in table.units and is_number(row.cells.get(column, ""))
    ]
    if not bare:
        return 1.0, []
    row, column = bare[0]
    if settings.units is Units.IMPERIAL:
        raise SettingsError(
            f"{table.where(row)}: {column} is {row.cells[column]} without a unit, and the site is in feet. "
            "Under [survey] "
            "in site.toml write unit = 'ft' or 'm', or write the unit into the heading: 'height [ft]'"
        )
    return 1.0, [f"{table.name}: numbers without a unit are taken as metres."]


def _length(row: Row, column: str, table: Table, unit: float) -> float | None:
    text = row.cells.get(column)
    if text is None:
        return None
    return read_length(text, table.units.get(column, unit), f"{table.where(row)}: {column}")


def _reduced(table: Table, unit: float, settings: Settings) -> LevelRun:
    sights: list[Sight] = []
    for row in table.rows:
        back, middle, fore = (
            _length(row, column, table, unit) for column in ("back sight", "intermediate sight", "fore sight")
        )
        if back is None and middle is None and fore is None and sights:
            # A row without readings only places a point that was read elsewhere.
            continue
        sights.append(
            Sight(
                _named(row, table),
                back,
                middle,
                fore,
                _length(row, "height", table, unit),
                _length(row, "distance", table, unit),
                row.line,
            )
        )
    survey = settings.survey
    return reduce_book(sights, survey.misclosure_per_root_km, survey.least_misclosure, survey.sight)


def _judged(run: LevelRun, settings: Settings) -> tuple[str, tuple[str, ...]]:
    survey = settings.survey
    if run.misclosure is None:
        told = f"Level book: {run.set_ups} set-ups, {run.arithmetic}."
        return told, (
            "The level book ends on no known height, so nothing shows a misread staff. Close it on the bench mark.",
        )
    strict = allowance(run.length, 0.008, 0.0)
    told = (
        f"Level book: {run.set_ups} set-ups over {run.length:.0f} m, {run.arithmetic}; misclosure "
        f"{run.misclosure * 1000.0:+.1f} mm, "
        f"allowed {run.allowance * 1000.0:.1f} mm ({survey.misclosure_per_root_km * 1000.0:.0f} mm x root km, at least "
        f"{survey.least_misclosure * 1000.0:.0f} mm; second order would allow {strict * 1000.0:.1f} mm); "
        "shared out over the set-ups."
    )
    if run.is_within_allowance:
        return told, ()
    if not survey.accept_misclosure:
        raise InputError(
            f"levels.csv: the loop does not close: {run.arithmetic}, where {run.end - run.misclosure:.3f} m "
            "is known; misclosure "
            f"{run.misclosure * 1000.0:+.1f} mm, allowed {run.allowance * 1000.0:.1f} mm on {run.length:.0f} "
            "m. Look for a misread "
            "staff, level again, or write accept_misclosure = true under [survey] in site.toml"
        )
    return told, (
        (
            f"The level loop misses by {run.misclosure * 1000.0:+.1f} mm, more than the "
            f"{run.allowance * 1000.0:.1f} mm allowed; "
            "site.toml accepts it."
        ),
    )


def _heights_of_book(run: LevelRun, settings: Settings) -> dict[str, tuple[float, float, str]]:
    reading = settings.survey.reading_error
    misfit = abs(run.misclosure or 0.0) / max(np.sqrt(run.set_ups), 1.0)
    heights: dict[str, tuple[float, float, str]] = {}
    for one in run.points:
        error = float(np.hypot(reading * np.sqrt(max(one.set_up, 1)), misfit))
        if one.point not in heights:
            heights[one.point] = one.height, error, "turn" if one.point.lower().startswith(("tp", "turn")) else ""
    return heights


def _finished(
    table: Table, unit: float, settings: Settings, assumptions: list[str]
) -> dict[str, tuple[float, float, str]]:
    heights: dict[str, tuple[float, float, str]] = {}
    stated = settings.ground.error if settings.elevation is None else None
    default = stated or HEIGHT_ERROR
    if not table.has("error"):
        source = "site.toml, ground.error" if stated else "a garden level; common practice, no source"
        assumptions.append(f"{table.name}: each level is taken as good to {default * 1000.0:.0f} mm ({source}).")
    for number, row in enumerate(table.rows):
        height = _length(row, "height", table, unit)
        point = _named(row, table)
        if height is None:
            if any(column in row.cells for column in ("x", "tape 1", "along", "longitude")):
                continue
            raise InputError(f"{table.where(row)}: {point} has no height. Write it, or delete the row")
        error = _length(row, "error", table, unit)
        if error is not None and not 0.0 < error < 10.0:
            raise InputError(f"{table.where(row)}: error is {error:g} m; it must lie above 0 and below 10 m")
        key = point if point not in heights else f"{point} (line {row.line}, {number})"
        heights[key] = height, error or default, ""
    return heights


def _named(row: Row, table: Table) -> str:
    text = row.cells.get("point")
    if text is None:
        raise InputError(f"{table.where(row)} names no point. Write a name, such as A1")
    return clean_text(text)


def _places(table: Table, unit: float, positions: Positions) -> dict[str, Place]:
    """Return the place of every point that has one; later rows may measure from earlier ones."""
    known = dict(positions.fixed)
    places: dict[str, Place] = {}
    seen: set[str] = set()
    for number, row in enumerate(table.rows):
        point = _named(row, table)
        place = _place(row, table, unit, positions, known)
        key = point if point not in seen else f"{point} (line {row.line}, {number})"
        if "height" in row.cells or place is not None:
            seen.add(point)
        if place is None:
            if point.lower() in known and point not in places:
                places[point] = known[point.lower()]
            continue
        if not all(np.isfinite(value) for value in place):
            raise InputError(f"{table.where(row)}: {point} lies where the site's coordinate system does not reach")
        places[key if key not in places else point] = place
        known.setdefault(point.lower(), place)
    return places


def _place(row: Row, table: Table, unit: float, positions: Positions, known: Mapping[str, Place]) -> Place | None:
    cells, where = row.cells, table.where(row)
    if "x" in cells or "y" in cells:
        _need(cells, ("x", "y"), where)
        values = [read_length(cells[one], table.units.get(one, positions.grid_unit), f"{where}: {one}") for one in "xy"]
        return positions.from_grid(values[0], values[1])
    if "longitude" in cells or "latitude" in cells:
        _need(cells, ("longitude", "latitude"), where)
        if positions.from_earth is None:
            raise InputError(f"{where} has degrees, and the site is a plane of its own. Write x and y in metres")
        return positions.from_earth(
            read_number(cells["longitude"], f"{where}: longitude"), read_number(cells["latitude"], f"{where}: latitude")
        )
    if "tape 1" in cells or "tape 2" in cells:
        return _taped(row, table, unit, known)
    if "along" in cells or "offset" in cells:
        _need(cells, ("line from", "line to", "along", "offset"), where)
        ends = [_fixed(cells[one], known, f"{where}: {one}") for one in ("line from", "line to")]
        along, offset = _length(row, "along", table, unit), _length(row, "offset", table, unit)
        try:
            return offset_place(ends[0], ends[1], along or 0.0, offset or 0.0)
        except ValueError as error:
            raise InputError(f"{where}: {error}. Name two different points") from error
    return None


def _taped(row: Row, table: Table, unit: float, known: Mapping[str, Place]) -> Place:
    cells, where = row.cells, table.where(row)
    _need(cells, ("from 1", "tape 1", "from 2", "tape 2", "side"), where)
    side = cells["side"].strip().lower()
    if side not in {"left", "right"}:
        raise InputError(
            f"{where}: side is {side[:20]!r}; write left or right of the way from the first point to the second"
        )
    ends = [_fixed(cells[one], known, f"{where}: {one}") for one in ("from 1", "from 2")]
    first, second = _length(row, "tape 1", table, unit), _length(row, "tape 2", table, unit)
    try:
        place = trilaterate(ends[0], ends[1], first or 0.0, second or 0.0, side)
    except ValueError as error:
        raise InputError(f"{where}: {error}. Measure again") from error
    refuse_weak(place, where)
    return place.x, place.y


def _need(cells: Mapping[str, str], columns: tuple[str, ...], where: str) -> None:
    missing = [column for column in columns if column not in cells]
    if missing:
        raise InputError(f"{where} has no {' and no '.join(missing)}. A place needs {', '.join(columns)}")


def _fixed(name: str, known: Mapping[str, Place], where: str) -> Place:
    place = known.get(clean_text(name).strip().lower())
    if place is None:
        import difflib

        close = difflib.get_close_matches(name.lower(), list(known), n=1, cutoff=0.5)
        hint = f" (did you mean {close[0]!r}?)" if close else ""
        raise InputError(
            f"{where} is {clean_text(name)[:60]!r}, which is neither drawn as a point nor placed above{hint}. "
            "Draw it as a feature of kind 'fixed point' with that name"
        )
    return place


def _merged(points: list[Level], name: str) -> tuple[Level, ...]:
    """Return the points with levels of one place averaged; raise where they disagree."""
    kept: list[Level] = []
    counts: list[int] = []
    for point in points:
        same = next(
            (
                number
                for number, other in enumerate(kept)
                if np.hypot(point.x - other.x, point.y - other.y) < SAME_PLACE
            ),
            None,
        )
        if same is None:
            kept.append(point)
            counts.append(1)
            continue
        other = kept[same]
        apart = abs(point.height - other.height)
        if apart > max(0.02, 4.0 * float(np.hypot(point.error, other.error))):
            raise InputError(
                f"{name}: {other.point!r} and {point.point!r} lie at the same place (x {point.x:.2f}, y "
                f"{point.y:.2f}) and "
                f"differ by {apart:.3f} m. Delete the wrong one"
            )
        counts[same] += 1
        kept[same] = replace(other, height=other.height + (point.height - other.height) / counts[same])
    return tuple(kept)
