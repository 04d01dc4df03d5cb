"""What stands on the ground already: the drawn features, and the lines of their roofs."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from sitepipe.arrays import FloatArray
from sitepipe.mapping.frame import Frame, lines_of, polygons_of, smooth_area
from sitepipe.site import Feature, Kind, Site

SMALL_ROOF = 40.0
"""A building up to this area has one ridge and no hips. [m2]"""
CROWN, HEDGE = 4.0, 1.2
"""Widths drawn where none was given. [m]"""
BEYOND = 30.0
"""Features are drawn to this distance from the parcel. [m]"""

Mark = dict[str, Any]


def standing_things(site: Site, frame: Frame) -> list[Mark]:
    """Return the drawn features as marks, in drawing order: what lies below comes first."""
    near = site.parcel.buffer(BEYOND).envelope
    order = {
        Kind.ROAD: 0,
        Kind.WATER: 1,
        Kind.BED: 2,
        Kind.DITCH: 3,
        Kind.CULVERT: 4,
        Kind.HEDGE: 5,
        Kind.WALL: 6,
        Kind.BUILDING: 7,
        Kind.TREE: 8,
    }
    marks: list[Mark] = []
    for feature in sorted(site.features, key=lambda f: (order.get(f.kind, 9), f.number)):
        if feature.geometry.is_empty or not feature.geometry.intersects(near):
            continue
        marks += _marks_of(feature, frame, near)
    marks.append({"mark": "boundary", "area": frame.areas(site.parcel)})
    return marks


def _marks_of(feature: Feature, frame: Frame, near: Polygon) -> list[Mark]:
    named = {"name": shown_name(feature), "thing": f"feature-{feature.number}"}
    geometry = feature.geometry
    match feature.kind:
        case Kind.BUILDING:
            return [
                {"mark": "building", "area": frame.areas(piece), "roof": [frame.line(r) for r in roof_lines(piece)]}
                | named
                for piece in polygons_of(geometry)
            ]
        case Kind.TREE:
            return _tree(feature, frame, named)
        case Kind.HEDGE:
            return _hedge(feature, frame, named)
        case Kind.ROAD:
            return [_road(feature, frame, near) | named]
        case Kind.WATER:
            return [{"mark": "open-water", "area": frame.areas(geometry), "line": frame.lines(geometry)} | named]
        case Kind.BED:
            return [{"mark": "bed", "area": frame.areas(geometry)} | named]
        case Kind.GATE:
            return [{"mark": "gate", "line": [frame.line(_gate(geometry))]} | named]
        case Kind.TAP | Kind.WELL | Kind.FIXED_POINT:
            middle = geometry.centroid
            return [{"mark": feature.kind.value.replace(" ", "-"), "at": frame.place(middle)} | named]
        case Kind.WALL | Kind.DITCH | Kind.CULVERT | Kind.KERB:
            return [{"mark": feature.kind.value, "line": frame.lines(geometry)} | named]
        case _:
            return []


def shown_name(feature: Feature) -> str:
    """Return the name of a feature, its kind where the user gave none."""
    name = feature.name.strip() or feature.kind.value
    return name[:1].upper() + name[1:]


def _tree(feature: Feature, frame: Frame, named: Mark) -> list[Mark]:
    if isinstance(feature.geometry, Point):
        return [{"mark": "tree", "at": frame.place(feature.geometry), "radius": (feature.width or CROWN) / 2.0} | named]
    marks: list[Mark] = []
    for piece in polygons_of(feature.geometry):
        if piece.area / max(piece.length, 1e-9) ** 2 > 0.06 and piece.area < 120.0:
            radius = float(np.sqrt(piece.area / np.pi))
            marks.append({"mark": "tree", "at": frame.place(piece.centroid), "radius": round(radius, 2)} | named)
        else:
            marks.append({"mark": "crowns", "area": frame.areas(piece)} | named)
    for line in lines_of(feature.geometry) if not marks else ():
        marks.append({"mark": "crowns", "area": frame.areas(line.buffer((feature.width or CROWN) / 2.0))} | named)
    return marks


def _hedge(feature: Feature, frame: Frame, named: Mark) -> list[Mark]:
    geometry = feature.geometry
    if list(polygons_of(geometry)):
        return [{"mark": "hedge", "area": frame.areas(geometry), "line": []} | named]
    band = geometry.buffer((feature.width or HEDGE) / 2.0)
    return [{"mark": "hedge", "area": frame.areas(band), "line": frame.lines(geometry)} | named]


def _road(feature: Feature, frame: Frame, near: Polygon) -> Mark:
    pieces = list(polygons_of(feature.geometry))
    if pieces:
        area = shapely.union_all(pieces)
        edges = area.boundary
    else:
        half = (feature.width or 3.0) / 2.0
        area = feature.geometry.buffer(half, cap_style="flat")
        edges = area.boundary
    shown = area.intersection(near)
    inner = near.buffer(-0.05)
    return {"mark": "road", "area": frame.areas(shown), "line": frame.lines(edges.intersection(inner))}


def _gate(geometry: shapely.Geometry) -> LineString:
    lines = list(lines_of(geometry))
    if lines:
        return lines[0]
    middle = geometry.centroid
    return LineString([(middle.x - 1.5, middle.y), (middle.x + 1.5, middle.y)])


def roof_lines(building: Polygon) -> list[LineString]:
    """Return ridges and hips of a roof over a plain or an L-shaped plan; nothing for any other plan.

    A drawing convention, not a survey of the roof.
    """
    corners = shapely.get_coordinates(building.simplify(0.3).exterior)[:-1]
    if len(corners) == 4:
        return _roof_over(corners, has_hips=building.area > SMALL_ROOF)
    if 5 <= len(corners) <= 10:
        main = _largest_rectangle(building)
        rest = [piece for piece in polygons_of(building.difference(main.buffer(0.05))) if piece.area > 6.0]
        lines = _roof_over(shapely.get_coordinates(main.exterior)[:-1], has_hips=True)
        for wing in rest[:2]:
            box = shapely.minimum_rotated_rectangle(wing)
            ridge = _roof_over(shapely.get_coordinates(box.exterior)[:-1], has_hips=False)
            lines += [line.intersection(building.buffer(-0.2)) for line in ridge]
        return [line for line in lines if isinstance(line, LineString) and not line.is_empty]
    return []


def _roof_over(corners: FloatArray, *, has_hips: bool) -> list[LineString]:
    first = np.linalg.norm(corners[1] - corners[0])
    if first < np.linalg.norm(corners[2] - corners[1]):
        corners = np.roll(corners, -1, axis=0)
    a, b, c, d = corners  # a-b and c-d are the long sides
    start, end = (a + d) / 2.0, (b + c) / 2.0
    along = end - start
    length, depth = float(np.linalg.norm(along)), float(np.linalg.norm(d - a))
    if length < 1e-6:
        return []
    if not has_hips:
        return [LineString([start, end])]
    inset = along / length * min(depth / 2.0, length * 0.48)
    near, far = start + inset, end - inset
    return [LineString(pair) for pair in ((near, far), (a, near), (d, near), (b, far), (c, far))]


def _largest_rectangle(building: Polygon) -> Polygon:
    """Try a rectangle on each wall, as deep as the building lets it be, and return the largest."""
    best = Polygon()
    corners = shapely.get_coordinates(building.simplify(0.3).exterior)[:-1]
    inside = building.buffer(0.45)
    for k in range(len(corners)):
        a, b = corners[k], corners[(k + 1) % len(corners)]
        length = float(np.linalg.norm(b - a))
        if length < 2.0:
            continue
        normal = np.array([-(b - a)[1], (b - a)[0]]) / length
        for side in (normal, -normal):
            for depth in np.arange(2.0, 15.1, 0.5):
                rectangle = Polygon([a, b, b + side * depth, a + side * depth])
                if not inside.contains(rectangle):
                    break
                if rectangle.area > best.area:
                    best = rectangle
    return best


def hatched(geometry: shapely.Geometry, frame: Frame, tolerance: float) -> list[list[list[float]]]:
    """Return the areas of something drawn by the program, its cell steps cut away."""
    return frame.areas(smooth_area(geometry, tolerance) if isinstance(geometry, Polygon | MultiPolygon) else geometry)
