"""What the planting stage hands on."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Annotated

from shapely import MultiPolygon, Point, Polygon, maximum_inscribed_circle

from sitepipe.fields import Goes, Hours, HoursADay, Key, Metres, Shape, SquareMetres
from sitepipe.site import Ref, Stock


class Reason(StrEnum):
    """Why a plant fits a place, or what speaks against it there."""

    BEARS_STANDING_WATER = "bears standing water"
    BEARS_SATURATED_GROUND = "bears saturated ground"
    DRAINED_A_LITTLE = "a foot of drained soil is enough"
    WELL_ABOVE_WATER = "well above the water"
    SUN_ENOUGH = "sun enough"
    NEVER_PROPOSED = "never proposed"
    DRIER_THAN_IT_LIKES = "drier than it likes"
    TOO_WET = "too wet"
    TOO_DRY = "too dry"
    ROOTS_ROT = "roots rot where water stands"
    ROOTS_JUST_CLEAR = "roots only just clear the water"
    ROOTS_IN_WATER = "roots in water"
    WANTS_SHADE = "wants shade"
    TOO_LITTLE_SUN = "too little sun"
    CROPS_THINLY = "crops thinly for want of sun"
    HARD_WINTER = "a hard winter may cut it back"
    TOO_COLD = "too cold"
    TOO_LARGE_FOR_MOUND = "too large for the mound"
    TOO_LARGE = "too large"
    TALL_TREE = "a tall tree"
    POISONED_BY_WALNUT = "poisoned by a walnut or hickory near it"
    RUST_OF_PINE = "a rust lives on it and on the white pine near it"
    RUST_OF_JUNIPER = "a rust comes to it from the juniper near it"
    NO_SUPPORT = "nothing to climb on"
    ANOTHER_PURPOSE = "the bed is for something else"
    RUNS = "it would overrun its neighbours"
    SEASON_TOO_SHORT = "the season is too short"
    NO_ROOM = "no room left"


class Unknown(StrEnum):
    """What nobody has said of a plant or of the site, so that it could not be judged."""

    WETNESS = "how wet it may stand"
    DRAINED_SOIL = "how much drained soil its roots need"
    SUN = "how much sun it needs"
    COLDEST_NIGHT = "the coldest night of the site"
    HARDINESS = "how much cold it survives"
    SPREAD = "how wide it grows"
    ACIDITY = "the soil's acidity"


@dataclass(frozen=True, slots=True)
class Nursery:
    """A kind in a nursery bed: a block for each season that it stands; each autumn the oldest is lifted and set anew.

    ``set_a_year`` is how many are set in a block between two months, ``years_...`` the seasons until they are fit to
    sell, ``sold_...`` how many of a year's come to that, ``worth_...`` what those fetch at the user's price.
    """

    by: str
    from_month: int
    to_month: int
    blocks: int
    in_row: Metres
    set_a_year: int
    years_low: int
    years_high: int
    sold_low: Annotated[int, Key("fit_to_sell_a_year.low")]
    sold_high: Annotated[int, Key("fit_to_sell_a_year.high")]
    worth_low: Annotated[float | None, Key("worth.low")] = None
    worth_high: Annotated[float | None, Key("worth.high")] = None


@dataclass(frozen=True, slots=True)
class PlantChoice:
    """A plant proposed for one place, with why and what is unknown.

    Parameters
    ----------
    fit : float
        0 not at all to 1 well.
    count, own : int
        Set out in the place, and how many of them the grower has; kinds without one are the next best.
    is_chosen : bool
        Whether it is one of the bed's kinds.
    spacing : float
        In the row. [m]
    caution : str
        As the palette has it; a few words without a full stop.
    asks_locally : bool
        Whether it is unwanted in places.
    acidity : str
        Range of soil pH that it wants, empty where it asks for none.
    waits : bool
        Whether it must wait until a mound has settled.
    sown : tuple of date
        When a vegetable is sown or planted out in its first year, each succession.
    """

    latin: str
    common: str
    fit: float
    uses: tuple[str, ...]
    count: int
    spacing: Metres
    form: str
    layer: str = "herb"
    own: Annotated[int, Key("own.count")] = 0
    family: str = ""
    sown: Annotated[tuple[date, ...], Goes.INTERNAL] = ()
    reasons: tuple[Reason, ...] = ()
    unknowns: Annotated[tuple[Unknown, ...], Key("not_known")] = ()
    caution: str = ""
    asks_locally: bool = False
    acidity: str = ""
    is_chosen: bool = False
    waits: Annotated[bool, Key("waits_for_settling")] = False
    nursery: Nursery | None = None


@dataclass(frozen=True, slots=True)
class BedPlan:
    """Plants set out in one place: a zone, a mound, a drawn bed, or along a trellis.

    Parameters
    ----------
    positions : tuple of (common name, place)
        One for each plant that ``choices`` counts. [m]
    ground : polygon or None
        What they take; of a large zone only a bed beside the path. [m]
    room_for : int
        How many more the rest of the zone would hold, at the same mixture; two figures.
    left : float
        Area of that rest. [m2]
    year : int or None
        In which its mound is built, counted from 1; None for a zone.
    """

    of: Ref
    choices: Annotated[tuple[PlantChoice, ...], Key("plants")]
    positions: Annotated[tuple[tuple[str, Point], ...], Goes.INTERNAL] = ()
    ground: Annotated[Polygon | MultiPolygon | None, Shape("beds")] = None
    room_for: Annotated[int, Key("room_for_more.count")] = 0
    left: Annotated[SquareMetres, Key("room_for_more.area")] = 0.0
    year: int | None = None

    @property
    def chosen(self) -> tuple[PlantChoice, ...]:
        """The kinds of the bed."""
        return tuple(choice for choice in self.choices if choice.is_chosen)

    @property
    def width(self) -> float:
        """Of its widest place. [m]."""
        return 0.0 if self.ground is None else 2.0 * float(maximum_inscribed_circle(self.ground, tolerance=0.05).length)

    @property
    def set_out_area(self) -> SquareMetres | None:
        """Ground that its plants take, None where none is set out. [m2]."""
        return None if self.ground is None else float(self.ground.area)


@dataclass(frozen=True, slots=True)
class SetOut:
    """Plants of one kind that are set out, or sown, in one bed in a month.

    ``again`` is after how many weeks they are sown again each time, ``until`` the last month of that.
    """

    of: Ref
    latin: str
    common: str
    count: int
    stock: Stock
    year: int
    month: int
    is_own: bool = False
    again: Annotated[float | None, Key("sown_again.weeks")] = None
    until: Annotated[int | None, Key("sown_again.until.month")] = None


@dataclass(frozen=True, slots=True)
class PlantingMonth:
    """What is set out in a month, in its order; ``year`` counts from the plan's first."""

    year: int
    month: int
    sets: tuple[SetOut, ...]
    people_hours: Annotated[Hours, Key("work")]


@dataclass(frozen=True, slots=True)
class Early:
    """Plants of the grower's that are at hand before their place is, from one month to another."""

    common: str
    count: int
    stock: Stock
    year: int
    month: int
    until_year: Annotated[int, Key("until.year")]
    until_month: Annotated[int, Key("until.month")]

    @property
    def months(self) -> int:
        """How long they wait."""
        return 12 * (self.until_year - self.year) + self.until_month - self.month


@dataclass(frozen=True, slots=True)
class PlotYear:
    """What grows in a plot in one year: families of vegetables, and the kinds of them that it does not suit."""

    families: tuple[str, ...]
    left_out: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Plot:
    """A bed of vegetables, or one of its ``parts`` of equal length, counted from the west or south; year by year."""

    of: Ref
    part: int
    parts: int
    years: tuple[PlotYear, ...]


@dataclass(frozen=True, slots=True)
class Prevalence:
    """Prevalence index of the plants seen, 1 wet to 5 dry, and those that no list rates, counted as upland."""

    index: float
    unrated: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Unplaced:
    """Plants of the grower's that find no place: why not where they would come nearest to it.

    ``aerated`` is the depth of drained soil [m] and ``sun`` the hours a day that they ask for.
    """

    common: str
    count: int
    reason: Reason
    nearest: Ref | None
    aerated: Metres | None
    sun: HoursADay | None


@dataclass(frozen=True, slots=True)
class Planting:
    """Every place with its ranked plants; ``indicator_regions`` are those of the palette's wetland ratings.

    ``rotation_years`` is after how many years most families come back to a plot, 0 where there are no two.
    """

    beds: tuple[BedPlan, ...] = ()
    unplaced: tuple[Unplaced, ...] = ()
    plots: Annotated[tuple[Plot, ...], Key("rotation")] = ()
    rotation_years: int = 0
    months: tuple[PlantingMonth, ...] = ()
    early: tuple[Early, ...] = ()
    prevalence: Annotated[Prevalence | None, Key("prevalence_index")] = None
    indicator_regions: tuple[str, ...] = ()
