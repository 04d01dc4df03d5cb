"""Grounds for mounds: a whole parcel of mound zone on drawn heights, with everything before it worked out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Polygon, box

from sitepipe.arrays import FloatArray, frozen
from sitepipe.drainage.record import Drainage
from sitepipe.drainage.stage import trace_drainage
from sitepipe.scoring.record import Exclusion, Scores, Use, Zone, Zones
from sitepipe.settings import Settings
from sitepipe.site import Feature, Site
from sitepipe.terrain.record import Terrain
from sitepipe.terrain.stage import derive_terrain
from sitepipe.wetness.record import WaterTable
from tests.sites import make_site


@dataclass(frozen=True)
class MoundSite:
    """A site with its drainage, a water table at one depth, and a zone for mounds."""

    site: Site
    terrain: Terrain
    drainage: Drainage
    water_table: WaterTable
    scores: Scores
    zones: Zones
    settings: Settings


def mound_site(
    elevation: FloatArray,
    cell: float = 1.0,
    depth: float = 0.2,
    error: float = 0.05,
    zone: Polygon | None = None,
    features: tuple[Feature, ...] = (),
    exclusions: tuple[Exclusion, ...] = (),
    parcel: Polygon | None = None,
    settings: Settings | None = None,
) -> MoundSite:
    """Make a site whose parcel, or a part of it, is one zone for mounds."""
    settings = settings or Settings()
    site = make_site(elevation, cell, features, parcel)
    zone = zone if zone is not None else site.parcel
    ones = frozen(np.ones(elevation.shape))
    table = WaterTable(frozen(np.full(elevation.shape, depth)), frozen(np.full(elevation.shape, error)), False, "drawn")
    scores = Scores(ones, ones, ones, {}, {}, exclusions)
    drawn = Zone(1, Use.MOUND, zone, zone.area, 1.0, "", 0.5, 8.0)
    return MoundSite(
        site,
        derive_terrain(site, settings),
        trace_drainage(site, settings),
        table,
        scores,
        Zones((drawn,), ones),
        settings,
    )


def strip_of_no_go(west: float, south: float, east: float, north: float) -> Exclusion:
    return Exclusion("a septic field", "drawn", 0.0, box(west, south, east, north), (Use.MOUND,))
