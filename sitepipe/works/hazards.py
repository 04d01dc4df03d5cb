"""How near works come to what digging, filling or driving can hurt: one table of distances for siting and saying."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from enum import Enum, StrEnum
from typing import Annotated

import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.fields import Metres, Shape
from sitepipe.scoring.exclusions import is_drive
from sitepipe.settings import KeepClearSettings, Settings
from sitepipe.site import Kind, Ref, Site
from sitepipe.works.built import Built
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.mounds.record import Mound
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.water.record import Swale
from sitepipe.works.ways.record import Path, TippingPlace

SWALE = 0.9
"""A swale round a hoop house reaches so far from its walls, a foot of level ground left between: our own choice. [m]"""
WELL_HEAD = 3.0
"""Kept from a well by spades and wheels, for its casing and its line: common practice, no source. [m]"""
FOOTING = 0.6
"""Kept from a wall by single posts, so that its footing is not undermined: common practice, no source. [m]"""
SLACK = 0.01
"""Outlines drawn round a corner lie inside its circle by so much at most. [m]"""
TOLD = 2.0
"""Lines, fields and wells are drawn by hand: work nearer than so many times the distance is told of. Trees, walls and
boundaries can be seen. [1]"""


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


class Act(Enum):
    """What a part of a work does to the ground: holes, trenches, what lies on it for good or for weeks, what drives."""

    BORES = "bores"
    TRENCHES = "trenches"
    COVERS = "covers"
    PILES = "piles"
    DRIVES = "drives"


ACTS = {
    Part.STAKE: Act.BORES,
    Part.POST: Act.BORES,
    Part.SWALE: Act.TRENCHES,
    Part.CUT: Act.TRENCHES,
    Part.FOOT: Act.COVERS,
    Part.PAD: Act.COVERS,
    Part.PILE: Act.PILES,
    Part.TRUCK_WAY: Act.DRIVES,
}


@dataclass(frozen=True, slots=True)
class Kept:
    """What is kept off, how far, and the ground of both. [m]."""

    thing: Ref
    distance: float
    ground: BaseGeometry


def distances(own: KeepClearSettings) -> Mapping[Kind, Mapping[Act, float]]:
    """Distances that each act keeps from each kind of thing; 0 is beside but not on or under it. [m]."""
    bores, trenches, covers, piles, drives = Act
    return {
        Kind.BURIED_LINE: dict.fromkeys(Act, own.buried_line),
        Kind.SEPTIC: dict.fromkeys(Act, own.septic),
        Kind.WELL: {bores: WELL_HEAD, trenches: WELL_HEAD, covers: own.well, piles: own.well, drives: WELL_HEAD},
        # A trench of chips or a swale leads water to the wall as raised ground does.
        Kind.BUILDING: {bores: FOOTING, trenches: own.house, covers: own.house, piles: own.house, drives: 0.0},
        Kind.WALL: {bores: FOOTING, trenches: FOOTING, covers: 0.0, piles: FOOTING, drives: 0.0},
        Kind.TREE: dict.fromkeys(Act, 0.0),
        Kind.HEDGE: {bores: own.hedge, trenches: own.hedge, covers: own.hedge, piles: own.hedge, drives: 0.0},
        Kind.PARCEL: {bores: own.boundary, trenches: own.boundary, covers: own.boundary},
        Kind.ROAD: {bores: own.road, trenches: own.road, covers: own.road},
    }


def things_hurt(site: Site) -> tuple[tuple[Ref, BaseGeometry], ...]:
    """Return everything that works keep off: trees by their crowns, for the roots; roads that pass, for their lead."""
    found: list[tuple[Ref, BaseGeometry]] = [(Ref(Kind.PARCEL, 0), site.parcel.boundary)]
    for feature in site.features:
        if feature.kind is Kind.ROAD and is_drive(feature, site):
            continue
        is_seen_whole = feature.kind in (Kind.BURIED_LINE, Kind.WELL, Kind.SEPTIC)
        shape = feature.geometry if is_seen_whole else feature.outline
        if feature.kind is not Kind.PARCEL:
            found.append((Ref(feature.kind, feature.number), shape))
    return tuple(found)


def kept_clear(site: Site, act: Act, settings: Settings) -> tuple[Kept, ...]:
    """Return the ground that an act keeps off, a piece for each thing."""
    rules = distances(settings.keep_clear)
    return tuple(
        Kept(thing, rules[kind][act], shape.buffer(rules[kind][act], quad_segs=32))
        for thing, shape in things_hurt(site)
        if isinstance(kind := thing.kind, Kind) and act in rules.get(kind, {})
    )


def hazards_of(site: Site, works: Iterable[Built], settings: Settings) -> tuple[Hazard, ...]:
    """Measure every part that breaks or loads the ground: what is too near, and what is near without being seen."""
    rules, things = distances(settings.keep_clear), things_hurt(site)
    found = []
    for work in works:
        for ref, part, label, shape in parts_of(work, settings):
            act = ACTS[part]
            for thing, ground in things:
                rule = rules.get(thing.kind, {}).get(act) if isinstance(thing.kind, Kind) else None
                if rule is None or shape.is_empty:
                    continue
                far = float(shape.distance(ground))
                is_kept = far >= max(rule - SLACK, 1e-9)
                told = TOLD if thing.kind in (Kind.BURIED_LINE, Kind.SEPTIC, Kind.WELL) else 1.0
                if far < told * rule or not is_kept:
                    place = Point(shapely.shortest_line(shape, ground).coords[0])
                    found.append(Hazard(ref, part, thing, far, rule, is_kept, place, label))
    return tuple(found)


def parts_of(work: Built, settings: Settings) -> Iterator[tuple[Ref, Part, str, BaseGeometry]]:
    """Yield the parts of a work that break or load the ground, and the label of each stake."""
    ref = work.ref
    match work:
        case Mound():
            yield ref, Part.FOOT, "", work.outline
        case HoopHouse():
            yield ref, Part.POST, "", work.outline.exterior
            yield ref, Part.SWALE, "", work.outline.buffer(SWALE).difference(work.outline)
            if work.raised > 0.0:
                yield ref, Part.PAD, "", work.outline
        case Trellis():
            yield ref, Part.POST, "", work.line
        case Arch():
            for foot in work.feet:
                yield ref, Part.POST, "", foot
        case Swale():
            yield ref, Part.SWALE, "", work.outline
        case Path():
            yield ref, Part.CUT, "", work.cut_ground
        case TippingPlace():
            yield ref, Part.PILE, "", work.outline
            yield ref, Part.TRUCK_WAY, "", work.way.buffer(settings.tipping.truck_width / 2.0)
    for stake in work.stakes:
        yield ref, Part.STAKE, stake.label, stake.place
