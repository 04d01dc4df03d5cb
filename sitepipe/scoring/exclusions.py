"""Ground that nothing is built on, with the reason, who says so, and the distance kept."""

from __future__ import annotations

from collections.abc import Iterator

import shapely
from shapely import Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Exclusion, Use
from sitepipe.settings import KeepClearSettings
from sitepipe.site import Feature, Kind, Site
from sitepipe.terrain.outline import polygons_of

RAISED = (Use.MOUND,)
PLANTED = (Use.MOUND, Use.WET_PLANTING)
ANYTHING = (Use.MOUND, Use.WET_PLANTING, Use.PATH)

CODE = "ask the local code"

GATE_TO_ROAD = 10.0
"""A gate within this of a road is where a drive meets it. Common practice, no source. [m]"""

LEAST_HALF_WIDTH = 0.25
"""Of a wall, line or ditch drawn without a width. Common practice, no source. [m]"""


def exclusions_of(site: Site, drainage: Drainage, settings: KeepClearSettings) -> tuple[Exclusion, ...]:
    """Return every exclusion that touches the parcel, in the order in which things were drawn."""
    found = [exclusion for feature in site.features for exclusion in _of_feature(feature, site, settings)]
    found += _sight_triangles(site, settings)
    found += _storing_ponds(site, drainage, settings)
    if settings.boundary > 0.0:
        edge = site.parcel.difference(site.parcel.buffer(-settings.boundary))
        found.append(_exclusion("Boundary", CODE, settings.boundary, edge, RAISED, site))
    return tuple(exclusion for exclusion in found if not exclusion.outline.is_empty)


def _exclusion(
    reason: str, source: str, distance: float, outline: BaseGeometry, uses: tuple[Use, ...], site: Site
) -> Exclusion:
    return Exclusion(reason, source, distance, polygons_of(outline.intersection(site.parcel)), uses)


def _of_feature(feature: Feature, site: Site, settings: KeepClearSettings) -> Iterator[Exclusion]:
    shape, name = feature.geometry, feature.name
    half = max(LEAST_HALF_WIDTH, (feature.width or 0.0) / 2.0)

    def keep(reason: str, source: str, distance: float, outline: BaseGeometry, uses: tuple[Use, ...]) -> Exclusion:
        return _exclusion(f"{reason} ({name})" if name else reason, source, distance, outline, uses, site)

    match feature.kind:
        case Kind.BUILDING:
            yield keep("Building", "stands there", 0.0, shape, ANYTHING)
            source = f"IRC R401.3: ground falls 6 in within 10 ft of a wall; {CODE}"
            yield keep("Fall away from walls", source, settings.house, shape.buffer(settings.house), PLANTED)
        case Kind.SEPTIC:
            source = f"extension services: edible crops 10 ft off the field, 20 is safer; {CODE}"
            yield keep("Septic field", source, 0.0, shape.buffer(LEAST_HALF_WIDTH), ANYTHING)
            yield keep("Beside the septic field", source, settings.septic, shape.buffer(settings.septic), PLANTED)
        case Kind.WELL:
            source = f"compost and manure 50 to 100 ft from a well, value from memory; {CODE}"
            yield keep("Well", source, settings.well, shape.buffer(settings.well), RAISED)
        case Kind.BURIED_LINE:
            source = "call before you dig; 24 in either side of the marks by hand, and 1 ft for the drawing"
            yield keep("Buried line", source, settings.buried_line, shape.buffer(settings.buried_line), PLANTED)
        case Kind.KEEP_CLEAR:
            yield keep("Keep clear", "drawn by you", 0.0, _with_width(shape, half), ANYTHING)
        case Kind.TREE:
            source = "soil over roots smothers them; common practice, no source"
            yield keep("Tree trunk", source, settings.trunk, shape.centroid.buffer(settings.trunk), PLANTED)
        case Kind.HEDGE:
            source = "room to cut it; common practice, no source"
            yield keep("Hedge", source, settings.hedge, _with_width(shape, half).buffer(settings.hedge), PLANTED)
        case Kind.WALL | Kind.KERB:
            yield keep("Wall", "stands there", 0.0, _with_width(shape, half), PLANTED)
        case Kind.WATER:
            source = f"common practice, no source; {CODE}"
            yield keep("Open water", "drawn by you", 0.0, _with_width(shape, half), ANYTHING)
            yield keep("Bank of open water", source, settings.water, shape.buffer(half + settings.water), RAISED)
        case Kind.DITCH:
            source = f"common practice, no source; {CODE}"
            yield keep("Ditch", "water must pass", half, shape.buffer(half), PLANTED)
            yield keep("Bank of a ditch", source, settings.water, shape.buffer(half + settings.water), RAISED)
        case Kind.CULVERT:
            source = "a mouth stays open; common practice, no source"
            ends = shapely.union_all([mouth.buffer(settings.culvert) for mouth in _ends(shape)])
            yield keep("Culvert mouth", source, settings.culvert, ends, PLANTED)
        case Kind.ROAD:
            yield from _of_road(feature, site, settings)
        case _:
            return


def _of_road(feature: Feature, site: Site, settings: KeepClearSettings) -> Iterator[Exclusion]:
    """Yield what a road keeps clear: a drive only its own width; one that passes by brings lead and salt."""
    half = max(LEAST_HALF_WIDTH, (feature.width or 3.0) / 2.0)
    surface = _with_width(feature.geometry, half)
    yield _exclusion(f"{feature.name} is driven on", "drawn by you", 0.0, surface, PLANTED, site)
    if not is_drive(feature, site):
        source = "soil 6 m from busy roads held 157 to 176 mg/kg of lead; test it, and mind salt spray"
        band = surface.buffer(settings.road)
        yield _exclusion(f"Road band ({feature.name})", source, settings.road, band, RAISED, site)


def is_drive(feature: Feature, site: Site) -> bool:
    """Tell whether a road lies mostly inside the parcel."""
    whole = feature.geometry.length
    return bool(whole > 0.0 and feature.geometry.intersection(site.parcel).length > 0.5 * whole)


def _sight_triangles(site: Site, settings: KeepClearSettings) -> Iterator[Exclusion]:
    """Yield the two clear corners where a drive leaves through a gate to a road."""
    leg = settings.sight_leg
    roads = [feature for feature in site.of_kind(Kind.ROAD) if not is_drive(feature, site)]
    for gate in site.of_kind(Kind.GATE):
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
            source = f"driveways want legs of 10 to 15 ft with nothing between 2 and 10 ft high; {CODE}"
            reason = f"Sight triangle ({gate.name})" if gate.name else "Sight triangle"
            yield _exclusion(reason, source, leg, corner, PLANTED, site)


def _posts(gate: Feature, site: Site) -> list[tuple[Point, tuple[float, float]]]:
    """Return both posts of a gate and, for each, the direction along the boundary that leads away from it."""
    ends = _ends(gate.geometry)
    if len(ends) < 2:
        ring = site.parcel.boundary
        at = ring.project(gate.geometry.centroid)
        half = (gate.width or 3.0) / 2.0
        ends = [ring.interpolate((at - half) % ring.length), ring.interpolate((at + half) % ring.length)]
    (a, b), length = ends, ends[0].distance(ends[1])
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
        reason = f"Hollow {pond.number} stores the storm" if pond.number else "This hollow stores the storm"
        yield _exclusion(reason, "filling it floods somebody else", 0.0, shore, RAISED, site)


def _with_width(shape: BaseGeometry, half: float) -> BaseGeometry:
    """Return an area as it is drawn, a line or point with its width."""
    return shape if shape.area > 0.0 else shape.buffer(half)


def _ends(shape: BaseGeometry) -> list[Point]:
    """Return the first and last point of a line, or the one point that there is."""
    points = shapely.points(shapely.get_coordinates(shape))
    return [points[0], points[-1]] if len(points) > 1 else list(points)
