"""What a drawn feature is: its kind, the shapes that a kind may have, and the properties that are read of it."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Mapping

from sitepipe.errors import InputError
from sitepipe.site import Kind

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

COMMON = ("kind", "name", "height", "width", "note")
"""The properties that a feature of any kind may have; a note is only shown."""

PROPERTIES: Mapping[Kind, tuple[str, ...]] = {
    Kind.TREE: ("trunk_height", "leaf", "evergreen", "full_height", "growth_per_year"),
    Kind.HEDGE: ("trunk_height", "leaf", "evergreen"),
    Kind.ROAD: ("surface",),
    Kind.DITCH: ("depth",),
    Kind.KEEP_CLEAR: ("of",),
    Kind.FIXED_POINT: ("bench_mark",),
    Kind.OBSERVATION: ("seen", "hours", "date"),
}
"""The properties of each kind beyond those."""

LENGTHS = ("height", "width", "trunk_height", "full_height", "growth_per_year", "depth")
"""Of these, what is a length; each may also be written with its unit in its name: ``height_ft``."""

LONGEST_NAME = 200


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
