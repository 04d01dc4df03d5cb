"""Site: ground, parcel and features, all on one Grid."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum
from pathlib import Path
from typing import Annotated, TypeVar

import shapely
from shapely import LineString, MultiPolygon, Polygon
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


STANDING = (Kind.BUILDING, Kind.WALL, Kind.HEDGE, Kind.TREE)
"""What stops the light."""


class Work(StrEnum):
    """What a plan is made of."""

    MOUND = "mound"
    PATH = "path"
    HOOP_HOUSE = "hoop house"
    TRELLIS = "trellis"
    TIPPING_PLACE = "tipping place"
    ARCH = "arch"
    SWALE = "swale"


class Status(StrEnum):
    """Whose a work is: it stands, the grower wants it, or it is only proposed, as this place or as another one."""

    STANDING = "standing"
    WANTED = "wanted"
    PROPOSED = "proposed"
    ANOTHER = "another place"


class Found(StrEnum):
    """What a stage finds on the ground."""

    ZONE = "zone"
    HOLLOW = "hollow"


@dataclass(frozen=True, slots=True, order=True)
class Ref:
    """How one record names another: by its kind (a Kind, Work or Found) and its number, never a phrase."""

    kind: StrEnum
    number: int


class Foliage(StrEnum):
    """How a thing meets the light."""

    OPAQUE = "opaque"
    DECIDUOUS = "deciduous"
    EVERGREEN = "evergreen"


class Surface(StrEnum):
    """What a road is made of."""

    PAVED = "paved"
    GRAVEL = "gravel"
    DIRT = "dirt"
    GRASS = "grass"


class Seen(StrEnum):
    """What an observation tells."""

    WET = "wet"
    RUSHES = "rushes"
    DRY = "dry"
    HOLE = "hole"


class Origin(StrEnum):
    """Who says how large a drawn thing is."""

    DRAWN = "drawn"
    SURFACE = "surface model"
    GUESSED = "guessed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Feature:
    """One thing that the user drew, with every size that anyone asks for.

    Parameters
    ----------
    number : int
        Its place in the drawn layer, from 1.
    kind : Kind
    name : str
        As the user wrote it, never trusted as markup; the kind where it has none.
    geometry : shapely geometry
        As drawn, in the site's grid coordinates. [m]
    height : float
        0 of what does not stand. [m]
    width : float
        Of a line, or across a point; of an area only where it is drawn, else 0. [m]
    height_by, width_by : Origin
    attributes : mapping
        Every other property as it was drawn, to be shown only.
    """

    number: int
    kind: Kind
    name: str
    geometry: Annotated[BaseGeometry, Goes.INTERNAL]
    height: Metres = 0.0
    width: Metres = 0.0
    height_by: Origin = Origin.GUESSED
    width_by: Origin = Origin.GUESSED
    attributes: Annotated[Mapping[str, str | float | bool], Goes.INTERNAL] = field(default_factory=dict)

    @property
    def ref(self) -> Ref:
        """How other records name it."""
        return Ref(self.kind, self.number)

    @property
    def outline(self) -> BaseGeometry:
        """Its outline seen from above: an area as it is drawn, a line no longer than that, a point as wide as it is."""
        if self.geometry.area > 0.0:
            return self.geometry
        return self.geometry.buffer(self.width / 2.0, cap_style="flat" if self.geometry.length > 0.0 else "round")

    @property
    def footprint(self) -> BaseGeometry:
        """The ground that it takes."""
        return self.outline

    @property
    def top(self) -> float:
        """Its height at the end of the years that are looked ahead. [m]."""
        return self.height


@dataclass(frozen=True, slots=True, kw_only=True)
class Leafy(Feature):
    """A tree or a hedge.

    Parameters
    ----------
    foliage : Foliage
    trunk_height : float
        Where the leaves begin. [m]
    trunk_width : float
        What a tree drawn as a point takes of the ground; 0 where the outline does. [m]
    growth, full_height : float
        What it adds in the years that are looked ahead, and the height at which it stops. [m]
    """

    foliage: Foliage = Foliage.DECIDUOUS
    trunk_height: float = 0.0
    trunk_width: float = 0.0
    growth: float = 0.0
    full_height: float = math.inf

    @property
    def footprint(self) -> BaseGeometry:
        """The ground that it takes."""
        stands_on_trunk = self.trunk_width > 0.0 and self.geometry.length == 0.0
        return self.geometry.buffer(self.trunk_width / 2.0) if stands_on_trunk else self.outline

    @property
    def top(self) -> float:
        """Its height at the end of the years that are looked ahead. [m]."""
        return max(self.height, min(self.height + self.growth, self.full_height))


@dataclass(frozen=True, slots=True, kw_only=True)
class Road(Feature):
    """A road or drive."""

    surface: Surface = Surface.PAVED


@dataclass(frozen=True, slots=True, kw_only=True)
class Ditch(Feature):
    """A ditch; its depth below the heights around it is 0 where it is not drawn, as the heights then show it. [m]."""

    depth: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gate(Feature):
    """A gate, drawn from post to post or as a point."""

    @property
    def opening(self) -> float:
        """How wide it opens. [m]."""
        is_as_drawn = self.width_by is Origin.GUESSED and self.geometry.length > 0.0
        return float(self.geometry.length) if is_as_drawn else self.width

    def threshold(self, parcel: BaseGeometry) -> LineString:
        """Return the line from post to post; of a gate drawn as a point along the parcel's boundary."""
        if self.geometry.length > 0.0:
            corners = shapely.get_coordinates(self.geometry)
            return LineString([corners[0], corners[-1]])
        ring = parcel.boundary
        at = ring.project(self.geometry.centroid)
        posts = [ring.interpolate((at + aside) % ring.length) for aside in (-self.width / 2.0, self.width / 2.0)]
        return LineString(posts)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeepClear(Feature):
    """Ground to keep clear, of everything or only of some works; a bed stands for all planting."""

    of: frozenset[StrEnum] = frozenset({*Work, Kind.BED})


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed(Feature):
    """Ground that is planted, or is to be: nothing is ever built over it."""

    status: Status = Status.STANDING
    built: date | None = None
    is_nursery: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnWork:
    """A work as the grower drew or kept it; what is None or empty was left out and is worked out.

    Parameters
    ----------
    kind, number, name, status, built
        As ``works.built.Built`` has them.
    shape : geometry
        Crest of a mound, line of a path, swale, trellis or arch, outline of a hoop house, a tipping place. [m]
    height : float or None
        As built, above the ground. [m]
    width : float or None
        Of a mound's top, a path, a swale's bed; span of an arch. [m]
    side_slope : float or None
        Run per rise. [1]
    depth : float or None
        Of a swale. [m]
    in_heights : bool
        Whether the heights were taken after it was built, and show it.
    """

    kind: Work
    number: int
    name: str
    status: Status
    built: date | None
    shape: BaseGeometry
    height: float | None = None
    width: float | None = None
    side_slope: float | None = None
    depth: float | None = None
    crops: str = ""
    fill: str = ""
    in_heights: bool = False

    @property
    def ref(self) -> Ref:
        """How other records name it."""
        return Ref(self.kind, self.number)


PAGE_FIGURES = ("next_door", "house", "road", "standing_before", "standing_after")
"""What the page says of a change: rises of standing water [m], and ground of the parcel under water. [m2]"""


@dataclass(frozen=True, slots=True)
class TriedWork:
    """A straight work tried on the page: ends in mm from the parcel's corner, rise in 0.1 mm, half width in mm."""

    kind: str
    replaces: str
    start: tuple[int, int]
    end: tuple[int, int]
    rise: int
    half: int
    slope: float


@dataclass(frozen=True, slots=True)
class SavedChange:
    """A change that was saved on the page: what it builds, leaves out, was tried on, and what the page said of it.

    ``page`` holds the ``PAGE_FIGURES``, ``outlets`` the ground behind each outlet that gains much [m2]; ``ground``
    tells the heights from others, None where that was not said.
    """

    works: tuple[TriedWork, ...]
    left_out: tuple[str, ...]
    ground: int | None
    page: Mapping[str, float]
    outlets: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class FixedMark(Feature):
    """A place that stays, from which tapes are drawn."""

    is_bench_mark: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation(Feature):
    """What was seen at a place, and how long after rain; None where that was not said. [h]."""

    seen: Seen | None = None
    hours: float | None = None


Thing = TypeVar("Thing", bound=Feature)


COARSE_CELL = 5.0
"""From here on a garden's hollows, mounds and paths fall between two heights; common practice, no source. [m]"""
COARSE_ERROR = 0.25
"""From here on ground may lie as far off as a low mound is high; common practice, no source. [m]"""


@dataclass(frozen=True, slots=True)
class Ground:
    """Where the heights come from and how far they can be believed.

    Parameters
    ----------
    source : str
        One phrase, such as ``elevation.tif``.
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
    tiles : tuple of str
        Names of the tiles that the window meets, where the heights are tiles.
    """

    source: Annotated[str, Key("heights_source")]
    source_cell: Annotated[Metres, Key("heights_cell")]
    vertical_error: Annotated[Metres, Key("heights_error")]
    error_correlation: Annotated[Metres, Key("heights_error_reach")]
    error_source: Annotated[str, Key("heights_error_source")]
    unit: Annotated[str, Key("heights_unit")] = "metres"
    unit_source: Annotated[str, Key("heights_unit_source")] = ""
    dates: Annotated[tuple[str, ...], Key("heights_dates")] = ()
    tiles: Annotated[tuple[str, ...], Goes.INTERNAL] = ()

    @property
    def bears_works(self) -> bool:
        """Whether heights are near and sure enough to show what a garden is built of, however finely they are drawn."""
        return self.source_cell < COARSE_CELL and self.vertical_error < COARSE_ERROR


class Stock(StrEnum):
    """In what form a plant is at hand."""

    SEED = "seed"
    CUTTING = "cutting"
    PLUG = "plug"
    BARE_ROOT = "bare root"
    POT = "pot"
    DIVISION = "division"


@dataclass(frozen=True, slots=True)
class OwnPlant:
    """Plants of one kind that the grower has; ``ready`` is a date or the beginning of one, ``where`` its line."""

    name: str
    count: int
    stock: Stock
    ready: str
    purpose: str
    where: str


class Stuff(StrEnum):
    """What one has or gets to build with."""

    CHIPS = "chips"
    LEAVES = "leaves"
    LOGS = "logs"
    BRUSH = "brush"
    STANDING_BRUSH = "standing brush"
    SOIL = "soil"
    COMPOST = "compost"
    MANURE = "manure"
    LAWN = "lawn to turn"
    GRAVEL = "gravel"
    CARDBOARD = "cardboard"
    HAY = "hay"
    POSTS = "posts"
    PANELS = "panels"
    FILM = "film"


@dataclass(frozen=True, slots=True)
class Supply:
    """One line of what there is.

    Parameters
    ----------
    what : Stuff
    amount : float
        As it lies: cubic metres of what is tipped, square metres of what is spread or cut, else pieces.
    is_yearly : bool
        Whether as much comes again each year.
    year, month : int
        Of the plan, and of that year, from which on it is there.
    price : float or None
        Of a cubic metre, square metre or piece; 0 for what is at hand, None where it is to be asked.
    """

    what: Stuff
    amount: float
    is_yearly: bool = False
    year: int = 1
    month: int = 1
    price: float | None = 0.0


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
class OpenSides:
    """Sides of the window through which more water comes than is read.

    Parameters
    ----------
    sides : tuple of float
        Degrees from north.
    most_cells : int or None
        What the window may hold, where that stopped it; None where the heights end there.
    """

    sides: tuple[float, ...]
    most_cells: int | None = None


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
    works : tuple of DrawnWork
        What the grower has built or wants built, where it is.
    numbers : mapping
        The highest number that a work of each kind ever had, as far as that is written down.
    change : SavedChange or None
        What was tried on the page and is to be worked out again.
    plant_list : path or None
        Of the user's own list of plants.
    stock : tuple of Supply or None
        What there is to build with; None where nothing is said of it.
    open_sides : OpenSides or None
        Where that edge is.
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
    works: Annotated[tuple[DrawnWork, ...], Goes.INTERNAL] = ()
    numbers: Annotated[Mapping[str, int], Goes.INTERNAL] = field(default_factory=dict)
    change: Annotated[SavedChange | None, Goes.INTERNAL] = None
    plant_list: Annotated[Path | None, Goes.INTERNAL] = None
    own_plants: Annotated[tuple[OwnPlant, ...], Goes.INTERNAL] = ()
    stock: Annotated[tuple[Supply, ...] | None, Goes.INTERNAL] = None
    open_sides: Annotated[OpenSides | None, Goes.SAID] = None
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

    def feature(self, ref: Ref) -> Feature:
        """Return the drawn thing that a reference names."""
        return next(feature for feature in self.features if feature.number == ref.number)

    def works_of(self, *kinds: Work) -> tuple[DrawnWork, ...]:
        """Return the drawn works of some kinds, in the order in which they were drawn."""
        return tuple(work for work in self.works if work.kind in kinds)

    def next_number(self, kind: Work) -> int:
        """Return the first number that no work of a kind ever had."""
        return 1 + max(self.numbers.get(kind, 0), *(work.number for work in self.works if work.kind is kind), 0)

    def of_kind(self, *kinds: Kind) -> tuple[Feature, ...]:
        """Return the features of the named kinds, in the order in which they were drawn."""
        return tuple(feature for feature in self.features if feature.kind in kinds)

    def kept_clear_of(self, work: StrEnum) -> tuple[Feature, ...]:
        """Return the ground that the user keeps clear of a kind of work."""
        return tuple(kept for kept in self.drawn(KeepClear) if work in kept.of)

    def drawn(self, kind: type[Thing]) -> tuple[Thing, ...]:
        """Return the features of one type, in the order in which they were drawn."""
        return tuple(feature for feature in self.features if isinstance(feature, kind))

    def around_parcel(self, distance: float) -> tuple[slice, slice]:
        """Return the rows and columns of the parcel's box and of so much ground around it, as far as there is. [m]."""
        west, south, east, north = self.parcel.buffer(distance).bounds
        top, left = self.grid.cell_at(west, north)
        bottom, right = self.grid.cell_at(east, south)
        return slice(max(top, 0), max(bottom + 1, 1)), slice(max(left, 0), max(right + 1, 1))
