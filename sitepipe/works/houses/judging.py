"""How a place for a hoop house fares by each criterion, and what decides against one."""

from __future__ import annotations

import math

import numpy as np
from shapely import Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Kind, Ref, Site
from sitepipe.works.houses.footprints import level_score
from sitepipe.works.houses.ground import Ban, Wish
from sitepipe.works.houses.record import Fault, FaultKind, HouseCriterion, PlaceScore, Refusal
from sitepipe.works.houses.ridge import direction_score
from sitepipe.works.houses.search import STEPS_ACROSS, Place, lattice_box
from sitepipe.works.land import Land
from sitepipe.works.obstacles import SOLID

MOST_FAULTS = 2
"""Reasons that are told against one place, what decides first."""


def judge(place: Place, land: Land, wishes: tuple[Wish, ...]) -> tuple[PlaceScore, ...]:
    """Score one place by every criterion."""
    return tuple(_score(wish, place, land) for wish in wishes)


def total_score(scores: tuple[PlaceScore, ...], wishes: tuple[Wish, ...]) -> float:
    """Weighted geometric mean of the scores. [1]."""
    weight = sum(wish.weight for wish in wishes)
    return float(np.prod([one.score ** (wish.weight / weight) for one, wish in zip(scores, wishes, strict=True)]))


def _score(wish: Wish, place: Place, land: Land) -> PlaceScore:
    own, site = land.settings.hoop_house, land.site
    x, y = lattice_points(place, site.grid)
    match wish.criterion:
        case HouseCriterion.LEVEL:
            grade = plane_grade(*_middles(site.grid, x, y), _sample(site.elevation, site.grid, x, y))
            return PlaceScore(wish.criterion, level_score(grade, own.steepest), grade)
        case HouseCriterion.ACCESS:
            middle = _sample(wish.layer, site.grid, np.array(place.x), np.array(place.y))
            _, far, way_in = door_of(place, site)
            return PlaceScore(wish.criterion, float(middle), far, way_in)
        case HouseCriterion.ROOM:
            clear, nearest = clear_room(place, site)
            return PlaceScore(wish.criterion, _room_score(clear, land.settings), clear, nearest)
        case HouseCriterion.DIRECTION:
            return PlaceScore(wish.criterion, direction_score(place.bearing, site, land.settings), place.bearing)
        case _:
            measured = None if wish.measured is None else float(np.nanmean(_sample(wish.measured, site.grid, x, y)))
            return PlaceScore(wish.criterion, float(_sample(wish.layer, site.grid, x, y).mean()), measured)


def refuse(place: Place, land: Land, wishes: tuple[Wish, ...], banned: tuple[Ban, ...], kept: BaseGeometry) -> Refusal:
    """Say what decides against a place; no fault where nothing does."""
    own, outline = land.settings.hoop_house, place.outline
    by_criterion = {one.criterion: (one, wish) for one, wish in zip(judge(place, land, wishes), wishes, strict=True)}
    faults = []
    grade = by_criterion[HouseCriterion.LEVEL][0].measured if HouseCriterion.LEVEL in by_criterion else None
    if grade is not None and grade >= own.steepest:
        faults.append(Fault(FaultKind.STEEP, measured=grade))
    met = [(float(ban.outline.intersection(outline).area), index) for index, ban in enumerate(banned)]
    faults += [banned[index].fault for area, index in sorted(met, key=lambda one: (-one[0], one[1])) if area > 0.0]
    if not kept.covers(outline):
        faults.append(Fault(FaultKind.BOUNDARY, measured=own.boundary))
    clear, nearest = clear_room(place, land.site)
    if clear < own.room:
        faults.append(Fault(FaultKind.NO_ROOM, nearest, measured=clear))
    faults += [
        Fault(FaultKind.POOR, criterion=one.criterion, measured=one.measured)
        for one, wish in by_criterion.values()
        if one.score < wish.least
    ]
    sun = next((one.measured for one, _ in by_criterion.values() if one.criterion is HouseCriterion.SHOULDER_SUN), None)
    once = tuple(fault for index, fault in enumerate(faults) if fault not in faults[:index])
    return Refusal(Point(place.x, place.y), sun, once[:MOST_FAULTS])


def lattice_points(place: Place, grid: Grid) -> tuple[FloatArray, FloatArray]:
    """Return the points that the search samples inside a rectangle. [m]."""
    step = min(grid.cell, place.width / STEPS_ACROSS)
    along, across = (int(count) for count in lattice_box((place.length, place.width), step))
    forward = ((np.arange(along) - (along - 1) / 2.0) * step)[:, None]
    sideways = ((np.arange(across) - (across - 1) / 2.0) * step)[None, :]
    sine, cosine = np.sin(np.radians(place.bearing)), np.cos(np.radians(place.bearing))
    return place.x + forward * sine + sideways * cosine, place.y + forward * cosine - sideways * sine


def _middles(grid: Grid, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return the middles of the cells that points lie in: a height is the height there, and not at the point. [m]."""
    east = grid.west + (np.floor((x - grid.west) / grid.cell) + 0.5) * grid.cell
    north = grid.north - (np.floor((grid.north - y) / grid.cell) + 0.5) * grid.cell
    return east, north


def plane_grade(x: FloatArray, y: FloatArray, height: FloatArray) -> float:
    """Rise per run of the plane that fits heights best; unknown ones are left out. [1]."""
    known = np.isfinite(height)
    if known.sum() < 3:
        return 0.0
    east, north, up = x[known], y[known], height[known]
    terms = np.column_stack([east - east.mean(), north - north.mean(), np.ones(east.size)])
    solution = np.linalg.lstsq(terms, up - up.mean(), rcond=None)[0]
    return float(np.hypot(solution[0], solution[1]))


def clear_room(place: Place, site: Site) -> tuple[float, Ref | None]:
    """Distance to the nearest solid thing [m], and which it is."""
    outline = place.outline
    near = [(float(thing.footprint.distance(outline)), thing.ref) for thing in site.of_kind(*SOLID)]
    return min(near, default=(math.inf, None), key=lambda one: one[0])


def door_of(place: Place, site: Site) -> tuple[Point, float | None, Ref | None]:
    """Return the middle of the end that lies nearer to gate or drive, how far that is [m], and which it is."""
    ways = [(gate.ref, gate.geometry) for gate in site.of_kind(Kind.GATE)]
    ways += [(road.ref, road.footprint.intersection(site.parcel)) for road in site.of_kind(Kind.ROAD)]
    found = [
        (float(shape.distance(end)), index, ref, end)
        for ref, shape in ways
        for index, end in enumerate(place.ends)
        if not shape.is_empty
    ]
    if not found:
        return place.ends[0], None, None
    far, _, ref, end = min(found, key=lambda one: one[:2])
    return end, far, ref


def _room_score(clear: float, settings: Settings) -> float:
    least, better = settings.hoop_house.room, max(settings.hoop_house.better_room, settings.hoop_house.room)
    if clear < least:
        return 0.0
    return 1.0 if clear >= better else 0.75 if clear >= (least + better) / 2.0 else 0.5


def _sample(values: FloatArray | None, grid: Grid, x: FloatArray, y: FloatArray) -> FloatArray:
    """Value of the cell that each place lies in, of the nearest cell beyond the edge."""
    rows = np.clip(np.floor((grid.north - y) / grid.cell).astype(np.int64), 0, grid.rows - 1)
    columns = np.clip(np.floor((x - grid.west) / grid.cell).astype(np.int64), 0, grid.columns - 1)
    return np.zeros(rows.shape) if values is None else np.asarray(values[rows, columns])
