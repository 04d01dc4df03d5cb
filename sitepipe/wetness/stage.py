"""From ground and drainage to how wet each place is, how sure, and what says so."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sitepipe.arrays import FloatArray, frozen
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.descent import steepest_receivers
from sitepipe.drainage.heights import whole_heights
from sitepipe.drainage.multiple_flow import specific_catchment_area
from sitepipe.drainage.nearest_drainage import height_above_nearest_drainage, least_climb, steepness
from sitepipe.drainage.record import Drainage, PondingUncertainty
from sitepipe.drainage.routing import route_level_ground
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.terrain.low_ground import lowness
from sitepipe.terrain.record import Terrain
from sitepipe.terrain.smoothing import smoothed
from sitepipe.wetness.index import wetness_index
from sitepipe.wetness.indicators import combined
from sitepipe.wetness.observations import agreement, shifted, sights_of
from sitepipe.wetness.places import rank_places
from sitepipe.wetness.record import Wetness

SURROUNDINGS = 6.0
"""Spread of the surroundings that a place is low in, over the broad scale; 4 to 12 differ little. [1]"""

SURE_DEPTH = 2.0
"""A hollow counts for what it is deeper than so many height errors: most shallower ones are noise. [1]"""

SURE_CHANNEL = 0.99
"""Share of the ground with less behind it than a channel from which height and climb are taken. [1]"""


def estimate_wetness(
    site: Site, terrain: Terrain, drainage: Drainage, uncertainty: PondingUncertainty, settings: Settings
) -> Wetness:
    """Take six indicators together, move the map towards what was seen, and rank the soggiest places."""
    cell = site.grid.cell
    index = _broad_index(terrain, cell)
    modelled = combined(_indicators(site, terrain, drainage, index))
    sights, notes = sights_of(site, settings.observations)
    wetness = shifted(modelled, site.elevation, cell, sights, settings.observations)
    return Wetness(
        wetness_index=frozen(index),
        wetness=frozen(wetness),
        soggy_places=rank_places(site, wetness, drainage, uncertainty, sights, settings.wetness),
        agreement=agreement(modelled, sights),
        notes=notes,
    )


def _indicators(site: Site, terrain: Terrain, drainage: Drainage, index: FloatArray) -> Iterator[FloatArray]:
    """Yield the indicators, each so that more is wetter."""
    error = site.ground.vertical_error
    yield np.maximum(drainage.ponding_depth - SURE_DEPTH * error, 0.0)
    above, climb = _over_sure_water(site, drainage)
    yield -above
    del above
    yield -climb
    del climb
    yield index
    yield -np.maximum(terrain.broad_slope, terrain.slope_floor)
    yield lowness(site.elevation, SURROUNDINGS * terrain.broad_scale / site.grid.cell, error)


def _over_sure_water(site: Site, drainage: Drainage) -> tuple[FloatArray, FloatArray]:
    """Return the height above the channel that a cell drains to, and the least climb from water. [m].

    The layers of those names count every named hollow as water. Among noisy heights most hollows are none, and
    half the ground would lie beside one; here only large channels and hollows well beyond the error count.
    """
    elevation, cell, error = np.asarray(site.elevation), site.grid.cell, site.ground.vertical_error
    behind = drainage.upslope_area
    channel = behind >= np.nanquantile(behind, SURE_CHANNEL)
    water = channel | (drainage.ponding_depth > SURE_DEPTH * error)
    above = height_above_nearest_drainage(
        elevation, drainage.receiver, drainage.order, np.where(channel, elevation, np.nan)
    )
    climb = least_climb(steepness(smoothed(elevation, 1.0), cell), water, cell)
    return np.where(np.isnan(above), climb, above), climb


def _broad_index(terrain: Terrain, cell: float) -> FloatArray:
    """Route water over the ground at its sound scale and return its wetness index.

    In a hollow water stands level and is one: the whole has the largest catchment that meets in it, and no slope.
    """
    heights, _ = whole_heights(terrain.broad_elevation)
    level = filled(heights)
    receiver = steepest_receivers(level, heights)
    hollow, _ = route_level_ground(level, heights, receiver)
    catchment, _ = specific_catchment_area(level, receiver, cell)
    is_hollow = hollow > 0
    largest = np.zeros(int(hollow.max()) + 1)
    np.maximum.at(largest, hollow[is_hollow], catchment[is_hollow])
    catchment = np.where(is_hollow, largest[hollow], catchment)
    slope = np.where(is_hollow, terrain.slope_floor, terrain.broad_slope)
    return wetness_index(catchment, slope, terrain.slope_floor)
