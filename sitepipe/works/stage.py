"""What to build: mounds first, then what goes beside them, then the whole plan tried on the water."""

from __future__ import annotations

from dataclasses import replace

from shapely import MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from sitepipe.site import Site, Status
from sitepipe.sunlight.stage import site_scene
from sitepipe.wetness.record import Wetness
from sitepipe.works.hazards import hazards_of
from sitepipe.works.houses.house import choose_hoop_houses
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.candidates import Works
from sitepipe.works.jobs.plan import plan_years
from sitepipe.works.land import Land
from sitepipe.works.mounds.plan import is_too_coarse, plan_mounds
from sitepipe.works.mounds.record import Lacking, Mound, MoundChoice
from sitepipe.works.obstacles import drives
from sitepipe.works.own_shade import lost_by_mounds, shade_costs, spare_the_beds
from sitepipe.works.record import Plan
from sitepipe.works.rows.record import Trellis
from sitepipe.works.rows.trellis import lay_trellises
from sitepipe.works.stakes import prepare_setting_out
from sitepipe.works.staking import stake_together
from sitepipe.works.water.change import weigh_change
from sitepipe.works.water.drain import advise_drain
from sitepipe.works.water.impact import drain_baseline
from sitepipe.works.water.tipped import LEAST_PAD, pad_piece, tipped_works
from sitepipe.works.water.whole_plan import settle_plan
from sitepipe.works.ways.access import settle_access
from sitepipe.works.ways.tipping import choose_tipping_places


def plan_works(land: Land) -> Plan:
    """Plan everything that is built: mounds first, since they are what the ground is raised for.

    The hoop house keeps clear of the mounds, the tipping place of both, and the paths join what there is. Then the
    barrows are counted along the paths, and the years from the material that is left after them. All that is tipped is
    built into the ground at the end and the water run once more.
    """
    if is_too_coarse(land):
        return Plan(mound_choice=MoundChoice(lacking=Lacking.FINER_HEIGHTS))
    setting_out = prepare_setting_out(land.site, land.settings.mound.tape, land.settings.mound.weakest_angle)
    baseline = drain_baseline(land)
    mounds, choice = plan_mounds(land, baseline)
    taken: tuple[BaseGeometry, ...] = tuple(mound.outline for mound in mounds)
    houses, refusals = choose_hoop_houses(land, taken)
    scene = site_scene(land.site, land.settings)
    houses = spare_the_beds(land, mounds, houses, scene)
    taken_too = tuple(house.outline for house in houses[:1])
    places = choose_tipping_places(land, mounds, taken_too)
    house = houses[0] if houses else None
    access = settle_access(land, mounds, house, places)
    places = access.places
    impact, paths, left_out = settle_plan(land, baseline, mounds, house, places, access.paths)

    standing = (*taken_too, *(place.outline for place in places[:1]), *(path.outline for path in paths))
    rows = lay_trellises(land, mounds, house, standing, scene)
    costs = shade_costs(land, mounds, house, rows, scene)
    floor = 0.0
    if house is not None and house.raised > LEAST_PAD:
        floor = baseline.ground.fill_of(pad_piece(house, baseline.ground))
    change = None
    if land.site.change is not None:
        tipped = tipped_works(land, baseline.ground, mounds, house, places, paths)
        raised = [work for work in tipped if impact is not None and work.work in impact.built]
        change = weigh_change(land, baseline, raised, land.site.change)
    works = Works(mounds, paths, house, rows, places[0] if places else None, drives(land.site), floor)
    planned = plan_years(works, land)
    if planned.ways_round:
        tried, *same = settle_plan(land, baseline, planned.mounds, house, places, access.paths)
        if tried is not None and (tried.passes or not (impact and impact.passes)) and same == [paths, left_out]:
            impact = tried
        else:
            planned = plan_years(works, land, is_eased=False)
    mounds = planned.mounds
    staked = stake_together((*mounds, *houses[:1], *rows), land.site, setting_out)
    others = tuple(
        replace(work, status=Status.ANOTHER)
        for house in houses[1:]
        for work in stake_together((house,), land.site, setting_out)
    )
    mounds = tuple(work for work in staked if isinstance(work, Mound))
    plan = Plan(
        mounds=mounds,
        hoop_houses=tuple(work for work in staked if isinstance(work, HoopHouse)),
        other_hoop_houses=tuple(work for work in others if isinstance(work, HoopHouse)),
        trellises=tuple(work for work in staked if isinstance(work, Trellis)),
        hoop_house_refusals=refusals,
        paths=paths,
        tipping_places=places[:1],
        other_tipping_places=tuple(replace(place, status=Status.ANOTHER) for place in places[1:]),
        impact=impact,
        change=change,
        quantities=planned.quantities,
        years=planned.years,
        articles=planned.articles,
        shortages=planned.shortages,
        ways_round=planned.ways_round,
        waiting=planned.waiting,
        drain=advise_drain(land.site, _to_be_drained(land.site, mounds, land.wetness), land.settings),
        bench_mark=setting_out.bench_mark,
        mound_choice=choice,
        no_tipping=access.no_tipping,
        unreached=access.unreached,
        own_shade=lost_by_mounds(mounds, costs),
        shade_costs=costs,
        left_out=left_out,
    )
    built = (*plan.mounds, *plan.hoop_houses, *plan.other_hoop_houses, *plan.trellises, *plan.paths)
    hazards = hazards_of(land.site, (*built, *plan.tipping_places, *plan.other_tipping_places), land.settings)
    return replace(plan, hazards=hazards)


def _to_be_drained(site: Site, mounds: tuple[Mound, ...], wetness: Wetness) -> Point:
    """Return the middle of the ground that would be drained: of the mounds, else of the soggiest place."""
    if mounds:
        return MultiPolygon([mound.outline for mound in mounds]).centroid
    if wetness.soggy_places:
        return wetness.soggy_places[0].middle
    return site.parcel.representative_point()
