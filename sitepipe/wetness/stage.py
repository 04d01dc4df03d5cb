"""From ground and drainage to how wet each place is, how sure, and what says so."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, frozen
from sitepipe.drainage.drawn import routed_ground
from sitepipe.drainage.multiple_flow import specific_catchment_area
from sitepipe.drainage.nearest_drainage import height_above_nearest_drainage, least_climb, steepness
from sitepipe.drainage.network import route
from sitepipe.drainage.noise import height_noise
from sitepipe.drainage.record import Drainage, PondingUncertainty
from sitepipe.settings import DrainageSettings, Settings
from sitepipe.site import Site
from sitepipe.terrain.low_ground import lowness
from sitepipe.terrain.record import Terrain
from sitepipe.terrain.smoothing import smoothed
from sitepipe.terrain.stage import SURROUNDINGS
from sitepipe.wetness.blocks import block_step, fold_blocks, unfold_blocks
from sitepipe.wetness.index import wetness_index
from sitepipe.wetness.indicators import combined
from sitepipe.wetness.observations import agreement, shifted, sights_of
from sitepipe.wetness.places import rank_places
from sitepipe.wetness.record import Wetness
from sitepipe.wetness.shallow_flow import water_table

LOW_GROUND = 6.0
"""Spread of the surroundings that a place is low in, over the broad scale; 4 to 12 differ little. [1]"""

SURE_DEPTH = 2.0
"""A hollow counts for what it is deeper than so many height errors: most shallower ones are noise. [1]"""

CHANNEL_AREAS = (5_000.0, 20_000.0, 80_000.0, 320_000.0)
"""Ground behind the channels from which height and climb are taken: ditch, brook and river count alike, and each means
the same on every site. [m2]"""

SUPPLY_RATIOS = (1e-3, 3.2e-4, 1e-4, 3.2e-5, 1e-5)
"""Recharge over transmissivity of the steady water tables, wettest first. [1/m]"""

THICKNESS = 5.0
"""Of the layer in which that water flows; 1.2 to 20 m differ by .01 on invented ground. [m]"""


def estimate_wetness(
    site: Site, terrain: Terrain, drainage: Drainage, uncertainty: PondingUncertainty, settings: Settings
) -> Wetness:
    """Take seven indicators together, move the map towards what was seen, and rank the soggiest places."""
    cell = site.grid.cell
    index = _broad_index(site, terrain, settings.drainage)
    modelled = combined(_indicators(site, terrain, drainage, index))
    modelled[np.isnan(site.elevation)] = np.nan
    sights, unused = sights_of(site, settings.observations)
    wetness = shifted(modelled, site.elevation, cell, sights, settings.observations)
    return Wetness(
        wetness_index=frozen(index),
        wetness=frozen(wetness),
        soggy_places=rank_places(site, wetness, drainage, uncertainty, sights, settings),
        agreement=agreement(modelled, sights),
        unused=unused,
    )


def _indicators(site: Site, terrain: Terrain, drainage: Drainage, index: FloatArray) -> Iterator[FloatArray]:
    """Yield the indicators, each so that more is wetter."""
    elevation, cell, error = np.asarray(site.elevation), site.grid.cell, site.ground.vertical_error
    # An error that was never measured on this ground is not believed beyond the noise that the heights show.
    sure = SURE_DEPTH * min(error, height_noise(elevation[site.around_parcel(SURROUNDINGS)]))
    yield np.maximum(drainage.ponding_depth - sure, 0.0)
    is_hollow = drainage.ponding_depth > sure
    channels = _channels(drainage.upslope_area)
    to, order = drainage.receiver, drainage.order
    yield combined(
        -height_above_nearest_drainage(elevation, to, order, np.where(channel, elevation, np.nan))
        for channel in channels
    )
    rise = steepness(smoothed(elevation, 1.0), cell)
    yield combined(-least_climb(rise, channel | is_hollow, cell) for channel in channels)
    yield index
    # The slope of the water, which is level, where it stands.
    yield -np.where(is_hollow, terrain.slope_floor, np.maximum(terrain.broad_slope, terrain.slope_floor))
    yield lowness(elevation, LOW_GROUND * terrain.broad_scale / cell, error)
    yield combined(_steady_tables(site))


def _channels(upslope_area: FloatArray) -> list[BoolArray]:
    """Mark channels by the ground behind them, in every size that there is; on small ground the largest there is."""
    largest = float(np.nanmax(upslope_area))
    return [upslope_area >= min(area, largest) for area in CHANNEL_AREAS if area <= max(largest, CHANNEL_AREAS[0])]


def _steady_tables(site: Site) -> Iterator[FloatArray]:
    """Yield how far a steady water table lies below the ground, downwards negative, for each supply. [m]."""
    step = block_step(site.grid)
    ground, _ = fold_blocks(site.elevation, step)
    level = ground
    for ratio in SUPPLY_RATIOS:
        level = water_table(
            ground - THICKNESS, ground, ratio * THICKNESS, site.grid.cell * step, level, tolerance=1e-3, most_sweeps=600
        )
        yield unfold_blocks(level - ground, step, site.grid.shape)


def _broad_index(site: Site, terrain: Terrain, settings: DrainageSettings) -> FloatArray:
    """Route water over the ground at its sound scale and return its wetness index.

    In a hollow water stands level and is one: the whole has the largest catchment that meets in it, and no slope.
    """
    heights, _, _ = routed_ground(terrain.broad_elevation, site, settings)
    network = route(heights)
    hollow = network.hollow
    catchment, _ = specific_catchment_area(network.level, network.receiver, site.grid.cell)
    is_hollow = hollow > 0
    largest = np.zeros(int(hollow.max()) + 1)
    np.maximum.at(largest, hollow[is_hollow], catchment[is_hollow])
    catchment = np.where(is_hollow, largest[hollow], catchment)
    slope = np.where(is_hollow, terrain.slope_floor, terrain.broad_slope)
    return wetness_index(catchment, slope, terrain.slope_floor)
