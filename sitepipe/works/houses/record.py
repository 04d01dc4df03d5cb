"""A hoop house, what its place is judged by, and the places that will not do."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar

from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.fields import CubicMetres, Degrees, Goes, HoursADay, Key, Metres, Parts, Shape, Unit
from sitepipe.scoring.record import Exclusion
from sitepipe.site import Ref, Work
from sitepipe.works.built import Built


class HouseCriterion(StrEnum):
    """What a place for a hoop house is judged by; the words are its title."""

    DRY = "dry ground in the wet season"
    SHOULDER_SUN = "sun in spring and autumn"
    MIDWINTER_SUN = "sun at midwinter"
    TREES = "distance from trees"
    SHELTER = "shelter from wind"
    LEVEL = "level ground"
    ACCESS = "access"
    ROOM = "room for snow and doors"
    DIRECTION = "direction"
    SETBACKS = "setbacks"


@dataclass(frozen=True, slots=True)
class PlaceScore:
    """How a place fares by one criterion, 0 to 1.

    ``measured`` is what the score comes from: a depth or distance [m], hours of sun [h/day], a grade [1] or a bearing
    [deg]; ``of`` the drawn thing that it is measured to.
    """

    criterion: HouseCriterion
    score: float
    measured: Annotated[float | None, Goes.SAID] = None
    of: Ref | None = None


class FaultKind(StrEnum):
    """Why a hoop house cannot stand at a place."""

    STEEP = "steep"
    TAKEN = "taken"
    STANDS_ON = "stands on"
    UNDER = "under"
    LANE = "in the way"
    KEPT_CLEAR = "kept clear"
    SWALE = "swale beside"
    HOLLOW = "hollow"
    FLOW = "water runs"
    BOUNDARY = "boundary"
    NO_ROOM = "no room"
    POOR = "poor"


@dataclass(frozen=True, slots=True)
class Fault:
    """One reason against a place: of what drawn thing or hollow, by which rule or criterion, and what was measured."""

    kind: FaultKind
    of: Ref | None = None
    exclusion: Annotated[Exclusion | None, Goes.SAID] = None
    measured: Annotated[float | None, Goes.SAID] = None
    criterion: HouseCriterion | None = None


@dataclass(frozen=True, slots=True)
class Refusal:
    """A place that one would choose by sun, access and direction, and what decides against it.

    ``hours`` are of sun in spring and autumn.
    """

    place: Annotated[Point, Goes.INTERNAL]
    hours: HoursADay | None
    faults: tuple[Fault, ...]


class RidgeReason(StrEnum):
    """Why a ridge runs as it does."""

    LOW_WINTER_SUN = "low winter sun"
    HIGH_WINTER_SUN = "high winter sun"
    WORST_WIND = "worst wind"
    FREE = "free"


class WaterEnd(StrEnum):
    """Where roof water comes to."""

    HOLLOW = "hollow"
    DRAIN = "ditch or water"
    BOUNDARY = "boundary"
    EDGE_OF_HEIGHTS = "edge of the heights"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class RoofWater:
    """Where a roof's water runs to: how far, to which hollow or drawn thing, over the boundary to which side."""

    end: WaterEnd
    distance: Metres = 0.0
    of: Ref | None = None
    side: Annotated[float | None, Unit("deg")] = None


@dataclass(frozen=True, slots=True)
class HoopHouse(Built):
    """A hoop house, or the place for one; 1 is the first choice, what follows other places.

    Parameters
    ----------
    bearing : float
        Of the ridge, 0 to 180, clockwise from north. [deg]
    roof_water : float
        That the roof sheds in the largest storm counted. [m3]
    roof_water_by_storm : tuple of (rain m, water m3)
    door : point
        Middle of the end that is easier to reach.
    advice : RidgeReason
        Why the ridge should run as it does at this latitude.
    raised : float
        Height of its floor above the ground for the water of the wet season. [m]
    beds_lose : float
        Sun that mounds and beds lose to it in the growing season, on the mean over all of them. [h/day]
    """

    kind: ClassVar[Work] = Work.HOOP_HOUSE

    outline: Annotated[Polygon, Shape("hoop_houses")]
    bearing: Annotated[Degrees, Key("ridge_bearing")]
    length: Metres
    width: Metres
    score: float
    reasons: tuple[PlaceScore, ...]
    roof_water: CubicMetres
    roof_water_goes: Annotated[RoofWater, Key("roof_water_runs")]
    roof_water_by_storm: Annotated[tuple[tuple[float, float], ...], Parts("rain_m", "water_m3")]
    door: Annotated[Point, Goes.INTERNAL]
    advice: Annotated[RidgeReason, Goes.SAID]
    raised: Annotated[Metres, Key("raised_floor")] = 0.0
    beds_lose: HoursADay = 0.0
    height: Metres = 2.4

    @property
    def ground(self) -> BaseGeometry:
        """What it takes of the ground. [m]."""
        return self.outline
