"""Paths, and where chips are tipped."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated, ClassVar

from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.fields import CubicMetres, Degrees, Goes, Key, Metres, Parts, Shape, Unit
from sitepipe.site import Ref, Work
from sitepipe.works.built import Built
from sitepipe.works.water.record import OutletChange, Rise

NOWHERE, NO_WAY = Polygon(), LineString()


@dataclass(frozen=True, slots=True)
class Path(Built):
    """A chip path.

    Lengths in m, chips and cut in m3. ``cost`` is what the path costs in metres of level dry path, ``shortest_cost``
    what the shortest way between the same ends would cost, ``shortest`` its length. It ``joins`` two works or drawn
    things, another path at that path's own end, None where no way in is drawn. ``waters`` says after how many metres
    water from how many square metres crosses at each of ``crossings``; ``in_flow`` is the length that runs along a flow
    line, ``steepest`` the greatest rise per run.
    ``dug_in_for`` is what its chips would do if they did not lie level with the ground; ``cut_ground`` is where it is
    dug, and ``left_as_grass`` what is too near to be dug along ``grass_length`` of it.
    """

    kind: ClassVar[Work] = Work.PATH

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
    def ground(self) -> BaseGeometry:
        """What it takes of the ground. [m]."""
        return self.outline

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
class TippingPlace(Built):
    """Where a truck may tip.

    ``barrow_work`` is cubic metres times metres to the mounds, ``mean_haul`` that work over the volume: the metres
    that a barrow goes on the mean. A truck drives ``way_in`` metres from ``entry``, ``off_lane`` of them off road and
    drive, None where none is drawn; ``way`` is where it drives off them.
    """

    kind: ClassVar[Work] = Work.TIPPING_PLACE

    place: Annotated[Point, Goes.INTERNAL]
    outline: Annotated[Polygon, Shape("tipping_places")]
    barrow_work: Annotated[float, Unit("m4")]
    entry: Ref | None
    way_in: Metres
    off_lane: Metres | None
    can_turn: bool
    mean_haul: Metres = 0.0
    way: Annotated[LineString, Goes.INTERNAL] = NO_WAY

    @property
    def ground(self) -> BaseGeometry:
        """What it takes of the ground. [m]."""
        return self.outline
