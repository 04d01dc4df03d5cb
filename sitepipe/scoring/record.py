"""What the scoring stages hand on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from shapely import MultiPolygon, Polygon

from sitepipe.arrays import FloatArray, IntArray
from sitepipe.fields import Goes, HoursADay, Key, Layer, Metres, Shape, SquareMetres


class Use(StrEnum):
    """What ground may be used for."""

    MOUND = "mound"
    WET_PLANTING = "wet planting"
    PATH = "path"
    KEEP_CLEAR = "keep clear"
    LEAVE = "leave as it is"


@dataclass(frozen=True, slots=True)
class Exclusion:
    """Ground that nothing is built on, with its reason and the distance kept. Distances in m."""

    reason: str
    source: str
    distance: Metres
    outline: Annotated[Polygon | MultiPolygon, Shape("exclusions")]
    uses: tuple[Use, ...]


@dataclass(frozen=True, slots=True)
class Scores:
    """How well each cell suits each use, 0 to 1; NaN outside the parcel.

    Parameters
    ----------
    limited_by : mapping of Use to (rows, columns) int32 array
        Index in ``criteria[use]`` of the criterion that limits a cell; -1 outside and where nothing does;
        -2 - k where exclusion k forbids it.
    criteria : mapping of Use to tuple of str
    exclusions : tuple of Exclusion
    """

    suitability_mound: Annotated[
        FloatArray, Layer("Suits a mound", "1", "0 no, 1 very well.", "Weighted geometric mean of memberships")
    ]
    suitability_wet_planting: Annotated[
        FloatArray, Layer("Suits wet planting", "1", "0 no, 1 very well.", "Weighted geometric mean of memberships")
    ]
    suitability_path: Annotated[
        FloatArray, Layer("Suits a path", "1", "0 no, 1 very well.", "Weighted geometric mean of memberships")
    ]
    limited_by: Annotated[dict[Use, IntArray], Goes.INTERNAL]
    criteria: Annotated[dict[Use, tuple[str, ...]], Goes.INTERNAL]
    exclusions: tuple[Exclusion, ...]


@dataclass(frozen=True, slots=True)
class Zone:
    """A piece of the parcel with one use. Area in m2; ``limit`` is the criterion that most often limits it."""

    number: int
    use: Use
    outline: Annotated[Polygon | MultiPolygon, Shape("zones")]
    area: SquareMetres
    score: float
    limit: str
    wetness: float
    sun_hours: Annotated[HoursADay, Key("sun")]


@dataclass(frozen=True, slots=True)
class Zones:
    """A partition of the parcel."""

    zones: tuple[Zone, ...]
    zone: Annotated[FloatArray, Layer("Zone", "number", "Number of the zone that a cell lies in.", "sitepipe")]
