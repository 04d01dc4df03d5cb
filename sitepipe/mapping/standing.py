"""What stands on the ground already: the drawn features, and the lines of their roofs."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon

from sitepipe.arrays import FloatArray
from sitepipe.mapping.frame import Frame, polygons_of, smooth_area
from sitepipe.mapping.words import called
from sitepipe.site import Feature, Gate, Kind, Site

SMALL_ROOF = 40.0
"""A building up to this area has one ridge and no hips. [m2]"""
GROVE = 14.0
"""Like trees nearer than this to one another share one name. [m]"""
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
        marks += _marks_of(feature, frame, site, near)
    marks.append({"mark": "boundary", "area": frame.areas(site.parcel)})
    return _named_together(marks)


def _named_together(marks: list[Mark]) -> list[Mark]:
    """Name a group of like trees once, at the tree nearest its middle, and in the plural."""
    groups: list[list[Mark]] = []
    for tree in (mark for mark in marks if mark["mark"] == "tree"):
        for group in groups:
            if _root(group[0]["name"]) == _root(tree["name"]) and any(_gap(tree, other) < GROVE for other in group):
                group.append(tree)
                break
        else:
            groups.append([tree])
    for group in (group for group in groups if len(group) > 1):
        middle = np.mean([tree["at"] for tree in group], axis=0)
        nearest = min(group, key=lambda tree: float(np.hypot(*(np.array(tree["at"]) - middle))))
        name = nearest["name"]
        for tree in group:
            tree["name"] = ""
        nearest["name"] = name if name.endswith("s") else f"{name}s"
    return marks


def _root(name: str) -> str:
    return name.lower().rstrip("s")


def _gap(first: Mark, second: Mark) -> float:
    return float(np.hypot(first["at"][0] - second["at"][0], first["at"][1] - second["at"][1]))


def _marks_of(feature: Feature, frame: Frame, site: Site, near: Polygon) -> list[Mark]:
    named = {"name": shown_name(feature), "thing": f"feature-{feature.number}"}
    geometry = feature.geometry
    if isinstance(feature, Gate):
        return [{"mark": "gate", "line": [frame.line(feature.threshold(site.parcel))]} | named]
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
            return [_road(feature, frame, site.parcel, near) | named]
        case Kind.WATER:
            return [{"mark": "open-water", "area": frame.areas(geometry), "line": frame.lines(geometry)} | named]
        case Kind.BED:
            return [{"mark": "bed", "area": frame.areas(geometry)} | named]
        case Kind.TAP | Kind.WELL | Kind.FIXED_POINT:
            middle = geometry.centroid
            return [{"mark": feature.kind.value.replace(" ", "-"), "at": frame.place(middle)} | named]
        case Kind.WALL | Kind.DITCH | Kind.CULVERT | Kind.KERB:
            return [{"mark": feature.kind.value, "line": frame.lines(geometry)} | named]
        case _:
            return []


def shown_name(feature: Feature) -> str:
    """Return the name of a feature, its kind where the user gave none."""
    name = called(feature.name, feature.kind)
    return name[:1].upper() + name[1:]


def _tree(feature: Feature, frame: Frame, named: Mark) -> list[Mark]:
    if isinstance(feature.geometry, Point):
        return [{"mark": "tree", "at": frame.place(feature.geometry), "radius": feature.width / 2.0} | named]
    marks: list[Mark] = []
    for piece in polygons_of(feature.geometry):
        if piece.area / max(piece.length, 1e-9) ** 2 > 0.06 and piece.area < 120.0:
            radius = float(np.sqrt(piece.area / np.pi))
            marks.append({"mark": "tree", "at": frame.place(piece.centroid), "radius": round(radius, 2)} | named)
        else:
            marks.append({"mark": "crowns", "area": frame.areas(piece)} | named)
    return marks


def _hedge(feature: Feature, frame: Frame, named: Mark) -> list[Mark]:
    return [{"mark": "hedge", "area": frame.areas(feature.outline), "line": frame.lines(feature.geometry)} | named]


def _road(feature: Feature, frame: Frame, parcel: shapely.Geometry, near: Polygon) -> Mark:
    is_area, area = feature.geometry.area > 0.0, feature.outline
    edges = area.boundary
    shown = area.intersection(near)
    inner = near.buffer(-0.05)
    along = _middle_line(shown) if is_area else feature.geometry.intersection(near)
    return {
        "mark": "drive" if shown.intersection(parcel).area > 0.5 * shown.area else "road",
        "area": frame.areas(shown),
        "line": frame.lines(edges.intersection(inner)),
        "along": frame.lines(along)[0] if not along.is_empty else [],
    }


def _middle_line(area: shapely.Geometry) -> LineString:
    """Return the long axis of an area, for its name."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(area).exterior)[:4]
    if np.linalg.norm(corners[1] - corners[0]) < np.linalg.norm(corners[2] - corners[1]):
        corners = np.roll(corners, -1, axis=0)
    return LineString([(corners[0] + corners[3]) / 2.0, (corners[1] + corners[2]) / 2.0])


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
        lines += [_wing_ridge(wing, main) for wing in rest[:2]]
        inner = building.buffer(-0.05)
        clipped = [line.intersection(inner) for line in lines]
        return [line for line in clipped if isinstance(line, LineString) and not line.is_empty]
    return []


def _wing_ridge(wing: Polygon, main: Polygon) -> LineString:
    """Run a wing's ridge from its far end half into the main roof."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(wing).exterior)[:-1]
    edges = [(corners[k], corners[(k + 1) % 4]) for k in range(4)]
    far = max(edges, key=lambda edge: float(main.distance(Point((edge[0] + edge[1]) / 2.0))))
    start = (far[0] + far[1]) / 2.0
    middle = shapely.get_coordinates(wing.centroid)[0]
    return LineString([start, middle + (middle - start) * 1.2])


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
