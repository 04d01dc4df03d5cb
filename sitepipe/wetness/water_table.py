"""The wet-season water table of the whole window, from steady shallow flow and what auger holes say."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray, LongArray, frozen
from sitepipe.drainage.record import Drainage
from sitepipe.grid import Grid
from sitepipe.settings import Settings, WaterTableSettings
from sitepipe.site import Ditch, Kind, Site
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.blocks import block_step, fold_blocks, level_at, unfold_blocks
from sitepipe.wetness.conductivity import soil_conductivity, timed_conductivity
from sitepipe.wetness.holes import gather_holes
from sitepipe.wetness.record import Bound, HoleLevel, SteadyFlow, WaterTable
from sitepipe.wetness.shallow_flow import water_table

RATIOS = 7
"""Recharge over conductivity is tried at so many values across its doubt."""
NO_HOLES_QUANTILE = 0.674
"""Standard deviations between the middle and the quarter that is wetter."""


@dataclass(frozen=True, slots=True)
class _Flow:
    """The coarse grid and the levels that the flow model has on it, one for each ratio tried."""

    step: int
    known: FloatArray
    levels: FloatArray
    log_ratios: FloatArray


def estimate_water_table(site: Site, terrain: Terrain, drainage: Drainage, settings: Settings) -> WaterTable:
    """Estimate the depth to water in the wet season, and how far it can be believed.

    Steady flow over a tight base is worked for several values of recharge over conductivity, the one number that it
    depends on. Holes weigh these against each other; what still differs at a hole is spread over its reach. Without a
    design level from any hole the wetter quarter of what the terrain allows is taken, and the record says so.
    """
    options = settings.water_table
    holes, silent = gather_holes(site.auger_readings, options, site.latitude)
    known = np.isfinite(site.elevation)
    conductivity = soil_conductivity(settings, site.auger_readings)
    flow = _solve(site, terrain, drainage, conductivity, options)
    holes = tuple(hole for hole in holes if _is_known(site, hole))
    at_holes = np.array([[_depth_at(site, flow, level, hole) for level in flow.levels] for hole in holes])
    at_holes = at_holes.reshape(len(holes), RATIOS)
    weights = _weights(holes, at_holes, options)
    modelled = [float(row @ weights) for row in at_holes]
    shifts, local = _spread_misses(site.grid, flow, holes, at_holes, modelled, options)
    mean, spread = _moments(flow.levels - shifts, weights)

    has_level = any(hole.bound is Bound.LEVEL for hole in holes)
    lift = 0.0 if has_level else NO_HOLES_QUANTILE
    depth = site.elevation - _fine(site, flow, mean + lift * spread)
    error = np.sqrt(_fine(site, flow, spread) ** 2 + _fine(site, flow, local) ** 2 + site.height_error**2)
    depth = _kept_wet(site.grid, np.where(known, np.maximum(depth, 0.0), np.nan), holes, options.reach)
    timed = 0 if options.conductivity else sum(timed_conductivity(one) is not None for one in site.auger_readings)
    ratio = math.exp(float(flow.log_ratios @ weights))
    return WaterTable(
        water_table_depth=frozen(depth),
        error=frozen(np.where(known, error, np.nan)),
        is_estimated=not has_level,
        flow=SteadyFlow(site.grid.cell * flow.step, ratio, conductivity, timed),
        holes=tuple(
            replace(hole, modelled=own, mapped=float(depth[site.grid.cell_at(hole.x, hole.y)]))
            for hole, own in zip(holes, modelled, strict=True)
        ),
        silent=silent,
    )


def _kept_wet(grid: Grid, depth: FloatArray, holes: tuple[HoleLevel, ...], reach: float) -> FloatArray:
    """Draw a map up to a hole's reading where it has water deeper by more than the hole's error: it errs wet."""
    for hole in holes:
        row, column = grid.cell_at(hole.x, hole.y)
        excess = float(depth[row, column]) - hole.depth
        if excess > hole.error and hole.bound is not Bound.NO_HIGHER:
            away = np.hypot(grid.x[None, :] - grid.x[column], grid.y[:, None] - grid.y[row])
            depth = np.maximum(depth - excess * np.exp(-away / reach), 0.0)
    return depth


def _solve(site: Site, terrain: Terrain, drainage: Drainage, conductivity: float, options: WaterTableSettings) -> _Flow:
    grid = site.grid
    step = block_step(grid)
    ground, _ = fold_blocks(site.elevation, step)
    drains, open_water = _drain_levels(site, drainage)
    _, drain_level = fold_blocks(drains, step)
    _, water_level = fold_blocks(open_water, step)
    held = np.isfinite(water_level) & np.isfinite(ground)
    ceiling = np.where(held, water_level, np.fmin(ground, drain_level))
    broad, _ = fold_blocks(terrain.broad_elevation, step)
    base = np.where(np.isfinite(broad), broad, ground) - options.permeable_depth
    base = np.minimum(base, ceiling - 0.05)
    middle = math.log(options.recharge / 1000.0 / conductivity)
    width = 1.75 * math.log(options.doubt)
    log_ratios = np.linspace(middle + width, middle - width, RATIOS)
    levels = np.empty((RATIOS, *ground.shape))
    level: FloatArray | None = None
    for index, log_ratio in enumerate(log_ratios):
        ratio = math.exp(log_ratio)
        level = water_table(base, ceiling, ratio, grid.cell * step, level, held, tolerance=1e-4, most_sweeps=600)
        levels[index] = level
    return _Flow(step, np.isfinite(ground).astype(np.float64), levels, log_ratios)


def _drain_levels(site: Site, drainage: Drainage) -> tuple[FloatArray, FloatArray]:
    """Level that water can fall to in ditches and channels, and level of open water; NaN elsewhere. [m]."""
    drains = np.where(drainage.channels & np.isfinite(site.elevation), site.elevation, np.nan)
    open_water = np.full(site.grid.shape, np.nan)
    for feature in site.of_kind(Kind.WATER, Kind.DITCH):
        shape = feature.geometry.buffer(max(feature.width, 1.5 * site.grid.cell) / 2.0)
        rows, columns = _cells_inside(site.grid, shape)
        ground = site.elevation[rows, columns]
        if not np.isfinite(ground).any():
            continue
        if isinstance(feature, Ditch):
            drains[rows, columns] = np.fmin(drains[rows, columns], ground - feature.depth)
        elif feature.geometry.geom_type.endswith("Polygon"):
            open_water[rows, columns] = float(np.nanmin(ground))
        else:
            open_water[rows, columns] = ground
    return drains, open_water


def _cells_inside(grid: Grid, shape: BaseGeometry) -> tuple[LongArray, LongArray]:
    west, south, east, north = shape.bounds
    columns = np.flatnonzero((grid.x >= west) & (grid.x <= east))
    rows = np.flatnonzero((grid.y >= south) & (grid.y <= north))
    if not (rows.size and columns.size):
        return rows, columns
    x, y = np.meshgrid(grid.x[columns], grid.y[rows])
    row, column = np.nonzero(shapely.contains_xy(shape, x, y))
    return rows[row], columns[column]


def _weights(holes: tuple[HoleLevel, ...], at_holes: FloatArray, options: WaterTableSettings) -> FloatArray:
    """Weight of each ratio after the holes: prior times likelihood, on a fine axis shared out between the tried."""
    fine = np.linspace(0.0, RATIOS - 1.0, 24 * (RATIOS - 1) + 1)
    middle = 0.5 * (RATIOS - 1.0)
    scale = 0.5 * (RATIOS - 1.0) / 1.75
    chance = -0.5 * ((fine - middle) / scale) ** 2
    for hole, depths in zip(holes, at_holes, strict=True):
        miss = np.interp(fine, np.arange(RATIOS), depths) - hole.depth
        if hole.bound is Bound.NO_DEEPER:
            miss = np.maximum(miss, 0.0)
        elif hole.bound is Bound.NO_HIGHER:
            miss = np.minimum(miss, 0.0)
        chance -= 0.5 * miss**2 / (hole.error**2 + options.local_doubt**2)
    share = np.exp(chance - chance.max())
    share /= share.sum()
    left = np.minimum(fine.astype(np.int64), RATIOS - 2)
    weights = np.zeros(RATIOS)
    np.add.at(weights, left, share * (1.0 - (fine - left)))
    np.add.at(weights, left + 1, share * (fine - left))
    return weights


def _moments(levels: FloatArray, weights: FloatArray) -> tuple[FloatArray, FloatArray]:
    mean = np.tensordot(weights, levels, axes=1)
    square = np.tensordot(weights, (levels - mean) ** 2, axes=1)
    return mean, np.sqrt(square)


def _spread_misses(
    grid: Grid,
    flow: _Flow,
    holes: tuple[HoleLevel, ...],
    at_holes: FloatArray,
    modelled: list[float],
    options: WaterTableSettings,
) -> tuple[FloatArray, FloatArray]:
    """Spread what each ratio's table misses at the holes over their reach: simple kriging, exponential covariance.

    Returns
    -------
    shifts : (ratios, block rows, block columns) float array
        To add to the depth. [m]
    local : (block rows, block columns) float array
        Standard deviation of what is left. [m]
    """
    shape = flow.known.shape
    speaking = [
        index
        for index, (hole, own) in enumerate(zip(holes, modelled, strict=True))
        if hole.bound is Bound.LEVEL or (hole.bound is Bound.NO_DEEPER) == (own > hole.depth)
    ]
    sill = options.local_doubt**2
    if not speaking:
        return np.zeros((RATIOS, *shape)), np.full(shape, options.local_doubt)
    x = np.array([holes[index].x for index in speaking])
    y = np.array([holes[index].y for index in speaking])
    depths = np.array([holes[index].depth for index in speaking])
    noise = np.diag([holes[index].error ** 2 for index in speaking])
    between = sill * np.exp(-np.hypot(x[:, None] - x, y[:, None] - y) / options.reach)
    inverse = np.linalg.inv(between + noise)
    side = grid.cell * flow.step
    cell_x = grid.west + (np.arange(shape[1]) + 0.5) * side
    cell_y = grid.north - (np.arange(shape[0]) + 0.5) * side
    away = np.hypot(cell_x[None, :, None] - x, cell_y[:, None, None] - y)
    towards = sill * np.exp(-away / options.reach)
    weights = towards @ inverse
    left = np.maximum(sill - np.sum(weights * towards, axis=2), 0.0)
    misses = depths[:, None] - at_holes[speaking]
    return np.moveaxis(weights @ misses, 2, 0), np.sqrt(left)


def _fine(site: Site, flow: _Flow, coarse: FloatArray) -> FloatArray:
    return unfold_blocks(coarse, flow.step, site.grid.shape)


def _is_known(site: Site, hole: HoleLevel) -> bool:
    row, column = site.grid.cell_at(hole.x, hole.y)
    return site.grid.holds(row, column) and bool(np.isfinite(site.elevation[row, column]))


def _depth_at(site: Site, flow: _Flow, level: FloatArray, hole: HoleLevel) -> float:
    row, column = site.grid.cell_at(hole.x, hole.y)
    return float(site.elevation[row, column]) - level_at(level, flow.step, row, column)
