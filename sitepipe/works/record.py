"""What the works stage hands on."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import LineString, MultiPolygon, Point, Polygon


@dataclass(frozen=True, slots=True)
class Stake:
    """A point to set out with two tapes from fixed points.

    Parameters
    ----------
    label : str
        Such as ``A1``.
    place : point
        [m]
    from_points : ((name, distance m), (name, distance m))
    angle : float
        Between the tapes where they meet; below 30 the place is weak. [deg]
    height : float
        Finished height above (or below) the bench mark. [m]
    """

    label: str
    place: Point
    from_points: tuple[tuple[str, float], tuple[str, float]]
    angle: float
    height: float


@dataclass(frozen=True, slots=True)
class MoundHeight:
    """The terms that add up to a mound's height, in m.

    ``finished = max(roots + fringe - depth_to_water + allowance, 0)`` holds with the stated chance;
    ``built = finished / (1 - settlement)``.
    """

    roots: float
    fringe: float
    depth_to_water: float
    allowance: float
    finished: float
    built: float
    settlement: float
    chance: float


@dataclass(frozen=True, slots=True)
class Mound:
    """A raised mound, drawn as its crest line with a width.

    ``crest_ground`` is the height of the ground below both ends of the crest, along a straight line. [m]
    """

    number: int
    crest: LineString
    outline: Polygon
    crops: str
    fill: str
    height: MoundHeight
    top_width: float
    base_width: float
    volume: float
    materials: tuple[tuple[str, float], ...]
    barrows: int
    hours: float
    stakes: tuple[Stake, ...]
    why: str
    sureness: tuple[tuple[str, str], ...]
    crest_ground: tuple[float, float] = (0.0, 0.0)

    @property
    def length(self) -> float:
        """From end to end at its foot, round ends included. [m]."""
        return float(self.crest.length) + self.base_width


@dataclass(frozen=True, slots=True)
class HoopHouse:
    """A ranked place for a hoop house.

    Parameters
    ----------
    bearing : float
        Of the ridge, 0 to 180, clockwise from north. [deg]
    reasons : tuple of (criterion, score 0 to 1, sentence)
    roof_water : float
        That the roof sheds in the largest storm counted. [m3]
    roof_water_by_storm : tuple of (rain m, water m3)
    door : point
        Middle of the end that is easier to reach.
    advice : str
        Which way the ridge should run at this latitude, and why.
    raised : float
        Height of its floor above the ground for the water of the wet season. [m]
    """

    rank: int
    outline: Polygon
    bearing: float
    length: float
    width: float
    score: float
    reasons: tuple[tuple[str, float, str], ...]
    roof_water: float
    roof_water_goes: str
    why: str
    stakes: tuple[Stake, ...] = ()
    roof_water_by_storm: tuple[tuple[float, float], ...] = ()
    door: Point | None = None
    advice: str = ""
    raised: float = 0.0


@dataclass(frozen=True, slots=True)
class Trellis:
    """A row for vines.

    ``hours_lost`` is (month, lost by this row, lost by the other direction), in bed-hours a day: hours of direct
    sun times square metres of bed, on a mean day of the month. ``clear_distance`` is what to keep between this row
    and the next bed on its shaded side; ``is_wet`` says that its posts stand in wet ground.
    """

    number: int
    line: LineString
    height: float
    bearing: float
    post_depth: float
    posts: int
    hours_lost: tuple[tuple[int, float, float], ...]
    why: str
    stakes: tuple[Stake, ...] = ()
    clear_distance: float = 0.0
    is_wet: bool = False


@dataclass(frozen=True, slots=True)
class Path:
    """A chip path.

    Lengths in m, chips and cut in m3. ``cost`` is what the path costs in metres of level dry path, ``shortest_cost``
    what the shortest way between the same ends would cost. ``crossing_names`` says what water crosses at each of
    ``crossings``; ``in_flow`` is the length that runs along a flow line, ``steepest`` the greatest rise per run.
    ``is_dug_in`` says that its chips lie level with the ground, since on top they would turn water next door.
    """

    number: int
    line: LineString
    outline: Polygon | MultiPolygon
    joins: tuple[str, str]
    width: float
    is_main: bool
    crossings: tuple[Point, ...]
    chips: float
    cut: float
    cost: float
    shortest_cost: float
    why: str
    crossing_names: tuple[str, ...] = ()
    in_flow: float = 0.0
    steepest: float = 0.0
    is_dug_in: bool = False


@dataclass(frozen=True, slots=True)
class TippingPlace:
    """Where a truck may tip.

    ``barrow_work`` is cubic metres times metres to the mounds, ``mean_haul`` that work over the volume: the metres
    that a barrow goes on the mean.
    """

    rank: int
    place: Point
    outline: Polygon
    barrow_work: float
    access: str
    why: str
    mean_haul: float = 0.0


@dataclass(frozen=True, slots=True)
class BoundaryChange:
    """What the plan does to the water at one stretch of boundary. Depths in m, volumes in m3, areas in m2.

    ``volume`` is what leaves over it in the storm, ``area`` the ground that this comes from; ``depth`` is of standing
    water beside it, ``flow`` of what flows over it at the storm's peak, as a wide sheet.
    """

    where: str
    place: Point
    volume_before: float
    volume_after: float
    depth_before: float
    depth_after: float
    is_new_outflow: bool
    area_before: float = 0.0
    area_after: float = 0.0
    flow_before: float = 0.0
    flow_after: float = 0.0


@dataclass(frozen=True, slots=True)
class OutletChange:
    """A place on the boundary over which the plan lets more water out. Areas in m2, depths in m.

    ``came_from`` is the nearest place where at least half as much no longer leaves, empty where there is none;
    ``done_by`` a sentence that names the works without which it would not be.
    """

    where: str
    place: Point
    area_before: float
    area_after: float
    flow_before: float
    flow_after: float
    came_from: str = ""
    done_by: str = ""


@dataclass(frozen=True, slots=True)
class Impact:
    """The plan built into the ground and everything run again. Areas in m2, depths in m, volumes in m3.

    ``built`` names what was built into it; ``outlets`` are the places where more leaves than the share that
    ``mound.outlet_growth`` allows, which does not fail the plan but must be said.
    """

    passes: bool
    ponded_area_before: float
    ponded_area_after: float
    deepest_before: float
    deepest_after: float
    displaced: float
    boundary: tuple[BoundaryChange, ...]
    house: str
    road: str
    faults: tuple[tuple[str, Point], ...]
    remedy: str
    built: tuple[str, ...] = ()
    outlets: tuple[OutletChange, ...] = ()


@dataclass(frozen=True, slots=True)
class YearOfWork:
    """One year of building and topping up. Volumes in m3, heights in m.

    ``materials`` is (material, volume) and adds up to ``volume``; ``top_ups`` says the same of what tops up alone.
    """

    year: int
    builds: tuple[int, ...]
    tops_up: tuple[int, ...]
    loads: float
    volume: float
    crest_heights: tuple[tuple[int, float], ...]
    materials: tuple[tuple[str, float], ...] = ()
    top_ups: tuple[tuple[str, float], ...] = ()


@dataclass(frozen=True, slots=True)
class Quantity:
    """How much of one material over all years, what is free and what is bought. Volumes in m3.

    ``first_year``, ``first_loads`` and ``first_barrows`` are the first year's part of ``volume``, ``loads`` and
    ``barrows``, the rest comes later; ``top_ups`` is the part that lifts sunken crests again.
    """

    material: str
    volume: float
    loads: float
    barrows: int
    free: float
    to_buy: float
    note: str
    first_year: float = 0.0
    first_loads: float = 0.0
    first_barrows: int = 0
    top_ups: float = 0.0


@dataclass(frozen=True, slots=True)
class DrainAdvice:
    """Ditch or drain instead: a proposal or a refusal with its reason. Lengths in m."""

    is_possible: bool
    line: LineString | None
    fall: float | None
    length: float | None
    spacing: float | None
    why: str


@dataclass(frozen=True, slots=True)
class Job:
    """One task for a helper. ``place`` is what the number stands at; ``people_hours`` is in all."""

    number: int
    title: str
    detail: str
    place: Point | None
    tools: tuple[str, ...]
    quantity: str
    people: int
    people_hours: float
    caution: str


@dataclass(frozen=True, slots=True)
class ShadeCost:
    """Hours of direct sun that one work of the plan takes from another on a mean day of the other's months. [h/day]."""

    work: str
    by: str
    months: tuple[int, ...]
    hours: float


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that is proposed.

    ``own_shade`` is (mound number, hours of sun a day lost in the growing season to hoop house and trellises);
    ``shade_costs`` is what every work loses to every other that can reach it.
    """

    mounds: tuple[Mound, ...] = ()
    hoop_houses: tuple[HoopHouse, ...] = ()
    hoop_house_refusals: tuple[tuple[str, Point], ...] = ()
    trellises: tuple[Trellis, ...] = ()
    paths: tuple[Path, ...] = ()
    tipping_places: tuple[TippingPlace, ...] = ()
    impact: Impact | None = None
    quantities: tuple[Quantity, ...] = ()
    years: tuple[YearOfWork, ...] = ()
    drain: DrainAdvice | None = None
    jobs: tuple[Job, ...] = ()
    bench_mark: str = ""
    directions_tried: tuple[tuple[float, float], ...] = ()
    notes: tuple[str, ...] = ()
    own_shade: tuple[tuple[int, float], ...] = ()
    shade_costs: tuple[ShadeCost, ...] = ()
