"""Set the kinds of a bed out one by one, and say what ground is left beside it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import nearest_points

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import PondingUncertainty
from sitepipe.planting.bed_ground import bed_beside, setback_of, shares_of
from sitepipe.planting.bed_plan import Outline, order_by_shade
from sitepipe.planting.counts import set_out
from sitepipe.planting.palette import Plant
from sitepipe.scoring.record import Zone
from sitepipe.settings import PlantingSettings
from sitepipe.site import Kind, Site
from sitepipe.terrain.outline import outlines, polygons_of
from sitepipe.works.record import Plan

STANDS = 0.8
"""Ground that stands under water with more than this chance is left open. Common practice, no source. [1]"""
BESIDE_POSTS = 0.5
"""Kept from a trellis. Common practice, no source. [m]"""
LEAST_ROOM = 0.1
"""Width in which a row may stand between its setbacks. [m]"""
WHOLE = 0.95
"""A bed that takes more than this share of its ground takes all of it. [1]"""


@dataclass(frozen=True, slots=True)
class SetOut:
    """Plants in their places, the ground that they take, and how many more the rest would hold. Areas in m."""

    positions: tuple[tuple[str, Point], ...] = ()
    ground: Outline | None = None
    room_for: int = 0
    left: float = 0.0


def set_out_bed(
    chosen: list[Plant], outline: Outline, sun: FloatArray, start: Point | None, settings: PlantingSettings
) -> SetOut:
    """Set kinds out in blocks, the tallest to the side where it shades least.

    Parameters
    ----------
    chosen : list of Plant
        Each with its spacing.
    outline : polygon
        Ground that may be planted. [m]
    sun : (instants, 3) float array
        As for ``order_by_shade``.
    start : point or None
        Where one comes to the ground first; none, and all of it is one bed.
    settings : PlantingSettings

    Returns
    -------
    SetOut
        Where the ground is larger than ``most_plants`` need, a bed at the start, and the rest counted.
    """
    kinds = [plant for plant in chosen if plant.in_row and plant.row]
    tallest_first = sorted(kinds, key=lambda plant: (-(plant.height or 0.0), plant.latin))
    if not tallest_first or outline.is_empty:
        return SetOut()
    limit = settings.most_plants // len(tallest_first)
    widths = tuple(plant.in_row or 0.0 for plant in tallest_first)
    area, shares = shares_of(_needs(tallest_first, widths, limit, settings), outline.area)
    is_part = start is not None and area < WHOLE * outline.area
    bed = bed_beside(outline, start, area) if start is not None and is_part else outline
    heights = tuple(plant.height or 0.0 for plant in tallest_first)
    _, blocks = order_by_shade(bed, shares, heights, sun, widths)
    positions: list[tuple[str, Point]] = []
    for plant, block in zip(tallest_first, blocks, strict=True):
        if block.is_empty or not plant.in_row or not plant.row:
            continue
        setback = setback_of(block, plant.in_row, settings.edge_setback)
        places = set_out(block, plant.in_row, plant.row, setback, settings.triangular)
        positions.extend((plant.common, Point(x, y)) for x, y in places[:limit])
    left = outline.area - bed.area if is_part else 0.0
    return SetOut(tuple(positions), bed, _two_figures(len(positions) * left / bed.area), left)


def _needs(kinds: list[Plant], widths: tuple[float, ...], limit: int, settings: PlantingSettings) -> tuple[float, ...]:
    """Ground for so many plants of each kind, and at least for one row across a square bed of them all. [m2]."""
    needs = [limit * (plant.in_row or 0.0) * (plant.row or 0.0) for plant in kinds]
    across = math.sqrt(sum(needs))
    rows = [across * (max(width, 2.0 * settings.edge_setback) + LEAST_ROOM) for width in widths]
    return tuple(max(need, row) for need, row in zip(needs, rows, strict=True))


def _two_figures(count: float) -> int:
    """Round down to two figures: a count by area is no better."""
    step = int(10 ** max(len(str(int(count))) - 2, 0))
    return int(count) // step * step


def open_ground(zone: Zone, taken: BaseGeometry) -> Outline:
    """Return what of a zone may be planted, without what else is built or stands there."""
    return polygons_of(zone.outline.difference(taken))


def taken_ground(site: Site, plan: Plan, uncertainty: PondingUncertainty) -> BaseGeometry:
    """Return the ground that no plant of a zone is set on: what the plan builds, and water that likely stands."""
    built = [path.outline for path in plan.paths]
    built += [mound.outline for mound in plan.mounds]
    built += [house.outline for house in plan.hoop_houses[:1]]
    built += [place.outline for place in plan.tipping_places[:1]]
    built += [trellis.line.buffer(BESIDE_POSTS) for trellis in plan.trellises]
    built += outlines(np.nan_to_num(uncertainty.ponding_probability, nan=0.0) >= STANDS, site.grid)
    return shapely.union_all(built)


def start_of(ground: Outline, site: Site, plan: Plan) -> Point:
    """Return where one comes to some ground first: from a path of the plan, else from a gate, else its middle."""
    ways: list[BaseGeometry] = [path.outline for path in plan.paths]
    ways = ways or [gate.geometry for gate in site.of_kind(Kind.GATE)]
    if not ways:
        return ground.representative_point()
    return nearest_points(ground, shapely.union_all(ways))[0]
