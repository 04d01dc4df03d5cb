"""What a drawn feature is: its kind, the shapes that a kind may have, and the properties that are read of it."""

from __future__ import annotations

import difflib
import re
import unicodedata
from collections.abc import Mapping
from enum import StrEnum

from sitepipe.errors import InputError
from sitepipe.site import Kind, Work

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

WORK_SHAPES: Mapping[Work, tuple[str, ...]] = {
    Work.MOUND: (LINE, AREA),
    Work.PATH: (LINE,),
    Work.HOOP_HOUSE: (AREA, POINT),
    Work.TRELLIS: (LINE,),
    Work.ARCH: (LINE,),
    Work.SWALE: (LINE,),
    Work.TIPPING_PLACE: (POINT,),
}
"""The same of works: a mound by its crest or its foot, a hoop house by its walls or its middle and a bearing."""
NURSERY_BED = "nursery bed"
"""Another word for a bed whose purpose is nursery."""

COMMON = ("kind", "name", "height", "width", "note")
"""The properties that a feature of any kind may have; a note is only shown."""

_WHOSE = ("status", "built", "number", "replaces")

PROPERTIES: Mapping[StrEnum, tuple[str, ...]] = {
    Kind.TREE: ("trunk_height", "leaf", "evergreen", "full_height", "growth_per_year"),
    Kind.HEDGE: ("trunk_height", "leaf", "evergreen"),
    Kind.ROAD: ("surface",),
    Kind.DITCH: ("depth",),
    Kind.KEEP_CLEAR: ("of",),
    Kind.FIXED_POINT: ("bench_mark",),
    Kind.OBSERVATION: ("seen", "hours", "date"),
    Kind.BED: ("status", "built", "purpose"),
    Work.MOUND: (*_WHOSE, "side_slope", "crops", "fill"),
    Work.PATH: _WHOSE,
    Work.HOOP_HOUSE: (*_WHOSE, "bearing", "length"),
    Work.TRELLIS: _WHOSE,
    Work.ARCH: _WHOSE,
    Work.SWALE: (*_WHOSE, "depth", "side_slope"),
    Work.TIPPING_PLACE: _WHOSE,
}
"""The properties of each kind beyond those."""

LENGTHS = ("height", "width", "trunk_height", "full_height", "growth_per_year", "depth", "length")
"""Of these, what is a length; each may also be written with its unit in its name: ``height_ft``."""

LONGEST_NAME = 200
KNOWN: Mapping[str, Kind | Work] = {**{kind.value: kind for kind in (*Kind, *Work)}, NURSERY_BED: Kind.BED}
"""Every word for what may be drawn."""


def read_kind(text: str, where: str) -> Kind | Work:
    """Return the kind of thing or work that a word names.

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
    if word in KNOWN:
        return KNOWN[word]
    close = difflib.get_close_matches(word, KNOWN, n=1, cutoff=0.5)
    nearest = f"did you mean {close[0]!r}? " if close else ""
    raise InputError(
        f"{where} is of kind {clean_text(text)[:60]!r}, which is unknown; {nearest}Write one of: {', '.join(KNOWN)}"
    )


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
