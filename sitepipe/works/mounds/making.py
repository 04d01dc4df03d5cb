"""From crests on a plan to mounds with height, fill, volume and barrows."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString

from sitepipe.arrays import FloatArray
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.wetness.record import Bound, WaterTable
from sitepipe.works.jobs.materials import barrow_hours, count_barrows, split_volume
from sitepipe.works.land import Land
from sitepipe.works.mounds.crops import CROP_GROUPS
from sitepipe.works.mounds.fills import Fill, find_fill
from sitepipe.works.mounds.height import base_width, mound_height, will_do
from sitepipe.works.mounds.record import Mound, MoundHeight, RefusedFill
from sitepipe.works.mounds.volumes import ridge_volume
from sitepipe.works.obstacles import inside

STATION = 0.5
"""Longest distance between two sections of a mound. [m]"""
DEEPEST = 3.0
"""Water so deep down keeps no root wet. [m]"""
WET_QUARTER = 0.25
"""A mound is made for the depth to water that a quarter of its ground does not have."""


@dataclass(frozen=True, slots=True)
class CrestLine:
    """A straight crest over real ground.

    Parameters
    ----------
    line : line
    spacing : float
        Between stations. [m]
    ground : (stations,) float array
        Height of the ground below. [m]
    fitted : (stations,) float array
        Straight line through it, which the crest runs along. [m]
    """

    line: LineString
    spacing: float
    ground: FloatArray
    fitted: FloatArray

    def heights(self, above: float) -> FloatArray:
        """Height over the real ground of a crest that runs ``above`` over the fitted line. [m]."""
        return np.maximum(self.fitted + above - self.ground, 0.0)


def lay_crest(site: Site, ends: FloatArray) -> CrestLine:
    """Sample the ground below a crest and fit a straight line to it.

    Parameters
    ----------
    site : Site
    ends : (4,) float array
        x and y of both ends. [m]
    """
    length = math.hypot(ends[2] - ends[0], ends[3] - ends[1])
    count = max(1, math.ceil(length / STATION))
    share = np.linspace(0.0, 1.0, count + 1)
    x, y = ends[0] + share * (ends[2] - ends[0]), ends[1] + share * (ends[3] - ends[1])
    ground = ground_at(site, x, y)
    known = np.isfinite(ground)
    if known.sum() >= 2:
        rise, start = np.polyfit(share[known], ground[known], 1)
    else:
        rise, start = 0.0, float(np.nanmean(site.elevation))
    fitted = start + rise * share
    ground = np.where(known, ground, fitted)
    return CrestLine(LineString([ends[:2], ends[2:]]), length / count, ground, fitted)


def ground_at(site: Site, x: FloatArray, y: FloatArray) -> FloatArray:
    """Height of the cells that places lie in, NaN beyond the heights. [m]."""
    grid = site.grid
    rows = np.floor((grid.north - y) / grid.cell).astype(np.int64)
    columns = np.floor((x - grid.west) / grid.cell).astype(np.int64)
    on_grid = (rows >= 0) & (rows < grid.rows) & (columns >= 0) & (columns < grid.columns)
    found = site.elevation[np.clip(rows, 0, grid.rows - 1), np.clip(columns, 0, grid.columns - 1)]
    return np.where(on_grid, found, np.nan)


def choose_fill(
    crops: str, depth: float, error: float, settings: Settings
) -> tuple[Fill | None, MoundHeight | None, tuple[RefusedFill, ...]]:
    """Choose the first fill at hand that will do for a crop group, and tell those before it that will not."""
    options = settings.mound
    refused: list[RefusedFill] = []
    for name in options.fills:
        fill = find_fill(name, settings.soil.texture, options.air)
        height = mound_height(CROP_GROUPS[crops].roots, fill, depth, error, options.chance)
        if will_do(height, fill, options.highest):
            return fill, height, tuple(refused)
        refused.append(RefusedFill(crops, fill.name, fill.fringe, height.built))
    return None, None, tuple(refused)


def least_depth(crops: str, error: float, settings: Settings) -> float:
    """Depth to water from which on some fill will do for a crop group, to 1 cm; infinite where none does. [m]."""
    for depth in np.arange(0.0, DEEPEST, 0.01):
        if choose_fill(crops, float(depth), error, settings)[0] is not None:
            return float(depth)
    return math.inf


def was_read(table: WaterTable) -> bool:
    """Tell whether the wet-season water was read in a hole, or only worked out."""
    return any(hole.bound is Bound.LEVEL for hole in table.holes)


def water_under(site: Site, water_table: WaterTable, foot: shapely.Polygon) -> tuple[float, float]:
    """Depth to water that a quarter of a mound's ground does not have, and its standard deviation. [m]."""
    mask = inside(foot, site.grid.x, site.grid.y)
    depths = water_table.water_table_depth[mask]
    depths = depths[np.isfinite(depths)]
    if not depths.size:
        return 0.0, 0.0
    return float(np.quantile(depths, WET_QUARTER)), float(np.nanmean(water_table.error[mask]))


def make_mound(
    number: int, ends: FloatArray, crops: str, base: float, land: Land, way: float
) -> tuple[Mound | None, tuple[RefusedFill, ...]]:
    """Make one mound, still without stakes, or tell the fills that will not do.

    ``base`` is the width of the ground kept for it, ``way`` that of a barrow from where chips are tipped. [m]
    """
    options = land.settings.mound
    crest = lay_crest(land.site, ends)
    depth, error = water_under(land.site, land.water_table, crest.line.buffer(base / 2.0))
    fill, height, refused = choose_fill(crops, depth, error, land.settings)
    if fill is None or height is None:
        return None, refused
    width = base_width(options.top, fill.side_slope, height.built)
    heights = crest.heights(height.built)
    volume = ridge_volume(heights, options.top, fill.side_slope, crest.spacing)
    materials = split_volume(
        heights, options.top, crest.spacing, fill, land.settings.materials.cover, land.settings.materials.logs
    )
    barrows = count_barrows(volume, land.settings.jobs.barrow)
    mound = Mound(
        number=number,
        crest=crest.line,
        outline=crest.line.buffer(width / 2.0),
        crops=crops,
        fill=fill.name,
        height=height,
        top_width=options.top,
        base_width=width,
        volume=volume,
        materials=materials,
        barrows=barrows,
        hours=barrow_hours(barrows, way, land.settings.jobs),
        stakes=(),
        crest_ground=(float(crest.fitted[0]), float(crest.fitted[-1])),
        is_guess=not was_read(land.water_table),
    )
    return mound, refused
