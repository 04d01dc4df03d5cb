"""Set the kinds of a bed out one by one, mixed, and say what ground is left beside it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TypeAlias

import numpy as np
import numpy.typing as npt
import shapely
from shapely import LineString, MultiPolygon, Point, Polygon
from shapely.affinity import rotate
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from sitepipe.arrays import FloatArray
from sitepipe.planting.palette import Plant
from sitepipe.site import Kind, Site
from sitepipe.terrain.outline import polygons_of
from sitepipe.works.record import Plan

Outline: TypeAlias = Polygon | MultiPolygon
Planted: TypeAlias = "list[tuple[Plant, Point]]"

WOODY = ("canopy", "shrub")
FLOOR = ("edging", "ground cover")
"""Layers that stand under shrubs; a herb keeps its room from them as from any other."""
MOST_CANDIDATES = 6_000
"""Places that are tried in one bed: a plant more or less is decided by a hand's breadth."""
FINEST = 0.05
"""Step between the places that are tried. [m]"""
TRUNK_ROOM = 0.3
"""Between what covers the ground and the stem of a shrub above it. Common practice, no source. [m]"""
RUNS_TO = 1.0
"""Between a herb that runs and one that does not, for a cut edge: trade notes, common practice. [m]"""
ON_EDGE = 0.3
"""Width of the strip in which edging stands. Common practice, no source. [m]"""
HALVINGS = 24
"""Of a bed's half width, until its area is right to a handful."""


def set_out(
    groups: Sequence[Sequence[tuple[Plant, int]]],
    outline: Outline,
    setback: float,
    supports: Sequence[LineString] = (),
    is_south: bool = False,
) -> Planted:
    """Set plants out in a bed, mixed, so that each keeps its room.

    The largest stand first, tall ones to the pole's side of the bed, where their shadow leaves it soonest; kinds of a
    layer take turns. Two plants keep the mean of their spacings; what covers the ground stands around the stems of
    shrubs, edging along the edge, climbers along their supports; herbs that run gather at one end.

    Parameters
    ----------
    groups : sequence of sequences of (plant, count)
        Each with its spacing; in every layer those of the first group find their place first.
    outline : polygon
        Ground that may be planted. [m]
    setback : float
        Least distance from a plant to the edge; half its own spacing where the ground is wide enough. [m]
    supports : sequence of line
        Trellises and arches. [m]
    is_south : bool
        Whether the bed lies south of the equator.

    Returns
    -------
    list of (plant, place)
        As many of each as find room. [m]

    Examples
    --------
    >>> from shapely import box
    >>> plant = Plant("Nova inventa", "new thing", in_row=1.0)
    >>> len(set_out([[(plant, 9)]], box(0, 0, 2, 1), 0.15))
    2
    """
    ground = _candidates(outline)
    depth = shapely.distance(shapely.points(ground), outline.boundary)
    northward = -ground[:, 1] if is_south else ground[:, 1]
    widest = float(depth.max(initial=0.0))
    placed: list[tuple[Plant, Point]] = []
    turn = math.radians(long_way(outline))
    along = ground @ np.array([math.cos(turn), math.sin(turn)])
    lengthwise = np.argsort(along, kind="stable")
    stations = along[lengthwise]
    poleward, sunward, endward = (_first(order) for order in (northward, -northward, -along))
    around = None
    plants = _in_turn(groups)
    reach = max([RUNS_TO, *(math.sqrt(plant.room) for plant in plants)])
    stems, woody, low = (np.full(len(ground), np.inf) for _ in range(3))
    herbs = {runs: np.full(len(ground), np.inf) for runs in (False, True)}
    for plant in plants:
        half = math.sqrt(plant.room) / 2.0
        if plant.layer == "edging":
            free = (depth >= min(setback, widest / 2.0)) & (depth <= setback + ON_EDGE)
        else:
            free = depth >= max(setback, min(half, widest / 2.0))
        free &= low >= half
        free &= (stems >= TRUNK_ROOM) if plant.layer in FLOOR else (woody >= half)
        if plant.layer == "herb":
            free &= herbs[not plant.runs] >= RUNS_TO
        if not free.any():
            continue
        order = poleward if plant.layer in WOODY else sunward
        if plant.layer == "ground cover" and np.isfinite(stems).all():
            around = order = _first(-stems) if around is None else around
        elif plant.layer == "herb" and plant.runs:
            order = endward
        cell = int(order[np.argmax(free[order])])
        placed.append((plant, Point(ground[cell])))
        if plant.layer in WOODY:
            away = np.hypot(*(ground - ground[cell]).T)
            np.minimum(stems, away, out=stems)
            np.minimum(woody, away - half, out=woody)
            continue
        # Low plants keep others off no farther than this.
        near = lengthwise[slice(*np.searchsorted(stations, (along[cell] - reach, along[cell] + reach)))]
        away = np.hypot(*(ground[near] - ground[cell]).T)
        low[near] = np.minimum(low[near], away - half)
        if plant.layer == "herb":
            herbs[plant.runs][near] = np.minimum(herbs[plant.runs][near], away)
    return placed + _along([climber for group in groups for climber in group], supports)


def _first(order: FloatArray) -> npt.NDArray[np.intp]:
    """Return the numbers of places, the highest in an order first."""
    return np.argsort(-np.round(order, 6), kind="stable")


def _in_turn(groups: Sequence[Sequence[tuple[Plant, int]]]) -> list[Plant]:
    """Return the plants one by one: the highest layer first, its widest kinds first, kinds of a layer taking turns."""
    layers = (*WOODY, "edging", "herb", "ground cover")
    turns: list[tuple[int, int, int, float, str, Plant]] = []
    for rank, group in enumerate(groups):
        for plant, count in group:
            if plant.layer in layers and plant.room > 0.0:
                layer = layers.index(plant.layer)
                turns.extend((layer, rank, turn, -plant.room, plant.latin, plant) for turn in range(count))
    return [turn[-1] for turn in sorted(turns, key=lambda turn: turn[:5])]


def _along(wanted: Sequence[tuple[Plant, int]], supports: Sequence[LineString]) -> list[tuple[Plant, Point]]:
    """Set climbers along their supports, end to end."""
    placed: list[tuple[Plant, Point]] = []
    at, lines = 0.0, list(supports)
    for plant, count in wanted:
        if plant.layer != "climber" or not plant.in_row:
            continue
        for _ in range(count):
            while lines and at + plant.in_row > lines[0].length + 1e-9:
                lines.pop(0)
                at = 0.0
            if not lines:
                return placed
            placed.append((plant, lines[0].interpolate(at + plant.in_row / 2.0)))
            at += plant.in_row
    return placed


def _candidates(outline: Outline) -> FloatArray:
    """Places in a piece of ground, on a triangular lattice along its long side. (places, 2) [m]."""
    step = max(FINEST, math.sqrt(outline.area / MOST_CANDIDATES)) if outline.area > 0.0 else FINEST
    turn = math.radians(long_way(outline))
    along, across = np.array([math.cos(turn), math.sin(turn)]), np.array([-math.sin(turn), math.cos(turn)])
    corners = shapely.get_coordinates(outline)
    if not len(corners):
        return np.empty((0, 2))
    u = np.arange((corners @ along).min(), (corners @ along).max() + step, step)
    v = np.arange((corners @ across).min(), (corners @ across).max() + step, step * math.sqrt(0.75))
    grid_u, grid_v = np.meshgrid(u, v)
    grid_u[1::2] += step / 2.0
    places = grid_u.ravel()[:, None] * along + grid_v.ravel()[:, None] * across
    shapely.prepare(outline)
    return np.asarray(places[shapely.contains_xy(outline, places)], dtype=np.float64)


def bed_beside(ground: Outline, start: Point, area: float) -> Outline:
    """Return the part of some ground that a square bed around a place covers, grown until it is large enough.

    Parameters
    ----------
    ground : polygon
        [m]
    start : point
        In it or on its edge, such as where a path comes nearest.
    area : float
        That the bed is to have. [m2]

    Returns
    -------
    polygon
        One piece, its straight sides along the ground's long side; all of the piece at the start if that is too small.

    Examples
    --------
    >>> from shapely import Point, box
    >>> bed_beside(box(0, 0, 10, 4), Point(0, 2), 12.0).bounds
    (0.0, 0.0, 3.0, 4.0)
    """
    turn = long_way(ground)
    west, south, east, north = ground.bounds
    low, high = 0.0, math.hypot(east - west, north - south) + 1.0
    if _piece(ground, start, turn, high).area <= area:
        return _piece(ground, start, turn, high)
    for _ in range(HALVINGS):
        half = (low + high) / 2.0
        if _piece(ground, start, turn, half).area < area:
            low = half
        else:
            high = half
    return polygons_of(shapely.set_precision(_piece(ground, start, turn, high), 1e-4))


def _piece(ground: Outline, start: Point, turn: float, half: float) -> Outline:
    square = rotate(shapely.box(start.x - half, start.y - half, start.x + half, start.y + half), turn, origin=start)
    parts = shapely.get_parts(polygons_of(ground.intersection(square)))
    return min(parts, key=lambda part: (round(float(part.distance(start)), 6), -part.area), default=Polygon())


def cut_across(ground: Outline, count: int) -> list[Outline]:
    """Return some ground cut across its long side in parts of equal length, the first in the west or south.

    Examples
    --------
    >>> from shapely import box
    >>> [part.bounds for part in cut_across(box(0, 0, 8, 1), 2)]
    [(0.0, 0.0, 4.0, 1.0), (4.0, 0.0, 8.0, 1.0)]
    """
    if count < 2:
        return [ground]
    turn = long_way(ground)
    level = rotate(ground, -turn, origin=(0.0, 0.0))
    west, south, east, north = level.bounds
    sides = np.linspace(west, east, count + 1)
    parts = [level.intersection(shapely.box(a, south, b, north)) for a, b in pairwise(sides)]
    return [polygons_of(shapely.set_precision(rotate(part, turn, origin=(0.0, 0.0)), 1e-4)) for part in parts]


def long_way(ground: Outline) -> float:
    """Direction of the longest side of the ground's tightest box, against the clock from east. [deg]."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(ground))
    if len(corners) < 4:
        return 0.0
    sides = [corners[k + 1] - corners[k] for k in (0, 1)]
    across, up = max(sides, key=lambda side: round(math.hypot(*side), 6))
    return math.degrees(math.atan2(up, across)) % 180.0


def start_of(ground: Outline, site: Site, plan: Plan) -> Point:
    """Return where one comes to some ground first: from a path of the plan, else from a gate, else its middle."""
    ways: list[BaseGeometry] = [path.outline for path in plan.paths]
    ways = ways or [gate.geometry for gate in site.of_kind(Kind.GATE)]
    if not ways:
        return ground.representative_point()
    return nearest_points(ground, shapely.union_all(ways))[0]
