"""One table of site.toml, and the kinds of number that stand in it."""

from __future__ import annotations

from datetime import date
from typing import Annotated, ClassVar, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from sitepipe.units import parse_length


def _length(value: object) -> float:
    if isinstance(value, str):
        return parse_length(value)
    raise ValueError(f"{value!r} has no unit; write a number and a unit, such as '0.6 m' or '2 ft'")


def _month_day(value: object) -> tuple[int, int]:
    if isinstance(value, str):
        pieces = value.strip().split("-")
        if len(pieces) == 2 and all(piece.isdigit() for piece in pieces):
            month, day = int(pieces[0]), int(pieces[1])
            try:
                date(2025, month, day)
            except ValueError as error:
                raise ValueError(
                    f"{value!r} is not a day of an ordinary year; write month-day, such as '05-01'"
                ) from error
            return month, day
    raise ValueError(f"{value!r} is not a day; write month-day, such as '05-01'")


def _temperature(value: object) -> float:
    if isinstance(value, str):
        number, _, unit = value.strip().rpartition(" ")
        try:
            degrees = float(number)
        except ValueError:
            degrees = float("nan")
        if unit in ("C", "F") and -90.0 <= degrees <= 130.0:
            return degrees if unit == "C" else (degrees - 32.0) / 1.8
    raise ValueError(f"{value!r} is not a temperature; write a number and C or F, such as '-23 C' or '-10 F'")


Length = Annotated[float, BeforeValidator(_length)]
"""A length in metres, written with its unit in files: ``"0.6 m"`` or ``"2 ft"``."""


Temperature = Annotated[float, BeforeValidator(_temperature)]
"""A temperature in degrees Celsius, written with its unit in files: ``"-23 C"`` or ``"-10 F"``."""


MonthDay = Annotated[tuple[int, int], BeforeValidator(_month_day)]
"""(month, day), written ``"05-01"`` in files."""


Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]


class Section(BaseModel):
    """One table of site.toml: closed to unknown keys, read-only once read."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)

    NOT_ABOVE: ClassVar[tuple[tuple[str, str], ...]] = ()
    """Pairs of names, of which the first must not be more than the second."""

    @model_validator(mode="after")
    def _must_not_contradict(self) -> Self:
        for less, more in self.NOT_ABOVE:
            if getattr(self, less) > getattr(self, more):
                raise ValueError(
                    f"{less} is {getattr(self, less):g} and {more} is {getattr(self, more):g}; "
                    f"{less} must not be more than {more}. Change one of the two"
                )
        return self
