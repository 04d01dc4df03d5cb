"""The whole pipeline, one function that reads like the README."""

from __future__ import annotations

from dataclasses import dataclass

from sitepipe.drainage.record import Drainage, Sureness
from sitepipe.planting.record import Planting
from sitepipe.scoring.record import Scores, Zones
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.record import WaterTable, Wetness
from sitepipe.works.record import Plan


@dataclass(frozen=True, slots=True)
class Analysis:
    """Everything that one run found out."""

    site: Site
    settings: Settings
    terrain: Terrain
    drainage: Drainage
    sureness: Sureness
    sunlight: Sunlight
    wetness: Wetness
    water_table: WaterTable
    scores: Scores
    zones: Zones
    plan: Plan
    planting: Planting
