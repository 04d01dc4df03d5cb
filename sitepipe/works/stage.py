"""What to build: mounds first, then what goes beside them, then the whole plan tried on the water."""

from __future__ import annotations

from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Scores, Zones
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.record import WaterTable, Wetness
from sitepipe.works.materials import add_up
from sitepipe.works.mound_plan import build_mounds, search_mounds
from sitepipe.works.record import Mound, Plan
from sitepipe.works.stakes import prepare_setting_out


def plan_works(
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    sunlight: Sunlight,
    wetness: Wetness,
    water_table: WaterTable,
    scores: Scores,
    zones: Zones,
    settings: Settings,
) -> Plan:
    """Plan everything that is built."""
    del sunlight, wetness
    setting_out = prepare_setting_out(site, settings.mound.tape, settings.mound.weakest_angle)
    search = search_mounds(site, terrain, drainage, water_table, scores, zones, settings)
    mounds: tuple[Mound, ...] = ()
    notes = search.notes
    if search.layouts:
        mounds, refusals = build_mounds(search.layouts[0], search, site, terrain, water_table, setting_out, settings)
        notes = (*notes, *refusals)
    return Plan(
        mounds=mounds,
        quantities=add_up(mounds, (), settings.materials, settings.jobs),
        bench_mark=setting_out.bench_mark,
        directions_tried=search.directions_tried,
        notes=notes,
    )
