"""What the drainage stage hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, TypeAlias

from shapely import LineString, MultiPolygon, Point, Polygon

from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.fields import CubicMetres, Goes, Hours, Key, Layer, Metres, Shape, SquareMetres, Unit
from sitepipe.site import Ref


@dataclass(frozen=True, slots=True)
class Pond:
    """A hollow that holds water before it spills.

    Parameters
    ----------
    number : int
        Rank among the outermost ponds of the parcel, 1 holds most water after the larger storm; 0 outside the parcel
        and for ponds nested in another.
    outline : polygon
        Of the full hollow. [m]
    area, depth, volume : float
        When full. [m2], [m], [m3]
    spill_point : point, spill_height : float
        Where it runs over, and how high that is. [m]
    spills_into : int or None
        Index in ``Drainage.ponds`` of the next hollow down, None if the water leaves the heights.
    inside : tuple of int
        Indices of the hollows nested in this one.
    catchment_area : float
        Ground that drains into it, itself included. [m2]
    share_in_parcel : float
        Share of its area inside the parcel.
    """

    number: Annotated[int, Key("rank")]
    outline: Annotated[Polygon | MultiPolygon, Shape("ponds")]
    area: SquareMetres
    depth: Metres
    volume: CubicMetres
    spill_point: Annotated[Point, Goes.INTERNAL]
    spill_height: Annotated[Metres, Goes.PLACED]
    spills_into: Annotated[int | None, Goes.INTERNAL]
    inside: Annotated[tuple[int, ...], Goes.INTERNAL]
    catchment_area: SquareMetres
    share_in_parcel: float


@dataclass(frozen=True, slots=True)
class FlowLine:
    """A path that water takes, drawn downstream.

    Parameters
    ----------
    line : line
        In flow direction. [m]
    upslope_area : tuple of float
        Ground behind each vertex of the line. [m2]
    is_guessed : bool
        True where it comes from ground that the heights do not cover.
    """

    line: Annotated[LineString, Shape("flow_lines")]
    upslope_area: Annotated[tuple[float, ...], Goes.INTERNAL]
    is_guessed: bool = False

    @property
    def most_upslope_area(self) -> Annotated[float | None, Key("upslope_area"), Unit("m2")]:
        """Ground behind its lower end, None for a line without a vertex. [m2]."""
        return max(self.upslope_area, default=None)


@dataclass(frozen=True, slots=True)
class Crossing:
    """A place where water crosses the parcel's boundary.

    Parameters
    ----------
    place : point
    upslope_area : float
        Ground behind it. [m2]
    is_inflow : bool
    from_outside_heights : bool
        Whether more water than counted may come, from beyond the raster.
    """

    place: Annotated[Point, Shape("crossings")]
    upslope_area: SquareMetres
    is_inflow: bool
    from_outside_heights: Annotated[bool, Key("more_from_outside_the_heights")] = False


@dataclass(frozen=True, slots=True)
class PondInStorm:
    """What one storm does to one pond. Volumes [m3], depths [m], areas [m2], times [h].

    ``hours_to_drain`` is its depth over the soil's rate; that rate is known within a factor of 3 only
    (``hours_low``, ``hours_high``), and where the water table stands at the surface nothing soaks in until it drops.
    ``drowns_crops`` and ``breeds_mosquitoes``: it stands longer than most vegetables bear, and than mosquitoes need.
    """

    pond: Annotated[int, Goes.INTERNAL]
    volume: CubicMetres
    volume_in_parcel: CubicMetres
    depth: Metres
    area: SquareMetres
    is_full: bool
    hours_to_drain: Annotated[Hours | None, Key("drains_after")]
    hours_low: Annotated[Hours | None, Key("drains_after_low")] = None
    hours_high: Annotated[Hours | None, Key("drains_after_high")] = None
    drowns_crops: bool = False
    breeds_mosquitoes: bool = False


@dataclass(frozen=True, slots=True)
class Storm:
    """Rain of one depth, followed until it stands, soaks in, or leaves. Volumes in m3.

    ``rain = infiltrated + stored + left`` to the litre. ``arrives`` is what comes to the parcel, shared between
    ``roof``, ``road``, ``neighbours`` and ``own`` ground; ``leaves`` is what crosses its boundary outwards.
    ``depth`` is of what stands, ``runoff`` of what ran off each cell. [m]
    """

    rain_depth: Annotated[Metres, Key("rain")]
    rain: CubicMetres
    infiltrated: CubicMetres
    stored: CubicMetres
    left: CubicMetres
    ponds: Annotated[tuple[PondInStorm, ...], Goes.INTERNAL]
    arrives: Annotated[dict[str, float], Unit("m3")]
    leaves: Annotated[CubicMetres, Key("leaves_parcel")]
    depth: Annotated[FloatArray, Goes.INTERNAL]
    runoff: Annotated[FloatArray, Goes.INTERNAL]


@dataclass(frozen=True, slots=True)
class Gaps:
    """Ground without heights: what lets no water out, what lets it out, what joins parcel and edge. [m2]."""

    closed: Annotated[int, Key("closed.count")] = 0
    closed_area: Annotated[SquareMetres, Key("closed.area")] = 0.0
    open: Annotated[int, Key("open.count")] = 0
    open_area: Annotated[SquareMetres, Key("open.area")] = 0.0
    edge: Annotated[int, Key("edge.count")] = 0
    edge_area: Annotated[SquareMetres, Key("edge.area")] = 0.0


@dataclass(frozen=True, slots=True)
class ClimbingCulvert:
    """A culvert whose ground is higher where its drawing ends than where it begins: is it drawn the other way? [m]."""

    culvert: Ref
    climb: float
    place: Point


@dataclass(frozen=True, slots=True)
class Bank:
    """A rim, of a drawn road or not, that holds water back so deep over so narrow a way: is there a pipe? [m]."""

    road: Ref | None
    depth: float
    width: float
    place: Point


@dataclass(frozen=True, slots=True)
class OpenEdge:
    """A side (degrees from north) over which more water may come than is counted.

    ``area`` of the parcel would be touched [m2]; heights ``wider`` by so much [m] would likely settle it.
    """

    side: float
    area: float
    wider: float
    place: Point


Question: TypeAlias = ClimbingCulvert | Bank | OpenEdge
"""What only somebody on the spot, or wider heights, can answer."""


@dataclass(frozen=True, slots=True)
class Drainage:
    """Drainage of the whole window.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        Heights used for routing, in tenths of a millimetre, drawn drains let through, gaps closed.
    known : (rows, columns) bool array
        Where water is routed: the heights and their closed gaps.
    receiver : (rows, columns) int32 array
        Flat index of the cell that a cell drains to; -1 where the water leaves; -2 where unknown.
    order : (known cells,) int32 array
        Flat indices, every cell after the cell that it drains to.
    pond_at : (rows, columns) int32 array
        Index in ``ponds`` of the innermost pond whose full outline holds a cell, -1 elsewhere.
    channels : (rows, columns) bool array
        Enough ground behind for water to run, outside ponds.
    edge_dependent : (rows, columns) bool array
        Whether water from beyond the heights may pass.
    """

    heights: Annotated[IntArray, Goes.INTERNAL]
    receiver: Annotated[IntArray, Goes.INTERNAL]
    order: Annotated[IntArray, Goes.INTERNAL]
    known: Annotated[BoolArray, Goes.INTERNAL]
    upslope_area: Annotated[
        FloatArray,
        Layer(
            "Ground behind",
            "m2",
            "Area that drains through a cell, itself included.",
            "Steepest descent over a priority flood; Barnes, Lehman & Mulla (2014)",
        ),
    ]
    specific_catchment_area: Annotated[FloatArray, Goes.INTERNAL]
    ponding_depth: Annotated[
        FloatArray,
        Layer(
            "Depth of hollows",
            "m",
            "Depth of water if every hollow were full to its spill.",
            "Barnes, Lehman & Mulla (2014)",
        ),
    ]
    height_above_nearest_drainage: Annotated[
        FloatArray,
        Layer(
            "Height above drainage",
            "m",
            "Height above the channel or hollow that a cell drains to; channels begin where one cell in "
            "fifty has more ground behind it, or as set.",
            "Nobre et al. (2011)",
        ),
    ]
    depth_to_water_index: Annotated[
        FloatArray,
        Layer(
            "Depth to water, index",
            "m",
            "Least climb from open water, channel or hollow; an index, not a reading.",
            "Murphy et al. (2009)",
        ),
    ]
    channels: Annotated[BoolArray, Goes.INTERNAL]
    ponds: tuple[Pond, ...]
    pond_at: Annotated[IntArray, Goes.INTERNAL]
    flow_lines: tuple[FlowLine, ...]
    crossings: tuple[Crossing, ...]
    storms: tuple[Storm, ...]
    edge_dependent: Annotated[BoolArray, Goes.INTERNAL]
    questions: Annotated[tuple[Question, ...], Goes.SAID]
    gaps: Gaps
    outflow_cells: Annotated[int, Key("cells_drained")]

    @property
    def channel_area(self) -> Annotated[float | None, Key("channels_begin_at"), Unit("m2")]:
        """Ground behind the place where a channel begins, None where there is none. [m2]."""
        return float(self.upslope_area[self.channels].min()) if self.channels.any() else None


@dataclass(frozen=True, slots=True)
class PondUncertainty:
    """How sure one pond is, as far as it lies in the parcel, over many equally likely grounds.

    Depths are those of its deepest water on the grounds where any stands; low and high are the 10th and 90th part. [m]
    """

    pond: Annotated[int, Goes.INTERNAL]
    probability: float
    depth_middle: Metres
    depth_low: Metres
    depth_high: Metres
    rank_low: int
    rank_high: int


@dataclass(frozen=True, slots=True)
class PondingUncertainty:
    """What the error of the heights does to the answer."""

    ponding_probability: Annotated[
        FloatArray,
        Layer(
            "Chance of standing water",
            "1",
            "Share of equally likely grounds on which water stands here after the larger storm.",
            "Monte Carlo over correlated height error",
        ),
    ]
    ponds: tuple[PondUncertainty, ...]
    grounds: Annotated[int, Key("equally_likely_grounds")]
