"""Every number a user may change, with its unit, its range and its reason; presets live in ``configs/``."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError

from sitepipe.errors import SettingsError
from sitepipe.units import Units, parse_length


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


Length = Annotated[float, BeforeValidator(_length)]
"""A length in metres, written with its unit in files: ``"0.6 m"`` or ``"2 ft"``."""

MonthDay = Annotated[tuple[int, int], BeforeValidator(_month_day)]
"""(month, day), written ``"05-01"`` in files."""

Share = Annotated[float, Field(ge=0.0, le=1.0, allow_inf_nan=False)]


class Section(BaseModel):
    """One table of site.toml: closed to unknown keys, read-only once read."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class GroundSettings(Section):
    """The heights: unit, error, and the cell to work at."""

    unit: Literal["m", "ft", "us-ft"] | None = None
    cell: Annotated[Length, Field(ge=0.05, le=100.0)] | None = None
    error: Annotated[Length, Field(gt=0.0, le=20.0)] | None = None
    error_correlation: Annotated[Length, Field(gt=0.0, le=1000.0)] | None = None
    margin: Annotated[Length, Field(ge=0.0, le=5000.0)] = 30.0


class SeasonSettings(Section):
    """The growing season; from the latitude where it is not given."""

    start: MonthDay | None = None
    end: MonthDay | None = None


class Settings(Section):
    """Everything that a run may be told; each table has defaults that the run states."""

    name: str = Field(default="Site", min_length=1, max_length=200)
    elevation: Path | None = None
    parcel: Path | None = None
    preset: str = "wet-lawn"
    units: Units = Units.METRIC
    ground: GroundSettings = GroundSettings()
    season: SeasonSettings = SeasonSettings()


def presets() -> dict[str, Path]:
    """Return the presets that ship with the program, by name."""
    packaged = Path(str(resources.files("sitepipe"))) / "_configs"
    folder = packaged if packaged.is_dir() else Path(__file__).resolve().parent.parent / "configs"
    return {path.stem: path for path in sorted(folder.glob("*.toml"))}


def read_settings(path: Path) -> Settings:
    """Read a site's settings over the preset that it names.

    Raises
    ------
    SettingsError
        If the file cannot be read as TOML, names an unknown key or preset, or holds a value out of range.
    """
    own = _read_toml(path)
    name = own.get("preset", Settings.model_fields["preset"].default)
    known = presets()
    if name not in known:
        raise SettingsError(
            f"{path.name}: preset is {name!r}; it must be one of {', '.join(known)}{_nearest(str(name), known)}"
        )
    return make_settings(_merged(_read_toml(known[name]), own), path.name)


def make_settings(values: Mapping[str, Any], source: str) -> Settings:
    """Check settings given as nested mappings; ``source`` is the file to name in an error."""
    try:
        return Settings.model_validate(dict(values))
    except ValidationError as error:
        raise SettingsError(_first_fault(error, source)) from error


def _read_toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError as error:
        raise SettingsError(f"{path} is missing; a site folder needs one, see 'sitepipe new'") from error
    except (OSError, UnicodeDecodeError) as error:
        raise SettingsError(f"{path.name} cannot be read as UTF-8 text: {error}") from error
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(f"{path.name} is not valid TOML: {error}") from error


def _merged(base: Mapping[str, Any], own: Mapping[str, Any]) -> dict[str, Any]:
    merged = dict(base)
    for key, value in own.items():
        below = merged.get(key)
        merged[key] = _merged(below, value) if isinstance(below, dict) and isinstance(value, dict) else value
    return merged


def _nearest(word: str, known: Mapping[str, object]) -> str:
    close = difflib.get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f" (did you mean {close[0]!r}?)" if close else ""


def _first_fault(error: ValidationError, source: str) -> str:
    fault = error.errors()[0]
    where = ".".join(str(piece) for piece in fault["loc"])
    if fault["type"] == "extra_forbidden":
        section: Any = Settings
        for piece in fault["loc"][:-1]:
            section = section.model_fields[str(piece)].annotation
        known = dict.fromkeys(section.model_fields)
        return (
            f"{source}: {where} is not a setting{_nearest(str(fault['loc'][-1]), known)}; see the README for the list"
        )
    message = fault["msg"].removeprefix("Value error, ")
    if fault["type"] == "value_error":
        return f"{source}: {where}: {message}"
    return f"{source}: {where} is {fault['input']!r}: {message[0].lower()}{message[1:]}"
