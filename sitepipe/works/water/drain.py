"""A ditch or drain instead of mounds: fall to a lawful outlet, spacing by soil, or a refusal with its reason."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from sitepipe.settings import Settings
from sitepipe.site import Ditch, Feature, Kind, Ref, Site
from sitepipe.wetness.conductivity import soil_conductivity
from sitepipe.wetness.shallow_flow import drain_spacing
from sitepipe.works.water.record import DitchVerdict, DrainAdvice

OUTLET_REACH = 3.0
"""An outlet so near to the parcel may be its own. [m]"""
ROOTS_WANTED = 0.45
"""Depth to water that a drain is to give: shallow vegetables, British Columbia drainage handbook. [m]"""
DRAIN_RADIUS = 0.05
SEPTIC_CLEAR, TREE_CLEAR, WALL_CLEAR, LINE_CLEAR = 3.0, 3.0, 3.0, 0.6
"""Ground that a ditch keeps clear of: common practice, no source. [m]"""


def advise_drain(site: Site, wettest: Point, settings: Settings) -> DrainAdvice:
    """Say whether a ditch or drain could take the water of the wettest ground to an outlet.

    Parameters
    ----------
    site : Site
    wettest : point
        Middle of the ground to be drained. [m]
    settings : Settings

    Returns
    -------
    DrainAdvice
        A proposal with fall, length and spacing, or a refusal with what stands against it.
    """
    outlets = [
        feature
        for feature in site.of_kind(Kind.DITCH, Kind.WATER, Kind.CULVERT)
        if feature.geometry.distance(site.parcel) <= OUTLET_REACH
    ]
    if not outlets:
        return DrainAdvice(DitchVerdict.NO_OUTLET)
    proposals = [_try_outlet(site, wettest, outlet, settings) for outlet in outlets]
    possible = [proposal for proposal in proposals if proposal.is_possible]
    return min(possible or proposals, key=lambda proposal: proposal.length or math.inf)


def _try_outlet(site: Site, wettest: Point, outlet: Feature, settings: Settings) -> DrainAdvice:
    options, thing = settings.mound, Ref(outlet.kind, outlet.number)
    mouth = _mouth(site, wettest, outlet)
    line = LineString([wettest, mouth])
    if line.length < 1.0:
        return DrainAdvice(DitchVerdict.AT_OUTLET, thing)
    level = _lowest_near(site, mouth, max(outlet.width, 1.0)) - (outlet.depth if isinstance(outlet, Ditch) else 0.0)
    fall = _lowest_near(site, wettest, 1.0) - options.ditch_depth - level
    if not math.isfinite(fall):
        return DrainAdvice(DitchVerdict.NO_HEIGHTS, thing)
    needed, crossed = options.ditch_fall * line.length, _crossed(site, line)
    too_low, crosses = fall < needed, bool(crossed)
    verdict = DitchVerdict.TOO_LOW if too_low else DitchVerdict.CROSSES if crosses else DitchVerdict.POSSIBLE
    return DrainAdvice(verdict, thing, line, fall, needed, line.length, _spacing(site, settings), crossed)


def _mouth(site: Site, wettest: Point, outlet: Feature) -> Point:
    """Return the place of the outlet nearest to the wet ground; of a culvert its nearer end."""
    shape = outlet.geometry
    if outlet.kind is Kind.CULVERT and shape.geom_type == "LineString":
        ends = [Point(shape.coords[0]), Point(shape.coords[-1])]
        return min(ends, key=lambda end: float(end.distance(site.parcel)) + 1e-3 * float(end.distance(wettest)))
    return Point(shapely.shortest_line(wettest, shape).coords[1])


def _lowest_near(site: Site, place: Point, reach: float) -> float:
    """Lowest ground within reach of a place, NaN where the heights do not cover it. [m]."""
    grid = site.grid
    row, column = grid.cell_at(place.x, place.y)
    span = max(1, round(reach / grid.cell))
    window = site.elevation[
        max(row - span, 0) : max(row + span + 1, 0), max(column - span, 0) : max(column + span + 1, 0)
    ]
    known = window[np.isfinite(window)]
    return float(known.min()) if known.size else math.nan


def _spacing(site: Site, settings: Settings) -> float:
    depth = settings.mound.ditch_depth
    rise = max(depth - ROOTS_WANTED, 0.05)
    below = max(settings.water_table.permeable_depth - depth, 0.0)
    conductivity = soil_conductivity(settings, site.auger_readings)
    return drain_spacing(conductivity, rise, settings.mound.design_rain / 1000.0, below, DRAIN_RADIUS)


def _crossed(site: Site, line: BaseGeometry) -> tuple[Ref, ...]:
    """Return what lies in a ditch's way."""
    clears = {
        Kind.SEPTIC: SEPTIC_CLEAR,
        Kind.BUILDING: WALL_CLEAR,
        Kind.TREE: TREE_CLEAR,
        Kind.BURIED_LINE: LINE_CLEAR,
        Kind.WELL: SEPTIC_CLEAR,
    }
    return tuple(
        Ref(kind, feature.number)
        for kind, clear in clears.items()
        for feature in site.of_kind(kind)
        if feature.footprint.distance(line) < clear
    )
