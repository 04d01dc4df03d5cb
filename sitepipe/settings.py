"""Every number a user may change, with its unit, its range and its reason; presets live in ``configs/``."""

from __future__ import annotations

import difflib
import tomllib
from collections.abc import Mapping
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError, field_validator, model_validator

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


class GroundSettings(Section):
    """The heights: unit, error, and the cell to work at.

    ``margin`` is the ground read around the parcel at first; it grows until the parcel's catchment is inside, the
    heights end, or the window has ``widest_window`` cells (4 million take some 15 s; own choice).
    """

    unit: Literal["m", "ft", "us-ft"] | None = None
    cell: Annotated[Length, Field(ge=0.05, le=100.0)] | None = None
    error: Annotated[Length, Field(gt=0.0, le=20.0)] | None = None
    error_correlation: Annotated[Length, Field(gt=0.0, le=1000.0)] | None = None
    margin: Annotated[Length, Field(ge=0.0, le=5000.0)] = 30.0
    widest_window: Annotated[int, Field(ge=1_000, le=16_000_000)] = 4_000_000


class SurveySettings(Section):
    """Levels that the user took: unit of bare numbers, how well a loop must close, and how far the survey speaks.

    ``misclosure_per_root_km``: 12 mm is third order, 8 mm second order (class II; from memory). ``sight`` is taken
    for a sight where no distances were written. ``collar`` is the width over which the survey's shift fades out
    in the ground around; ``widest_gap`` the longest side of a triangle of levels that still counts as surveyed (from
    the spacing of the levels where it is not given).
    """

    unit: Literal["m", "ft", "us-ft"] | None = None
    misclosure_per_root_km: Annotated[Length, Field(gt=0.0, le=0.1)] = 0.012
    least_misclosure: Annotated[Length, Field(ge=0.0, le=0.1)] = 0.005
    accept_misclosure: bool = False
    reading_error: Annotated[Length, Field(gt=0.0, le=0.1)] = 0.003
    sight: Annotated[Length, Field(ge=1.0, le=100.0)] = 20.0
    collar: Annotated[Length, Field(ge=0.0, le=200.0)] = 5.0
    widest_gap: Annotated[Length, Field(ge=0.5, le=500.0)] | None = None


class SeasonSettings(Section):
    """The growing season and the months in leaf; from the latitude where they are not given."""

    start: MonthDay | None = None
    end: MonthDay | None = None
    leaf_on: MonthDay | None = None
    leaf_off: MonthDay | None = None

    @model_validator(mode="after")
    def _leaves_must_last(self) -> Self:
        if self.leaf_on is not None and self.leaf_on == self.leaf_off:
            month, day = self.leaf_on
            raise ValueError(f"leaf_on and leaf_off are both {month:02d}-{day:02d}; they must differ")
        return self


class SunSettings(Section):
    """How sun and shade are computed, and how high things stand that were drawn without a height.

    Shares of light through crowns: a sugar maple took about 80 % of the light in leaf and 40 % bare (Heisler 1986,
    Urban Ecology 9:337, abstract); evergreens: common practice, no source. Default heights and widths:
    common practice, no source. Breaks of light in hours: sources differ, so they are a setting. ground_disbelief is the
    rise of bare ground that casts no shade; twice the error of the heights where it is not given.
    """

    azimuths: Annotated[int, Field(ge=24, le=1440)] = 144
    margin: Annotated[Length, Field(ge=0.0, le=1000.0)] = 10.0
    ground_disbelief: Annotated[Length, Field(ge=0.0, le=5.0)] | None = None
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

    NOT_ABOVE = (("room", "better_room"),)

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
    height: Annotated[Length, Field(gt=0.5, le=8.0)] = 2.4
    """Of the ridge. [m]"""
    film: Share = 0.7
    """Share of the sun that the film lets through: .6 to .85, common practice, no source. [1]"""
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

    NOT_ABOVE = (("side_width", "width"),)

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
    flow_area: float = Field(default=150.0, gt=0.0, le=1e6)
    """Ground behind a place from which on water counts as a flow line. [m2]"""


class TippingSettings(Section):
    """Where a truck may tip chips: common practice, no source; the driver decides."""

    wanted: bool = True
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

    NOT_ABOVE = (("kinds_in_a_bed", "choices"),)

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


class TerrainSettings(Section):
    """The scale at which slope and wetness index are taken."""

    slope_noise_share: float = Field(default=1.0 / 3.0, gt=0.0, le=1.0)
    """Slope noise over the slope there is, at most; at a third the noise adds 5 % to a slope. [1]"""
    gentle_share: float = Field(default=0.25, gt=0.0, le=1.0)
    """Slope of the gentle ground, where water lies, over the typical slope: it must stand out as well.
    Chosen on invented ground, see DEVELOPERS. [1]"""
    broadest: Annotated[Length, Field(gt=0.0, le=1000.0)] = 50.0
    """No wider scale, however level the ground: hollows of a garden's size would be averaged away. [m]"""


class WetnessSettings(Section):
    """How the wettest places are picked out; how wet a place is takes no settings (one set for all sites)."""

    soaked_share: float = Field(default=0.15, gt=0.0, le=0.9)
    """Share of the parcel, the wettest, that may be named as soaked. Common practice, no source. [1]"""
    soaked_least: Share = 0.6
    """Wetness below which no place is named, however dry the rest. [1]"""
    least_area_m2: float = Field(default=6.0, ge=0.0, le=1e6)
    """Smallest patch that is worth naming: one that a helper finds. Common practice, no source. [m2]"""
    least_depth: Annotated[Length, Field(ge=0.0, le=5.0)] = 0.01
    """Shallower water is not named: rain stands that deep on any lawn. [m]"""
    least_chance: Share = 0.2
    """Chance of standing water below which a hollow is not named: face.md draws nothing below 2 in 10. [1]"""
    places: int = Field(default=9, ge=1, le=50)


class ObservationSettings(Section):
    """How far a thing seen outweighs the model around it."""

    reach: Annotated[Length, Field(gt=0.0, le=500.0)] = 12.0
    """Distance at which its say has fallen to 37 %. Common practice, no source. [m]"""
    height_reach: Annotated[Length, Field(gt=0.0, le=20.0)] = 0.15
    """Climb that counts as much as that distance: a pool says nothing of the bank above it. [m]"""
    certain: float = Field(default=0.95, gt=0.5, lt=1.0)
    """Wetness that the surest sight stands for (dry: 1 minus this). [1]"""
    wet_after: float = Field(default=48.0, gt=0.0, le=1000.0)
    """Water that still stands so long after rain is no passing puddle: crops fail beyond it. [h]"""
    dry_within: float = Field(default=24.0, gt=0.0, le=1000.0)
    """Ground that is firm so soon after rain is dry ground. [h]"""


class Criterion(Section):
    """One thing that a use asks of the ground: a smooth step from ``none_at`` (not at all) to ``full_at`` (wholly).

    ``least`` is what remains at ``none_at``: 0 where the use is out of the question there. Weight 0 drops it.
    """

    weight: float = Field(ge=0.0, le=100.0)
    none_at: float = Field(ge=-1e6, le=1e6)
    full_at: float = Field(ge=-1e6, le=1e6)
    least: Share = 0.0

    @model_validator(mode="after")
    def _must_step(self) -> Self:
        if self.none_at == self.full_at:
            raise ValueError(f"none_at and full_at are both {self.full_at}; they must differ")
        return self


class UseSettings(Section):
    """What one use asks of the ground. A file may change any one number of a criterion."""

    @model_validator(mode="before")
    @classmethod
    def _over_the_defaults(cls, values: object) -> object:
        if not isinstance(values, Mapping):
            return values
        filled = dict(values)
        for name, field in cls.model_fields.items():
            own = filled.get(name)
            if isinstance(own, Mapping) and isinstance(field.default, Criterion):
                filled[name] = field.default.model_dump() | dict(own)
        return filled

    @model_validator(mode="after")
    def _must_weigh(self) -> Self:
        weights = [getattr(self, name).weight for name in type(self).model_fields]
        if sum(weights) <= 0.0:
            raise ValueError("the weights sum to 0; at least one must be above 0")
        return self


class MoundUse(UseSettings):
    """Where a raised mound belongs: sunny, gentle, wet enough to need one, off the water's way."""

    sun_hours: Criterion = Criterion(weight=4.0, none_at=2.0, full_at=6.0)
    """Season mean [h/day]; full sun is 6 hours and more, part sun 4 (extension services)."""
    standing_water_m: Criterion = Criterion(weight=2.0, none_at=0.30, full_at=0.05)
    """Water after the larger storm [m]: a mound in a pool displaces it. Common practice, no source."""
    slope_percent: Criterion = Criterion(weight=1.0, none_at=20.0, full_at=8.0, least=0.1)
    """Rise per 100 of run [%]. Common practice, no source."""
    water_behind_m2: Criterion = Criterion(weight=1.5, none_at=5000.0, full_at=500.0, least=0.05)
    """Ground that drains past within half the least width [m2]: a mound must not dam. Common practice, no source."""
    water_table_m: Criterion = Criterion(weight=1.5, none_at=1.2, full_at=0.6, least=0.3)
    """Wet-season depth to water [m]: vegetables want .45 to .9, fruit trees to 1.2; deeper needs no mound."""
    wetness: Criterion = Criterion(weight=2.0, none_at=0.95, full_at=0.70, least=0.05)
    """The wettest ground [1] is left to plants that like it. Common practice, no source."""
    wet_enough: Criterion = Criterion(weight=1.0, none_at=0.05, full_at=0.30, least=0.3)
    """The driest ground [1] in view needs no mound; it stays firm to walk on. Common practice, no source."""
    haul_m: Criterion = Criterion(weight=0.5, none_at=200.0, full_at=40.0, least=0.3)
    """Way with a barrow from gate or road, as the crow flies [m]. Common practice, no source."""


class WetPlantingUse(UseSettings):
    """Where wet-tolerant plants belong: soaked or shallowly flooded, with some light."""

    wetness: Criterion = Criterion(weight=3.0, none_at=0.4, full_at=0.8)
    """[1]"""
    depth_to_water_m: Criterion = Criterion(weight=1.0, none_at=1.5, full_at=0.3, least=0.2)
    """The index of depth to water [m]; .3 is the 12 in of wetland hydrology."""
    standing_water_m: Criterion = Criterion(weight=1.0, none_at=0.5, full_at=0.15)
    """[m]; few marsh plants start in more. Value from memory."""
    sun_hours: Criterion = Criterion(weight=1.0, none_at=0.0, full_at=3.0, least=0.3)
    """[h/day]; alder, willow and ferns bear part shade (2 to 4 hours)."""
    slope_percent: Criterion = Criterion(weight=0.5, none_at=30.0, full_at=12.0, least=0.2)
    """[%]; common practice, no source."""


class PathUse(UseSettings):
    """Where a chip path belongs: firm, gentle, not the way that water takes."""

    wetness: Criterion = Criterion(weight=3.0, none_at=0.9, full_at=0.45, least=0.02)
    """[1]; common practice, no source."""
    standing_water_m: Criterion = Criterion(weight=2.0, none_at=0.10, full_at=0.02)
    """[m]; chips float."""
    slope_percent: Criterion = Criterion(weight=2.0, none_at=15.0, full_at=5.0, least=0.05)
    """[%]; 5 is the 1 in 20 of an accessible route (2010 ADA standards, value from memory)."""
    water_behind_m2: Criterion = Criterion(weight=1.0, none_at=5000.0, full_at=500.0, least=0.2)
    """[m2]; a path as the lowest line becomes the ditch."""


class KeepClearSettings(Section):
    """Distances kept from things that digging or filling can hurt; local codes and licensed practice come first."""

    house: Annotated[Length, Field(ge=0.0, le=50.0)] = 3.048
    """The ground falls 6 in within 10 ft of a wall (IRC R401.3), so nothing is raised there. [m]"""
    septic: Annotated[Length, Field(ge=0.0, le=100.0)] = 3.048
    """Edible crops stay 10 ft off the field, 20 is safer (extension services). [m]"""
    well: Annotated[Length, Field(ge=0.0, le=200.0)] = 15.24
    """Compost and manure stay 50 to 100 ft off; value from memory, the local code rules. [m]"""
    buried_line: Annotated[Length, Field(ge=0.0, le=20.0)] = 0.9
    """Dig by hand 24 in either side of the marks, and a drawn line lies within 1 ft. [m]"""
    sight_leg: Annotated[Length, Field(ge=0.0, le=30.0)] = 4.572
    """Leg of the clear triangle at a driveway: 10 to 15 ft in eight ordinances. [m]"""
    boundary: Annotated[Length, Field(ge=0.0, le=30.0)] = 1.0
    """Common practice, no source; the local code rules. [m]"""
    trunk: Annotated[Length, Field(ge=0.0, le=30.0)] = 2.0
    """Soil over roots smothers them. Common practice, no source. [m]"""
    hedge: Annotated[Length, Field(ge=0.0, le=10.0)] = 0.6
    """Room to cut it. Common practice, no source. [m]"""
    road: Annotated[Length, Field(ge=0.0, le=100.0)] = 6.0
    """Lead of 157 to 176 mg/kg was found 6 m from busy roads, falling to 60 m; salt spray reaches 9 m. [m]"""
    water: Annotated[Length, Field(ge=0.0, le=100.0)] = 1.5
    """From open water and ditches. Common practice, no source; wetland buffers are often wider. [m]"""
    culvert: Annotated[Length, Field(ge=0.0, le=20.0)] = 2.0
    """A mouth stays open. Common practice, no source. [m]"""
    storing_depth: Annotated[Length, Field(ge=0.0, le=5.0)] = 0.15
    """A hollow at least so deep stores the storm; filling it floods somebody else. [m]"""
    storing_m3: float = Field(default=2.0, ge=0.0, le=1e6)
    """And at least so much of it. Common practice, no source. [m3]"""


class ScoringSettings(Section):
    """What each use asks for, and how zones are cut."""

    mound: MoundUse = MoundUse()
    wet_planting: WetPlantingUse = WetPlantingUse()
    path: PathUse = PathUse()
    least_score: Share = 0.35
    """Ground that suits no use better is left as it is. [1]"""
    least_area_m2: float = Field(default=25.0, ge=0.0, le=1e6)
    """Smallest zone: room for one mound and its path. Common practice, no source. [m2]"""
    least_width: Annotated[Length, Field(gt=0.0, le=100.0)] = 2.0
    """One mound's base is at least 2 m; narrower zones hold none (practitioners). [m]"""


class WaterTableSettings(Section):
    """Shallow ground water in the wet season: what is assumed before auger holes say otherwise."""

    recharge: float = Field(default=1.0, gt=0.0, le=20.0)
    """Rain that soaks in over the wet season, less what plants take: common practice, no source. [mm/day]"""
    conductivity: float | None = Field(default=None, gt=0.0, le=100.0)
    """Sideways, of the soil above the tight layer; without it from the soil's texture. [m/day]"""
    doubt: float = Field(default=5.0, ge=1.5, le=100.0)
    """Factor by which recharge over conductivity may well be wrong, either way. [1]"""
    permeable_depth: Annotated[Length, Field(gt=0.2, le=20.0)] = 1.2
    """From the surface down to the layer that lets little water through. [m]"""
    local_doubt: Annotated[Length, Field(gt=0.0, le=2.0)] = 0.12
    """Standard deviation of what the flow model misses from place to place: common practice. [m]"""
    reach: Annotated[Length, Field(gt=1.0, le=1000.0)] = 25.0
    """Distance over which such a miss goes together, so how far one hole speaks. [m]"""
    reading_error: Annotated[Length, Field(gt=0.0, le=1.0)] = 0.10
    """Of one wet-season reading as a design level; it shrinks with their number down to 3 cm. [m]"""
    gray_above: Annotated[Length, Field(ge=0.0, le=1.0)] = 0.20
    """How far the wet-season water stands above the first gray colour (Humphrey & O'Driscoll 2011). [m]"""
    wet_months: tuple[int, ...] = (11, 12, 1, 2, 3, 4, 5)
    """Months whose readings count as a design level, north of the equator; shifted by six south of it."""


class MoundSettings(Section):
    """Raised mounds: for what crops, of what, how sure, how laid out."""

    NOT_ABOVE = (("shortest", "longest"), ("air", "highest"))

    crops: tuple[str, ...] = Field(default=("shallow vegetables", "berry bushes"), min_length=1)
    """Crop groups to raise ground for, see works/crops.py; the mounds nearest to gate and tap get the first."""
    fills: tuple[str, ...] = Field(default=("woody core", "soil and compost"), min_length=1)
    """Fills at hand, the dearest to you first; one that cannot drain is refused."""
    air: float = Field(default=0.10, ge=0.03, le=0.30)
    """Share of air that roots need: traditional; Cook & Knight (2003) find no universal value. [1]"""
    chance: float = Field(default=0.8, ge=0.5, le=0.99)
    """Chance of success that the height is made for. [1]"""
    top: Annotated[Length, Field(ge=0.1, le=1.2)] = 0.6
    """Width of the top, .5 to .8 m: common practice; at most 4 ft, which two sides reach. [m]"""
    highest: Annotated[Length, Field(gt=0.1, le=5.0)] = 1.4
    """As built; higher wants machines and slides: common practice. [m]"""
    longest: Annotated[Length, Field(ge=2.0, le=100.0)] = 10.0
    """Then a gap: 6 to 10 m where a mound might dam: common practice. [m]"""
    shortest: Annotated[Length, Field(ge=1.0, le=100.0)] = 4.0
    between: Annotated[Length, Field(ge=0.3, le=10.0)] = 0.9
    """Free ground between two bases, for a barrow; .6 m on foot: common practice. [m]"""
    gap: Annotated[Length, Field(ge=0.3, le=20.0)] = 1.5
    """Free ground between the ends of two mounds in line. [m]"""
    most: int = Field(default=12, ge=1, le=500)
    """Mounds at most; the material of the years to come may allow fewer."""
    directions: int = Field(default=36, ge=36, le=360)
    """Directions tried over half a turn."""
    offsets: int = Field(default=3, ge=1, le=20)
    """Sideways shifts tried for each direction."""
    clear_of_flow: Annotated[Length, Field(ge=0.0, le=20.0)] = 0.6
    """Free ground on each side of a flow line. [m]"""
    flow_area: float = Field(default=100.0, gt=0.0, le=1e6)
    """Ground behind a flow line from which on a mound must not lie across it. [m2]"""
    rise: Annotated[Length, Field(gt=0.0, le=1.0)] = 0.01
    """Rise of water at a boundary that fails the plan. [m]"""
    outlet_growth: float = Field(default=0.2, gt=0.0, le=1.0)
    """Share by which the ground that drains over a place on the boundary may grow without a word; more than twice as
    much fails the plan. Our own choice; local law may allow none. [1]"""
    tape: Annotated[Length, Field(gt=1.0, le=200.0)] = 30.0
    """Longest tape; longer only where no fixed point is nearer. [m]"""
    weakest_angle: float = Field(default=30.0, ge=5.0, le=60.0)
    """Between two tapes; flatter ones give a place that swims. [deg]"""
    ditch_fall: float = Field(default=0.005, gt=0.0, le=0.1)
    """Least fall of a ditch or drain: common practice. [1]"""
    ditch_depth: Annotated[Length, Field(ge=0.2, le=1.2)] = 0.9
    """Depth of a ditch or drain dug by hand; never more than 1.2 m (4 ft). [m]"""
    design_rain: float = Field(default=7.0, gt=0.0, le=50.0)
    """Steady outflow that drains must carry with the water at its wanted depth (ILRI 16). [mm/day]"""


class MaterialsSettings(Section):
    """What is at hand, in loads and years."""

    load: float = Field(default=9.2, gt=0.0, le=60.0)
    """One truck load of chips: 12 cubic yards. [m3]"""
    loads_per_year: float = Field(default=6.0, gt=0.0, le=1000.0)
    """Loads of chips, leaves and logs that come for nothing in a year."""
    soil_per_year: float = Field(default=10.0, ge=0.0, le=10000.0)
    """Soil and compost that come for nothing in a year. [m3]"""
    years: int = Field(default=4, ge=1, le=20)
    """Years over which to build."""
    cover: Annotated[Length, Field(ge=0.0, le=1.0)] = 0.20
    """Soil over wood: 15 cm at least, 20 to 30 better (practitioners). [m]"""
    logs: float = Field(default=0.55, ge=0.0, le=1.0)
    """Share of logs and brush in a woody core, the rest chips and leaves: common practice. [1]"""
    decay: float = Field(default=0.08, ge=0.0, le=1.0)
    """Share of a buried woody core that rots away in a year, after settling: common practice. [1/year]"""
    settling_years: float = Field(default=1.0, gt=0.1, le=10.0)
    """Time in which settlement comes to 63 parts in 100: most of it in 1 to 2 years (practitioners). [year]"""


class DrainageSettings(Section):
    """Where water runs: what counts as a hollow, a channel, a drain."""

    least_depth: Annotated[Length, Field(gt=0.0, le=10.0)] | None = None
    """Shallowest hollow named as a pond; without it 3 cm, or half the heights' error where that is more. [m]"""
    least_area_m2: float = Field(default=4.0, ge=0.0, le=1e6)
    """Smallest hollow named as a pond, four cells at least. Common practice, no source. [m2]"""
    channel_area_m2: float | None = Field(default=None, gt=0.0, le=1e9)
    """Ground behind a cell from which on water gathers to a channel; without it the area that the wettest 2 %
    of the heights exceed, so that garden and farm both have channels. Common practice, no source. [m2]"""
    drain_reach: Annotated[Length, Field(ge=0.0, le=20.0)] = 1.5
    """How far from the end of a drawn drain its mouth is looked for: hand-drawn ends miss the bottom. [m]"""
    kerb_height: Annotated[Length, Field(gt=0.0, le=1.0)] = 0.12
    """Of a kerb drawn without one: common practice. [m]"""
    roof_height: Annotated[Length, Field(gt=0.0, le=100.0)] = 3.0
    """Of a building drawn without one; only that it stands above the ground counts. [m]"""
    bank_width: Annotated[Length, Field(gt=0.0, le=100.0)] = 15.0
    """A rim that is lower beyond within this distance may be a bank with a pipe in it. [m]"""
    bank_height: Annotated[Length, Field(gt=0.0, le=20.0)] = 0.25
    """Lower banks are not asked about. [m]"""


class SoilSettings(Section):
    """The soil of the parcel, as a ribbon test or a soil map tells it."""

    texture: Literal[
        "sand", "loamy sand", "sandy loam", "loam", "silt loam", "sandy clay loam",
        "clay loam", "silty clay loam", "sandy clay", "silty clay", "clay",
    ] = "silt loam"  # fmt: skip
    """Of the upper half metre; it says how fast a puddle soaks in."""
    group: Literal["A", "B", "C", "D"] = "D"
    """Hydrologic soil group. Ground whose wet-season water stands within 60 cm of the surface counts as D, whatever
    its texture (NRCS National Engineering Handbook 630.07, value from memory): so it is on the ground meant here."""


class StormSettings(Section):
    """Rain that is followed until it stands, soaks in, or leaves."""

    depths: tuple[Annotated[Length, Field(gt=0.0, le=2.0)], ...] | None = Field(
        default=None, min_length=1, max_length=6
    )
    """Without them 25 and 50 mm, or 1 and 2 in. [m]"""
    cover: Literal["lawn", "pasture", "meadow", "brush", "woods", "woods and grass"] = "lawn"
    """What grows where nothing is drawn."""
    condition: Literal["good", "fair", "poor"] = "fair"
    """Of that cover: poor is grazed or trodden bare, good is dense."""
    crops_hours: float = Field(default=48.0, gt=0.0, le=1000.0)
    """Most vegetables recover if flooded for less (University of Delaware). [h]"""
    mosquito_hours: float = Field(default=72.0, gt=0.0, le=1000.0)
    """Drain within this time, or mosquitoes hatch (4 to 14 days from egg to adult; common rule). [h]"""


class SurenessSettings(Section):
    """How many equally likely grounds are tried."""

    grounds: int | None = Field(default=None, ge=8, le=2000)
    """Without it 100 on small windows, down to 40 on large ones; a chance is good to about 1 in 20 with 100."""
    seed: int = Field(default=1, ge=0, le=2**32 - 1)
    """Same seed, same bytes, whatever the number of threads."""
    threads: int = Field(default=2, ge=1, le=64)


class PrintSettings(Section):
    """The printed sheets; without a paper it is Letter where feet are said and A4 where metres are."""

    paper: Literal["letter", "a4"] | None = None


class ExportSettings(Section):
    """Files for other devices. They tell where the ground lies, so they are written only when asked for."""

    location: bool = False


class PageSettings(Section):
    """The shared page.

    ``share_location`` ties the map to the earth, so that a helper's phone can show where it stands; off, the file
    holds no coordinates at all.
    """

    share_location: bool = False


class Settings(Section):
    """Everything that a run may be told; each table has defaults that the run states."""

    name: str = Field(default="Site", min_length=1, max_length=200)
    elevation: Path | None = None
    parcel: Path | None = None
    levels: Path | None = None
    holes: Path | None = None
    surface: Path | None = None
    surface_unit: Literal["m", "ft", "us-ft"] | None = None
    latitude: Annotated[float, Field(ge=-80.0, le=84.0)] | None = None
    longitude: Annotated[float, Field(ge=-180.0, le=180.0)] | None = None
    preset: str = "wet-lawn"
    units: Units = Units.METRIC
    ground: GroundSettings = GroundSettings()
    survey: SurveySettings = SurveySettings()
    season: SeasonSettings = SeasonSettings()
    drainage: DrainageSettings = DrainageSettings()
    soil: SoilSettings = SoilSettings()
    storm: StormSettings = StormSettings()
    sureness: SurenessSettings = SurenessSettings()
    water_table: WaterTableSettings = WaterTableSettings()
    mound: MoundSettings = MoundSettings()
    materials: MaterialsSettings = MaterialsSettings()
    sun: SunSettings = SunSettings()
    hoop_house: HoopHouseSettings = HoopHouseSettings()
    trellis: TrellisSettings = TrellisSettings()
    path: PathSettings = PathSettings()
    tipping: TippingSettings = TippingSettings()
    jobs: JobsSettings = JobsSettings()
    planting: PlantingSettings = PlantingSettings()
    terrain: TerrainSettings = TerrainSettings()
    wetness: WetnessSettings = WetnessSettings()
    observations: ObservationSettings = ObservationSettings()
    scoring: ScoringSettings = ScoringSettings()
    keep_clear: KeepClearSettings = KeepClearSettings()
    print: PrintSettings = PrintSettings()
    exports: ExportSettings = ExportSettings()
    page: PageSettings = PageSettings()


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
    except RecursionError as error:
        raise SettingsError(f"{path.name} is not valid TOML: brackets are nested too deep. Close them") from error


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
