"""Site: ground, parcel and features, all on one Grid."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Annotated

from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.fields import Goes, Key, Layer, Metres, Shape, SquareMetres, Unit
from sitepipe.grid import Grid


class Kind(StrEnum):
    """What a drawn feature is."""

    PARCEL = "parcel"
    BUILDING = "building"
    TREE = "tree"
    HEDGE = "hedge"
    WALL = "wall"
    WATER = "water"
    DITCH = "ditch"
    CULVERT = "culvert"
    KERB = "kerb"
    ROAD = "road"
    GATE = "gate"
    TAP = "tap"
    WELL = "well"
    SEPTIC = "septic"
    BURIED_LINE = "buried line"
    KEEP_CLEAR = "keep clear"
    BED = "bed"
    FIXED_POINT = "fixed point"
    OBSERVATION = "observation"


class Work(StrEnum):
    """What a plan is made of."""

    MOUND = "mound"
    PATH = "path"
    HOOP_HOUSE = "hoop house"
    TRELLIS = "trellis"
    TIPPING_PLACE = "tipping place"


class Found(StrEnum):
    """What a stage finds on the ground."""

    ZONE = "zone"


@dataclass(frozen=True, slots=True, order=True)
class Ref:
    """How one record names another: by its kind (a Kind, Work or Found) and its number, never a phrase."""

    kind: StrEnum
    number: int


@dataclass(frozen=True, slots=True)
class Feature:
    """One thing that the user drew.

    Parameters
    ----------
    number : int
        Its place in the drawn layer, from 1.
    kind : Kind
    name : str
        As the user wrote it, never trusted as markup; the kind where it has none.
    geometry : shapely geometry
        In the site's grid coordinates. [m]
    height, width : float or None
        As drawn, None where not given. [m]
    attributes : mapping
        Every other property as text, number or truth value.
    """

    number: int
    kind: Kind
    name: str
    geometry: Annotated[BaseGeometry, Goes.INTERNAL]
    height: Metres | None = None
    width: Metres | None = None
    attributes: Annotated[Mapping[str, str | float | bool], Goes.INTERNAL] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Ground:
    """Where the heights come from and how far they can be believed.

    Parameters
    ----------
    source : str
        One phrase, such as ``elevation.tif, 1.6 m cells``.
    source_cell : float
        Cell of the source before any resampling. [m]
    vertical_error : float
        Standard deviation of a height. [m]
    error_correlation : float
        Distance over which height errors go together. [m]
    error_source : str
        Who says so.
    unit, unit_source : str
        Of the heights as they stand in the file, and who says so.
    dates : tuple of str
        When the sources were made, oldest first, as far as they say.
    """

    source: Annotated[str, Key("heights_source")]
    source_cell: Annotated[Metres, Key("heights_cell")]
    vertical_error: Annotated[Metres, Key("heights_error")]
    error_correlation: Annotated[Metres, Key("heights_error_reach")]
    error_source: Annotated[str, Key("heights_error_source")]
    unit: Annotated[str, Key("heights_unit")] = "metres"
    unit_source: Annotated[str, Key("heights_unit_source")] = ""
    dates: Annotated[tuple[str, ...], Key("heights_dates")] = ()


@dataclass(frozen=True, slots=True)
class Refill:
    """Water that came back into a bailed hole or sank in a filled one: depths down from the ground. [m], [s]."""

    start: Metres
    end: Metres
    seconds: Annotated[float, Key("time"), Unit("s")]
    radius: Metres


@dataclass(frozen=True, slots=True)
class AugerReading:
    """One reading of the depth to water in an auger hole, and how fast it refilled where that was timed.

    Depth is positive downwards; None for a hole that was dry to its bottom. [m]
    """

    place: str
    x: Annotated[Metres, Goes.PLACED]
    y: Annotated[Metres, Goes.PLACED]
    day: date
    depth_to_water: Metres | None
    hole_depth: Metres | None
    rain_since: str
    gray_depth: Metres | None
    refill: Refill | None = None


@dataclass(frozen=True, slots=True)
class Site:
    """Everything that was read, on one metric north-up grid.

    Parameters
    ----------
    elevation : (rows, columns) float array
        Bare ground, NaN where unknown. [m]
    obstacle_height : (rows, columns) float array
        What a surface model shows standing on the ground, 0 where nothing or unknown. [m]
    height_error : (rows, columns) float array
        Standard deviation of each height. [m]
    parcel : polygon
        In grid coordinates. [m]
    latitude, longitude : float
        Of the parcel's middle. [deg]
    open_edge : bool
        Whether the parcel's catchment runs into the edge of the heights.
    plant_list : path or None
        Of the user's own list of plants.
    assumptions, warnings : tuple of str
        What was taken for granted, and what the user should look at; whole sentences.
    """

    name: str
    grid: Annotated[Grid, Goes.INTERNAL]
    elevation: Annotated[
        FloatArray,
        Layer(
            "Height of the ground", "m", "Bare ground as read, on the site's grid.", "The heights of the site folder."
        ),
    ]
    obstacle_height: Annotated[FloatArray, Goes.INTERNAL]
    height_error: Annotated[FloatArray, Goes.INTERNAL]
    parcel: Annotated[Polygon | MultiPolygon, Shape("parcel")]
    features: Annotated[tuple[Feature, ...], Goes.INTERNAL]
    ground: Annotated[Ground, Goes.INLINE]
    latitude: Annotated[float, Goes.INTERNAL]
    longitude: Annotated[float, Goes.INTERNAL]
    open_edge: Annotated[bool, Key("more_water_from_outside_the_heights")] = False
    auger_readings: tuple[AugerReading, ...] = ()
    plant_list: Annotated[Path | None, Goes.INTERNAL] = None
    assumptions: Annotated[tuple[str, ...], Goes.SAID] = ()
    warnings: Annotated[tuple[str, ...], Goes.SAID] = ()

    @property
    def parcel_area(self) -> SquareMetres:
        """Of the whole parcel. [m2]."""
        return float(self.parcel.area)

    @property
    def cell(self) -> Metres:
        """Side of a cell. [m]."""
        return self.grid.cell

    def of_kind(self, *kinds: Kind) -> tuple[Feature, ...]:
        """Return the features of the named kinds, in the order in which they were drawn."""
        return tuple(feature for feature in self.features if feature.kind in kinds)
