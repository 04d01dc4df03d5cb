"""Roof water: how much a roof sheds, and where it runs from there."""

from __future__ import annotations

import numpy as np
from shapely import MultiPolygon, Point, Polygon

from sitepipe.drainage.record import Drainage
from sitepipe.site import Found, Kind, Ref, Site
from sitepipe.works.houses.record import RoofWater, WaterEnd
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


def where_water_goes(site: Site, drainage: Drainage, outline: Polygon) -> RoofWater:
    """Follow the water from the lowest ground beside an outline to where it comes to.

    It ends in the first hollow, ditch or water, or where it leaves the parcel, whichever comes first.
    """
    grid = site.grid
    ring = inside(outline.buffer(1.5 * grid.cell + 0.5), grid.x, grid.y) & np.isfinite(site.elevation)
    candidates = np.flatnonzero(ring)
    if candidates.size == 0:
        return RoofWater(WaterEnd.UNKNOWN)
    cell = start = int(candidates[np.argmin(drainage.heights.ravel()[candidates])])
    from_here = Point(grid.centre(*divmod(start, grid.columns)))
    receiver, pond_at = drainage.receiver.ravel(), drainage.pond_at.ravel()
    drains = [(feature.ref, feature.footprint.buffer(grid.cell)) for feature in site.of_kind(Kind.DITCH, Kind.WATER)]
    while cell >= 0:
        here = Point(grid.centre(*divmod(cell, grid.columns)))
        far, pond = from_here.distance(here), int(pond_at[cell])
        if pond >= 0 and drainage.ponds[pond].number > 0:
            return RoofWater(WaterEnd.HOLLOW, far, Ref(Found.HOLLOW, drainage.ponds[pond].number))
        for drain, ground in drains:
            if ground.covers(here):
                return RoofWater(WaterEnd.DRAIN, far, of=drain)
        if not site.parcel.covers(here) and cell != start:
            return RoofWater(WaterEnd.BOUNDARY, far, side=outward(site.parcel, here.x, here.y))
        cell = int(receiver[cell])
    return RoofWater(WaterEnd.EDGE_OF_HEIGHTS, far)


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
