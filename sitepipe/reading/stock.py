"""stock.csv: what there is to build with, or comes, and what it costs."""

from __future__ import annotations

import math
import re
from pathlib import Path

from sitepipe.errors import InputError, did_you_mean
from sitepipe.reading.own_plants import READY
from sitepipe.reading.tables import Row, read_number, read_table
from sitepipe.settings import Settings
from sitepipe.site import Stuff, Supply
from sitepipe.units import CUBIC_FOOT, CUBIC_YARD, FOOT

COLUMNS = ("what", "how much", "unit", "from when", "price", "note")
ALIASES = {
    "material": "what",
    "amount": "how much",
    "quantity": "how much",
    "count": "how much",
    "how many": "how much",
    "in": "unit",
    "from": "from when",
    "when": "from when",
    "cost": "price",
}
MOST = 1e6
"""Of a line, in cubic metres, square metres or pieces: more is a slip of the pen."""
BAG, BALE, PICKUP = 0.11, 0.15, 1.9
"""A paper sack of 30 gallons (value from memory); .36 x .46 x .91 m (sellers' sizes); 2 to 3 cubic yards. [m3]"""
AREAS = {"square metre": 1.0, "square meter": 1.0, "m2": 1.0, "square foot": FOOT**2, "square feet": FOOT**2}
AREAS |= {"sq ft": FOOT**2, "ft2": FOOT**2, "sq m": 1.0}
VOLUMES = {"cubic metre": 1.0, "cubic meter": 1.0, "m3": 1.0, "cubic yard": CUBIC_YARD, "cu yd": CUBIC_YARD}
VOLUMES |= {"yd3": CUBIC_YARD, "cubic foot": CUBIC_FOOT, "cubic feet": CUBIC_FOOT, "bag": BAG, "bale": BALE}
VOLUMES |= {"pickup": PICKUP}
SPREAD = (Stuff.STANDING_BRUSH, Stuff.LAWN, Stuff.CARDBOARD, Stuff.FILM)
COUNTED = (Stuff.POSTS, Stuff.PANELS)
_PIECES = {"piece": 1.0, "": 1.0}
_YEARLY = re.compile(r"\s+(a|per|each|every) year$")


def read_stock(path: Path, settings: Settings) -> tuple[tuple[Supply, ...], tuple[str, ...]]:
    """Read what there is; a price is of one unit of its line, ``?`` where it is to be asked.

    Returns
    -------
    supplies, and what was taken for granted

    Raises
    ------
    InputError
        If a line names no known material, an amount, unit, time or price that cannot be.
    """
    table = read_table(path, ALIASES, COLUMNS)
    for column in ("what", "how much"):
        if not table.has(column):
            raise InputError(f"{table.name} has no column {column!r}. It needs what, how much and unit")
    dated = [int(row.text("from when")[:4]) for row in table.rows if READY.match(row.text("from when"))]
    first = min(dated, default=1)
    said = (f"Year 1 of the plan is {first}, the first that {table.name} names.",) if dated else ()
    return tuple(_supply(row, first, settings) for row in table.rows), said


def _supply(row: Row, first: int, settings: Settings) -> Supply:
    what = row.text("what").lower()
    if what not in list(Stuff):
        known = ", ".join(Stuff)
        raise InputError(
            f"{row.where}: what is {what[:40]!r}{did_you_mean(what, map(str, Stuff))}. Write one of: {known}"
        )
    stuff = Stuff(what)
    unit, size, is_yearly = _unit(row, stuff, settings)
    row.need(("how much",), "A line of what there is")
    count = row.number("how much")
    if not 0.0 <= count * size <= MOST:
        raise InputError(f"{row.where}: how much is {count:g} {unit}. Write 0 or more, and no more than can be")
    price: float | None = 0.0
    if row.text("price"):
        price = None if row.text("price") == "?" else read_number(row.text("price"), f"{row.where}: price") / size
        if price is not None and not 0.0 <= price < math.inf:
            raise InputError(f"{row.where}: price is {row.text('price')[:40]!r}. Write what one {unit} costs, or ?")
    return Supply(stuff, count * size, is_yearly, *_when(row, first), price)


def _unit(row: Row, stuff: Stuff, settings: Settings) -> tuple[str, float, bool]:
    """Return the word for one unit, its size, and whether as much comes each year."""
    text = re.sub(r"\s+", " ", row.text("unit").lower())
    word = _YEARLY.sub("", text)
    known = dict(VOLUMES, load=settings.materials.load, barrow=settings.jobs.barrow)
    known = AREAS if stuff in SPREAD else _PIECES | {str(stuff)[:-1]: 1.0} if stuff in COUNTED else known
    one = word if word in known else word.removesuffix("s")
    if one not in known:
        words = ", ".join(name for name in known if name)
        raise InputError(
            f"{row.where}: unit of {stuff} is {word[:40]!r}{did_you_mean(word, known)}. Write one of: {words}"
        )
    return one or "piece", known[one], text != word


def _when(row: Row, first: int) -> tuple[int, int]:
    """Return the year of the plan and the month."""
    text = row.text("from when").lower()
    counted = re.fullmatch(r"year ([1-9]\d?)", text)
    if counted:
        return int(counted[1]), 1
    if text and not READY.match(text):
        raise InputError(
            f"{row.where}: from when is {text[:40]!r}. Write a year, month or day, such as 2027-04, or year 2"
        )
    return (int(text[:4]) - first + 1, int(text[5:7] or 1)) if text else (1, 1)
