"""What a thing that the user drew is called in a sentence."""

from __future__ import annotations

import string
import unicodedata
from collections.abc import Sequence
from datetime import date

from sitepipe.site import DrawnWork, Feature, Found, Kind, Ref, Site, Work
from sitepipe.works.built import Built

LONGEST = 80
NUMBERS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_ONLY = {Ref(Work.HOOP_HOUSE, 1): "the hoop house", Ref(Work.TIPPING_PLACE, 1): "the chip pile"}
"""The first choices, of which only one is built."""
_NOUNS = ("barn", "brook", "drive", "fence", "garage", "house", "pond", "shed", "stream", "street")
_PLAIN_KINDS = frozenset({*(kind.value for kind in Kind), *_NOUNS})
"""Names that are nothing but a common noun."""


def tame(text: str) -> str:
    """Return one line of text without control or direction-turning signs, cut to a bearable length.

    Names come from files that anyone may have made: they may carry escape codes for the terminal,
    right-to-left overrides, or ten thousand letters.
    """
    line = without_controls(text)
    return line if len(line) <= LONGEST else f"{line[: LONGEST - 1].rstrip()}…"


def without_controls(text: str) -> str:
    """Return a text on one line, without signs that move a terminal's cursor or turn the direction of reading.

    Examples
    --------
    >>> without_controls("Ga" + chr(27) + "[2Jte")
    'Ga [2Jte'
    """
    kept = "".join(" " if unicodedata.category(sign) in {"Cc", "Zl", "Zp"} else sign for sign in text)
    kept = "".join(sign for sign in kept if unicodedata.category(sign) not in {"Cf", "Cs", "Co", "Cn"})
    return " ".join(piece for piece in kept.split(" ") if piece)


def shown(feature: Feature) -> str:
    """Return the feature's own name, or its kind with an article where it has none."""
    return named(feature.name)


def named(name: str) -> str:
    """Return a name as it stands in a sentence: an article before a common noun, a proper name as written.

    Examples
    --------
    >>> named("House"), named("old oak"), named("West gate post"), named("the pond")
    ('the house', 'the old oak', 'West gate post', 'the pond')
    """
    plain = tame(name)
    if plain.lower() in _PLAIN_KINDS:
        return f"the {plain.lower()}"
    if plain[:1].islower() and not plain.startswith("the "):
        return f"the {plain}"
    return plain or "the unnamed feature"


def called(ref: Ref) -> str:
    """Return what a part of the plan or a piece of ground is called in a sentence.

    Ground has letters: numbered zones are taken for zones of hardiness.

    Examples
    --------
    >>> called(Ref(Work.MOUND, 2)), called(Ref(Work.HOOP_HOUSE, 1)), called(Ref(Found.ZONE, 28))
    ('mound 2', 'the hoop house', 'ground AB')
    """
    if ref.kind is Found.ZONE:
        return f"ground {letters(ref.number)}"
    return _ONLY.get(ref, f"{ref.kind} {ref.number}")


def letters(number: int) -> str:
    """Return the letters of a piece of ground: A to Z, then AA.

    Examples
    --------
    >>> letters(1), letters(26), letters(27)
    ('A', 'Z', 'AA')
    """
    return (letters((number - 1) // 26) if number > 26 else "") + string.ascii_uppercase[(number - 1) % 26]


def say_day(day: date | None) -> str:
    """Say a day; nothing where none is known.

    Examples
    --------
    >>> say_day(date(2027, 4, 10)), say_day(None)
    ('10 April 2027', '')
    """
    return f"{day:%-d %B %Y}" if day else ""


def capital(sentence: str) -> str:
    """Start a sentence with a capital letter."""
    return f"{sentence[:1].upper()}{sentence[1:]}"


def count(number: int, one: str, many: str = "") -> str:
    """Say a number of things as a word up to twelve.

    Examples
    --------
    >>> count(1, "mound"), count(3, "mound"), count(0, "hollow"), count(13, "job")
    ('one mound', 'three mounds', 'no hollows', '13 jobs')
    """
    said = NUMBERS[number] if number < len(NUMBERS) else f"{number:,}"
    return f"{said} {one if number == 1 else many or one + 's'}"


def plants_of(number: int, common: str) -> str:
    """Say how many of a kind of plant: the names of plants have plurals of many sorts, so none is made.

    Examples
    --------
    >>> plants_of(1, "sensitive fern"), plants_of(1200, "sensitive fern")
    ('1 sensitive fern', '1,200 of sensitive fern')
    """
    return f"{number:,} {'' if number == 1 else 'of '}{tame(common)}"


def ended(sentence: str) -> str:
    """Return a sentence with a full stop, if it has none of its own.

    Examples
    --------
    >>> ended("Cooked only"), ended("Cooked only."), ended(" ")
    ('Cooked only.', 'Cooked only.', '')
    """
    text = sentence.strip()
    return text if not text or text[-1] in ".!?…" else text + "."


def joined(pieces: Sequence[str]) -> str:
    """Join pieces with commas and an ``and``.

    Examples
    --------
    >>> joined(["1", "2", "5"])
    '1, 2 and 5'
    """
    if len(pieces) < 2:
        return "".join(pieces)
    return f"{', '.join(pieces[:-1])} and {pieces[-1]}"


def spoken(ref: Ref, site: Site) -> str:
    """Return what a reference is called in a sentence: a drawn thing by its own name."""
    if isinstance(ref.kind, Kind):
        return shown(site.feature(ref))
    drawn = next((work for work in site.works if work.ref == ref), None)
    return called(ref) if drawn is None else work_named(drawn)


def work_named(work: Built | DrawnWork) -> str:
    """Return what a work is called in a sentence: by its own name, with its number, else by kind and number.

    Examples
    --------
    >>> from shapely import Point
    >>> place = {"kind": Work.TIPPING_PLACE, "number": 2, "status": Status.WANTED, "built": None, "shape": Point(0, 0)}
    >>> work_named(DrawnWork(name="By the gate", **place)), work_named(DrawnWork(name="", **place))
    ('By the gate (tipping place 2)', 'tipping place 2')
    """
    return f"{tame(work.name)} ({work.kind} {work.number})" if work.name else called(work.ref)
