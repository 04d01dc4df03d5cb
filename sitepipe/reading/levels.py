"""levels.csv: finished heights or a level book, each point placed by coordinates, two tapes, or an offset."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.reading.level_book import LevelRun, Sight, reduce_book
from sitepipe.reading.notes import NO_NOTES, Notes
from sitepipe.reading.positions import PLACING, SAME_PLACE, Positions, drawn_places, refuse_elsewhere
from sitepipe.reading.tables import Row, Table, read_table
from sitepipe.reading.tapes import Place
from sitepipe.saying import say_length
from sitepipe.settings import Settings
from sitepipe.units import FOOT, METRES_PER, Units

READINGS = ("back sight", "intermediate sight", "fore sight")
COLUMNS = ("point", "height", "error", *READINGS, "distance", *PLACING, "note")
ALIASES = {
    "name": "point", "id": "point", "station": "point", "easting": "x", "northing": "y", "east": "x", "north": "y",
    "z": "height", "elevation": "height", "level": "height", "reduced level": "height", "rl": "height",
    "lon": "longitude", "lng": "longitude", "lat": "latitude", "sd": "error",
    "bs": "back sight", "backsight": "back sight", "is": "intermediate sight", "intermediate": "intermediate sight",
    "between": "intermediate sight", "fs": "fore sight", "foresight": "fore sight",
    "remark": "note", "remarks": "note", "comment": "note",
}  # fmt: skip
MEASURED = ("height", "error", *READINGS, "distance")
"""Columns of lengths whose bare numbers are in the unit of site.toml, besides those that place a point."""
HEIGHT_ERROR = 0.005
"""Finished heights that say nothing of their error: a laser or water level in a garden, trade 3.1. [m]"""
BENCH_MARK = 100.0
"""What a bench mark counts as that states no height, in the unit of the book."""
FEWEST_POINTS = 6
"""Three make a plane and say nothing of its error; six leave three to judge it."""
MOST_NAMED = 5


@dataclass(frozen=True, slots=True)
class Level:
    """One surveyed point on the site's plane [m], and its line in the file."""

    point: str
    x: float
    y: float
    height: float
    error: float
    line: int


@dataclass(frozen=True, slots=True)
class Levels:
    """All surveyed points, and what was found on the way."""

    name: str = ""
    points: tuple[Level, ...] = ()
    notes: Notes = NO_NOTES


def columns_of(points: Sequence[Level]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return x, y, height and error of each level. [m]."""
    columns = np.array([(point.x, point.y, point.height, point.error) for point in points]).T
    return columns[0], columns[1], columns[2], columns[3]


@dataclass(frozen=True, slots=True)
class _Reading:
    """A height and its error [m], where it stands, and whether it was taken to be part of the surface."""

    point: str
    height: float
    error: float
    row: Row
    is_spot: bool


def read_levels(path: Path, positions: Positions, settings: Settings) -> Levels:
    """Read surveyed levels. A spot that cannot be placed, or whose readings disagree, is left out and said.

    Raises
    ------
    InputError
        If a height cannot be read, or too few levels are left.
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
    for row in table.rows:
        if not row.text("point"):
            raise InputError(f"{row.where} names no point. Write a name, such as A1")
    unit = METRES_PER[settings.survey.unit or "m"]
    told: tuple[str, ...] = ()
    if settings.survey.unit is None:
        remedy = "Under [survey] in site.toml write unit = 'ft' or 'm'"
        told = table.take_metres((*MEASURED, *positions.bare), settings.units, remedy)
    if unit == 1.0:
        table.refuse_split_numbers(MEASURED)
    readings, said = (_booked if is_book else _finished)(table, unit, settings)
    places, walks, left_out = _places(table, unit, positions)
    points, unplaced = [], []
    for reading in readings:
        place = places.get(reading.row.line) or places.get(reading.point.lower())
        if place is not None:
            points.append(Level(reading.point, *place, reading.height, reading.error, reading.row.line))
        elif reading.is_spot and reading.row.line not in left_out:
            unplaced.append(reading.point)
    merged, disagreeing = _merged(points, table.name, settings.units)
    faults = [*left_out.values(), *disagreeing]
    if faults and len(merged) < FEWEST_POINTS:
        raise faults[0]
    said_of = [*(f"{fault}. It is left out of the surface." for fault in left_out.values()), *map(str, disagreeing)]
    left = Notes(tuple(walks), tuple(_said_of_left_out(table.name, unplaced, said_of)))
    return Levels(table.name, merged, Notes(told) + said + left)


def _said_of_left_out(name: str, unplaced: Sequence[str], faults: Sequence[str]) -> Iterable[str]:
    if unplaced:
        named = ", ".join(unplaced[:MOST_NAMED])
        yield f"{name}: {len(unplaced)} points have a height and no place ({named}); they are left out of the surface."
    yield from faults[:MOST_NAMED]
    if len(faults) > MOST_NAMED:
        yield f"{len(faults) - MOST_NAMED} more levels are left out of the surface for reasons like these."


def _booked(table: Table, unit: float, settings: Settings) -> tuple[list[_Reading], Notes]:
    """Reduce a level book; return its readings, and what was found."""
    survey = settings.survey
    # A row without readings only places a point that was read elsewhere.
    rows = [row for number, row in enumerate(table.rows) if number == 0 or any(one in row.cells for one in READINGS)]
    sights = [
        Sight(
            row.text("point"),
            back=row.length("back sight", unit),
            middle=row.length("intermediate sight", unit),
            fore=row.length("fore sight", unit),
            known_height=row.length("height", unit),
            distance=row.length("distance", unit),
            where=row.where,
        )
        for row in rows
    ]
    if sights[0].known_height is None:
        own = FOOT if settings.units is Units.IMPERIAL else unit
        sights[0] = replace(sights[0], known_height=BENCH_MARK * table.units.get("back sight", own))
    run = reduce_book(sights, survey.misclosure_per_root_km, survey.least_misclosure, survey.sight)
    misfit = abs(run.misclosure or 0.0) / max(np.sqrt(run.set_ups), 1.0)
    readings = [
        _Reading(
            one.point,
            one.height,
            float(np.hypot(survey.reading_error * np.sqrt(max(one.set_up, 1)), misfit)),
            row,
            sight.middle is not None,
        )
        for row, sight, one in zip(rows, sights, run.points, strict=True)
    ]
    return readings, _judged(run, misfit, settings)


def _judged(run: LevelRun, misfit: float, settings: Settings) -> Notes:
    survey = settings.survey
    told = f"Level book: {run.set_ups} set-ups over {run.length:.0f} m, {run.arithmetic}"
    if run.misclosure is None:
        doubt = "The level book ends on no known height, so nothing shows a misread staff. Close it on the bench mark."
        return Notes((f"{told}.",), (doubt,))
    told += (
        f"; misclosure {run.misclosure * 1000.0:+.1f} mm, allowed {run.allowance * 1000.0:.1f} mm "
        f"({survey.misclosure_per_root_km * 1000.0:.0f} mm x root km, at least "
        f"{survey.least_misclosure * 1000.0:.0f} mm); shared out over the set-ups."
    )
    if run.is_within_allowance:
        return Notes((told,))
    doubt = (
        f"The level loop misses by {run.misclosure * 1000.0:+.1f} mm ({run.arithmetic}, where "
        f"{run.end - run.misclosure:.3f} m is known). It is shared out over the set-ups, and levels are good to "
        f"{misfit * 1000.0:.0f} mm at best. From {run.allowance * 1000.0:.1f} mm on, a loop of {run.length:.0f} m is "
        "worth levelling again: look for a misread staff."
    )
    return Notes((told,), (doubt,))


def _finished(table: Table, unit: float, settings: Settings) -> tuple[list[_Reading], Notes]:
    """Read heights that were reduced before."""
    stated = settings.ground.error if settings.elevation is None else None
    default = stated or HEIGHT_ERROR
    said = Notes()
    if not table.has("error"):
        source = "site.toml, ground.error" if stated else "a garden level; common practice, no source"
        said = Notes((f"{table.name}: each level is taken as good to {default * 1000.0:.0f} mm ({source}).",))
    readings = []
    for row in table.rows:
        height, error = row.length("height", unit), row.length("error", unit)
        if height is None and not any(column in row.cells for column in PLACING):
            raise InputError(f"{row.where}: {row.text('point')} has no height. Write it, or delete the row")
        if error is not None and not 0.0 < error < 10.0:
            raise InputError(f"{row.where}: error is {error:g} m; it must lie above 0 and below 10 m")
        if height is not None:
            readings.append(_Reading(row.text("point"), height, error or default, row, is_spot=True))
    return readings, said


def _places(
    table: Table, unit: float, positions: Positions
) -> tuple[dict[int | str, Place], list[str], dict[int, InputError]]:
    """Return places by line and by name, how walks close, and why lines could not be placed."""
    known = drawn_places(one for one in positions.features if one.geometry.geom_type == "Point")
    places: dict[int | str, Place] = {name: next(iter(at)) for name, at in known.items() if len(at) == 1}
    walks: list[str] = []
    legs: list[float] = []
    left_out: dict[int, InputError] = {}
    for row in table.rows:
        name = row.text("point").lower()
        try:
            place = positions.place(row, unit, known)
            if place is not None and "bearing" not in row.cells:
                refuse_elsewhere(row, row.text("point"), place, known)
        except InputError as error:
            left_out[row.line] = error
            continue
        if place is None:
            continue
        if "bearing" in row.cells:
            legs.append(row.length("walk length", unit) or 0.0)
            if len(known.get(name, ())) == 1:
                walks.append(_said_of_walk(row, places[name], place, sum(legs), table.name))
                legs = []
                continue
        places[row.line] = place
        places.setdefault(name, place)
        known.setdefault(name, frozenset({place}))
    return places, walks, left_out


def _said_of_walk(row: Row, known: Place, walked: Place, length: float, name: str) -> str:
    miss = float(np.hypot(walked[0] - known[0], walked[1] - known[1]))
    ratio = f"1 in {length / miss:,.0f}" if miss > 0.0 else "exactly"
    return f"{name}: the walk that closes on {row.text('point')} misses it by {miss:.3f} m in {length:.1f} m ({ratio})."


def _merged(points: list[Level], name: str, units: Units) -> tuple[tuple[Level, ...], list[InputError]]:
    """Return the points with levels of one place averaged, and an error for each place whose levels disagree."""
    groups: list[list[Level]] = []
    for point in points:
        same = next(
            (group for group in groups if np.hypot(point.x - group[0].x, point.y - group[0].y) < SAME_PLACE), None
        )
        if same is None:
            groups.append([point])
        else:
            same.append(point)
    kept, faults = [], []
    for group in groups:
        low, high = min(group, key=lambda one: one.height), max(group, key=lambda one: one.height)
        apart = high.height - low.height
        if apart > max(0.02, 4.0 * float(np.hypot(low.error, high.error))):
            count = "Both" if len(group) == 2 else f"All {len(group)}"
            first, other = group[0], high if low is group[0] else low
            faults.append(
                InputError(
                    f"{name}: {first.point!r} (line {first.line}) and {other.point!r} (line {other.line}) lie at the "
                    f"same place (x {first.x:.2f}, y {first.y:.2f}) and differ by {say_length(apart, units)}. {count} "
                    "are left out of the surface: read it again, or delete the wrong one."
                )
            )
        else:
            kept.append(replace(group[0], height=float(np.mean([one.height for one in group]))))
    return tuple(kept), faults
