"""Palette: the plants that may be proposed, each value with its source, and a user's own list over it."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from sitepipe.errors import InputError

WET_CLASSES = ("W1", "W2", "W3", "W4")
"""Own design classes: W1 needs a mound, W2 wants 30 to 45 cm of drained soil, W3 stands spring saturation, W4 water."""

INDICATORS = ("OBL", "FACW", "FAC", "FACU", "UPL")
_STATUSES = ("may", "ask", "never", "hazard", "keep away")


@dataclass(frozen=True, slots=True)
class Plant:
    """One kind of plant.

    Parameters
    ----------
    indicator, indicator_region, indicator_source : str
        Wetland indicator status; empty where unrated. Never used as a crop's tolerance.
    wet_classes : tuple of str
        Classes of ``WET_CLASSES`` that it does well in.
    aerated : float or None
        Least depth of soil that must stay drained in the growing season. [m]
    least_sun, crop_sun, most_sun : float or None
        Hours of direct sun it lives with, crops with, and can bear. [h/day]
    coldest : float or None
        Lowest temperature it survives. [degC]
    height, spread, in_row, row, roots : float or None
        Grown height and width, spacing in and between rows, root room. [m]
    waits : bool
        Whether it must wait until a mound has settled.
    status : str
        ``may``, ``ask`` (the local list first), ``never`` (invasive), ``hazard``, ``keep away``.
    """

    latin: str
    common: str
    form: str
    indicator: str
    indicator_region: str
    indicator_source: str
    wet_classes: tuple[str, ...]
    aerated: float | None
    tolerance_source: str
    least_sun: float | None
    crop_sun: float | None
    most_sun: float | None
    light_source: str
    coldest: float | None
    coldest_source: str
    height: float | None
    spread: float | None
    in_row: float | None
    row: float | None
    size_source: str
    roots: float | None
    waits: bool
    increase_by: str
    uses: tuple[str, ...]
    use_note: str
    status: str
    caution: str
    caution_source: str


_COLUMNS = {
    "aerated_m": (0.0, 3.0),
    "least_sun_h": (0.0, 12.0),
    "crop_sun_h": (0.0, 12.0),
    "most_sun_h": (0.0, 16.0),
    "min_temp_c": (-70.0, 15.0),
    "height_m": (0.02, 60.0),
    "spread_m": (0.05, 40.0),
    "in_row_m": (0.02, 20.0),
    "row_m": (0.02, 20.0),
    "root_m": (0.05, 3.0),
}
"""Number columns with the range outside which a value is a mistake (common practice, no source)."""

HARDY_FORMS = ("shrub", "tree", "vine", "fern", "grass")


def read_palette(own: Path | None = None, replaces: bool = False) -> tuple[Plant, ...]:
    """Read the packaged palette, with the user's own list over it.

    Parameters
    ----------
    own : path or None
        A CSV with the columns of the packaged ``palette.csv``; ``latin`` and ``common`` are needed, every other
        column may be left out. A row whose Latin name is already there replaces it.
    replaces : bool
        Whether the own list stands alone.

    Returns
    -------
    tuple of Plant
        In the order of the lists.

    Raises
    ------
    InputError
        If a row lacks a name, a number is impossible, or a word is not one of the known ones.
    """
    packaged = resources.files("sitepipe.planting").joinpath("palette.csv").read_text(encoding="utf-8")
    plants = {} if replaces and own is not None else {plant.latin: plant for plant in _rows(packaged, "palette.csv")}
    if own is not None:
        plants.update({plant.latin: plant for plant in _rows(_text_of(own), own.name)})
    if not plants:
        raise InputError(f"{own.name if own else 'palette.csv'} holds no plants; give at least one row")
    return tuple(plants.values())


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise InputError(f"{path.name} cannot be read as UTF-8 text: {error}; check planting.palette") from error


def _rows(text: str, source: str) -> list[Plant]:
    reader = csv.DictReader(io.StringIO(text))
    return [_plant(row, f"{source} line {line}") for line, row in enumerate(reader, start=2) if any(row.values())]


def _plant(row: dict[str, str], where: str) -> Plant:
    def word(column: str, default: str = "") -> str:
        return (row.get(column) or default).strip()

    if not word("latin") or not word("common"):
        raise InputError(f"{where}: a plant needs a latin and a common name")
    numbers = {column: _number(word(column), column, where) for column in _COLUMNS}
    form, status, indicator = word("form", "herb"), word("status", "may"), word("indicator")
    coldest = numbers["min_temp_c"]
    if coldest is not None and coldest > 0 and form in HARDY_FORMS:
        raise InputError(
            f"{where}: min_temp_c of {word('latin')} is {coldest:g}; a hardy {form} survives frost: "
            "correct it or leave it empty"
        )
    _one_of(status, _STATUSES, "status", where)
    if indicator:
        _one_of(indicator, INDICATORS, "indicator", where)
    classes = tuple(word("wet_classes").split())
    for name in classes:
        _one_of(name, WET_CLASSES, "wet_classes", where)
    return Plant(
        latin=word("latin"),
        common=word("common"),
        form=form,
        indicator=indicator,
        indicator_region=word("indicator_region", "unstated"),
        indicator_source=word("indicator_source", "the user's list"),
        wet_classes=classes,
        aerated=numbers["aerated_m"],
        tolerance_source=word("tolerance_source", "the user's list"),
        least_sun=numbers["least_sun_h"],
        crop_sun=numbers["crop_sun_h"],
        most_sun=numbers["most_sun_h"],
        light_source=word("light_source", "the user's list"),
        coldest=coldest,
        coldest_source=word("min_temp_source", "the user's list"),
        height=numbers["height_m"],
        spread=numbers["spread_m"],
        in_row=numbers["in_row_m"],
        row=numbers["row_m"] or numbers["in_row_m"],
        size_source=word("size_source", "the user's list"),
        roots=numbers["root_m"],
        waits=word("waits_for_settling", "yes") == "yes",
        increase_by=word("increase_by"),
        uses=tuple(use.strip() for use in word("uses").split(";") if use.strip()),
        use_note=word("use_note"),
        status=status,
        caution=word("caution"),
        caution_source=word("caution_source"),
    )


def _number(text: str, column: str, where: str) -> float | None:
    if not text:
        return None
    low, high = _COLUMNS[column]
    try:
        value = float(text)
    except ValueError as error:
        raise InputError(f"{where}: {column} is {text!r}; write a number, or leave it empty if unknown") from error
    if not low <= value <= high:
        raise InputError(f"{where}: {column} is {text}; it must lie between {low:g} and {high:g}")
    return value


def _one_of(value: str, known: tuple[str, ...], column: str, where: str) -> None:
    if value not in known:
        raise InputError(f"{where}: {column} is {value!r}; it must be one of {', '.join(known)}")
