"""From the ground as read to its shape."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import frozen
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.terrain.record import Terrain
from sitepipe.terrain.scale import slope_noise, smoothing_for, sound_scale
from sitepipe.terrain.slope import downslope_direction, gradient
from sitepipe.terrain.smoothing import smoothed

SURROUNDINGS = 100.0
"""How far around the parcel the ground says at what scale to look: a wider window must not change the answer. [m]"""


def derive_terrain(site: Site, settings: Settings) -> Terrain:
    """Derive slope and aspect, and the ground at the scale that the heights' error allows."""
    cell, error = site.grid.cell, site.ground.vertical_error
    east, north = gradient(site.elevation, cell)
    terrain = settings.terrain
    near = site.elevation[site.around_parcel(SURROUNDINGS)]
    sound = sound_scale(near, cell, error, terrain.slope_noise_share, terrain.broadest)
    # Coarse cells are never the limit: gentle ground may take as many of them as it needs.
    scale = min(sound / terrain.gentle_share, max(terrain.broadest, cell / terrain.gentle_share))
    broad = smoothed(site.elevation, smoothing_for(scale, cell))
    broad_east, broad_north = gradient(broad, cell)
    return Terrain(
        slope=frozen(np.degrees(np.arctan(np.hypot(east, north)))),
        aspect=frozen(downslope_direction(east, north)),
        broad_elevation=frozen(broad),
        broad_slope=frozen(np.hypot(broad_east, broad_north)),
        broad_scale=scale,
        slope_floor=slope_noise(error, scale),
    )
