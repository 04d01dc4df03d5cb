"""Every number a user may change, with its unit, its range and its reason; presets live in ``configs/``."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, field_validator

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


class GroundSettings(Section):
    """The heights: unit, error, and the cell to work at."""

    unit: Literal["m", "ft", "us-ft"] | None = None
    cell: Annotated[Length, Field(ge=0.05, le=100.0)] | None = None
    error: Annotated[Length, Field(gt=0.0, le=20.0)] | None = None
    error_correlation: Annotated[Length, Field(gt=0.0, le=1000.0)] | None = None
    margin: Annotated[Length, Field(ge=0.0, le=5000.0)] = 30.0


class SeasonSettings(Section):
    """The growing season and the months in leaf; from the latitude where they are not given."""

    start: MonthDay | None = None
    end: MonthDay | None = None
    leaf_on: MonthDay | None = None
    leaf_off: MonthDay | None = None


class SunSettings(Section):
    """How sun and shade are computed, and how high things stand that were drawn without a height.

    Shares of light through crowns: a sugar maple took about 80 % of the light in leaf and 40 % bare (Heisler 1986,
    Urban Ecology 9:337, value from memory); evergreens: common practice, no source. Default heights and widths:
    common practice, no source. Breaks of light in hours: sources differ, so they are a setting.
    """

    azimuths: Annotated[int, Field(ge=24, le=1440)] = 180
    margin: Annotated[Length, Field(ge=0.0, le=1000.0)] = 10.0
    turbidity: Annotated[float, Field(ge=1.0, le=8.0)] = 3.0
    light_breaks: tuple[float, float, float] = (8.0, 6.0, 4.0)
    light_through_leaf: Share = 0.2
    light_through_bare: Share = 0.6
    light_through_evergreen: Share = 0.15
    building_height: Annotated[Length, Field(gt=0.0, le=200.0)] = 5.0
    tree_height: Annotated[Length, Field(gt=0.0, le=120.0)] = 8.0
    hedge_height: Annotated[Length, Field(gt=0.0, le=30.0)] = 2.0
    wall_height: Annotated[Length, Field(gt=0.0, le=30.0)] = 1.8
    crown_per_height: Annotated[float, Field(gt=0.0, le=3.0)] = 0.6
    hedge_width: Annotated[Length, Field(gt=0.0, le=20.0)] = 1.0
    wall_width: Annotated[Length, Field(gt=0.0, le=5.0)] = 0.2
    years_ahead: Annotated[float, Field(ge=0.0, le=100.0)] = 0.0
    tree_growth_per_year: Annotated[Length, Field(ge=0.0, le=3.0)] = 0.3

    @field_validator("light_breaks")
    @classmethod
    def _fall(cls, breaks: tuple[float, float, float]) -> tuple[float, float, float]:
        if not 24.0 >= breaks[0] > breaks[1] > breaks[2] > 0.0:
            raise ValueError(f"{breaks} must be hours that fall, such as 8, 6, 4")
        return breaks


class HoopHouseSettings(Section):
    """The hoop house: how large, and what a good place is; shared trade figures with their sources beside them."""

    wanted: bool = True
    sizes: Annotated[tuple[tuple[Length, Length], ...], Field(min_length=1, max_length=6)] = ((9.0, 4.2),)
    """(length, width) of each house that would do, all are tried. [m]"""
    sites: int = Field(default=3, ge=1, le=10)
    direction_step: float = Field(default=7.5, ge=1.0, le=45.0)
    """Step between the directions that are tried. [deg]"""
    room: Annotated[Length, Field(ge=0.0, le=30.0)] = 3.0
    """Clear on every side for snow and doors: 10 ft, 20 ft is better (NRCS 325). [m]"""
    better_room: Annotated[Length, Field(ge=0.0, le=60.0)] = 6.0
    boundary: Annotated[Length, Field(ge=0.0, le=60.0)] = 3.0
    """Kept from the boundary: common practice, ask the local code. [m]"""
    steepest: float = Field(default=0.05, gt=0.0, le=0.5)
    """Rise per run that is too steep: 5 %, value from memory. [1]"""
    dry_depth: Annotated[Length, Field(gt=0.0, le=3.0)] = 0.6
    """Wet-season depth to water that leaves the ground posts dry: drains lie 18 to 24 in deep (UVM). [m]"""
    tree_heights: float = Field(default=2.0, ge=0.0, le=6.0)
    """Tree heights to keep from trees on the sunny side: common practice. [1]"""
    full_sun: float = Field(default=6.0, gt=0.0, le=16.0)
    """Hours of sun a day in the shoulder months that leave nothing to wish (UConn). [h/day]"""
    winter_crop: bool = True
    wind_from: float | None = Field(default=None, ge=0.0, le=360.0)
    """Where the worst wind comes from, clockwise from north; not counted where it is not known. [deg]"""
    easy_walk: Annotated[Length, Field(gt=0.0, le=1000.0)] = 15.0
    """Walk from gate, drive or tap that costs nothing. [m]"""
    snow: bool = True


class TrellisSettings(Section):
    """Rows for vines: how many, how long, how high."""

    wanted: bool = True
    rows: int = Field(default=2, ge=1, le=40)
    length: Annotated[Length, Field(gt=0.5, le=100.0)] = 6.0
    height: Annotated[Length, Field(gt=0.3, le=5.0)] = 2.0
    direction: Literal["best", "north-south", "east-west"] = "best"
    post_spacing: Annotated[Length, Field(gt=0.5, le=10.0)] = 2.4
    let_through: Share = 0.0
    """Share of the sun that the leafy row lets through. [1]"""
    wet_depth: Annotated[Length, Field(gt=0.0, le=3.0)] = 0.75
    """Wet-season depth to water above which posts go deeper: common practice. [m]"""


class PathSettings(Section):
    """Chip paths: how wide, how deep, for what wheel, and what makes a metre of path dear."""

    wanted: bool = True
    wheel: Literal["barrow", "wheelchair"] = "barrow"
    """What the main path is for; a wheelchair asks for 36 in and 1 in 20 (2010 ADA), and a firm surface."""
    width: Annotated[Length, Field(ge=0.3, le=5.0)] = 0.9
    """Main path: 30 to 36 in for a barrow. [m]"""
    side_width: Annotated[Length, Field(ge=0.3, le=5.0)] = 0.6
    """Side path: 24 in to work from. [m]"""
    chip_depth: Annotated[Length, Field(ge=0.0, le=0.6)] = 0.18
    """6 to 8 in, renewed yearly: common practice. [m]"""
    steepest: float = Field(default=1.0 / 12.0, gt=0.0, le=0.5)
    """Rise per run that a laden barrow takes without trouble: common practice. [1]"""
    wet_cost: float = Field(default=4.0, ge=0.0, le=100.0)
    """How many dry metres one metre on the wettest ground is worth, less one. [1]"""
    crossing_cost: Annotated[Length, Field(ge=0.0, le=200.0)] = 6.0
    """Detour that is worth one crossing of a flow line less. [m]"""
    flow_area: float = Field(default=150.0, gt=0.0)
    """Ground behind a place from which on water counts as a flow line. [m2]"""


class TippingSettings(Section):
    """Where a truck may tip chips: common practice, no source; the driver decides."""

    wanted: bool = True
    load: float = Field(default=9.2, gt=0.0, le=60.0)
    """One load: 12 cubic yards. [m3]"""
    pile_height: Annotated[Length, Field(gt=0.2, le=4.0)] = 1.5
    truck_width: Annotated[Length, Field(gt=1.0, le=6.0)] = 3.0
    """Clear lane for a small truck. [m]"""
    truck_length: Annotated[Length, Field(gt=2.0, le=16.0)] = 7.5
    turning: Annotated[Length, Field(gt=0.0, le=30.0)] = 8.0
    """Radius of the free circle that it turns in. [m]"""
    back_in: Annotated[Length, Field(ge=0.0, le=200.0)] = 40.0
    """How far a driver will back where there is no room to turn. [m]"""
    steepest: float = Field(default=0.08, gt=0.0, le=0.5)
    firm_depth: Annotated[Length, Field(ge=0.0, le=3.0)] = 0.4
    """Wet-season depth to water that bears a laden truck. [m]"""
    soft_ground: Annotated[Length, Field(ge=0.0, le=200.0)] = 15.0
    """How far a truck may leave road or drive over ground that bears it. [m]"""
    places: int = Field(default=3, ge=1, le=10)


class JobsSettings(Section):
    """Who works, and how fast: common practice, no source; measure your own first day."""

    people: int = Field(default=3, ge=1, le=100)
    barrow: float = Field(default=0.085, gt=0.01, le=0.5)
    """One barrow of chips: 9 to a cubic yard. [m3]"""
    loading: float = Field(default=4.0, gt=0.0, le=60.0)
    """To fill and tip one barrow. [min]"""
    walking: float = Field(default=45.0, gt=1.0, le=120.0)
    """Pace with a barrow. [m/min]"""
    spreading: float = Field(default=1.0, gt=0.0, le=20.0)
    """Chips raked out by one person. [m3/h]"""
    digging: float = Field(default=0.5, gt=0.0, le=5.0)
    """Soil moved by one person with a spade. [m3/h]"""


class PlantingSettings(Section):
    """What to plant: the list, the site's cold, and how plants are set out."""

    palette: Path | None = None
    replaces_palette: bool = False
    coldest_night: Temperature | None = None
    wanted: tuple[Literal["edible", "nursery stock", "habitat", "ground cover"], ...] = (
        "edible",
        "nursery stock",
        "habitat",
    )
    choices: Annotated[int, Field(ge=1, le=20)] = 6
    kinds_in_a_bed: Annotated[int, Field(ge=1, le=5)] = 3
    most_plants: Annotated[int, Field(ge=1, le=5000)] = 150
    edge_setback: Annotated[Length, Field(ge=0.0, le=2.0)] = 0.15
    triangular: bool = False
    prices: dict[str, Annotated[float, Field(ge=0.0, le=10000.0)]] = {}
    seen: dict[str, Annotated[float, Field(ge=0.0, le=100.0)]] = {}


class Settings(Section):
    """Everything that a run may be told; each table has defaults that the run states."""

    name: str = Field(default="Site", min_length=1, max_length=200)
    elevation: Path | None = None
    parcel: Path | None = None
    preset: str = "wet-lawn"
    units: Units = Units.METRIC
    ground: GroundSettings = GroundSettings()
    season: SeasonSettings = SeasonSettings()
    sun: SunSettings = SunSettings()
    hoop_house: HoopHouseSettings = HoopHouseSettings()
    trellis: TrellisSettings = TrellisSettings()
    path: PathSettings = PathSettings()
    tipping: TippingSettings = TippingSettings()
    jobs: JobsSettings = JobsSettings()
    planting: PlantingSettings = PlantingSettings()


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
