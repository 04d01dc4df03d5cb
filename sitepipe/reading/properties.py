"""The properties of one drawn thing, read by the rules of its site."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from typing import Any, TypeVar

from sitepipe.errors import InputError
from sitepipe.reading.kinds import clean_text
from sitepipe.units import FOOT, Units, parse_length

NOT_OTHERS = frozenset({"kind", "name", "height", "width", "height_m", "height_ft", "width_m", "width_ft"})
YES, NO = ("yes", "true", "1", "1.0"), ("no", "false", "0", "0.0")

Word = TypeVar("Word", bound=StrEnum)


@dataclass(frozen=True, slots=True)
class Properties:
    """The properties of one drawn thing, names in lower case, read by the rules of its site.

    Parameters
    ----------
    values : mapping
    where : str
        How to name the thing in a message.
    units : Units
        Of the site: a length without a unit is metres, and asked about where the site is in feet.
    bare : set of str
        Filled with the lengths that had no unit.
    """

    values: Mapping[str, Any]
    where: str
    units: Units = Units.METRIC
    bare: set[str] = field(default_factory=set)

    def said(self, what: str) -> Any:
        """Return a property as it is written, None where it is empty.

        Raises
        ------
        InputError
            If it is a list or a table.
        """
        value = self.values.get(what)
        if isinstance(value, (list, dict)):
            raise InputError(f"{self.where}: {what} is {shown(value)}; write one word or number")
        return None if value is None or (isinstance(value, str) and not value.strip()) else value

    def text(self, what: str) -> str:
        """Read a text, empty where there is none."""
        given = self.said(what)
        return "" if given is None else clean_text(str(given)).strip()

    def length(self, what: str, longest: float) -> float | None:
        """Read a length: text with a unit, a number, or ``WHAT_m`` or ``WHAT_ft``. [m].

        Raises
        ------
        InputError
            If it has no unit where feet and metres are both likely, or cannot be.
        """
        for suffix, metres in (("_m", 1.0), ("_ft", FOOT)):
            given = self.said(what + suffix)
            if given is not None:
                said = f"{shown(given)} {suffix[1:]}"
                return self._within(self._number(given, what + suffix) * metres, what, longest, said)
        given = self.said(what)
        if given is None:
            return None
        if isinstance(given, str) and not re.fullmatch(r"\s*[-+]?[\d.]+\s*", given):
            try:
                return self._within(parse_length(given), what, longest, shown(given))
            except (ValueError, OverflowError) as error:
                raise InputError(f"{self.where}: {what}: {error}") from error
        if self.units is Units.IMPERIAL:
            raise InputError(
                f"{self.where}: {what} is {shown(given)} without a unit, and the site is in feet; "
                f"write '{shown(given)} ft' or '{shown(given)} m'"
            )
        self.bare.add(what)
        number = self._number(given, what)
        return self._within(number, what, longest, f"{number:.6g} m")

    def size(self, what: str, longest: float) -> float | None:
        """Read a height or a width, which must be above 0. [m]."""
        size = self.length(what, longest)
        if size == 0.0:
            raise InputError(f"{self.where}: {what} is 0; write what it is, or leave it out")
        return size

    def hours(self, what: str) -> float | None:
        """Read a number of hours, ``48`` or ``"48 h"``. [h]."""
        given = self.said(what)
        if given is None:
            return None
        text = re.sub(r"\s*(h|hours?)$", "", given.strip().lower()) if isinstance(given, str) else given
        hours = self._number(text, what)
        if not 0.0 <= hours <= 24.0 * 366.0:
            raise InputError(f"{self.where}: {what} is {shown(given)}; it must be hours since rain, from 0 to 8784")
        return hours

    def number(self, what: str, least: float, most: float) -> float | None:
        """Read a plain number within bounds."""
        given = self.said(what)
        if given is None:
            return None
        number = self._number(given, what)
        if not least <= number <= most:
            raise InputError(f"{self.where}: {what} is {shown(given)}; it must lie between {least:g} and {most:g}")
        return number

    def day(self, what: str) -> date | None:
        """Read a day, ``2026-04-12``, or the first of a month or a year, ``2026-04``, ``2026``."""
        given = self.said(what)
        if given is None:
            return None
        text = str(given).strip()[:10]
        try:
            return date.fromisoformat(f"{text}-01-01"[:10])
        except ValueError as error:
            raise InputError(f"{self.where}: {what} is {shown(given)!r}; write a day such as 2026-04-12") from error

    def word(self, what: str, words: Mapping[str, Word]) -> Word | None:
        """Read one of a list of words, alone or among others: ``gravel``, ``crushed gravel``."""
        given = self.said(what)
        if given is None:
            return None
        plain = re.sub(r"[\W_]+", " ", str(given)).strip().lower()
        named = {words[plain]} if plain in words else {words[word] for word in plain.split() if word in words}
        if len(named) != 1:
            listed = ", ".join(dict.fromkeys(words.values()))
            raise InputError(f"{self.where}: {what} is {shown(given)!r}; write one of: {listed}")
        return named.pop()

    def words(self, what: str, words: Mapping[str, Word]) -> frozenset[Word]:
        """Read several of a list of words, parted by commas; each may be a plural."""
        given = self.said(what)
        found = set()
        for piece in re.split(r",|;|\+|&|\band\b", "" if given is None else str(given)):
            plain = re.sub(r"[\s_-]+", " ", piece).strip().lower()
            if plain and plain not in words and plain.removesuffix("s") not in words:
                listed = ", ".join(words)
                raise InputError(f"{self.where}: {what} names {shown(piece.strip())!r}; write some of: {listed}")
            if plain:
                found.add(words[plain] if plain in words else words[plain.removesuffix("s")])
        return frozenset(found)

    def truth(self, what: str) -> bool:
        """Read yes or no; nothing is no."""
        given = self.said(what)
        word = str(given).strip().lower()
        if given is None or given is False or word in NO:
            return False
        if given is True or word in YES:
            return True
        raise InputError(f"{self.where}: {what} is {shown(given)!r}; write yes or no")

    def others(self) -> dict[str, str | float | bool]:
        """Return what is neither kind, name nor size, as text, number or truth value."""
        return dict(self._others())

    def _others(self) -> Iterator[tuple[str, str | float | bool]]:
        for name, value in self.values.items():
            if name in NOT_OTHERS or value is None:
                continue
            if isinstance(value, bool):
                yield clean_text(name), value
            elif isinstance(value, (int, float)) and abs(value) < 1e15:
                yield clean_text(name), float(value)
            else:
                yield clean_text(name), clean_text(str(value))

    def _number(self, given: object, what: str) -> float:
        try:
            return float(given)  # type: ignore[arg-type]
        except OverflowError as error:
            raise InputError(
                f"{self.where}: {what} is {shown(given)!r}; it has too many digits. Write it with fewer"
            ) from error
        except (TypeError, ValueError) as error:
            raise InputError(f"{self.where}: {what} is {shown(given)!r}; it must be a number") from error

    def _within(self, metres: float, what: str, longest: float, said: str) -> float:
        if not 0.0 <= metres <= longest:
            size, unit = (FOOT, "ft") if self.units is Units.IMPERIAL else (1.0, "m")
            raise InputError(f"{self.where}: {what} is {said}; it must lie between 0 and {longest / size:.4g} {unit}")
        return metres


def shown(value: object) -> str:
    """Return a value as a message may show it."""
    return clean_text(str(value))[:60]
