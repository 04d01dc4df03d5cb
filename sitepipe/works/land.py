"""Land: what is known of the ground before anything is built on it."""

from __future__ import annotations

from dataclasses import dataclass

from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Scores, Zones
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.record import WaterTable, Wetness


@dataclass(frozen=True, slots=True)
class Land:
    """One record of all earlier stages, and of what the user asked for."""

    site: Site
    settings: Settings
    terrain: Terrain
    drainage: Drainage
    sunlight: Sunlight
    wetness: Wetness
    water_table: WaterTable
    scores: Scores
    zones: Zones
