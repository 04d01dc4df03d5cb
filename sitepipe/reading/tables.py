"""Tables that people keep: comma, semicolon or tab, decimal comma or point, units in the heading or in the cell."""

from __future__ import annotations

import csv
import re
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sitepipe.errors import InputError, SettingsError, did_you_mean
from sitepipe.reading.kinds import clean_text
from sitepipe.units import METRES_PER, Units, parse_length

MOST_ROWS = 100_000
LONGEST_CELL = 2_000

_UNIT_IN_HEADING = re.compile(r"^(?P<name>.*?)\s*[\[(](?P<unit>[^\])]+?)\.?[\])]\s*$")
_UNIT_AT_END = re.compile(r"^(?P<name>.+?)[\s,]+(?P<unit>m|cm|mm|ft|feet|in|inches|us-ft)\.?$")
_NUMBER = re.compile(r"^[-+−]?(\d+([.,]\d*)?|[.,]\d+)([eE][-+]?\d+)?$")
_SEPARATOR = re.compile(r'^"?sep=(?P<sign>[;,|\t])"?$', re.IGNORECASE)
"""The line that spreadsheets put above the heading to say what parts the cells."""


@dataclass(frozen=True, slots=True)
class Row:
    """One row: its line in the file, how to name it in a message, and its cells by column, blanks left out."""

    line: int
    where: str
    cells: Mapping[str, str]
    units: Mapping[str, float]

    def text(self, column: str) -> str:
        """Return a cell that is safe to print, empty where it is blank."""
        return clean_text(self.cells.get(column, "")).strip()

    def number(self, column: str) -> float:
        """Return the bare number in a cell that must not be blank."""
        return read_number(self.cells[column], f"{self.where}: {column}")

    def length(self, column: str, bare: float) -> float | None:
        """Return the length in a cell, None where it is blank; a bare number counts ``bare`` metres. [m]."""
        text = self.cells.get(column)
        return None if text is None else read_length(text, self.units.get(column, bare), f"{self.where}: {column}")

    def need(self, columns: Sequence[str], what: str) -> None:
        """Raise where one of these columns is blank."""
        missing = [column for column in columns if column not in self.cells]
        if missing:
            raise InputError(f"{self.where} has no {' and no '.join(missing)}. {what} needs {', '.join(columns)}")


@dataclass(frozen=True, slots=True)
class Table:
    """A table as text.

    Parameters
    ----------
    name : str
        Of the file.
    delimiter : str
    columns : sequence of str
        Headings in lower case, aliases resolved, units taken off.
    units : mapping
        Metres per unit of the columns whose heading states one.
    rows : tuple of Row
        Blank rows, and notes that begin with #, left out.
    """

    name: str
    delimiter: str
    columns: Sequence[str]
    units: Mapping[str, float]
    rows: tuple[Row, ...]

    def has(self, *columns: str) -> bool:
        """Tell whether all of these columns are there."""
        return all(column in self.columns for column in columns)

    def take_metres(self, columns: Collection[str], units: Units, remedy: str) -> tuple[str, ...]:
        """Say that bare lengths in some columns are taken as metres; raise where the site speaks feet."""
        for row in self.rows:
            for column in columns:
                text = row.cells.get(column, "")
                if not is_number(text) or column in self.units:
                    continue
                if units is Units.IMPERIAL:
                    raise SettingsError(
                        f"{row.where}: {column} is {text} without a unit, and the site is in feet. {remedy}, or write "
                        f"the unit into the heading: '{column} [in]'"
                    )
                return (f"{self.name}: numbers without a unit are taken as metres.",)
        return ()

    def refuse_split_numbers(self, columns: Collection[str]) -> None:
        """Raise where a decimal comma seems to have parted numbers of metres: none has decimals, and digits follow."""
        for column, after in zip(self.columns, [*self.columns[1:], ""], strict=True):
            if self.delimiter != "," or column not in columns or self.units.get(column, 1.0) != 1.0:
                continue
            bare = [row for row in self.rows if is_number(row.cells.get(column, ""))]
            split = [row for row in bare if re.fullmatch(r"\d{1,4}", row.cells.get(after, ""))]
            if split and all(re.fullmatch(r"[-+−]?\d+", row.cells[column]) for row in bare):
                pair = f"{split[0].cells[column]},{split[0].cells[after]}"
                raise InputError(
                    f"{split[0].where}: {column} and {after} are {pair}, and no {column} has decimals: is that one "
                    "number with a decimal comma? Write points, part the cells with semicolons, or write the unit "
                    f"into the heading: '{column} [m]'"
                )


def read_table(path: Path, aliases: Mapping[str, str], known: Sequence[str]) -> Table:
    """Read a table with a heading line.

    Parameters
    ----------
    path : Path
    aliases : mapping
        Other words for a column, in lower case.
    known : sequence of str
        The columns that are understood.

    Raises
    ------
    InputError
        If it is no text, has no rows, or a column that is not understood.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(f"{path.name} is not UTF-8 text. Save the table as CSV, UTF-8") from error
    if "\x00" in text:
        raise InputError(f"{path.name} is no text. Save the table as CSV, UTF-8")
    lines = text.split("\n")
    told = _SEPARATOR.match(lines[0].strip())
    heading = next((line for line in lines[1 if told else 0 :] if line.strip() and not line.startswith("#")), "")
    delimiter = told["sign"] if told else max(";\t,", key=heading.count)
    if told:
        lines[0] = ""
    try:
        records = list(csv.reader(lines, delimiter=delimiter))
    except csv.Error as error:
        raise InputError(f"{path.name} cannot be read as a table: {error}. Save it as CSV, UTF-8") from error
    numbered = [
        (line, record)
        for line, record in enumerate(records, start=1)
        if any(cell.strip() for cell in record) and not record[0].startswith("#")
    ]
    if len(numbered) < 2:
        raise InputError(f"{path.name} has no rows below its heading. Write one row for each reading")
    if len(numbered) > MOST_ROWS:
        raise InputError(f"{path.name} has {len(numbered):,} rows; at most {MOST_ROWS:,} are read")
    columns, units = _headings(numbered[0][1], path.name, aliases, known)
    rows = tuple(_row(line, record, columns, units, path.name) for line, record in numbered[1:])
    return Table(path.name, delimiter, columns, units, rows)


def _headings(
    record: Sequence[str], name: str, aliases: Mapping[str, str], known: Sequence[str]
) -> tuple[list[str], dict[str, float]]:
    columns: list[str] = []
    units: dict[str, float] = {}
    for heading in record:
        word = re.sub(r"[\s_]+", " ", clean_text(heading)).strip().lower()
        unit = ""
        found = _UNIT_IN_HEADING.match(word) or _UNIT_AT_END.match(word)
        if found and word not in known and word not in aliases:
            word, unit = found["name"].strip(), found["unit"].strip()
        word = aliases.get(word, word)
        if word and word not in known:
            hint = did_you_mean(word, [*known, *aliases])
            raise InputError(f"{name}: the column {word[:40]!r} is unknown{hint}; known are {', '.join(known)}")
        if word and word in columns:
            raise InputError(f"{name}: the column {word!r} stands there twice. Delete one")
        if unit:
            if unit not in METRES_PER:
                said = f"{name}: the column {word!r} is in {unit[:20]!r}, which is no unit of length"
                raise InputError(f"{said}; write m, cm, mm, ft or in")
            units[word] = METRES_PER[unit]
        columns.append(word)
    return columns, units


def _row(line: int, record: Sequence[str], columns: Sequence[str], units: Mapping[str, float], name: str) -> Row:
    where = f"{name}, line {line}"
    if any(cell.strip() for cell in record[len(columns) :]):
        raise InputError(
            f"{where} has {len(record)} cells and the heading has {len(columns)}. Put text that holds a comma in quotes"
        )
    if any(len(cell) > LONGEST_CELL for cell in record):
        raise InputError(f"{where} has a cell of more than {LONGEST_CELL:,} signs. Shorten it")
    cells = {column: cell.strip() for column, cell in zip(columns, record, strict=False) if column and cell.strip()}
    return Row(line, where, cells, units)


def is_number(text: str) -> bool:
    """Tell whether a cell is a bare number."""
    return bool(_NUMBER.match(text.strip()))


def read_number(text: str, where: str) -> float:
    """Read a bare number with a decimal point or comma.

    Examples
    --------
    >>> read_number("1,25", "line 2")
    1.25
    """
    if not is_number(text):
        raise InputError(f"{where} is {clean_text(text)[:40]!r}; it must be a number")
    return float(text.strip().replace("−", "-").replace(",", "."))


def read_length(text: str, metres: float, where: str) -> float:
    """Read a length: a bare number in the column's unit, or anything that carries its own. [m].

    Examples
    --------
    >>> round(read_length("4.25", 0.3048, "line 2"), 4), read_length("1 ft", 1.0, "line 2")
    (1.2954, 0.3048)
    """
    if is_number(text):
        return read_number(text, where) * metres
    try:
        return parse_length(text)
    except ValueError as error:
        raise InputError(f"{where}: {error}") from error
