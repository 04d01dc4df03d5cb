"""The plan as tasks, in numbers: in their order, with people, hours and what each waits for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

import shapely
from shapely import Point
from shapely.ops import nearest_points

from sitepipe.settings import Settings
from sitepipe.site import Kind, Ref, Site, Work
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.hours import arch_hours, house_hours, path_hours, row_hours, swale_hours
from sitepipe.works.jobs.order import haul_along_paths, order_of_building
from sitepipe.works.jobs.record import Job, Task
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.obstacles import drives
from sitepipe.works.record import Plan
from sitepipe.works.rows.record import Trellis
from sitepipe.works.ways.record import Path, TippingPlace

STAKE_HOURS = 0.1
"""For one stake, with two people on the tapes: common practice, no source. [h]"""
OUTLET_NEAR = 5.0
"""A culvert or ditch so near to the parcel is its outlet: own choice. [m]"""

_NEEDS: Mapping[Task, frozenset[Task]] = {
    Task.STAKE: frozenset({Task.ASK}),
    Task.BORE: frozenset({Task.ASK}),
    Task.CUT: frozenset({Task.ASK}),
    Task.DIG_SWALE: frozenset({Task.STAKE, Task.CLEAR}),
    Task.TAKE_CHIPS: frozenset({Task.ASK, Task.CLEAR}),
    Task.LAY_PATHS: frozenset({Task.STAKE, Task.TAKE_CHIPS, Task.LAY_PATHS}),
    Task.BUILD_MOUND: frozenset({Task.STAKE, Task.BORE, Task.DIG_SWALE, Task.LAY_PATHS, Task.LOOK_AGAIN}),
    Task.BUILD_HOUSE: frozenset({Task.STAKE, Task.DIG_SWALE}),
    Task.SET_TRELLIS: frozenset({Task.STAKE}),
    Task.SET_ARCH: frozenset({Task.STAKE, Task.LAY_PATHS}),
    Task.HEEL_IN: frozenset({Task.ASK}),
    Task.PLANT: frozenset({Task.ASK}),
    Task.LOOK_AGAIN: frozenset({Task.DIG_SWALE, Task.LAY_PATHS, Task.BUILD_MOUND, Task.BUILD_HOUSE}),
}
"""Of the jobs with lower numbers, those that must be done before."""
_ON_ITS_MOUND = frozenset({Task.PLANT, Task.SET_TRELLIS})
"""What waits for the mounds, trellises and arches that it is done to."""
_STANDS_ON = frozenset({Task.BUILD_MOUND, Task.SET_TRELLIS, Task.SET_ARCH})
_BUILDS = _STANDS_ON | {Task.DIG_SWALE, Task.TAKE_CHIPS, Task.LAY_PATHS, Task.BUILD_HOUSE}
"""What nobody begins while the plan would send its water onto others."""
_HEAVY = frozenset({Task.TAKE_CHIPS, Task.BUILD_MOUND, Task.BUILD_HOUSE})
"""What is carried in by wheel, or dug, where nothing is laid yet; paths are laid on their own chips."""


def list_jobs(land: Land, plan: Plan, more: Sequence[Job] = ()) -> tuple[Job, ...]:
    """List the jobs by year, and in each as they are done: ask, measure, clear the outlet, get in, build, look again.

    What stands asks for no job; its paths are walked all the same. ``more`` are jobs of other rooms, without numbers:
    within their year they come last, and numbers and what they wait for follow from their task.
    """
    ways, plan = plan.paths, plan.to_build()
    if not any((plan.mounds, plan.hoop_houses, plan.trellises, plan.arches, plan.swales, plan.paths, more)):
        return ()
    site, settings = land.site, land.settings
    found = [
        *_before(site, plan),
        *_outlets(site),
        *_cut(plan, settings),
        *_swales(plan, settings),
        *_ways(site, plan, ways, settings),
        *_building(site, plan, ways, settings),
        _look_again(land, plan),
        *more,
    ]
    is_held = plan.impact is not None and not plan.impact.passes
    soft = shapely.union_all([place.outline for place in land.wetness.soggy_places])
    heavy: tuple[Mound | HoopHouse | TippingPlace, ...] = (*plan.mounds, *plan.hoop_houses, *plan.tipping_places)
    ground = {work.ref: work.outline for work in heavy}
    numbered = [
        replace(
            job,
            number=number,
            is_held=is_held and job.task in _BUILDS,
            is_soft=job.task in _HEAVY and any(ground[thing].intersects(soft) for thing in job.things),
        )
        for number, job in enumerate(sorted(found, key=lambda job: job.year), 1)
    ]
    beside = {row.ref: row.beside or row.ref for row in plan.trellises}
    return tuple(replace(job, after=_what_comes_before(job, numbered, beside)) for job in numbered)


def _what_comes_before(job: Job, jobs: Sequence[Job], beside: Mapping[Ref, Ref]) -> tuple[int, ...]:
    """Return the jobs without which one cannot begin; a mound waits for those of earlier years, not of its own."""
    needed = _NEEDS.get(job.task, frozenset())
    own = {*job.things, *(beside.get(thing, thing) for thing in job.things)} if job.task in _ON_ITS_MOUND else set()
    return tuple(
        other.number
        for other in jobs[: job.number - 1]
        if other.task in needed
        or (other.task in _STANDS_ON and not own.isdisjoint(other.things))
        or (other.task is job.task is Task.BUILD_MOUND and other.year < job.year)
    )


def _before(site: Site, plan: Plan) -> Iterator[Job]:
    """Ask and measure; bore for the water where no one has."""
    gates = site.of_kind(Kind.GATE)
    gate = gates[0].geometry.centroid if gates else None
    yield Job(Task.ASK, gate, 1, 1.0)
    hours = round(max(2.0 * STAKE_HOURS * len(plan.stakes), 1.0), 1)
    yield Job(Task.STAKE, gate, 2, hours, least_people=2, digs=True)
    if any(mound.is_guess for mound in plan.mounds):
        yield Job(Task.BORE, _middle(plan.mounds[0]), 2, 3.0, digs=True)


def _outlets(site: Site) -> Iterator[Job]:
    """Clear the water's way out, before anything is tipped."""
    drains = [
        drain for drain in site.of_kind(Kind.DITCH, Kind.CULVERT) if drain.geometry.distance(site.parcel) <= OUTLET_NEAR
    ]
    if drains:
        place = nearest_points(drains[0].geometry, site.parcel)[0]
        yield Job(Task.CLEAR, place, 2, 2.0, tuple(drain.ref for drain in drains), least_people=2)


def _cut(plan: Plan, settings: Settings) -> Iterator[Job]:
    """Cut brush and turn lawn, as the mounds of each year take it."""
    for year in plan.years:
        if year.cutting > 0.0:
            yield Job(Task.CUT, None, settings.jobs.people, round(max(year.cutting, 0.5), 1), year=year.year, digs=True)


def _swales(plan: Plan, settings: Settings) -> Iterator[Job]:
    """Dig the swales, so that what is heaped up later finds the water led away."""
    year_of = years_of(plan)
    for swale in plan.swales:
        if swale.ref not in plan.waiting:
            hours = round(swale_hours(swale, settings.jobs), 1)
            place, year = swale.line.interpolate(0.5, normalized=True), year_of.get(swale.ref, 1)
            yield Job(Task.DIG_SWALE, place, settings.jobs.people, hours, (swale.ref,), year, digs=True)


def _ways(site: Site, plan: Plan, ways: tuple[Path, ...], settings: Settings) -> Iterator[Job]:
    """Get in: the first load, then the main paths, then the side paths, each piece after piece from the way in."""
    place = plan.tipping_places[0] if plan.tipping_places else None
    if place is not None:
        yield Job(Task.TAKE_CHIPS, place.place, 1, 1.0, (place.ref,))
    middles = {path.number: path.line.interpolate(0.5, normalized=True) for path in plan.paths}
    hauls = haul_along_paths(middles, place, ways, drives(site))
    year_of = years_of(plan)
    laid = [path for path in plan.paths if path.ref not in plan.waiting]
    for year in sorted({year_of.get(path.ref, 1) for path in laid}):
        for is_main in (True, False):
            paths = [path for path in laid if path.is_main is is_main and year_of.get(path.ref, 1) == year]
            if not paths:
                continue
            longest = max(paths, key=lambda path: path.length)
            yield Job(
                Task.LAY_PATHS,
                middles[longest.number],
                min(settings.jobs.people, 3),
                round(sum(path_hours(path, hauls.get(path.number, path.length), settings.jobs) for path in paths), 1),
                tuple(path.ref for path in paths),
                year,
                digs=any(path.crossings or path.cut > 0.0 for path in paths),
            )


def _building(site: Site, plan: Plan, ways: tuple[Path, ...], settings: Settings) -> Iterator[Job]:
    """Build: mounds in the order of access, then what stands on posts."""
    by_number = {mound.number: mound for mound in plan.mounds if mound.ref not in plan.waiting}
    place = plan.tipping_places[0] if plan.tipping_places else None
    year_of = years_of(plan)
    never = max(year_of.values(), default=0) + 1
    order = order_of_building(tuple(by_number.values()), place, ways, plan.years, drives(site))
    for year, numbers in groupby(order, lambda number: year_of.get(Ref(Work.MOUND, number), never)):
        built = [by_number[number] for number in numbers]
        for mound in built:
            yield _build_mound(mound, year, settings)
    for house in plan.hoop_houses:
        if house.ref not in plan.waiting:
            yield _build_house(house, year_of.get(house.ref, 1), settings)
    for row in plan.trellises:
        if row.ref not in plan.waiting:
            yield _set_trellis(row, year_of.get(row.ref, year_of.get(row.beside or row.ref, 1)))
    for arch in plan.arches:
        if arch.ref not in plan.waiting:
            middle, hours = arch.line.interpolate(0.5, normalized=True), round(arch_hours(arch), 1)
            year = year_of.get(arch.ref, 1)
            yield Job(Task.SET_ARCH, middle, 2, hours, (arch.ref,), year, least_people=2, digs=True)


def years_of(plan: Plan) -> dict[Ref, int]:
    """Return the year of each work that has one."""
    mounds = {Ref(Work.MOUND, number): year.year for year in plan.years for number in year.builds}
    return mounds | {work: year.year for year in plan.years for work in year.works}


def _build_mound(mound: Mound, year: int, settings: Settings) -> Job:
    hours = round(mound.hours, 1)
    return Job(Task.BUILD_MOUND, _middle(mound), settings.jobs.people, hours, (mound.ref,), year, digs=True)


def _build_house(house: HoopHouse, year: int, settings: Settings) -> Job:
    people = max(2, min(settings.jobs.people, 4))
    hours = round(house_hours(house), 1)
    return Job(Task.BUILD_HOUSE, house.outline.centroid, people, hours, (house.ref,), year, least_people=2, digs=True)


def _set_trellis(row: Trellis, year: int) -> Job:
    place = row.line.interpolate(0.5, normalized=True)
    hours = round(row_hours(row), 1)
    return Job(Task.SET_TRELLIS, place, 2, hours, (row.ref,), year, least_people=2, digs=True)


def _look_again(land: Land, plan: Plan) -> Job:
    """See the first year's work through a wet spell, before more is built."""
    wet = tuple(sorted(land.settings.water_table.wet_at(land.site.latitude)))
    crests = tuple(mound.ref for mound in plan.mounds)
    return Job(Task.LOOK_AGAIN, None, min(land.settings.jobs.people, 2), 2.0, crests, months=wet)


def _middle(mound: Mound) -> Point:
    return mound.crest.interpolate(0.5, normalized=True)
