"""levels.csv: finished heights or a level book, each point placed by coordinates, two tapes, or an offset."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.level_book import LevelRun, Sight, allowance, reduce_book
from sitepipe.reading.positions import Positions, find_places, length_in, named
from sitepipe.reading.tables import Table, is_number, read_table
from sitepipe.reading.vertical import UNITS_BY_NAME
from sitepipe.settings import Settings
from sitepipe.units import Units

COLUMNS = (
    "point", "x", "y", "longitude", "latitude", "height", "error",
    "back sight", "intermediate sight", "fore sight", "distance",
    "from 1", "tape 1", "from 2", "tape 2", "side", "line from", "line to", "along", "offset",
    "walk from", "bearing", "walk length", "note",
)  # fmt: skip
ALIASES = {
    "name": "point", "id": "point", "station": "point", "easting": "x", "northing": "y", "east": "x", "north": "y",
    "z": "height", "elevation": "height", "level": "height", "reduced level": "height", "rl": "height",
    "lon": "longitude", "lng": "longitude", "lat": "latitude", "sd": "error",
    "bs": "back sight", "backsight": "back sight", "is": "intermediate sight", "intermediate": "intermediate sight",
    "fs": "fore sight", "foresight": "fore sight", "remark": "note", "remarks": "note", "comment": "note",
}  # fmt: skip
MEASURED = (
    "height", "back sight", "intermediate sight", "fore sight", "tape 1", "tape 2", "along", "offset", "walk length",
)  # fmt: skip
"""Columns of lengths whose bare numbers are in the unit of site.toml."""
HEIGHT_ERROR = 0.005
"""Finished heights that say nothing of their error: a laser or water level in a garden, trade 3.1. [m]"""
SAME_PLACE = 0.05
"""Two levels closer than this are taken of one place. [m]"""


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
    places, walks = find_places(table, unit, positions)
    assumptions.extend(walks)
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
    bare = [
        (row, column)
        for row in table.rows
        for column in MEASURED
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


def _reduced(table: Table, unit: float, settings: Settings) -> LevelRun:
    sights: list[Sight] = []
    for row in table.rows:
        back, middle, fore = (
            length_in(row, column, table, unit) for column in ("back sight", "intermediate sight", "fore sight")
        )
        if back is None and middle is None and fore is None and sights:
            # A row without readings only places a point that was read elsewhere.
            continue
        sights.append(
            Sight(
                named(row, table),
                back,
                middle,
                fore,
                length_in(row, "height", table, unit),
                length_in(row, "distance", table, unit),
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
        height = length_in(row, "height", table, unit)
        point = named(row, table)
        if height is None:
            if any(column in row.cells for column in ("x", "tape 1", "along", "longitude", "bearing")):
                continue
            raise InputError(f"{table.where(row)}: {point} has no height. Write it, or delete the row")
        error = length_in(row, "error", table, unit)
        if error is not None and not 0.0 < error < 10.0:
            raise InputError(f"{table.where(row)}: error is {error:g} m; it must lie above 0 and below 10 m")
        key = point if point not in heights else f"{point} (line {row.line}, {number})"
        heights[key] = height, error or default, ""
    return heights


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
