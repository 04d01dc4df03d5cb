"""Ground that nothing is built on, with the reason and the distance kept."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import shapely
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Exclusion, Reason, Use
from sitepipe.settings import KeepClearSettings
from sitepipe.site import Feature, Gate, KeepClear, Kind, Site, Work
from sitepipe.terrain.outline import polygons_of
from sitepipe.terrain.undrawn import undrawn_ground

RAISED = (Use.MOUND,)
PLANTED = (Use.MOUND, Use.WET_PLANTING)
ANYTHING = (Use.MOUND, Use.WET_PLANTING, Use.PATH)
AS_IT_LIES = {
    Kind.BED: (Reason.BED, ANYTHING),
    Kind.WALL: (Reason.WALL, PLANTED),
    Kind.KERB: (Reason.WALL, PLANTED),
}
"""What keeps only its own ground clear."""
WORK_OF = {Use.MOUND: Work.MOUND, Use.WET_PLANTING: Kind.BED, Use.PATH: Work.PATH}
"""What is built on the ground of each use."""

FIELD_EDGE = 0.25
"""Nobody sees where a septic field ends. Common practice, no source. [m]"""

GATE_TO_ROAD = 10.0
"""A gate within this of a road is where a drive meets it. Common practice, no source. [m]"""


def exclusions_of(site: Site, drainage: Drainage, settings: KeepClearSettings) -> tuple[Exclusion, ...]:
    """Return every exclusion that touches the parcel, in the order in which things were drawn."""
    found = [exclusion for feature in site.features for exclusion in _of_feature(feature, site, settings)]
    found += _sight_triangles(site, settings)
    found.append(Exclusion(Reason.UNDRAWN, None, 0.0, undrawn_ground(site, settings.undrawn), ANYTHING))
    found += _storing_ponds(site, drainage, settings)
    if settings.boundary > 0.0:
        edge = site.parcel.difference(site.parcel.buffer(-settings.boundary))
        found.append(Exclusion(Reason.BOUNDARY, None, settings.boundary, edge, RAISED))
    inside = (replace(one, outline=polygons_of(one.outline.intersection(site.parcel))) for one in found)
    return tuple(one for one in inside if not one.outline.is_empty)


def _of_feature(feature: Feature, site: Site, settings: KeepClearSettings) -> Iterator[Exclusion]:
    shape, middle = feature.outline, feature.geometry

    def keep(reason: Reason, distance: float, outline: BaseGeometry, uses: tuple[Use, ...]) -> Exclusion:
        return Exclusion(reason, feature, distance, outline, uses)

    if isinstance(feature, KeepClear):
        yield keep(Reason.KEEP_CLEAR, 0.0, shape, tuple(use for use, work in WORK_OF.items() if work in feature.of))
    elif feature.kind in AS_IT_LIES:
        reason, uses = AS_IT_LIES[feature.kind]
        yield keep(reason, 0.0, shape, uses)
    match feature.kind:
        case Kind.BUILDING:
            yield keep(Reason.BUILDING, 0.0, shape, ANYTHING)
            yield keep(Reason.WALL_FALL, settings.house, shape.buffer(settings.house), PLANTED)
        case Kind.SEPTIC:
            yield keep(Reason.SEPTIC, 0.0, shape.buffer(FIELD_EDGE), ANYTHING)
            yield keep(Reason.BESIDE_SEPTIC, settings.septic, shape.buffer(settings.septic), PLANTED)
        case Kind.WELL:
            yield keep(Reason.WELL, settings.well, middle.buffer(settings.well), RAISED)
        case Kind.BURIED_LINE:
            yield keep(Reason.BURIED_LINE, settings.buried_line, middle.buffer(settings.buried_line), PLANTED)
        case Kind.TREE:
            yield keep(Reason.TRUNK, settings.trunk, shape.centroid.buffer(settings.trunk), PLANTED)
        case Kind.HEDGE:
            yield keep(Reason.HEDGE, settings.hedge, shape.buffer(settings.hedge), PLANTED)
        case Kind.WATER:
            yield keep(Reason.WATER, 0.0, shape, ANYTHING)
            yield keep(Reason.WATER_BANK, settings.water, shape.buffer(settings.water), RAISED)
        case Kind.DITCH:
            yield keep(Reason.DITCH, 0.0, shape, PLANTED)
            yield keep(Reason.DITCH_BANK, settings.water, shape.buffer(settings.water), RAISED)
        case Kind.CULVERT:
            ends = shapely.union_all([mouth.buffer(settings.culvert) for mouth in _ends(middle)])
            yield keep(Reason.CULVERT, settings.culvert, ends, PLANTED)
        case Kind.ROAD:
            yield from _of_road(feature, site, settings)


def _of_road(road: Feature, site: Site, settings: KeepClearSettings) -> Iterator[Exclusion]:
    """Yield what a road keeps clear: a drive only its own width; one that passes by brings lead and salt."""
    yield Exclusion(Reason.ROAD, road, 0.0, road.outline, PLANTED)
    if not is_drive(road, site):
        yield Exclusion(Reason.ROAD_BAND, road, settings.road, road.outline.buffer(settings.road), RAISED)


def is_drive(feature: Feature, site: Site) -> bool:
    """Tell whether a road lies mostly inside the parcel."""
    whole = feature.geometry.length
    return bool(whole > 0.0 and feature.geometry.intersection(site.parcel).length > 0.5 * whole)


def _sight_triangles(site: Site, settings: KeepClearSettings) -> Iterator[Exclusion]:
    """Yield the two clear corners where a drive leaves through a gate to a road."""
    leg = settings.sight_leg
    roads = [feature for feature in site.of_kind(Kind.ROAD) if not is_drive(feature, site)]
    for gate in site.drawn(Gate):
        if leg <= 0.0 or not any(road.geometry.distance(gate.geometry) <= GATE_TO_ROAD for road in roads):
            continue
        for post, along in _posts(gate, site):
            inwards = _inwards(post, along, site)
            corner = Polygon(
                [
                    (post.x, post.y),
                    (post.x + leg * along[0], post.y + leg * along[1]),
                    (post.x + leg * inwards[0], post.y + leg * inwards[1]),
                ]
            )
            yield Exclusion(Reason.SIGHT, gate, leg, corner, PLANTED)


def _posts(gate: Gate, site: Site) -> list[tuple[Point, tuple[float, float]]]:
    """Return both posts of a gate and, for each, the direction along the boundary that leads away from it."""
    threshold = gate.threshold(site.parcel)
    (a, b), length = _ends(threshold), threshold.length
    if length == 0.0:
        return []
    along = ((b.x - a.x) / length, (b.y - a.y) / length)
    return [(a, (-along[0], -along[1])), (b, along)]


def _inwards(post: Point, along: tuple[float, float], site: Site) -> tuple[float, float]:
    """Return the direction square to the gate that leads into the parcel."""
    left = (-along[1], along[0])
    probe = Point(post.x + left[0], post.y + left[1])
    return left if site.parcel.covers(probe) else (along[1], -along[0])


def _storing_ponds(site: Site, drainage: Drainage, settings: KeepClearSettings) -> Iterator[Exclusion]:
    """Yield the hollows that store the storm, each once."""
    nested = {inner for pond in drainage.ponds for inner in pond.inside}
    for index, pond in enumerate(drainage.ponds):
        is_store = pond.depth >= settings.storing_depth and pond.volume >= settings.storing_m3
        if index in nested or not is_store or pond.share_in_parcel <= 0.0:
            continue
        # Its outline follows the sides of cells; closed over and half a cell wider, it has none of their steps.
        shore = pond.outline.buffer(1.5 * site.grid.cell).buffer(-site.grid.cell)
        yield Exclusion(Reason.HOLLOW, pond.number, 0.0, shore, RAISED)


def _ends(shape: BaseGeometry) -> list[Point]:
    """Return the first and last point of a line."""
    points = shapely.points(shapely.get_coordinates(shape))
    return [points[0], points[-1]]
