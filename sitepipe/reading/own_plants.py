"""plants.csv: the plants that the grower has or will have."""

from __future__ import annotations

import re
from pathlib import Path

from sitepipe.errors import InputError
from sitepipe.reading.tables import Row, read_table
from sitepipe.site import OwnPlant, Stock

COLUMNS = ("name", "how many", "as what", "ready when", "what for", "note")
ALIASES = {
    "plant": "name",
    "latin": "name",
    "common": "name",
    "count": "how many",
    "number": "how many",
    "as": "as what",
    "ready": "ready when",
    "for": "what for",
    "use": "what for",
}
MOST = 5_000
"""Plants of all kinds: more cannot be drawn one by one."""
READY = re.compile(r"\d{4}(-(0[1-9]|1[0-2])(-(0[1-9]|[12]\d|3[01]))?)?$")
"""A day, or the year or month that it lies in."""


def read_own_plants(path: Path) -> tuple[OwnPlant, ...]:
    """Read the grower's own plants.

    Raises
    ------
    InputError
        If a row has no name, no count that can be, a word for what it is that is not known, or no date.
    """
    table = read_table(path, ALIASES, COLUMNS)
    for column in ("name", "how many"):
        if not table.has(column):
            raise InputError(f"{table.name} has no column {column!r}. It needs name and how many")
    found = tuple(_own_plant(row) for row in table.rows)
    if sum(plant.count for plant in found) > MOST:
        raise InputError(f"{table.name} holds more than {MOST:,} plants. Leave out what is sown by the handful")
    return found


def _own_plant(row: Row) -> OwnPlant:
    name, count = row.text("name"), row.text("how many")
    if not name:
        raise InputError(f"{row.where} names no plant. Write its Latin or common name")
    if not re.fullmatch(r"[1-9]\d{0,3}", count):
        raise InputError(f"{row.where}: how many is {count[:40]!r}. Write a whole number from 1 to 9999")
    what = row.text("as what").lower() or Stock.POT.value
    try:
        stock = Stock(what)
    except ValueError as error:
        known = ", ".join(Stock)
        raise InputError(f"{row.where}: as what is {what[:40]!r}. Write one of: {known}") from error
    ready = row.text("ready when")
    if ready and not READY.match(ready):
        raise InputError(f"{row.where}: ready when is {ready[:40]!r}. Write a year, month or day, such as 2027-04")
    return OwnPlant(name, count=int(count), stock=stock, ready=ready, purpose=row.text("what for"), where=row.where)
