"""Level lines, and the ticks of banks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.mapping.contours import area_between, lines_at
from sitepipe.mapping.frame import Frame, lines_of, polygons_of
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.relief import CLEAR_FROM, DrawnGround, sample
from sitepipe.site import Kind, Site
from sitepipe.terrain.smoothing import smoothed
from sitepipe.units import FOOT, INCH, Units

IMPERIAL_INTERVALS = tuple(n * INCH for n in (1, 2, 3, 6, 12, 24, 60, 120, 240))
METRIC_INTERVALS = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0)
MOST_LINES = 20
LEAST_CLOSED_RING = 7.0
"""Closed rings shorter than this say nothing. [m]"""
BANK = 0.2
"""Ground steeper than 1 in 5 is drawn as a bank. [m/m]"""
SHARP = 0.5
"""Standard deviation of the smoothing before banks are looked for. [m]"""
LEAST_BANK = 6.0
"""A smaller bank is not drawn. [m2]"""


@dataclass(frozen=True, slots=True)
class Datum:
    """What heights are counted from. ``height`` in m, ``name`` as people say it."""

    height: float
    name: str


def datum_of(site: Site, ground: DrawnGround) -> Datum:
    """Return the lower mouth of the first culvert, else the lowest ground of the parcel."""
    for feature in site.of_kind(Kind.CULVERT):
        found = [_height_at(ground, x, y) for x, y in shapely.get_coordinates(feature.geometry) if _is_near(site, x, y)]
        known = [height for height in found if np.isfinite(height)]
        if known:
            return Datum(min(known), "the culvert")
    inside = _in_parcel(site, ground)
    lowest = float(np.nanmin(inside)) if np.isfinite(inside).any() else 0.0
    return Datum(lowest, "the lowest ground")


def choose_interval(low: float, high: float, units: Units) -> float:
    """Return the first interval that gives at most 20 lines between two heights. [m].

    Examples
    --------
    >>> round(choose_interval(0.0, 1.6, Units.IMPERIAL) / INCH)
    6
    """
    for interval in IMPERIAL_INTERVALS if units is Units.IMPERIAL else METRIC_INTERVALS:
        if (high - low) / interval <= MOST_LINES:
            return interval
    return 25.0


def level_lines(site: Site, ground: DrawnGround, frame: Frame, units: Units) -> tuple[list[Drawn], str]:
    """Return the level lines of the parcel and its edge, with the sentence that says what they are."""
    inside = _in_parcel(site, ground)
    if not np.isfinite(inside).any():
        return [], "no heights here"
    low, high = float(np.nanmin(inside)), float(np.nanmax(inside))
    interval = choose_interval(low, high, units)
    datum = datum_of(site, ground)
    per_whole = _per_whole(interval, units)
    near = site.parcel.buffer(CLEAR_FROM)
    steep = bank_areas(site, ground)
    drawn: list[Drawn] = []
    for step in range(
        int(np.floor((low - datum.height) / interval)) - 2, int(np.ceil((high - datum.height) / interval)) + 3
    ):
        is_whole = step % per_whole == 0
        kind, label = ("level-whole", _said_height(step * interval, units)) if is_whole else ("level", "")
        for line in lines_at(ground.x, ground.y, ground.heights, datum.height + step * interval + 1e-6):
            if line.is_ring and line.length < LEAST_CLOSED_RING:
                continue
            slim = line.simplify(0.06)
            for mark, name, part in (
                (kind, label, slim.intersection(site.parcel)),
                (f"{kind}-beyond", "", slim.difference(site.parcel).difference(steep)),
            ):
                pieces = [frame.line(piece) for piece in lines_of(part.intersection(near)) if piece.length > 0.4]
                drawn += [Drawn(mark, line=pieces, name=name)] if pieces else []
    said = f"level lines every {_said_interval(interval, units)}, counted from {datum.name}"
    return drawn, said


def bank_areas(site: Site, ground: DrawnGround) -> BaseGeometry:
    """Return the ground near the parcel that is steeper than 1 in 5, seen a little sharper than the relief."""
    sharp = _sharp_heights(site, ground)
    southwards, eastwards = np.gradient(sharp, ground.cell)
    steepness = np.hypot(southwards, eastwards)
    area = area_between(ground.x, ground.y, steepness, BANK, least=LEAST_BANK)
    return area.intersection(site.parcel.buffer(CLEAR_FROM))


def banks(site: Site, ground: DrawnGround, frame: Frame) -> list[dict[str, Any]]:
    """Return the top edges of banks, each vertex with the way down to the foot."""
    slopes = np.gradient(_sharp_heights(site, ground), ground.cell)
    southwards, eastwards = np.asarray(slopes[0]), np.asarray(slopes[1])
    near = site.parcel.buffer(CLEAR_FROM - 0.1)
    drawn = []
    for bank in polygons_of(bank_areas(site, ground)):
        if bank.area >= LEAST_BANK:
            drawn += _bank_edges(bank, near, ground, (eastwards, -southwards), frame)
    return drawn


def _sharp_heights(site: Site, ground: DrawnGround) -> FloatArray:
    sampled = sample(site.elevation, site.grid, ground.x, ground.y)
    return smoothed(sampled, SHARP / ground.cell)


def _bank_edges(
    bank: Polygon, near: BaseGeometry, ground: DrawnGround, rise: tuple[FloatArray, FloatArray], frame: Frame
) -> list[dict[str, Any]]:
    ring = bank.simplify(0.2).exterior
    count = max(8, int(ring.length / 0.6))
    edges: list[dict[str, Any]] = []
    current: dict[str, Any] = {"top": [], "down": []}
    for k in range(count + 1):
        point = ring.interpolate(k / count, normalized=True)
        down = _way_down(bank, point.x, point.y, ground, rise) if near.contains(point) else None
        if down is None:
            if len(current["top"]) > 4:
                edges.append(current)
            current = {"top": [], "down": []}
            continue
        current["top"] += frame.place(point)
        current["down"] += [round(down[0], 2), round(down[1], 2)]
    if len(current["top"]) > 4:
        edges.append(current)
    return edges


def _way_down(
    bank: Polygon, x: float, y: float, ground: DrawnGround, rise: tuple[FloatArray, FloatArray]
) -> tuple[float, float] | None:
    row = int(np.clip((ground.north - y) / ground.cell, 0, ground.heights.shape[0] - 1))
    column = int(np.clip((x - ground.west) / ground.cell, 0, ground.heights.shape[1] - 1))
    east, north = -float(rise[0][row, column]), -float(rise[1][row, column])
    length = float(np.hypot(east, north))
    if not np.isfinite(length) or length < 1e-6:
        return None
    east, north = east / length, north / length
    reach = 0.0
    for distance in np.arange(0.4, 4.1, 0.4):
        if not bank.contains(shapely.Point(x + east * distance, y + north * distance)):
            break
        reach = float(distance)
    return (east * reach, north * reach) if reach >= 0.8 else None


def _is_near(site: Site, x: float, y: float) -> bool:
    return bool(site.parcel.distance(shapely.Point(x, y)) < CLEAR_FROM)


def _height_at(ground: DrawnGround, x: float, y: float) -> float:
    row = int((ground.north - y) / ground.cell)
    column = int((x - ground.west) / ground.cell)
    rows, columns = ground.heights.shape
    return float(ground.heights[row, column]) if 0 <= row < rows and 0 <= column < columns else float("nan")


def _in_parcel(site: Site, ground: DrawnGround) -> FloatArray:
    shapely.prepare(site.parcel)
    inside = shapely.contains_xy(site.parcel, *np.meshgrid(ground.x, ground.y))
    return np.where(inside, ground.heights, np.nan)


def _per_whole(interval: float, units: Units) -> int:
    if units is Units.IMPERIAL:
        return max(2, round(FOOT / interval)) if interval < FOOT * 0.99 else 5
    for whole in (0.1, 0.5, 1.0, 5.0, 10.0):
        if whole / interval > 1.9:
            return round(whole / interval)
    return 5


def _said_height(height: float, units: Units) -> str:
    if units is Units.IMPERIAL:
        return f"{round(height / FOOT):,}\u00a0ft".replace("-", "−")
    return f"{height:.1f}\u00a0m".replace("-", "−")


def _said_interval(interval: float, units: Units) -> str:
    if units is Units.IMPERIAL:
        inches = round(interval / INCH)
        return f"{inches // 12}\u00a0ft" if inches >= 12 else f"{inches}\u00a0in"
    return f"{round(interval)}\u00a0m" if interval >= 1.0 else f"{round(interval * 100)}\u00a0cm"
