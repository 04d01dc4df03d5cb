"""Roof water: how much a roof sheds, and where it runs from there."""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon, Point, Polygon

from sitepipe.drainage.record import Drainage
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site
from sitepipe.units import compass_word, say_distance
from sitepipe.works.obstacles import inside

PLAIN_STORMS = (0.025, 0.05)
"""Rain counted where the drainage followed no storm. [m]"""


def roof_water(length: float, width: float, rain: float) -> float:
    """Water that a roof sheds: its plan area times the rain. [m3].

    Examples
    --------
    >>> round(roof_water(12.0, 6.0, 0.025), 6)
    1.8
    """
    return length * width * rain


def water_by_storm(length: float, width: float, drainage: Drainage) -> tuple[tuple[float, float], ...]:
    """Return (rain m, roof water m3) for each storm, the smallest first."""
    rains = sorted({storm.rain_depth for storm in drainage.storms} or PLAIN_STORMS)
    return tuple((rain, roof_water(length, width, rain)) for rain in rains)


def where_water_goes(site: Site, drainage: Drainage, outline: Polygon, settings: Settings) -> str:
    """Follow the water from the lowest ground beside an outline and say where it comes to.

    It ends in the first hollow, ditch or water, or where it leaves the parcel, whichever comes first.
    """
    grid = site.grid
    ring = inside(outline.buffer(1.5 * grid.cell + 0.5), grid.x, grid.y) & np.isfinite(site.elevation)
    candidates = np.flatnonzero(ring)
    if candidates.size == 0:
        return "Where its water runs is not known: no heights there."
    cell = int(candidates[np.argmin(drainage.heights.ravel()[candidates])])
    receiver, pond_at = drainage.receiver.ravel(), drainage.pond_at.ravel()
    drains = [(feature, feature.footprint) for feature in site.of_kind(Kind.DITCH, Kind.WATER)]
    start = cell
    while True:
        x, y = grid.centre(*divmod(cell, grid.columns))
        far = say_distance(_apart(grid.centre(*divmod(start, grid.columns)), (x, y)), settings.units)
        pond = int(pond_at[cell])
        if pond >= 0 and drainage.ponds[pond].number > 0:
            return (
                f"It runs to hollow {drainage.ponds[pond].number}, {far} away: "
                "lead it past the beds in a grassed swale, or keep it in a barrel."
            )
        for feature, ground in drains:
            if ground.buffer(grid.cell).covers(Point(x, y)):
                return f"It runs to {feature.name}, {far} away; ask whose it is before you lead more water in."
        if not site.parcel.covers(Point(x, y)) and cell != start:
            side = compass_word(outward(site.parcel, x, y))
            return (
                f"It leaves over the {side} boundary, {far} away: keep it in barrels or a soakaway,"
                f" so that no neighbour gets more water than before."
            )
        onward = int(receiver[cell])
        if onward < 0:
            return f"It leaves the surveyed ground {far} away; what lies below is not known."
        cell = onward


def outward(parcel: Polygon | MultiPolygon, x: float, y: float) -> float:
    """Bearing square to the boundary, outwards, where it lies nearest to a place. [deg].

    Examples
    --------
    >>> from shapely import box
    >>> outward(box(0.0, 0.0, 10.0, 4.0), 9.0, -1.0)
    180.0
    """
    ring = parcel.boundary
    at = float(ring.project(Point(x, y)))
    before, after = (ring.interpolate(max(at + step, 0.0)) for step in (-0.5, 0.5))
    bearing = float(np.degrees(np.arctan2(after.x - before.x, after.y - before.y))) + 90.0
    middle = ring.interpolate(at)
    sine, cosine = np.sin(np.radians(bearing)), np.cos(np.radians(bearing))
    if parcel.covers(Point(middle.x + 0.01 * sine, middle.y + 0.01 * cosine)):
        bearing += 180.0
    return round(bearing % 360.0, 6)


def _apart(one: tuple[float, float], other: tuple[float, float]) -> float:
    return float(np.hypot(one[0] - other[0], one[1] - other[1]))
