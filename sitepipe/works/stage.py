"""What to build: mounds first, then what goes beside them, then the whole plan tried on the water."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Point

from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Scores, Zones
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.record import WaterTable, Wetness
from sitepipe.works.drain import advise_drain
from sitepipe.works.impact import drain_baseline
from sitepipe.works.layout import Layout
from sitepipe.works.materials import add_up
from sitepipe.works.mound_plan import MoundSearch, build_mounds, search_mounds
from sitepipe.works.mound_trials import settle_layout
from sitepipe.works.record import Impact, Mound, Plan
from sitepipe.works.stakes import SettingOut, prepare_setting_out
from sitepipe.works.years import plan_years


@dataclass(frozen=True, slots=True)
class MoundPlan:
    """The mounds, what they do to the water, and how they were found."""

    mounds: tuple[Mound, ...]
    impact: Impact | None
    search: MoundSearch
    notes: tuple[str, ...]


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
    del sunlight
    setting_out = prepare_setting_out(site, settings.mound.tape, settings.mound.weakest_angle)
    mound_plan = plan_mounds(site, terrain, drainage, water_table, scores, zones, setting_out, settings)
    mounds = mound_plan.mounds
    return Plan(
        mounds=mounds,
        impact=mound_plan.impact,
        quantities=add_up(mounds, (), settings.materials, settings.jobs),
        years=plan_years(mounds, (), settings.materials),
        drain=advise_drain(site, _wettest(site, wetness), settings),
        bench_mark=setting_out.bench_mark,
        directions_tried=mound_plan.search.directions_tried,
        notes=mound_plan.notes,
    )


def plan_mounds(
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    water_table: WaterTable,
    scores: Scores,
    zones: Zones,
    setting_out: SettingOut,
    settings: Settings,
) -> MoundPlan:
    """Search a layout, build it into the ground, and keep the best that leaves the neighbours' water alone."""
    search = search_mounds(site, terrain, drainage, water_table, scores, zones, settings)
    if not search.layouts:
        return MoundPlan((), None, search, search.notes)

    def build(layout: Layout) -> tuple[tuple[Mound, ...], tuple[str, ...]]:
        return build_mounds(layout, search, site, terrain, water_table, setting_out, settings)

    mounds, impact, notes = settle_layout(site, drain_baseline(site, drainage), search.layouts, build, settings)
    return MoundPlan(mounds, impact, search, (*search.notes, *notes))


def _wettest(site: Site, wetness: Wetness) -> Point:
    """Return the middle of the soggiest place, or of the parcel where there is none."""
    if wetness.soggy_places:
        return wetness.soggy_places[0].middle
    return site.parcel.representative_point()
