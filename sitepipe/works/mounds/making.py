"""From crests on a plan to mounds with height, fill, volume and barrows."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Point, Polygon

from sitepipe.arrays import FloatArray
from sitepipe.settings import Settings
from sitepipe.site import DrawnWork, Site, Status
from sitepipe.wetness.record import Bound, WaterTable
from sitepipe.works.jobs.materials import barrow_hours, count_barrows, split_volume
from sitepipe.works.land import Land
from sitepipe.works.mounds.crops import CROP_GROUPS
from sitepipe.works.mounds.fills import Fill, find_fill
from sitepipe.works.mounds.height import base_width, height_as_built, mound_height, will_do
from sitepipe.works.mounds.record import Mound, MoundHeight, RefusedFill, WouldDo
from sitepipe.works.mounds.volumes import ridge_volume
from sitepipe.works.obstacles import inside

STATION = 0.5
"""Longest distance between two sections of a mound. [m]"""
DEEPEST = 3.0
"""Water so deep down keeps no root wet. [m]"""
RING = 1.0
"""Ground around the foot of a standing mound that tells the water below it. [m]"""
ROUNDING = 0.005
"""Of a chance. [1]"""
WET_QUARTER = 0.25
"""A mound is made for the depth to water that a quarter of its ground does not have."""


@dataclass(frozen=True, slots=True)
class CrestLine:
    """A crest over real ground, straight in its height however it bends.

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

    def ground_below(self) -> tuple[float, ...]:
        """Height of the fitted line below each vertex of the crest. [m]."""
        corners = [self.line.project(Point(corner)) for corner in self.line.coords]
        return tuple(float(z) for z in np.interp(corners, self.spacing * np.arange(self.fitted.size), self.fitted))

    def heights(self, above: float) -> FloatArray:
        """Height over the real ground of a crest that runs ``above`` over the fitted line. [m]."""
        return np.maximum(self.fitted + above - self.ground, 0.0)


def lay_crest(site: Site, line: LineString) -> CrestLine:
    """Sample the ground below a crest and fit a straight line to it."""
    length = float(line.length)
    count = max(1, math.ceil(length / STATION))
    share = np.linspace(0.0, 1.0, count + 1)
    x, y = shapely.get_coordinates(shapely.line_interpolate_point(line, share * length)).T
    ground = ground_at(site, x, y)
    known = np.isfinite(ground)
    if known.sum() >= 2:
        rise, start = np.polyfit(share[known], ground[known], 1)
    else:
        rise, start = 0.0, float(np.nanmean(site.elevation))
    fitted = start + rise * share
    ground = np.where(known, ground, fitted)
    return CrestLine(line, length / count, ground, fitted)


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


def water_under(site: Site, water_table: WaterTable, foot: Polygon) -> tuple[float, float]:
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
    crest = lay_crest(land.site, LineString([ends[:2], ends[2:]]))
    depth, error = water_under(land.site, land.water_table, crest.line.buffer(base / 2.0))
    fill, height, refused = choose_fill(crops, depth, error, land.settings)
    if fill is None or height is None:
        return None, refused
    return _made(number, crest, crops, fill, height, options.top, land, way), refused


def _made(
    number: int, crest: CrestLine, crops: str, fill: Fill, height: MoundHeight, top: float, land: Land, way: float
) -> Mound:
    width = base_width(top, fill.side_slope, height.built)
    heights = crest.heights(height.built)
    volume = ridge_volume(heights, top, fill.side_slope, crest.spacing)
    materials = split_volume(
        heights, top, crest.spacing, fill, land.settings.materials.cover, land.settings.materials.logs
    )
    barrows = count_barrows(volume, land.settings.jobs.barrow)
    return Mound(
        number=number,
        crest=crest.line,
        outline=crest.line.buffer(width / 2.0),
        crops=crops,
        fill=fill.name,
        height=height,
        top_width=top,
        base_width=width,
        volume=volume,
        materials=materials,
        barrows=barrows,
        hours=barrow_hours(barrows, way, land.settings.jobs),
        crest_ground=crest.ground_below(),
        is_guess=not was_read(land.water_table),
        side_slope=fill.side_slope,
    )


def drawn_mound(work: DrawnWork, land: Land, way: float) -> Mound:
    """Make a mound as the grower drew it: what was left out is worked out, and how well it does is judged.

    Of the crops and fills that were left open the first pair that will do is taken, else the one with the best chance.
    What stands is as high as it is drawn and takes nothing more.
    """
    is_standing, options = work.status is Status.STANDING, land.settings.mound
    crest, top = lay_crest(land.site, work.shape), work.width or options.top
    fills = [
        replace(fill, side_slope=work.side_slope or fill.side_slope, settlement=0.0 if is_standing else fill.settlement)
        for name in ((work.fill,) if work.fill else options.fills)
        for fill in [find_fill(name, land.settings.soil.texture, options.air)]
    ]
    foot = base_width(top, fills[0].side_slope, work.height or options.highest / 2.0)
    depth, error = water_beside(land, work.shape, foot, is_standing)
    tried = [
        (crops, fill, _height_wanted(work, CROP_GROUPS[crops].roots, fill, depth, error, land.settings))
        for crops in ((work.crops,) if work.crops else options.crops)
        for fill in fills
    ]
    will = [one for one in tried if one[2].chance >= options.chance - ROUNDING]
    crops, fill, height = will[0] if will else max(tried, key=lambda one: one[2].chance)
    mound = replace(
        _made(work.number, crest, crops, fill, height, top, land, way),
        name=work.name,
        status=work.status,
        built=work.built,
    )
    if is_standing:
        ground = tuple(z - height.built for z in mound.crest_ground)
        return replace(mound, crest_ground=ground, materials=(), barrows=0, hours=0.0)
    return mound if will else replace(mound, would_do=_would_do(mound, fill, depth, error, land))


def water_beside(land: Land, crest: LineString, foot: float, is_standing: bool) -> tuple[float, float]:
    """Depth to water below a drawn mound and its error, of one that stands in a ring around its foot. [m]."""
    ground = crest.buffer(foot / 2.0)
    if is_standing:
        ground = crest.buffer(foot / 2.0 + RING).difference(ground)
    return water_under(land.site, land.water_table, ground)


def _height_wanted(
    work: DrawnWork, roots: float, fill: Fill, depth: float, error: float, settings: Settings
) -> MoundHeight:
    """Return the height that was drawn, else the one that will do, else the highest that may be built."""
    options = settings.mound
    wanted = mound_height(roots, fill, depth, error, options.chance)
    if work.height is None and will_do(wanted, fill, options.highest):
        return wanted
    return height_as_built(roots, fill, depth, error, work.height or options.highest)


def _would_do(mound: Mound, fill: Fill, depth: float, error: float, land: Land) -> WouldDo:
    """Find what would keep the roots dry: as high as needed, of another fill, or at the nearest drier ground."""
    options, roots = land.settings.mound, mound.height.roots
    own = mound_height(roots, fill, depth, error, options.chance)
    other, height, _ = choose_fill(mound.crops, depth, error, land.settings)
    most = mound.height.built
    enough = next(
        (
            d
            for d in np.arange(0.0, DEEPEST, 0.01)
            if mound_height(roots, fill, float(d), error, options.chance).built <= most
        ),
        math.inf,
    )
    grid, middle = land.site.grid, mound.crest.interpolate(0.5, normalized=True)
    deep = (land.water_table.water_table_depth >= enough) & inside(land.site.parcel, grid.x, grid.y)
    far = np.where(deep, np.hypot(grid.x[None, :] - middle.x, grid.y[:, None] - middle.y), np.inf)
    nearest = int(np.argmin(far))
    return WouldDo(
        height=own.built if will_do(own, fill, options.highest) else None,
        fill="" if other is None or other.name == fill.name else other.name,
        fill_height=None if height is None else height.built,
        place=Point(grid.centre(*divmod(nearest, grid.columns))) if np.isfinite(far.flat[nearest]) else None,
    )
