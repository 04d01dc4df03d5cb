"""Properties of the drawing that nothing reads: a misspelt one must not be passed over without a word."""

from __future__ import annotations

import difflib
from collections.abc import Iterator, Mapping, Sequence
from enum import StrEnum

from sitepipe.reading.kinds import COMMON, LENGTHS, PROPERTIES, clean_text

MOST_LINES = 5
"""More misspelt names are counted, not listed."""
MOST_NAMES = 5
"""More foreign names are counted, not listed."""
FOREIGN = frozenset(
    {"id", "fid", "gid", "uid", "uuid", "ogc_fid", "objectid", "gml_id", "gml_name", "layer", "path", "folder"}
    | {"description", "timestamp", "begin", "end", "altitudemode", "tessellate", "extrude", "visibility"}
    | {"draworder", "icon", "snippet", "style", "styleurl", "stylehash", "stroke", "stroke-width", "stroke-opacity"}
    | {"fill", "fill-opacity", "marker-color", "marker-size", "marker-symbol", "length", "area", "perimeter"}
    | {"shape_leng", "shape_length", "shape_le_1", "shape_area", "created", "updated", "edited", "timespan"}
)
"""Names that files and drawing tools write of themselves (OGC KML 2.3, simplestyle, databases' own numbers)."""
CLOSE = 0.6
"""Likeness of two words from which one may be a slip for the other. [1]"""


def unread_properties(name: str, stated: Sequence[tuple[StrEnum, Mapping[str, object]]]) -> tuple[str, ...]:
    """Say which properties of a drawn layer nothing reads, with what may have been meant.

    Parameters
    ----------
    name : str
        Of the layer.
    stated : sequence of (kind, properties)
        Of the features that say their own kind; names in lower case. A layer that says no kinds is somebody else's,
        and its columns are not ours to judge.

    Returns
    -------
    tuple of str
        A sentence for each name that resembles a known one, and one for all the others.

    Examples
    --------
    >>> unread_properties("drawn.geojson", [(Kind.TREE, {"kind": "tree", "trunk": "2 m"})])
    ("drawn.geojson: 'trunk' of 1 tree is not read. Did you mean 'trunk_height'?",)
    """
    found: dict[str, list[StrEnum]] = {}
    for kind, properties in stated:
        for word in _unread(kind, properties):
            found.setdefault(word, []).append(kind)
    slips, foreign = [], []
    for word, kinds in sorted(found.items()):
        meant = _meant(word, kinds)
        if meant:
            slips.append(f"{name}: {_shown(word)} of {_counted(kinds)} is not read. {meant}")
        else:
            foreign.append(word)
    if len(slips) > MOST_LINES:
        more = len(slips) - MOST_LINES
        slips[MOST_LINES:] = [f"{name}: {more} more propert{'ies are' if more > 1 else 'y is'} not read either."]
    if foreign:
        listed = ", ".join(_shown(word) for word in foreign[:MOST_NAMES])
        beyond = f" and {len(foreign) - MOST_NAMES} more" if len(foreign) > MOST_NAMES else ""
        told = (
            "are properties that nothing reads: they change"
            if len(foreign) > 1
            else "is not read by anything: it changes"
        )
        slips.append(f"{name}: {listed}{beyond} {told} no answer.")
    return tuple(slips)


def _unread(kind: StrEnum, properties: Mapping[str, object]) -> Iterator[str]:
    known = {*COMMON, *PROPERTIES.get(kind, ())}
    known |= {f"{word}_{unit}" for word in known.intersection(LENGTHS) for unit in ("m", "ft")}
    for word, value in properties.items():
        if word not in known and word not in FOREIGN and not word.startswith("_") and value not in (None, ""):
            yield word


def _meant(word: str, kinds: Sequence[StrEnum]) -> str:
    """Return what a name may have been meant for: a property of these kinds, or one of others."""
    owners = [f"{kind.value}s" for kind, known in PROPERTIES.items() if word in known]
    if owners:
        return f"It is read for {' and '.join(owners)} only."
    plain = word.replace(" ", "_").replace("-", "_")
    for kind in dict.fromkeys(kinds):
        known = (*PROPERTIES.get(kind, ()), *COMMON[1:])
        longer = [other for other in known if len(plain) > 3 and (other.startswith(plain) or plain.startswith(other))]
        close = longer or difflib.get_close_matches(plain, known, n=1, cutoff=CLOSE)
        if close:
            return f"Did you mean {close[0]!r}?"
    return ""


def _counted(kinds: Sequence[StrEnum]) -> str:
    counts = {kind: kinds.count(kind) for kind in dict.fromkeys(kinds)}
    said = [f"{count} {kind.value}{'s' if count > 1 else ''}" for kind, count in counts.items()]
    return " and ".join(said) if len(said) < 3 else f"{len(kinds)} features"


def _shown(word: str) -> str:
    text = clean_text(word)
    return repr(text if len(text) <= 40 else f"{text[:37]}...")
