"""What the wetness stages hand on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from shapely import MultiPolygon, Point, Polygon

from sitepipe.arrays import FloatArray
from sitepipe.fields import Goes, Hours, Key, Layer, Metres, Parts, Shape, SquareMetres


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
    notes : tuple of str
        A sentence for each observation that could not be used.
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
    notes: Annotated[tuple[str, ...], Goes.SAID] = ()


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
    bound : {"level", "no deeper", "no higher"}
        Whether it is a level, or only a limit: a dry-season reading says how deep the wet-season water stands at
        most, a hole that was dry in the wet season how high.
    modelled : float
        Depth that the flow model has at the hole before it is drawn to the reading. [m]
    said : str
        One sentence: what it rests on.
    """

    place: str
    x: Annotated[Metres, Goes.PLACED]
    y: Annotated[Metres, Goes.PLACED]
    depth: Metres
    error: Metres
    bound: str
    modelled: Metres
    said: str


@dataclass(frozen=True, slots=True)
class WaterTable:
    """Depth to water in the wet season.

    Parameters
    ----------
    error : (rows, columns) float array
        Standard deviation of the depth. [m]
    is_estimated : bool
        True where no auger reading supports it.
    basis : str
        One sentence: what it rests on.
    holes : tuple of HoleLevel
        Each auger hole that says something, with what it says.
    notes : tuple of str
        What the user should know or do about the readings; whole sentences.
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
    basis: str
    holes: tuple[HoleLevel, ...] = ()
    notes: tuple[str, ...] = ()
