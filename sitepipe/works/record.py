"""What the works stage hands on."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from shapely import LineString, MultiPolygon, Point, Polygon

from sitepipe.fields import CubicMetres, Degrees, Goes, Hours, HoursADay, Key, Metres, Parts, Shape, SquareMetres, Unit
from sitepipe.scoring.record import Exclusion
from sitepipe.site import Ref

NOWHERE, NO_WAY = Polygon(), LineString()


class Part(StrEnum):
    """A part of a work that breaks the ground or weighs on it."""

    STAKE = "stake"
    POST = "post"
    SWALE = "swale"
    CUT = "cut"
    FOOT = "foot"
    PAD = "pad"
    PILE = "pile"
    TRUCK_WAY = "truck way"


@dataclass(frozen=True, slots=True)
class Hazard:
    """A part of a work near something that it can hurt, or that can hurt who digs. Distances in m.

    Parameters
    ----------
    work, thing : Ref
        The work, and what is near: a drawn thing by its kind and number, the boundary as the parcel's number 0.
    distance, rule : float
        How far apart, and how far at least they should be.
    is_kept : bool
    place : point
        On the work, where they are nearest.
    label : str
        Of the stake, empty for other parts.
    """

    work: Ref
    part: Part
    thing: Ref
    distance: Metres
    rule: Metres
    is_kept: bool
    place: Annotated[Point, Shape("hazards")]
    label: str = ""


class Side(StrEnum):
    """Of the line from the first point to the second, seen from the first; neither where there are no tapes."""

    LEFT = "left"
    RIGHT = "right"
    NEITHER = ""


@dataclass(frozen=True, slots=True)
class Stake:
    """A point to set out with two tapes from fixed points, or from stakes set out before it.

    Parameters
    ----------
    label : str
        Such as ``A1``.
    place : point
        [m]
    from_points : ((name, distance m), (name, distance m))
    side : Side
        The tapes cross twice: on which side of the line between their points it lies.
    order : int
        Its turn when setting out: a tape starts at a fixed point or at a stake with an earlier turn.
    angle : float
        Between the tapes where they meet; below 30 the place is weak. [deg]
    height : float
        Finished height above (or below) the bench mark. [m]
    """

    label: str
    place: Annotated[Point, Goes.INTERNAL]
    from_points: Annotated[tuple[tuple[str, float], tuple[str, float]], Key("tapes_m"), Parts("from", "distance_m")]
    side: Side
    angle: Annotated[Degrees, Key("angle_between_tapes")]
    height: Annotated[Metres, Key("height_above_bench_mark")]
    order: int = 0


@dataclass(frozen=True, slots=True)
class MoundHeight:
    """The terms that add up to a mound's height, in m, and the standard deviations of two of them.

    ``finished = max(roots + fringe - depth_to_water + allowance, 0)`` holds with the stated chance;
    ``built = finished / (1 - settlement)``.
    """

    roots: Metres
    fringe: Metres
    depth_to_water: Metres
    allowance: Metres
    finished: Annotated[Metres, Key("finished_height")]
    built: Annotated[Metres, Key("built_height")]
    settlement: float
    chance: Annotated[float, Key("chance_that_roots_stay_dry")]
    water_error: Metres = 0.0
    settling_error: Metres = 0.0


@dataclass(frozen=True, slots=True)
class Mound:
    """A raised mound, drawn as its crest line with a width.

    ``crest_ground`` is the height of the ground below both ends of the crest, along a straight line. [m] ``is_guess``
    says that its height rests on no reading of the water in the wet season.
    """

    number: int
    crest: Annotated[LineString, Shape("crests")]
    outline: Annotated[Polygon, Shape("mounds")]
    crops: str
    fill: str
    height: Annotated[MoundHeight, Goes.INLINE]
    top_width: Metres
    base_width: Metres
    volume: CubicMetres
    materials: Annotated[tuple[tuple[str, float], ...], Unit("m3")]
    barrows: int
    hours: Annotated[Hours, Key("work")]
    stakes: tuple[Stake, ...]
    crest_ground: Annotated[tuple[float, float], Goes.INTERNAL] = (0.0, 0.0)
    is_guess: bool = False

    @property
    def length(self) -> Metres:
        """From end to end at its foot, round ends included. [m]."""
        return self.crest_length + self.base_width

    @property
    def crest_length(self) -> Metres:
        """From end to end of its crest. [m]."""
        return float(self.crest.length)


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
class HoopHouse:
    """A ranked place for a hoop house.

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

    rank: int
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
    stakes: tuple[Stake, ...] = ()
    beds_lose: HoursADay = 0.0


@dataclass(frozen=True, slots=True)
class Trellis:
    """A row for vines.

    It stands at the side of ``beside``, a mound or the bed of that number, for whose vines it is. ``hours_lost`` is
    (month, lost by this row, lost by the other direction), in bed-hours a day: hours of direct sun times square metres
    of bed, on a mean day of the month; ``beds_lose`` is the same as hours a day over the beds in its reach, on the mean
    of the growing season, and ``turned_beds_lose`` what the other direction would take. ``clear_distance`` is what to
    keep between this row and the next bed on its shaded side; ``is_wet`` says that its posts stand in wet ground.
    """

    number: int
    line: Annotated[LineString, Shape("trellises")]
    height: Metres
    bearing: Degrees
    beside: Ref
    post_depth: Metres
    posts: int
    hours_lost: Annotated[
        tuple[tuple[int, float, float], ...], Parts("month", "this_row_m2_h_per_day", "other_direction_m2_h_per_day")
    ]
    beds_lose: HoursADay
    turned_beds_lose: HoursADay
    clear_distance: Metres
    is_wet: bool
    stakes: tuple[Stake, ...] = ()

    @property
    def length(self) -> Metres:
        """From the first post to the last. [m]."""
        return float(self.line.length)


@dataclass(frozen=True, slots=True)
class Path:
    """A chip path.

    Lengths in m, chips and cut in m3. ``cost`` is what the path costs in metres of level dry path, ``shortest_cost``
    what the shortest way between the same ends would cost, ``shortest`` its length. It ``joins`` two works or drawn
    things, another path at that path's own end, None where no way in is drawn. ``waters`` says after how many metres
    water from how many square metres crosses at each of ``crossings``; ``in_flow`` is the length that runs along a flow
    line, ``steepest`` the greatest rise per run.
    ``dug_in_for`` is what its chips would do if they did not lie level with the ground; ``cut_ground`` is where it is
    dug, and ``left_as_grass`` what is too near to be dug along ``grass_length`` of it.
    """

    number: int
    line: Annotated[LineString, Goes.INTERNAL]
    outline: Annotated[Polygon | MultiPolygon, Shape("paths")]
    joins: tuple[Ref | None, Ref | None]
    width: Metres
    is_main: bool
    crossings: Annotated[tuple[Point, ...], Goes.INTERNAL]
    chips: CubicMetres
    cut: CubicMetres
    cost: Annotated[Metres, Key("cost_as_level_dry_path")]
    shortest_cost: Annotated[Metres, Key("shortest_way_as_level_dry_path")]
    shortest: Annotated[Metres, Key("shortest_way")]
    waters: Annotated[tuple[tuple[float, float], ...], Parts("after_m", "behind_m2")] = ()
    in_flow: Annotated[Metres, Key("along_water")] = 0.0
    steepest: Annotated[float, Goes.INTERNAL] = 0.0
    dug_in_for: Annotated[Rise | OutletChange | None, Goes.SAID] = None
    cut_ground: Annotated[Polygon | MultiPolygon, Goes.INTERNAL] = NOWHERE
    grass_length: Metres = 0.0
    left_as_grass: tuple[Ref, ...] = ()

    @property
    def is_dug_in(self) -> Annotated[bool, Key("is_dug_in")]:
        """Whether its chips lie level with the ground."""
        return self.dug_in_for is not None

    @property
    def length(self) -> Metres:
        """Along its middle. [m]."""
        return float(self.line.length)

    @property
    def crossing_count(self) -> Annotated[int, Key("crossings")]:
        """How often water runs across."""
        return len(self.crossings)

    @property
    def steepest_slope(self) -> Degrees:
        """Its greatest slope along its way. [deg]."""
        return math.degrees(math.atan(self.steepest))


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A path that is not laid: on the ground it would do harm, and dug in it would come too near to ``beside``."""

    joins: tuple[Ref | None, Ref | None]
    harm: Annotated[Rise | OutletChange, Goes.SAID]
    beside: tuple[Ref, ...]


class NoTipping(StrEnum):
    """Why there is no place to tip chips at."""

    NO_WAY_IN = "no way in is drawn"
    NARROW_GATE = "the gate is too narrow"
    SOFT = "no firm ground near the way in"


@dataclass(frozen=True, slots=True)
class TippingPlace:
    """Where a truck may tip.

    ``barrow_work`` is cubic metres times metres to the mounds, ``mean_haul`` that work over the volume: the metres
    that a barrow goes on the mean. A truck drives ``way_in`` metres from ``entry``, ``off_lane`` of them off road and
    drive, None where none is drawn; ``way`` is where it drives off them.
    """

    rank: int
    place: Annotated[Point, Goes.INTERNAL]
    outline: Annotated[Polygon, Shape("tipping_places")]
    barrow_work: Annotated[float, Unit("m4")]
    entry: Ref
    way_in: Metres
    off_lane: Metres | None
    can_turn: bool
    mean_haul: Metres = 0.0
    way: Annotated[LineString, Goes.INTERNAL] = NO_WAY


class RisesAt(StrEnum):
    """Where standing water must not rise."""

    NEXT_DOOR = "next door"
    HOUSE = "house"
    ROAD = "road"


@dataclass(frozen=True, slots=True)
class Rise:
    """How standing water changes at a place that is not ours to wet. Lengths in m.

    ``height`` is the highest rise of any storm, ``rain`` that storm's; below 0 the water only falls. ``done_by`` are
    the works without which it would not fail; ``nearest`` lies nearest to it.
    """

    at: RisesAt
    place: Annotated[Point, Goes.INTERNAL]
    height: Metres
    rain: Metres
    fails: bool
    done_by: Annotated[tuple[Ref, ...], Goes.SAID] = ()
    nearest: Annotated[Ref | None, Goes.SAID] = None


@dataclass(frozen=True, slots=True)
class BoundaryChange:
    """What the plan does to the water at one stretch of boundary. Depths in m, volumes in m3, areas in m2.

    ``facing`` is the bearing that its side looks to. ``volume`` is what leaves over it in the storm, ``area`` the
    ground that this comes from; ``depth`` is of standing water beside it, ``flow`` of the sheet that flows over it at
    the storm's peak, infinite where it is deeper than a sheet: a stream.
    """

    facing: Degrees
    place: Annotated[Point, Goes.INTERNAL]
    volume_before: CubicMetres
    volume_after: CubicMetres
    depth_before: Metres
    depth_after: Metres
    area_before: Annotated[SquareMetres, Key("drains_before")]
    area_after: Annotated[SquareMetres, Key("drains_after")]
    flow_before: Annotated[Metres, Key("flow_depth_before")]
    flow_after: Annotated[Metres, Key("flow_depth_after")]
    is_new_outflow: bool


@dataclass(frozen=True, slots=True)
class OutletChange:
    """A place on the boundary over which the plan lets more water out. Areas in m2, depths in m.

    ``flow`` is of the sheet at this very place, infinite where it is a stream. ``came_from`` is the nearest place where
    at least half as much no longer leaves; ``done_by`` are the works without which it would not be.
    """

    facing: Degrees
    place: Annotated[Point, Goes.INTERNAL]
    area_before: Annotated[SquareMetres, Key("drains_before")]
    area_after: Annotated[SquareMetres, Key("drains_after")]
    flow_before: Annotated[Metres, Key("flow_depth_before")]
    flow_after: Annotated[Metres, Key("flow_depth_after")]
    came_from: Annotated[Point | None, Goes.INTERNAL]
    fails: bool
    done_by: Annotated[tuple[Ref, ...], Goes.SAID] = ()
    nearest: Annotated[Ref | None, Goes.SAID] = None


@dataclass(frozen=True, slots=True)
class Impact:
    """The plan built into the ground and everything run again. Areas in m2, depths in m, volumes in m3.

    ``built`` is what was built into it; ``outlets`` are the places where more leaves than the share that
    ``mound.outlet_growth`` allows, which must be said.
    """

    ponded_area_before: SquareMetres
    ponded_area_after: SquareMetres
    deepest_before: Metres
    deepest_after: Metres
    displaced: CubicMetres
    boundary: tuple[BoundaryChange, ...]
    rises: tuple[Rise, ...]
    outlets: Annotated[tuple[OutletChange, ...], Key("outlets_that_grow")]
    built: Annotated[tuple[Ref, ...], Goes.SAID] = ()

    @property
    def faults(self) -> tuple[Rise | OutletChange, ...]:
        """What fails the plan, the first thing to mend first."""
        harms: tuple[Rise | OutletChange, ...] = (*self.rises, *self.outlets)
        return tuple(harm for harm in harms if harm.fails)

    @property
    def passes(self) -> Annotated[bool, Key("passes")]:
        """Whether it leaves the water of others as it is."""
        return not self.faults


@dataclass(frozen=True, slots=True)
class YearOfWork:
    """One year of building and topping up. Volumes in m3, heights in m.

    ``materials`` is (material, volume) and adds up to ``volume``; ``top_ups`` says the same of what tops up alone.
    """

    year: int
    builds: Annotated[tuple[int, ...], Key("builds_mounds")]
    tops_up: Annotated[tuple[int, ...], Key("tops_up_mounds")]
    loads: float
    volume: CubicMetres
    crest_heights: Annotated[tuple[tuple[int, float], ...], Unit("m")]
    materials: Annotated[tuple[tuple[str, float], ...], Parts("material", "volume_m3")] = ()
    top_ups: Annotated[tuple[tuple[str, float], ...], Parts("material", "volume_m3")] = ()


@dataclass(frozen=True, slots=True)
class Quantity:
    """How much of one material over all years, what is free and what is bought. Volumes in m3.

    ``first_year``, ``first_loads`` and ``first_barrows`` are the first year's part of ``volume``, ``loads`` and
    ``barrows``, the rest comes later; ``top_ups`` is the part that lifts sunken crests again.
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


class Lacking(StrEnum):
    """What there is not enough of for any mound."""

    GROUND = "ground"
    WATER_TABLE = "water table"
    ROOM = "room"
    FINER_HEIGHTS = "finer heights"


class Because(StrEnum):
    """What speaks most for the direction that was chosen, against the best of those that lie otherwise on the fall."""

    HOLDS_BACK = "holds back"
    IN_THE_WAY = "in the way"
    ROOM = "room"
    HAUL = "haul"
    NEXT_DOOR = "next door"


@dataclass(frozen=True, slots=True)
class RefusedFill:
    """A fill that will not do for a crop group: so wet above the water that it would have to be built too high."""

    crops: str
    fill: str
    fringe: Metres
    built: Metres


@dataclass(frozen=True, slots=True)
class MoundChoice:
    """How the mounds came to lie as they do.

    Parameters
    ----------
    bearing, fall : float or None
        Of the rows, and the direction that the ground below them falls to, None where it is level. [deg]
    haul : float
        Mean way with a barrow. [m]
    because : Because
    directions_tried : tuple of (bearing, score)
        The best of all scored 1.
    refused : tuple of RefusedFill
        One for each crop group and fill that would not do somewhere.
    lacking : Lacking or None
        Why there is no mound at all, where no fill says so.
    spared : harm or None
        What the best layout would have done to the water next door, for which another was taken or mounds left out.
    left_out : int
        Mounds left out for that.
    """

    bearing: Annotated[Degrees | None, Key("mounds_bearing")] = None
    fall: Annotated[Degrees | None, Key("mounds_fall_to")] = None
    haul: Annotated[Metres, Key("mounds_haul")] = 0.0
    because: Annotated[Because | None, Key("mounds_because")] = None
    directions_tried: Annotated[tuple[tuple[float, float], ...], Parts("bearing_deg", "score")] = ()
    refused: Annotated[tuple[RefusedFill, ...], Key("fills_refused")] = ()
    lacking: Annotated[Lacking | None, Key("mounds_lack")] = None
    spared: Annotated[Rise | OutletChange | None, Goes.SAID] = None
    left_out: Annotated[int, Key("mounds_left_out.count")] = 0


class DitchVerdict(StrEnum):
    """Whether a ditch would do, or what stands against it."""

    POSSIBLE = "possible"
    NO_OUTLET = "no outlet"
    AT_OUTLET = "at the outlet"
    NO_HEIGHTS = "no heights"
    TOO_LOW = "too low"
    CROSSES = "crosses"


@dataclass(frozen=True, slots=True)
class DrainAdvice:
    """Ditch or drain instead: a proposal or a refusal with its reason. Lengths in m.

    ``fall`` is of its bed to the ``outlet``, ``needed`` the least that will do; ``crossed`` is what lies in its way.
    """

    verdict: DitchVerdict
    outlet: Annotated[Ref | None, Goes.SAID] = None
    line: Annotated[LineString | None, Shape("ditches")] = None
    fall: Metres | None = None
    needed: Annotated[Metres | None, Key("fall_needed")] = None
    length: Metres | None = None
    spacing: Metres | None = None
    crossed: Annotated[tuple[Ref, ...], Goes.SAID] = ()

    @property
    def is_possible(self) -> Annotated[bool, Key("is_possible")]:
        """Whether it would do."""
        return self.verdict is DitchVerdict.POSSIBLE


class Task(StrEnum):
    """What sort of job it is; what must come before follows from it."""

    ASK = "ask"
    STAKE = "stake"
    BORE = "bore holes"
    CLEAR = "clear the outlet"
    TAKE_CHIPS = "take chips"
    LAY_PATH = "lay path"
    BUILD = "build"
    PLANT = "plant"
    LOOK_AGAIN = "look again"


@dataclass(frozen=True, slots=True)
class Job:
    """One task for a helper, for ``works``.

    ``place`` is what the number stands at; ``people_hours`` is in all; ``after`` are the numbers of the jobs that come
    before it; ``year`` counts from 1.
    """

    number: int
    title: str
    detail: str
    place: Annotated[Point | None, Goes.INTERNAL]
    tools: tuple[str, ...]
    quantity: str
    people: int
    people_hours: Annotated[Hours, Key("work")]
    caution: str
    works: tuple[Ref, ...] = ()
    task: Task = Task.BUILD
    year: int = 1
    after: tuple[int, ...] = ()
    digs: bool = False


@dataclass(frozen=True, slots=True)
class ShadeCost:
    """Hours of direct sun that one work of the plan takes from another on a mean day of the other's months. [h/day]."""

    work: Ref
    by: Ref
    months: tuple[int, ...]
    hours: Annotated[HoursADay, Key("lost")]


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that is proposed.

    ``own_shade`` is (mound number, hours of sun a day lost in the growing season to hoop house and trellises);
    ``shade_costs`` is what every work loses to every other that can reach it; ``hazards`` is what every part of a work
    that breaks or loads the ground comes near to.
    """

    mounds: tuple[Mound, ...] = ()
    hoop_houses: tuple[HoopHouse, ...] = ()
    hoop_house_refusals: tuple[Refusal, ...] = ()
    trellises: tuple[Trellis, ...] = ()
    paths: tuple[Path, ...] = ()
    tipping_places: tuple[TippingPlace, ...] = ()
    impact: Impact | None = None
    quantities: tuple[Quantity, ...] = ()
    years: tuple[YearOfWork, ...] = ()
    drain: Annotated[DrainAdvice | None, Key("drain_instead")] = None
    jobs: tuple[Job, ...] = ()
    bench_mark: str = ""
    mound_choice: Annotated[MoundChoice, Goes.INLINE] = MoundChoice()
    no_tipping: NoTipping | None = None
    unreached: tuple[Ref, ...] = ()
    own_shade: Annotated[
        tuple[tuple[int, float], ...], Key("mounds_shaded_by_the_plan"), Parts("number", "lost_h_per_day")
    ] = ()
    shade_costs: Annotated[tuple[ShadeCost, ...], Key("shade_of_the_plan")] = ()
    hazards: tuple[Hazard, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
