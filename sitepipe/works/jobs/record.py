"""Who does what, when, with how much of what."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar

from shapely import Point

from sitepipe.fields import CubicMetres, Goes, Hours, Key, Metres, Parts, SquareMetres, Unit
from sitepipe.site import Ref, Stuff


class Ease(StrEnum):
    """A way round what is short."""

    SODS = "sods turned under"
    THINNER = "thinner cover"
    LOWER = "lower, for a shallower crop"
    SHORTER = "shorter"


@dataclass(frozen=True, slots=True)
class WayRound:
    """A mound that is built otherwise than wished for, since something is short.

    ``saves`` and ``hours`` are what it takes less of soil and compost, and more of work (or less, below 0).
    """

    mound: int
    eases: tuple[Ease, ...]
    saves: CubicMetres
    hours: Annotated[Hours, Key("more_work")]


@dataclass(frozen=True, slots=True)
class ChipBed:
    """A bed of chips on cardboard, on ground so firm that shallow roots need no mound.

    ``chips`` are what it takes; ``depth_to_water`` is the least below it in the wet season.
    """

    CROPS: ClassVar[str] = "strawberries"

    zone: Ref
    area: SquareMetres
    chips: CubicMetres
    depth_to_water: Metres


@dataclass(frozen=True, slots=True)
class Shortage:
    """What there is too little of for everything as wished for, in all years; ``volume`` is missing in the end.

    ``year`` is the first in which it would be needed, were there enough of everything; ``cost`` is what it would cost
    to buy it, None where no price is known. Hours where ``material`` is empty.
    """

    material: str
    volume: CubicMetres = 0.0
    hours: Annotated[Hours, Key("work")] = 0.0
    cost: float | None = None
    year: int = 1


@dataclass(frozen=True, slots=True)
class Article:
    """What is counted or cut to size: pieces, or an area; ``at_hand`` of it, the rest ``to_find``."""

    what: Stuff
    pieces: int = 0
    area: SquareMetres = 0.0
    at_hand: float = 0.0
    cost: float | None = None

    @property
    def to_find(self) -> Annotated[float, Key("to_find")]:
        """What is still missing, in pieces or square metres."""
        return max(self.pieces + self.area - self.at_hand, 0.0)


@dataclass(frozen=True, slots=True)
class YearOfWork:
    """One year of building and topping up. Volumes in m3, heights in m.

    ``materials`` is (material, volume) and adds up to ``volume``; ``top_ups`` says the same of what tops up alone.
    ``works`` are all that are built; ``cutting`` is to cut brush and turn lawn for them, ``hours`` all work of the year
    once its jobs are listed, ``months`` those that it takes; ``cost`` is of what is bought at a price.
    """

    year: int
    builds: Annotated[tuple[int, ...], Key("builds_mounds")]
    tops_up: Annotated[tuple[int, ...], Key("tops_up_mounds")]
    loads: float
    volume: CubicMetres
    crest_heights: Annotated[tuple[tuple[int, float], ...], Unit("m")]
    materials: Annotated[tuple[tuple[str, float], ...], Parts("material", "volume_m3")] = ()
    top_ups: Annotated[tuple[tuple[str, float], ...], Parts("material", "volume_m3")] = ()
    works: tuple[Ref, ...] = ()
    cutting: Annotated[Hours, Key("cutting")] = 0.0
    hours: Annotated[Hours, Key("work")] = 0.0
    months: tuple[int, ...] = ()
    cost: float = 0.0


@dataclass(frozen=True, slots=True)
class Quantity:
    """How much of one material over all years, what comes for nothing and what is found or bought. Volumes in m3.

    ``first_year``, ``first_loads`` and ``first_barrows`` are the first year's part of ``volume``, ``loads`` and
    ``barrows``, the rest comes later; ``top_ups`` is the part that lifts sunken crests again; ``cost`` is of what
    is bought, None where no price is known.
    """

    material: str
    volume: CubicMetres
    loads: float
    barrows: int
    free: CubicMetres
    to_buy: CubicMetres
    first_year: Annotated[CubicMetres, Key("first_year.volume")] = 0.0
    first_loads: Annotated[float, Key("first_year.loads")] = 0.0
    first_barrows: Annotated[int, Key("first_year.barrows")] = 0
    top_ups: CubicMetres = 0.0
    cost: float | None = None

    @property
    def later(self) -> Annotated[CubicMetres, Key("later.volume")]:
        """What comes after the first year. [m3]."""
        return self.volume - self.first_year

    @property
    def later_loads(self) -> Annotated[float, Key("later.loads")]:
        """Loads after the first year."""
        return self.loads - self.first_loads

    @property
    def later_barrows(self) -> Annotated[int, Key("later.barrows")]:
        """Barrows after the first year."""
        return self.barrows - self.first_barrows


class Task(StrEnum):
    """What sort of job it is; what must come before and how it is done follow from it."""

    ASK = "ask"
    STAKE = "stake"
    BORE = "bore holes"
    CLEAR = "clear the outlet"
    CUT = "cut brush and turn lawn"
    DIG_SWALE = "dig swale"
    TAKE_CHIPS = "take chips"
    LAY_PATHS = "lay paths"
    BUILD_MOUND = "build mound"
    BUILD_HOUSE = "build hoop house"
    SET_TRELLIS = "set trellis"
    SET_ARCH = "set arch"
    HEEL_IN = "heel in"
    PLANT = "plant"
    LOOK_AGAIN = "look again"


@dataclass(frozen=True, slots=True)
class Job:
    """One task for a crew, in numbers; ``answers/jobs.py`` says how it is done.

    Parameters
    ----------
    things : tuple of Ref
        The works, or the drawn things, that it is done to.
    place : point or None
        What its number stands at.
    people, least_people : int
        For how many it is planned, and how few can do it.
    people_hours : float
        In all.
    year : int
        From 1; numbers run in the order of years.
    months : tuple of int
        In which it can be done (1 to 12); empty where any will do.
    is_soft, is_held : bool
        Its ground does not bear in the wet months; it waits for a plan that keeps the water of others as it is.
    after : tuple of int
        Numbers of the jobs that come before it.
    """

    task: Task
    place: Annotated[Point | None, Goes.INTERNAL]
    people: int
    people_hours: Annotated[Hours, Key("work")]
    things: tuple[Ref, ...] = ()
    year: int = 1
    months: tuple[int, ...] = ()
    least_people: int = 1
    digs: bool = False
    is_soft: bool = False
    is_held: bool = False
    number: int = 0
    after: tuple[int, ...] = ()
