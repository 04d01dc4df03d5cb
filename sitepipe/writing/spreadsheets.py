"""Stakes and quantities for a spreadsheet. No coordinates: a stake is where two tapes meet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from typing import TypeAlias

from sitepipe.analysis import Analysis
from sitepipe.answers.names import without_controls
from sitepipe.units import say_level, say_stake, say_volume
from sitepipe.writing.tables import all_stakes

Cell: TypeAlias = str | float | int

_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""A text that begins so may be run by a spreadsheet as a formula."""


def stakes_csv(analysis: Analysis) -> bytes:
    """Return the stakes with their tapes, in metres and as the user says them."""
    units = analysis.settings.units
    heads = (
        "stake",
        "sets_out",
        "first_point",
        "first_tape",
        "first_tape_m",
        "second_point",
        "second_tape",
        "second_tape_m",
        "angle_deg",
        "height",
        "height_m",
    )
    rows = []
    for what, stake in all_stakes(analysis):
        (first, first_tape), (second, second_tape) = stake.from_points
        rows.append(
            (
                stake.label,
                what,
                first,
                say_stake(first_tape, units),
                round(first_tape, 3),
                second,
                say_stake(second_tape, units),
                round(second_tape, 3),
                round(stake.angle, 1),
                say_level(stake.height, units),
                round(stake.height, 3),
            )
        )
    return _as_csv(heads, rows)


def quantities_csv(analysis: Analysis) -> bytes:
    """Return what the plan takes, in cubic metres and as the user says it."""
    units = analysis.settings.units
    heads = (
        *("material", "volume", "volume_m3", "loads", "barrows"),
        *("first_year_m3", "first_year_loads", "first_year_barrows", "later_m3", "later_loads", "later_barrows"),
        *("top_ups_m3", "free_m3", "to_buy_m3", "note"),
    )
    rows = [
        (
            quantity.material,
            say_volume(quantity.volume, units),
            round(quantity.volume, 2),
            round(quantity.loads, 2),
            quantity.barrows,
            round(quantity.first_year, 2),
            round(quantity.first_loads, 2),
            quantity.first_barrows,
            round(quantity.volume - quantity.first_year, 2),
            round(quantity.loads - quantity.first_loads, 2),
            quantity.barrows - quantity.first_barrows,
            round(quantity.top_ups, 2),
            round(quantity.free, 2),
            round(quantity.to_buy, 2),
            quantity.note,
        )
        for quantity in analysis.plan.quantities
    ]
    return _as_csv(heads, rows)


def harmless(cell: Cell) -> Cell:
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


def _as_csv(heads: Sequence[str], rows: Iterable[Sequence[Cell]]) -> bytes:
    """Write RFC 4180 in UTF-8; the mark at its start is how spreadsheets know."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(heads)
    writer.writerows([harmless(cell) for cell in row] for row in rows)
    return text.getvalue().encode("utf-8-sig", errors="replace")
