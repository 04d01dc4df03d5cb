"""What to build: mounds first, then what goes beside them, then the whole plan tried on the water."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely import MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from sitepipe.drainage.record import Drainage
from sitepipe.scoring.record import Scores, Zones
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.sunlight.stage import site_scene
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.record import WaterTable, Wetness
from sitepipe.works.access import settle_access
from sitepipe.works.drain import advise_drain
from sitepipe.works.hoop_house import choose_hoop_houses
from sitepipe.works.impact import Baseline, drain_baseline
from sitepipe.works.jobs import list_jobs
from sitepipe.works.layout import Layout
from sitepipe.works.materials import add_up, barrow_hours
from sitepipe.works.mound_plan import MoundSearch, build_mounds, search_mounds
from sitepipe.works.mound_trials import settle_layout
from sitepipe.works.mounds import stake_mound
from sitepipe.works.own_shade import lost_by_mounds, settle_rows, shade_costs, spare_the_beds
from sitepipe.works.record import Impact, Mound, Plan, ShadeCost, Trellis
from sitepipe.works.stakes import prepare_setting_out
from sitepipe.works.staking import stake_house, stake_row
from sitepipe.works.tipping import choose_tipping_places
from sitepipe.works.trellis import lay_trellises
from sitepipe.works.whole_plan import settle_plan
from sitepipe.works.years import plan_years


@dataclass(frozen=True, slots=True)
class MoundPlan:
    """The mounds, what they do to the water, and how they were found."""

    mounds: tuple[Mound, ...]
    impact: Impact | None
    search: MoundSearch
    notes: tuple[str, ...]
    baseline: Baseline | None = None


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
    """Plan everything that is built: mounds first, since they are what the ground is raised for.

    The hoop house keeps clear of the mounds, the tipping place of both, and the paths join what there is. Then the
    barrows are counted along the paths, and the years from the material that is left after them. All that is tipped is
    built into the ground at the end and the water run once more.
    """
    setting_out = prepare_setting_out(site, settings.mound.tape, settings.mound.weakest_angle)
    mound_plan = plan_mounds(site, terrain, drainage, water_table, scores, zones, settings)
    taken: tuple[BaseGeometry, ...] = tuple(mound.outline for mound in mound_plan.mounds)
    houses, refusals = choose_hoop_houses(
        site, terrain, drainage, sunlight, wetness, water_table, scores, settings, taken
    )
    scene = site_scene(site, settings)
    houses = spare_the_beds(site, settings, sunlight, mound_plan.mounds, houses, scene)
    taken_too = tuple(house.outline for house in houses[:1])
    places = choose_tipping_places(
        site, terrain, drainage, wetness, water_table, scores, settings, mound_plan.mounds, taken_too
    )
    house = houses[0] if houses else None
    access = settle_access(site, terrain, drainage, wetness, scores, settings, mound_plan.mounds, house, places)
    baseline = mound_plan.baseline or drain_baseline(site, drainage)
    places = access.places
    whole = settle_plan(site, baseline, mound_plan.mounds, house, places, access.paths, settings)
    paths = whole.paths

    def lay_rows(*kept_off: BaseGeometry) -> tuple[Trellis, ...]:
        standing = (*taken_too, *(place.outline for place in places[:1]), *kept_off)
        ground = (site, terrain, drainage, sunlight, wetness, water_table, scores, settings)
        return lay_trellises(*ground, mound_plan.mounds, standing, paths, scene)

    def costs_of(laid: tuple[Trellis, ...]) -> tuple[ShadeCost, ...]:
        return shade_costs(site, settings, sunlight, mound_plan.mounds, house, laid, scene)

    rows, costs = settle_rows(lay_rows, costs_of, house)
    staked = tuple(stake_mound(mound, site, setting_out) for mound in mound_plan.mounds)
    mounds = count_hauls(staked, access.ways, settings)
    years = plan_years(mounds, paths, settings.materials)
    plan = Plan(
        mounds=mounds,
        hoop_houses=tuple(stake_house(house, site, setting_out) for house in houses),
        trellises=tuple(stake_row(row, site, setting_out) for row in rows),
        hoop_house_refusals=refusals,
        paths=paths,
        tipping_places=places,
        impact=whole.impact,
        quantities=add_up(mounds, paths, years, settings.materials, settings.jobs),
        years=years,
        drain=advise_drain(site, _to_be_drained(site, mounds, wetness), settings),
        bench_mark=setting_out.bench_mark,
        directions_tried=mound_plan.search.directions_tried,
        notes=(*mound_plan.notes, *access.notes, *whole.notes),
        own_shade=lost_by_mounds(mounds, costs),
        shade_costs=costs,
    )
    return replace(plan, jobs=list_jobs(site, plan, settings))


def count_hauls(mounds: tuple[Mound, ...], ways: dict[int, float], settings: Settings) -> tuple[Mound, ...]:
    """Count the hours of each mound again, along the paths from where the chips are tipped."""
    return tuple(
        replace(mound, hours=barrow_hours(mound.barrows, ways[mound.number], settings.jobs))
        if mound.number in ways
        else mound
        for mound in mounds
    )


def plan_mounds(
    site: Site,
    terrain: Terrain,
    drainage: Drainage,
    water_table: WaterTable,
    scores: Scores,
    zones: Zones,
    settings: Settings,
) -> MoundPlan:
    """Search a layout, build it into the ground, and keep the best that leaves the neighbours' water alone."""
    search = search_mounds(site, terrain, drainage, water_table, scores, zones, settings)
    if not search.layouts:
        return MoundPlan((), None, search, search.notes)

    def build(layout: Layout) -> tuple[tuple[Mound, ...], tuple[str, ...]]:
        return build_mounds(layout, search, site, terrain, water_table, settings)

    baseline = drain_baseline(site, drainage)
    mounds, impact, notes = settle_layout(site, baseline, search.layouts, build, settings)
    return MoundPlan(mounds, impact, search, (*search.notes, *notes), baseline)


def _to_be_drained(site: Site, mounds: tuple[Mound, ...], wetness: Wetness) -> Point:
    """Return the middle of the ground that would be drained: of the mounds, else of the soggiest place."""
    if mounds:
        return MultiPolygon([mound.outline for mound in mounds]).centroid
    if wetness.soggy_places:
        return wetness.soggy_places[0].middle
    return site.parcel.representative_point()
