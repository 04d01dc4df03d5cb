"""What to build: what was drawn is kept, mounds and then the rest are proposed around it, all is tried on the water."""

from __future__ import annotations

from dataclasses import dataclass, replace

from shapely import MultiPolygon, Point

from sitepipe.site import Ref, Site, Status, Work
from sitepipe.sunlight.stage import Scene, site_scene
from sitepipe.wetness.record import Wetness
from sitepipe.works.built import Built, not_standing, these
from sitepipe.works.hazards import hazards_of
from sitepipe.works.houses.house import choose_hoop_houses, draw_hoop_houses
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.candidates import Works
from sitepipe.works.jobs.plan import plan_years
from sitepipe.works.land import Land
from sitepipe.works.mounds.plan import draw_mounds, is_too_coarse, plan_mounds
from sitepipe.works.mounds.record import Lacking, Mound, MoundChoice
from sitepipe.works.obstacles import drives
from sitepipe.works.own_shade import lost_by_mounds, shade_costs, spare_the_beds
from sitepipe.works.record import Plan
from sitepipe.works.rows.arch import draw_arches
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.rows.trellis import draw_trellises, lay_trellises
from sitepipe.works.stakes import prepare_setting_out
from sitepipe.works.staking import stake_together
from sitepipe.works.water.change import weigh_change
from sitepipe.works.water.drain import advise_drain
from sitepipe.works.water.impact import Baseline, drain_baseline, with_wanted
from sitepipe.works.water.record import Impact, Swale
from sitepipe.works.water.swale import draw_swales
from sitepipe.works.water.tipped import LEAST_PAD, pad_piece, rows_of, tipped_works
from sitepipe.works.water.whole_plan import harm_of, settle_plan
from sitepipe.works.ways.access import Access, settle_access
from sitepipe.works.ways.network import in_the_way
from sitepipe.works.ways.paths import drawn_path, with_ends
from sitepipe.works.ways.record import LeftOut, Path
from sitepipe.works.ways.tipping import choose_tipping_places
from sitepipe.works.ways.walking import walking_ground


@dataclass(frozen=True, slots=True)
class _Laid:
    """Proposed mounds and houses, and how everything is reached and tried with them and with what is drawn."""

    mounds: tuple[Mound, ...]
    houses: tuple[HoopHouse, ...]
    access: Access
    impact: Impact | None
    paths: tuple[Path, ...]
    left_out: tuple[LeftOut, ...]


def plan_works(land: Land) -> Plan:
    """Plan everything that is built: mounds first, since they are what the ground is raised for.

    What is drawn stays where it is. The hoop house keeps clear of the mounds, the tipping place of both, and the paths
    join what there is; all that is tipped is built into the ground and the water run once more. Where that fails,
    proposals without which it would not are left out or give way to their second choice, once. Then the barrows are
    counted along the paths, and the years from the material that is left after them.
    """
    is_coarse = is_too_coarse(land)
    if is_coarse and not land.site.works:
        return Plan(mound_choice=MoundChoice(lacking=Lacking.FINER_HEIGHTS))
    if is_coarse:
        land = replace(land, settings=land.settings.without_proposals())
    scene = site_scene(land.site, land.settings)
    drawn = draw_works(land, scene)
    baseline = drain_baseline(land)
    wanted = rows_of(tipped_works(land, baseline.ground, drawn))
    mounds, choice = plan_mounds(land, with_wanted(land, baseline, wanted), drawn)
    taken = tuple(work.ground for work in (*drawn, *mounds))
    houses, refusals = choose_hoop_houses(land, taken)
    houses = spare_the_beds(land, (*these(Mound, drawn), *mounds), houses, scene)
    laid = _lay_out(land, baseline, drawn, mounds, houses, frozenset())
    laid, choice = _spare_the_water(land, baseline, drawn, laid, choice)
    if is_coarse:
        choice = replace(choice, lacking=Lacking.FINER_HEIGHTS)
    return _made_up(land, baseline, drawn, laid, scene, Plan(hoop_house_refusals=refusals, mound_choice=choice))


def draw_works(land: Land, scene: Scene) -> tuple[Built, ...]:
    """Work out what stands and what is wanted, each where it was drawn; tipping places are chosen with the others."""
    if not land.site.works:
        return ()
    mounds = draw_mounds(land)
    houses = draw_hoop_houses(land, tuple(mound.outline for mound in mounds))
    rows = draw_trellises(land, mounds, scene)
    walking = walking_ground(land, in_the_way((*mounds, *houses, *rows)))
    paths = tuple(drawn_path(work, land, walking) for work in land.site.works_of(Work.PATH))
    return (*mounds, *houses, *rows, *paths, *draw_arches(land, paths), *draw_swales(land))


def _lay_out(
    land: Land,
    baseline: Baseline,
    drawn: tuple[Built, ...],
    mounds: tuple[Mound, ...],
    houses: tuple[HoopHouse, ...],
    without: frozenset[Ref],
) -> _Laid:
    """Find where chips are tipped, join everything, and try it on the water; ``without`` is not built."""
    mounds = tuple(mound for mound in mounds if mound.ref not in without)
    houses = tuple(house for house in houses if house.ref not in without)
    heaps, built = (*these(Mound, drawn), *mounds), (*drawn, *mounds, *houses[:1])
    taken = tuple(work.ground for work in built if not isinstance(work, Mound))
    places = tuple(place for place in choose_tipping_places(land, heaps, taken) if place.ref not in without)
    access = settle_access(land, built, places)
    everything = (*built, *access.places[:1], *access.paths)
    impact, paths, left_out = settle_plan(land, baseline, everything)
    return _Laid(mounds, houses, access, impact, tuple(path for path in paths if path not in drawn), left_out)


def _spare_the_water(
    land: Land, baseline: Baseline, drawn: tuple[Built, ...], laid: _Laid, choice: MoundChoice
) -> tuple[_Laid, MoundChoice]:
    """Leave out the proposals that fail the plan, once, where that helps: another house stands in for the first."""
    if laid.impact is None or laid.impact.passes:
        return laid, choice
    proposed = {work.ref for work in (*laid.mounds, *laid.houses[:1], *laid.access.places[:1])} - {w.ref for w in drawn}
    blamed = frozenset(ref for fault in laid.impact.faults for ref in fault.done_by if ref in proposed)
    if not blamed:
        return laid, choice
    again = _lay_out(land, baseline, drawn, laid.mounds, laid.houses, blamed)
    if again.impact is not None and harm_of(again.impact) >= harm_of(laid.impact):
        return laid, choice
    dropped = len(laid.mounds) - len(again.mounds)
    if dropped:
        choice = replace(choice, spared=laid.impact.faults[0], left_out=choice.left_out + dropped)
    return again, choice


def _made_up(land: Land, baseline: Baseline, drawn: tuple[Built, ...], laid: _Laid, scene: Scene, plan: Plan) -> Plan:
    """Set the rows beside the beds, count shade, hauls and years, and stake out what is to be built."""
    settings, site = land.settings, land.site
    mounds, houses = (*these(Mound, drawn), *laid.mounds), (*these(HoopHouse, drawn), *laid.houses[:1])
    places = laid.access.places
    joined = (*drawn, *laid.mounds, *laid.houses[:1], *places[:1])
    paths = with_ends((*these(Path, drawn), *laid.paths), joined, site)
    arches, swales = these(Arch, drawn), these(Swale, drawn)
    shading = (*mounds, *houses, *these(Trellis, drawn), *arches)
    taken = tuple(work.ground for work in (*houses, *places[:1], *paths, *these(Trellis, drawn), *arches, *swales))
    rows = (*these(Trellis, drawn), *lay_trellises(land, shading, taken, scene))
    costs = shade_costs(land, (*mounds, *houses, *rows, *arches), scene)

    change = None
    if site.change is not None:
        tipped = tipped_works(land, baseline.ground, (*drawn, *laid.mounds, *laid.houses[:1], *places[:1], *laid.paths))
        built = [work for work in tipped if laid.impact is not None and work.work in laid.impact.built]
        change = weigh_change(land, baseline, built, site.change)
    to_build = not_standing(houses)
    raised = [house for house in to_build if house.raised > LEAST_PAD]
    floor = sum(baseline.ground.fill_of(pad_piece(house, baseline.ground)) for house in raised)
    works = Works(
        not_standing(mounds),
        not_standing(paths),
        next(iter(to_build), None),
        not_standing(rows),
        next(iter(places), None),
        drives(site),
        floor,
        not_standing(arches),
        not_standing(swales),
    )
    planned, impact = plan_years(works, land), laid.impact
    if planned.ways_round:
        eased = (*drawn, *planned.mounds, *laid.houses[:1], *places[:1], *laid.access.paths)
        tried, again, left_out = settle_plan(land, baseline, tuple({work.ref: work for work in eased}.values()))
        is_same = with_ends(again, joined, site) == paths and left_out == laid.left_out
        if tried is not None and (tried.passes or not (impact and impact.passes)) and is_same:
            impact = tried
        else:
            planned = plan_years(works, land, is_eased=False)
    made = {mound.number: mound for mound in planned.mounds}
    mounds = tuple(made.get(mound.number, mound) for mound in mounds)

    setting_out = prepare_setting_out(site, settings.mound.tape, settings.mound.weakest_angle)
    staked = stake_together((*mounds, *houses, *rows, *arches, *swales), site, setting_out)
    others = [work for house in laid.houses[1:] for work in stake_together((house,), site, setting_out)]
    standing = {work.ref for work in staked if work.status is Status.STANDING}
    is_drawn = bool(site.works_of(Work.TIPPING_PLACE))
    plan = replace(
        plan,
        mounds=these(Mound, staked),
        hoop_houses=these(HoopHouse, staked),
        other_hoop_houses=these(HoopHouse, (replace(house, status=Status.ANOTHER) for house in others)),
        trellises=these(Trellis, staked),
        arches=these(Arch, staked),
        swales=these(Swale, staked),
        paths=paths,
        tipping_places=places if is_drawn else places[:1],
        other_tipping_places=() if is_drawn else tuple(replace(each, status=Status.ANOTHER) for each in places[1:]),
        impact=impact,
        change=change,
        quantities=planned.quantities,
        years=planned.years,
        articles=planned.articles,
        shortages=planned.shortages,
        ways_round=planned.ways_round,
        waiting=planned.waiting,
        chip_bed=planned.chip_bed,
        drain=advise_drain(site, _to_be_drained(site, mounds, land.wetness), settings),
        bench_mark=setting_out.bench_mark,
        no_tipping=laid.access.no_tipping,
        unreached=laid.access.unreached,
        own_shade=lost_by_mounds(mounds, tuple(cost for cost in costs if cost.by not in standing)),
        shade_costs=costs,
        left_out=laid.left_out,
    )
    hazards = hazards_of(site, not_standing((*plan.works, *plan.others)), settings)
    return replace(plan, hazards=hazards)


def _to_be_drained(site: Site, mounds: tuple[Mound, ...], wetness: Wetness) -> Point:
    """Return the middle of the ground that would be drained: of the mounds, else of the soggiest place."""
    if mounds:
        return MultiPolygon([mound.outline for mound in mounds]).centroid
    if wetness.soggy_places:
        return wetness.soggy_places[0].middle
    return site.parcel.representative_point()
