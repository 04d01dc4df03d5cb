"""What the plan does to the water, and whether a ditch would do instead."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar

from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.fields import CubicMetres, Degrees, Goes, Key, Metres, Shape, SquareMetres, Unit
from sitepipe.site import Ref, Work
from sitepipe.works.built import Built
from sitepipe.works.houses.record import RoofWater


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
class TriedChange:
    """What a change that was tried on the page does to the water, worked out again on full cells.

    ``next_door``, ``house`` and ``road`` are the highest rises of standing water there; ``page`` holds those figures of
    the page that differ from these, ``same_outlets`` says whether it found the same outlets that grow, ``same_ground``
    whether it was tried on the very same heights. ``faults`` is what fails it, the first thing to mend first.
    """

    passes: bool
    next_door: Annotated[Metres, Key("next_door_rise")]
    house: Annotated[Metres, Key("house_rise")]
    road: Annotated[Metres, Key("road_rise")]
    standing_before: SquareMetres
    standing_after: SquareMetres
    outlets: Annotated[tuple[float, ...], Key("outlets_that_grow_drain"), Unit("m2")]
    same_ground: bool
    faults: Annotated[tuple[Rise | OutletChange, ...], Goes.SAID]
    page: Annotated[dict[str, float], Goes.SAID]
    same_outlets: Annotated[bool, Goes.SAID]


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


@dataclass(frozen=True, slots=True)
class Swale(Built):
    """A shallow trench with sloping sides that leads or holds water.

    ``fall`` is that of the ground from end to end; ``leads_to`` where water runs from its lower end.
    """

    kind: ClassVar[Work] = Work.SWALE

    line: Annotated[LineString, Goes.INTERNAL]
    outline: Annotated[Polygon, Shape("swales")]
    depth: Metres
    bed_width: Metres
    side_slope: float
    dug: CubicMetres
    fall: Metres
    leads_to: Annotated[RoofWater, Key("leads_to")]

    @property
    def length(self) -> Metres:
        """Along its middle. [m]."""
        return float(self.line.length)

    @property
    def ground(self) -> BaseGeometry:
        """What it takes of the ground. [m]."""
        return self.outline
