"""Records of the rooms before this one, filled by hand where a test needs a certain value."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import numpy as np

from sitepipe.arrays import FloatArray, frozen
from sitepipe.drainage.record import Drainage
from sitepipe.drainage.stage import trace_drainage
from sitepipe.scoring.record import Scores, Zones
from sitepipe.scoring.stage import score_uses
from sitepipe.scoring.zones import draw_zones
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.terrain.stage import derive_terrain
from sitepipe.wetness.record import SteadyFlow, WaterTable, Wetness


def constant(site: Site, value: float) -> FloatArray:
    return frozen(np.full(site.grid.shape, value))


def sunlight(site: Site, hours: FloatArray) -> Sunlight:
    return Sunlight(
        sun_hours=hours,
        insolation=constant(site, 15.0),
        sky_view=constant(site, 1.0),
        monthly_hours=frozen(np.repeat(hours[None], 12, axis=0)),
        season=(date(2025, 5, 1), date(2025, 9, 30)),
        season_months=(5, 6, 7, 8, 9),
        leanest_month=9,
        leanest_hours=hours,
        doubtful=constant(site, 0.0),
    )


def wetness(site: Site, values: FloatArray) -> Wetness:
    return Wetness(
        wetness_index=constant(site, 8.0),
        wetness=values,
        soggy_places=(),
        agreement=None,
    )


def water_table(site: Site, depth: FloatArray) -> WaterTable:
    return WaterTable(depth, constant(site, 0.1), True, SteadyFlow(2.0, 1e-3, 1.0))


@dataclass(frozen=True, slots=True)
class Filled:
    """A site with everything that scoring asks for."""

    site: Site
    terrain: Terrain
    drainage: Drainage
    sunlight: Sunlight
    wetness: Wetness
    water_table: WaterTable

    def scores(self, settings: Settings) -> Scores:
        return score_uses(
            self.site, self.terrain, self.drainage, self.sunlight, self.wetness, self.water_table, settings
        )

    def zones(self, settings: Settings) -> tuple[Scores, Zones]:
        scores = self.scores(settings)
        return scores, draw_zones(self.site, scores, self.wetness, self.sunlight, settings)


def filled(
    site: Site,
    settings: Settings,
    wet: FloatArray | float = 0.6,
    hours: FloatArray | float = 8.0,
    depth: FloatArray | float = 0.3,
) -> Filled:
    def field(value: FloatArray | float) -> FloatArray:
        return frozen(np.broadcast_to(np.asarray(value, dtype=np.float64), site.grid.shape).copy())

    return Filled(
        site,
        derive_terrain(site, settings),
        trace_drainage(site, settings),
        sunlight(site, field(hours)),
        wetness(site, field(wet)),
        water_table(site, field(depth)),
    )
