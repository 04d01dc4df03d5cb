"""What stands on the ground already: the drawn features, and the lines of their roofs."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.ops import substring

from sitepipe.answers.where import called
from sitepipe.arrays import FloatArray
from sitepipe.mapping.frame import Frame, lines_of, long_axis, polygons_of
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.view import Desk
from sitepipe.site import Feature, Gate, Kind, Site

SMALL_ROOF = 40.0
"""A building up to this area has one ridge and no hips. [m2]"""
GROVE = 14.0
"""Like trees nearer than this to one another share one name. [m]"""
BEYOND = 30.0
"""Features are drawn to this distance from the parcel. [m]"""

_ORDER = (Kind.ROAD, Kind.WATER, Kind.BED, Kind.DITCH, Kind.CULVERT, Kind.HEDGE, Kind.WALL, Kind.BUILDING, Kind.TREE)
"""What the names of come first where there is no room for all."""


def standing_things(site: Site, frame: Frame) -> list[Drawn]:
    """Return the drawn features as marks."""
    near = site.parcel.buffer(BEYOND).envelope
    marks: list[Drawn] = []
    for feature in sorted(
        site.features, key=lambda f: (_ORDER.index(f.kind) if f.kind in _ORDER else len(_ORDER), f.number)
    ):
        if not feature.geometry.is_empty and feature.geometry.intersects(near):
            marks += _marks_of(feature, frame, site, near)
    marks.append(Drawn("boundary", area=frame.areas(site.parcel)))
    return _named_together(marks)


def buried_lines(desk: Desk) -> list[Drawn]:
    """Return the buried lines, which only the views of work show."""
    lines = desk.analysis.site.of_kind(Kind.BURIED_LINE)
    return [Drawn("buried", line=desk.frame.lines(f.geometry), thing=named(f)["thing"]) for f in lines]


def fixed_points(desk: Desk) -> list[Drawn]:
    """Return the points that tapes start from, which only the views of work show."""
    points = desk.analysis.site.of_kind(Kind.FIXED_POINT)
    return [Drawn("fixed-point", at=desk.frame.place(f.geometry.centroid), **named(f)) for f in points]


def _named_together(marks: list[Drawn]) -> list[Drawn]:
    """Name a group of like trees once, at the tree nearest its middle, and in the plural."""
    groups: list[list[Drawn]] = []
    for tree in (mark for mark in marks if mark.mark == "tree" and mark.at):
        for group in groups:
            if _root(group[0]) == _root(tree) and any(math.dist(tree.at, other.at) < GROVE for other in group):
                group.append(tree)
                break
        else:
            groups.append([tree])
    names: dict[int, str] = {}
    for group in (group for group in groups if len(group) > 1):
        middle = np.mean([tree.at for tree in group], axis=0)
        nearest = min(group, key=lambda tree: math.dist(tree.at, middle))
        names |= {id(tree): "" for tree in group}
        names[id(nearest)] = nearest.name if nearest.name.endswith("s") else f"{nearest.name}s"
    return [replace(mark, name=names[id(mark)]) if id(mark) in names else mark for mark in marks]


def _root(tree: Drawn) -> str:
    return tree.name.lower().rstrip("s")


def _marks_of(feature: Feature, frame: Frame, site: Site, near: Polygon) -> list[Drawn]:
    geometry, said = feature.geometry, named(feature)
    if isinstance(feature, Gate):
        return [Drawn("gate", line=[frame.line(feature.threshold(site.parcel))], **said)]
    match feature.kind:
        case Kind.BUILDING:
            return [mark for piece in polygons_of(geometry) for mark in _building(piece, frame, said)]
        case Kind.TREE:
            return _tree(feature, frame)
        case Kind.HEDGE:
            if list(polygons_of(geometry)):
                return [Drawn("hedge", area=frame.areas(geometry), **said)]
            half = feature.width / 2.0  # Its round ends stop where the line that was drawn does.
            rows = [
                substring(row, min(half, row.length / 3.0), -min(half, row.length / 3.0)) for row in lines_of(geometry)
            ]
            return [Drawn("hedge", line=[frame.line(row) for row in rows], half=round(half, 2), **said)]
        case Kind.ROAD:
            return [_road(feature, frame, site.parcel, near)]
        case Kind.WATER:
            return [Drawn("open-water", area=frame.areas(geometry), line=frame.lines(geometry), **said)]
        case Kind.BED:
            return [Drawn("bed", area=frame.areas(geometry), **said)]
        case Kind.TAP | Kind.WELL:
            return [Drawn(feature.kind.value, at=frame.place(geometry.centroid), **said)]
        case Kind.WALL | Kind.DITCH | Kind.CULVERT | Kind.KERB:
            return [Drawn(feature.kind.value, line=frame.lines(geometry), **said)]
        case _:
            return []


def named(feature: Feature) -> dict[str, Any]:
    """Return what every mark of a feature carries: its name, its kind where the user gave none, and its card."""
    return {"name": shown_name(feature), "thing": f"feature-{feature.number}"}


def shown_name(feature: Feature) -> str:
    """Return the name of a feature, its kind where the user gave none."""
    name = called(feature.name, feature.kind)
    return name[:1].upper() + name[1:]


def _building(piece: Polygon, frame: Frame, said: dict[str, Any]) -> list[Drawn]:
    roof = [frame.line(line) for line in roof_lines(piece)]
    return [
        Drawn("building", area=frame.areas(piece), **said),
        Drawn("ridge" if len(roof) == 1 else "roof", line=roof),
    ]


def _tree(feature: Feature, frame: Frame) -> list[Drawn]:
    said = named(feature)
    if isinstance(feature.geometry, Point):
        return [Drawn("tree", at=frame.place(feature.geometry), half=round(feature.width / 2.0, 2), **said)]
    marks = []
    for piece in polygons_of(feature.outline):
        if piece.area / max(piece.length, 1e-9) ** 2 > 0.06 and piece.area < 120.0:
            radius = round(math.sqrt(piece.area / math.pi), 2)
            marks.append(Drawn("tree", at=frame.place(piece.centroid), half=radius, **said))
        else:
            marks.append(Drawn("tree", area=frame.areas(piece), **said))
    return marks


def _road(feature: Feature, frame: Frame, parcel: shapely.Geometry, near: Polygon) -> Drawn:
    area, is_area = feature.outline, feature.geometry.area > 0.0
    shown = area.intersection(near)
    along = long_axis(shown) if is_area else feature.geometry.intersection(near)
    return Drawn(
        "drive" if shown.intersection(parcel).area > 0.5 * shown.area else "road",
        area=frame.areas(shown),
        line=frame.lines(area.boundary.intersection(near.buffer(-0.05))),
        axis=frame.lines(along)[0] if not along.is_empty else [],
        **named(feature),
    )


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
