"""What a drawn feature is: its kind, the shapes that a kind may have, and its height and width."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Mapping

from sitepipe.errors import InputError
from sitepipe.site import Kind
from sitepipe.units import FOOT, Units, parse_length

AREA, LINE, POINT = "area", "line", "point"

SHAPES: Mapping[Kind, tuple[str, ...]] = {
    Kind.PARCEL: (AREA,),
    Kind.BUILDING: (AREA,),
    Kind.TREE: (POINT, AREA),
    Kind.HEDGE: (LINE, AREA),
    Kind.WALL: (LINE, AREA),
    Kind.WATER: (AREA, LINE, POINT),
    Kind.DITCH: (LINE, AREA),
    Kind.CULVERT: (LINE,),
    Kind.KERB: (LINE,),
    Kind.ROAD: (AREA, LINE),
    Kind.GATE: (POINT, LINE),
    Kind.TAP: (POINT,),
    Kind.WELL: (POINT, AREA),
    Kind.SEPTIC: (AREA, POINT),
    Kind.BURIED_LINE: (LINE,),
    Kind.KEEP_CLEAR: (AREA, LINE, POINT),
    Kind.BED: (AREA,),
    Kind.FIXED_POINT: (POINT,),
    Kind.OBSERVATION: (POINT, AREA, LINE),
}
"""The shapes in which each kind may be drawn."""

SIZES = ("height", "width", "height_m", "height_ft", "width_m", "width_ft")
"""The properties that say how high or wide a feature is."""
COMMON = ("kind", "name", *SIZES, "note")
"""The properties that a feature of any kind may have; a note is only shown."""

PROPERTIES: Mapping[Kind, tuple[str, ...]] = {
    Kind.TREE: ("trunk_height", "leaf", "evergreen", "full_height", "growth_per_year"),
    Kind.HEDGE: ("trunk_height", "leaf", "evergreen"),
    Kind.ROAD: ("surface",),
    Kind.DITCH: ("depth",),
    Kind.FIXED_POINT: ("bench_mark",),
    Kind.OBSERVATION: ("seen", "hours", "date"),
}
"""The properties of each kind beyond those: every room that asks a feature for one more adds it here."""

LONGEST_NAME = 200
TALLEST = 150.0
"""Taller than any tree on earth. [m]"""


def read_kind(text: str, where: str) -> Kind:
    """Return the kind that a word names.

    Raises
    ------
    InputError
        If there is no such kind; the nearest is named.

    Examples
    --------
    >>> read_kind("Buried_Line", "feature 1")
    <Kind.BURIED_LINE: 'buried line'>
    """
    word = plain_kind(text)
    try:
        return Kind(word)
    except ValueError as error:
        known = [kind.value for kind in Kind]
        close = difflib.get_close_matches(word, known, n=1, cutoff=0.5)
        nearest = f"did you mean {close[0]!r}? " if close else ""
        raise InputError(
            f"{where} is of kind {clean_text(text)[:60]!r}, which is unknown; {nearest}Write one of: {', '.join(known)}"
        ) from error


def plain_kind(text: str) -> str:
    """Return a kind's word in lower case with single blanks."""
    return re.sub(r"[\s_-]+", " ", clean_text(text)).strip().lower()


def clean_text(text: str) -> str:
    """Return text without control and direction marks, shortened: never trusted, but harmless to print."""
    kept = "".join(
        " " if sign in "\t\r\n" else sign
        for sign in text
        if sign in "\t\r\n" or unicodedata.category(sign) not in {"Cc", "Cf", "Cs", "Co"}
    )
    return kept if len(kept) <= LONGEST_NAME else f"{kept[: LONGEST_NAME - 3]}..."


def read_size(properties: Mapping[str, object], what: str, units: Units, where: str) -> tuple[float | None, bool]:
    """Read a feature's height or width.

    Parameters
    ----------
    properties : mapping
        As drawn: ``height`` as text with a unit or as a number, or ``height_m`` or ``height_ft``.
    what : str
        ``height`` or ``width``.

    Returns
    -------
    (float or None, bool)
        The size [m], and whether its unit had to be taken for granted.

    Raises
    ------
    InputError
        If it has no unit where feet and metres are both likely, or cannot be.
    """
    for suffix, metres in (("_m", 1.0), ("_ft", FOOT)):
        given = properties.get(what + suffix)
        if given is not None and given != "":
            return _checked(_number(given, f"{where}: {what}{suffix}") * metres, what, where), False
    given = properties.get(what)
    if given is None or given == "":
        return None, False
    if isinstance(given, str) and not re.fullmatch(r"\s*[-+]?[\d.]+\s*", given):
        try:
            return _checked(parse_length(given), what, where), False
        except ValueError as error:
            raise InputError(f"{where}: {what}: {error}") from error
    if units is Units.IMPERIAL:
        raise InputError(
            f"{where}: {what} is {given} without a unit, and the site is in feet; write '{given} ft' or '{given} m'"
        )
    return _checked(_number(given, f"{where}: {what}"), what, where), True


def _number(given: object, where: str) -> float:
    try:
        return float(given)  # type: ignore[arg-type]
    except (TypeError, ValueError) as error:
        raise InputError(f"{where} is {clean_text(str(given))[:60]!r}; it must be a number") from error


def _checked(metres: float, what: str, where: str) -> float:
    limit = TALLEST if what == "height" else 1000.0
    if not 0.0 <= metres <= limit:
        raise InputError(f"{where}: {what} is {metres:g} m; it must lie between 0 and {limit:g} m")
    return metres
