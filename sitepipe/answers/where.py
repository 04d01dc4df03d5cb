"""Where a place is, as people find it: from the gate, by the culvert."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

import shapely
from shapely import Point

from sitepipe.answers.names import tame
from sitepipe.saying import say_distance
from sitepipe.site import Kind, Site
from sitepipe.units import Units, compass_word
from sitepipe.wetness.record import SoggyPlace


def called(name: str, kind: Kind) -> str:
    """Return what a feature is called, without the number that tells it from its like; its kind where it has no name.

    Examples
    --------
    >>> called("Alder 2", Kind.TREE), called("", Kind.TAP)
    ('Alder', 'tap')
    """
    plain = re.sub(r"\s+\d+$", "", tame(name))
    return plain or kind.value


@dataclass(frozen=True, slots=True)
class Standpoint:
    """A feature that a helper can find and stand at."""

    name: str
    place: Point


def standpoint_of(site: Site) -> Standpoint:
    """Return the gate, else a corner of a building, the tap, or the middle of the parcel."""
    for kind in (Kind.GATE, Kind.BUILDING, Kind.TAP, Kind.WELL):
        for feature in site.of_kind(kind):
            return Standpoint(f"the {kind.value}", feature.geometry.centroid)
    return Standpoint("the middle", site.parcel.centroid)


def from_standpoint(site: Site, place: Point, units: Units) -> str:
    """Say where a place is: ``145 ft east of the gate``."""
    start = standpoint_of(site)
    east, north = place.x - start.place.x, place.y - start.place.y
    distance = math.hypot(east, north)
    if distance < 3.0:
        return f"at {start.name}"
    bearing = math.degrees(math.atan2(east, north))
    return f"{say_distance(distance, units)} {compass_word(bearing)} of {start.name}"


def name_of_place(place: SoggyPlace, site: Site) -> str:
    """Name a wet place after the nearest thing that people know: ``Hollow by the culvert``."""
    middle = place.middle
    nearest, best = "", 15.0
    for feature in site.features:
        if feature.kind in (Kind.PARCEL, Kind.OBSERVATION, Kind.KEEP_CLEAR, Kind.FIXED_POINT, Kind.KERB):
            continue
        distance = float(shapely.distance(feature.geometry, middle))
        if distance < best - 0.5:
            best = distance
            nearest = _known_as(feature.kind, feature.name)
    what = "Soaked ground" if place.depth is None else "Hollow"
    return f"{what} {nearest or _part_of_parcel(site, middle)}"


def say_place(place: SoggyPlace, site: Site, units: Units) -> str:
    """Say which wet place it is, and where from the gate: ``Hollow by the culvert, 145 ft east of the gate``."""
    return f"{name_of_place(place, site)}, {from_standpoint(site, place.middle, units)}"


def _part_of_parcel(site: Site, place: Point) -> str:
    """Say in which part of the parcel a place lies, where nothing better is near."""
    centre = site.parcel.centroid
    east, north = place.x - centre.x, place.y - centre.y
    if math.hypot(east, north) < 0.12 * math.sqrt(site.parcel.area):
        return "in the middle"
    return f"in the {compass_word(math.degrees(math.atan2(east, north)))}"


def _known_as(kind: Kind, name: str) -> str:
    plain = called(name, kind)
    plain = plain if len(plain) <= 24 else kind.value
    preposition = "under" if kind is Kind.TREE else "by"
    return f"{preposition} the {plain[:1].lower() + plain[1:]}"
