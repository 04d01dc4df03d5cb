"""What the scoring stages hand on."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from shapely import MultiPolygon, Polygon

from sitepipe.arrays import FloatArray, IntArray
from sitepipe.fields import Goes, HoursADay, Key, Layer, Metres, Shape, SquareMetres
from sitepipe.site import Feature, KeepClear, Work


class Use(StrEnum):
    """What ground may be used for."""

    MOUND = "mound"
    WET_PLANTING = "wet planting"
    PATH = "path"
    KEEP_CLEAR = "keep clear"
    LEAVE = "leave as it is"


class Reason(StrEnum):
    """Why ground is kept clear; the words are its title."""

    BUILDING = "Building"
    BED = "Bed"
    UNDRAWN = "Something that is not drawn"
    WALL_FALL = "Fall away from walls"
    SEPTIC = "Septic field"
    BESIDE_SEPTIC = "Beside the septic field"
    WELL = "Well"
    BURIED_LINE = "Buried line"
    KEEP_CLEAR = "Keep clear"
    TRUNK = "Tree trunk"
    HEDGE = "Hedge"
    WALL = "Wall"
    WATER = "Open water"
    WATER_BANK = "Bank of open water"
    DITCH = "Ditch"
    DITCH_BANK = "Bank of a ditch"
    CULVERT = "Culvert mouth"
    ROAD = "Road or drive"
    ROAD_BAND = "Road band"
    SIGHT = "Sight triangle"
    HOLLOW = "Hollow that stores the storm"
    BOUNDARY = "Boundary"


@dataclass(frozen=True, slots=True)
class Exclusion:
    """Ground that nothing is built on.

    Parameters
    ----------
    reason : Reason
    of : Feature or int or None
        The drawn thing, or the number of the hollow, that it is round.
    distance : float
        That is kept. [m]
    outline : polygon
    uses : tuple of Use
        That it is closed to.
    """

    reason: Annotated[Reason, Goes.SAID]
    of: Annotated[Feature | int | None, Goes.SAID]
    distance: Metres
    outline: Annotated[Polygon | MultiPolygon, Shape("exclusions")]
    uses: tuple[Use, ...]

    def forbids(self, work: Work) -> bool:
        """Whether it is closed to a kind of work: by what the user keeps it clear of, else as its use is."""
        if isinstance(self.of, KeepClear):
            return work in self.of.of
        return (Use.PATH if work is Work.PATH else Use.MOUND) in self.uses


@dataclass(frozen=True, slots=True)
class Scores:
    """How well each cell suits each use, 0 to 1; NaN outside the parcel.

    Parameters
    ----------
    limited_by : mapping of Use to (rows, columns) int32 array
        Index in ``criteria[use]`` of the criterion that limits a cell; -1 outside and where nothing does;
        -2 - k where exclusion k forbids it.
    criteria : mapping of Use to tuple of str
        Names of the fields of its settings, such as ``sun_hours``.
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
    """A piece of the parcel with one use. Area in m2; ``limit`` is the criterion or exclusion that most limits it."""

    number: int
    use: Use
    outline: Annotated[Polygon | MultiPolygon, Shape("zones")]
    area: SquareMetres
    score: float
    limit: Annotated[str | Exclusion | None, Goes.SAID]
    wetness: float
    sun_hours: Annotated[HoursADay, Key("sun")]


@dataclass(frozen=True, slots=True)
class Zones:
    """A partition of the parcel."""

    zones: tuple[Zone, ...]
    zone: Annotated[FloatArray, Layer("Zone", "number", "Number of the zone that a cell lies in.", "sitepipe")]
