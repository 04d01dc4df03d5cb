"""What the wetness stages hand on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Annotated

from shapely import MultiPolygon, Point, Polygon

from sitepipe.arrays import FloatArray
from sitepipe.fields import Goes, Hours, Key, Layer, Metres, Parts, Shape, SquareMetres
from sitepipe.site import Ref


@dataclass(frozen=True, slots=True)
class SoggyPlace:
    """One of the wettest places of the parcel, ranked.

    Parameters
    ----------
    rank : int
        1 is the wettest.
    outline : polygon, middle : point
        [m]
    area : float
        [m2]
    depth : float or None
        Of the deepest water in it after the larger storm, where any stands: the middle of equally likely grounds.
        None where it is soaked rather than flooded. [m]
    depth_low, depth_high : float or None
        The 10th and 90th part of the same. [m]
    probability : float
        Chance that water stands, 0 to 1.
    is_seen : bool
        Whether an observation confirms it.
    pond : int or None
        Index in ``Drainage.ponds``.
    catchment_area : float
        Ground that feeds it. [m2]
    hours_to_drain : float or None
    where : str
        From a feature that a helper can stand at, as (feature name, distance m, degrees clockwise from north).
    """

    rank: int
    outline: Annotated[Polygon | MultiPolygon, Shape("soggy_places")]
    middle: Annotated[Point, Goes.INTERNAL]
    area: SquareMetres
    depth: Metres | None
    depth_low: Metres | None
    depth_high: Metres | None
    probability: float
    is_seen: bool
    pond: Annotated[int | None, Goes.INTERNAL]
    catchment_area: SquareMetres
    hours_to_drain: Annotated[Hours | None, Key("drains_after")]
    where: Annotated[tuple[str, float, float], Goes.INLINE, Parts("from", "distance_m", "bearing_deg")]


@dataclass(frozen=True, slots=True)
class Agreement:
    """How well the model agreed with what was seen, before it was shifted towards it."""

    seen_wet: int
    seen_dry: int
    right: int
    area_under_curve: float | None


@dataclass(frozen=True, slots=True)
class Wetness:
    """How wet each cell is, and what says so.

    Parameters
    ----------
    unused : tuple of Ref
        Observations that lie where no height is known.
    """

    wetness_index: Annotated[
        FloatArray,
        Layer("Wetness index", "1", "ln(a / tan b) on the ground at a sound scale.", "Beven & Kirkby (1979)"),
    ]
    wetness: Annotated[
        FloatArray,
        Layer(
            "Wetness",
            "1",
            "Share of the study window that is drier, by seven indicators together, moved towards what was seen.",
            "Log-odds of ranked indicators, added (own choice, tried on invented ground); sights by simple kriging",
        ),
    ]
    soggy_places: tuple[SoggyPlace, ...]
    agreement: Agreement | None
    unused: Annotated[tuple[Ref, ...], Goes.SAID] = ()


class Bound(StrEnum):
    """Whether a hole tells a level of the wet season, or only a limit to it."""

    LEVEL = "level"
    NO_DEEPER = "no deeper"
    NO_HIGHER = "no higher"


class Evidence(StrEnum):
    """What an auger hole says something by."""

    WET_SEASON = "read in a wet season"
    COLOUR = "colour of the soil"
    DRY = "dry to its bottom in a wet season"
    OUT_OF_SEASON = "read out of the wet season"


@dataclass(frozen=True, slots=True)
class HoleLevel:
    """What one auger hole says about the wet season.

    Parameters
    ----------
    place : str
        Its name.
    x, y : float
        [m]
    depth : float
        Of the water. [m]
    error : float
        Standard deviation of that depth as a design level. [m]
    bound : Bound
    evidence : Evidence
    days : tuple of date
        When it was read, as far as that is evidence.
    highest : float or None
        Highest water that was read, or the dry bottom. [m]
    highest_day : date or None
    rain_since : str
        What was written beside that reading.
    gray_depth : float or None
        Where gray begins. [m]
    modelled, mapped : float
        Depth that the flow model has at the hole before it is drawn to the reading, and that the map has there. [m]
    """

    place: str
    x: Annotated[Metres, Goes.PLACED]
    y: Annotated[Metres, Goes.PLACED]
    depth: Metres
    error: Metres
    bound: Bound
    evidence: Evidence
    days: tuple[date, ...] = ()
    highest: Metres | None = None
    highest_day: date | None = None
    rain_since: str = ""
    gray_depth: Metres | None = None
    modelled: Metres = math.nan
    mapped: Metres = math.nan

    @property
    def is_departed(self) -> bool:
        """Whether the map departs from what the hole says by more than its error."""
        away = self.mapped - self.depth
        return (away > self.error and self.bound is not Bound.NO_HIGHER) or (
            -away > self.error and self.bound is not Bound.NO_DEEPER
        )


@dataclass(frozen=True, slots=True)
class SteadyFlow:
    """What the flow of ground water was worked with.

    Parameters
    ----------
    cell : float
        Side of its cells. [m]
    ratio : float
        Recharge over conductivity, the mean of what was tried by its weight. [1]
    conductivity : float
        In a day. [m]
    timed_holes : int
        Holes in which that was measured.
    """

    cell: Metres
    ratio: float
    conductivity: Metres
    timed_holes: int = 0


@dataclass(frozen=True, slots=True)
class WaterTable:
    """Depth to water in the wet season.

    Parameters
    ----------
    error : (rows, columns) float array
        Standard deviation of the depth. [m]
    is_estimated : bool
        True where no auger reading supports it.
    flow : SteadyFlow
    holes : tuple of HoleLevel
        Each auger hole that says something, with what it says.
    silent : tuple of str
        Holes that say nothing: only read dry, out of the wet season.
    """

    water_table_depth: Annotated[
        FloatArray,
        Layer(
            "Depth to water in the wet season",
            "m",
            "Depth of the water table; 0 at the surface.",
            "Dupuit flow to wherever it seeps, as in Bear (1972), chapter 8; auger holes weigh its values",
        ),
    ]
    error: Annotated[FloatArray, Goes.INTERNAL]
    is_estimated: bool
    flow: Annotated[SteadyFlow, Goes.SAID]
    holes: tuple[HoleLevel, ...] = ()
    silent: tuple[str, ...] = ()
