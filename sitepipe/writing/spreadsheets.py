"""Stakes and quantities for a spreadsheet. No coordinates: a stake is where two tapes meet."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Iterable, Iterator, Sequence

from sitepipe.analysis import Analysis
from sitepipe.answers.names import without_controls
from sitepipe.fields import columns_of, row_of
from sitepipe.saying import say_length, say_level, say_volume
from sitepipe.units import Units
from sitepipe.works.jobs.record import Quantity
from sitepipe.writing.tables import Value, stakes

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""A text that begins so may be run by a spreadsheet as a formula."""

_SAID: tuple[tuple[str, Callable[[float, Units], str]], ...] = (
    ("height_m", say_level),
    ("_m", say_length),
    ("_m3", say_volume),
)
"""Ends of names that are also said in the user's own units."""


def stakes_csv(analysis: Analysis) -> bytes:
    """Return the stakes with their tapes, in metres and as the user says them."""
    table = stakes(analysis)
    return _as_csv(tuple(table.columns), [values for _, values in table.rows], analysis.settings.units)


def quantities_csv(analysis: Analysis) -> bytes:
    """Return what the plan takes, in cubic metres and as the user says it."""
    rows = [row_of(quantity, {}) for quantity in analysis.plan.quantities]
    return _as_csv(tuple(columns_of(Quantity, {})), rows, analysis.settings.units)


def harmless(cell: Value) -> Value:
    """Put an apostrophe before a text that a spreadsheet would run; numbers stay numbers.

    Examples
    --------
    >>> harmless("=1+1"), harmless(-0.5), harmless("gate")
    ("'=1+1", -0.5, 'gate')
    """
    if not isinstance(cell, str):
        return cell
    text = without_controls(cell)
    return f"'{text}" if cell.startswith(_FORMULA) or text.lstrip().startswith(_FORMULA) else text


def _as_csv(columns: Sequence[str], rows: Iterable[Sequence[Value]], units: Units) -> bytes:
    """Write RFC 4180 in UTF-8; the mark at its start is how spreadsheets know."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(name for column in columns for name, _ in _cells(column, 0.0, units))
    for row in rows:
        cells = (cell for column, value in zip(columns, row, strict=True) for cell in _cells(column, value, units))
        writer.writerow(harmless(value) for _, value in cells)
    return text.getvalue().encode("utf-8-sig", errors="replace")


def _cells(column: str, value: Value, units: Units) -> Iterator[tuple[str, Value]]:
    """Yield a value as the user says it, where its name ends in a unit that has a saying, then the bare value."""
    say = next((say for end, say in _SAID if column.endswith(end)), None)
    if say is not None and isinstance(value, float):
        yield column.rpartition("_")[0], say(value, units)
    yield column, round(value, 3) if isinstance(value, float) else value
