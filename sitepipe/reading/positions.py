"""Where the points of levels.csv lie: by coordinates, two tapes, an offset, or a walk by compass."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from sitepipe.errors import InputError
from sitepipe.reading.kinds import clean_text
from sitepipe.reading.tables import Row, Table, read_length, read_number
from sitepipe.reading.tapes import Place, offset_place, refuse_weak, trilaterate, walked_place

ToPlane = Callable[[float, float], Place]


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


def length_in(row: Row, column: str, table: Table, unit: float) -> float | None:
    """Return the length in a row's cell, None where it is blank; a bare number is in the unit. [m]."""
    text = row.cells.get(column)
    if text is None:
        return None
    return read_length(text, table.units.get(column, unit), f"{table.where(row)}: {column}")


def named(row: Row, table: Table) -> str:
    """Return the name of a row's point, and raise where it has none."""
    text = row.cells.get("point")
    if text is None:
        raise InputError(f"{table.where(row)} names no point. Write a name, such as A1")
    return clean_text(text)


def find_places(table: Table, unit: float, positions: Positions) -> tuple[dict[str, Place], list[str]]:
    """Return the place of every point that has one, and how walks close; later rows may measure from earlier ones."""
    told: list[str] = []
    legs: list[tuple[float, float]] = []
    known = dict(positions.fixed)
    places: dict[str, Place] = {}
    seen: set[str] = set()
    for number, row in enumerate(table.rows):
        point = named(row, table)
        place = _place(row, table, unit, positions, known)
        if place is not None and "bearing" in row.cells:
            legs.append(
                (read_number(row.cells["bearing"], "bearing"), length_in(row, "walk length", table, unit) or 0.0)
            )
            if point.lower() in known:
                told.append(_said_of_walk(point, known[point.lower()], place, legs, table))
                legs, place = [], None
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
    return places, told


def _said_of_walk(point: str, known: Place, walked: Place, legs: list[tuple[float, float]], table: Table) -> str:
    miss = float(np.hypot(walked[0] - known[0], walked[1] - known[1]))
    length = sum(leg[1] for leg in legs)
    ratio = f"1 in {length / miss:,.0f}" if miss > 0.0 else "exactly"
    return f"{table.name}: the walk that closes on {point} misses it by {miss:.3f} m in {length:.1f} m ({ratio})."


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
    if "bearing" in cells or "walk length" in cells:
        _need(cells, ("walk from", "bearing", "walk length"), where)
        start = _fixed(cells["walk from"], known, f"{where}: walk from")
        bearing = read_number(cells["bearing"], f"{where}: bearing")
        return walked_place(start, bearing, length_in(row, "walk length", table, unit) or 0.0)
    if "along" in cells or "offset" in cells:
        _need(cells, ("line from", "line to", "along", "offset"), where)
        ends = [_fixed(cells[one], known, f"{where}: {one}") for one in ("line from", "line to")]
        along, offset = length_in(row, "along", table, unit), length_in(row, "offset", table, unit)
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
    first, second = length_in(row, "tape 1", table, unit), length_in(row, "tape 2", table, unit)
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
