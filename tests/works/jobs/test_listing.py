"""The plan as tasks: their order, what they wait for, and their hours."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import LineString, Point, box

from sitepipe.settings import make_settings
from sitepipe.site import Kind, Ref, Status, Work
from sitepipe.wetness.record import SoggyPlace
from sitepipe.works.built import Side, Stake
from sitepipe.works.houses.search import rectangle
from sitepipe.works.jobs.listing import list_jobs
from sitepipe.works.jobs.materials import barrow_hours
from sitepipe.works.jobs.record import Job, Task, YearOfWork
from sitepipe.works.land import Land
from sitepipe.works.record import Plan
from sitepipe.works.water.record import Impact, Rise, RisesAt
from sitepipe.works.ways.record import Path
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import arch_on, house_on, known, mound, place_at, row_on, swale_on

GATE = draw_thing(1, Kind.GATE, "Gate", Point(30.0, 6.5))
LAND = known(make_site(plane(60, 60, 1.0), 1.0, (GATE,)))
LINE = LineString([(12.0, 10.0), (22.0, 10.0)])
PATH = Path(1, LINE, LINE.buffer(0.45), (GATE.ref, Ref(Work.MOUND, 1)), 0.9, True, (), 1.7, 0.5, 10.0, 12.0, 10.0)
STAKE = Stake("A1", Point(20.0, 13.0), (("Gate", 10.0), ("House", 12.0)), Side.LEFT, 60.0, 0.4)
PLAN = Plan(
    mounds=(mound(1, 20.0, 13.0, 24.0, 13.0), mound(2, 14.0, 13.0, 18.0, 13.0)),
    hoop_houses=(house_on(rectangle(40.0, 40.0, 90.0, 9.0, 4.0)),),
    trellises=(replace(row_on(LineString([(30.0, 30.0), (36.0, 30.0)])), beside=Ref(Work.MOUND, 2)),),
    paths=(PATH,),
    tipping_places=(place_at(10.0, 10.0),),
    years=(YearOfWork(1, (1,), (), 1.0, 4.0, ()), YearOfWork(2, (2,), (1,), 1.0, 4.0, ())),
)


PLANTING = tuple(
    Job(Task.PLANT, None, 2, 1.0, (Ref(Work.MOUND, number),), year=number, months=(10,)) for number in (1, 2)
)
"""As the planting hands them on."""


def tasks(plan: Plan = PLAN, land: Land = LAND, more: tuple[Job, ...] = ()) -> list[Task]:
    return [job.task for job in list_jobs(land, plan, more)]


def the(task: Task, plan: Plan = PLAN, land: Land = LAND) -> Job:
    return next(job for job in list_jobs(land, plan) if job.task is task)


def test_jobs_are_asked_measured_got_in_built_and_looked_at_year_by_year() -> None:
    assert tasks(more=PLANTING) == [
        Task.ASK, Task.STAKE, Task.TAKE_CHIPS, Task.LAY_PATHS, Task.BUILD_MOUND, Task.BUILD_HOUSE, Task.LOOK_AGAIN,
        Task.PLANT, Task.BUILD_MOUND, Task.SET_TRELLIS, Task.PLANT,
    ]  # fmt: skip
    listed = list_jobs(LAND, PLAN, PLANTING)
    assert [job.number for job in listed] == list(range(1, len(listed) + 1))
    assert [job.year for job in listed] == sorted(job.year for job in listed)


def test_what_comes_before_has_a_lower_number_and_is_what_it_rests_on() -> None:
    listed = list_jobs(LAND, PLAN, PLANTING)
    rests_on = {
        job.task if job.year == 1 else (job.task, job.year): [listed[number - 1].task for number in job.after]
        for job in listed
    }
    assert all(number < job.number for job in listed for number in job.after)
    assert rests_on[Task.STAKE] == [Task.ASK]
    assert rests_on[Task.BUILD_MOUND] == [Task.STAKE, Task.LAY_PATHS]
    assert rests_on[Task.PLANT] == [Task.ASK, Task.BUILD_MOUND]
    assert rests_on[Task.BUILD_MOUND, 2] == [Task.STAKE, Task.LAY_PATHS, Task.BUILD_MOUND, Task.LOOK_AGAIN]
    assert rests_on[Task.PLANT, 2] == [Task.ASK, Task.BUILD_MOUND]
    assert rests_on[Task.SET_TRELLIS, 2] == [Task.STAKE, Task.BUILD_MOUND]


def test_a_swale_comes_before_what_is_heaped_up_and_an_arch_before_what_climbs_on_it() -> None:
    arch, swale = arch_on(LINE, PATH.ref), swale_on(LineString([(5.0, 40.0), (15.0, 40.0)]))
    climbing = Job(Task.PLANT, None, 2, 1.0, (arch.ref,), months=(10,))
    listed = list_jobs(LAND, replace(PLAN, arches=(arch,), swales=(swale,)), (climbing,))
    by_task = {job.task: job for job in reversed(listed)}
    assert by_task[Task.SET_ARCH].number in by_task[Task.PLANT].after
    assert by_task[Task.LAY_PATHS].number in by_task[Task.SET_ARCH].after
    for task in (Task.BUILD_MOUND, Task.BUILD_HOUSE):
        assert by_task[Task.DIG_SWALE].number in by_task[task].after
    # 8 posts driven in half an hour and 3 panels bent in an hour; 1.5 m3 at .5 m3/h: by hand.
    assert (by_task[Task.SET_ARCH].people_hours, by_task[Task.DIG_SWALE].people_hours) == (7.0, 3.0)


def test_a_mound_that_no_year_reaches_comes_after_all_years() -> None:
    never = replace(PLAN, years=PLAN.years[:1])
    assert [(job.year, job.things) for job in list_jobs(LAND, never) if job.task is Task.BUILD_MOUND] == [
        (1, (Ref(Work.MOUND, 1),)),
        (2, (Ref(Work.MOUND, 2),)),
    ]


def test_jobs_of_other_rooms_take_their_place_in_their_year() -> None:
    own = Job(Task.PLANT, None, 1, 2.0, (Ref(Work.MOUND, 2),), year=2, months=(4, 5))
    listed = list_jobs(LAND, PLAN, (own,))
    added = next(job for job in listed if job.months == (4, 5))
    assert added.number == len(listed)
    assert [listed[number - 1].things for number in added.after] == [(), (Ref(Work.MOUND, 2),)]


def test_what_digs_and_what_two_must_do_is_known() -> None:
    listed = list_jobs(LAND, PLAN, PLANTING)
    assert {job.task for job in listed if job.digs} == {
        Task.STAKE, Task.LAY_PATHS, Task.BUILD_MOUND, Task.BUILD_HOUSE, Task.SET_TRELLIS,
    }  # fmt: skip
    assert {job.task for job in listed if job.least_people > 1} == {Task.STAKE, Task.BUILD_HOUSE, Task.SET_TRELLIS}
    flat = Plan(paths=(replace(PATH, cut=0.0),))
    assert not the(Task.LAY_PATHS, flat).digs


def test_while_the_plan_sends_water_onto_others_nothing_is_built() -> None:
    rise = Rise(RisesAt.NEXT_DOOR, Point(0.0, 0.0), 0.05, 0.05, fails=True)
    failing = replace(PLAN, impact=Impact(1.0, 2.0, 0.1, 0.1, 0.0, (), (rise,), ()))
    free = [job.task for job in list_jobs(LAND, failing, PLANTING) if not job.is_held]
    assert free == [Task.ASK, Task.STAKE, Task.LOOK_AGAIN, Task.PLANT, Task.PLANT]
    assert not any(job.is_held for job in list_jobs(LAND, PLAN, PLANTING))


def test_a_mound_on_soft_ground_waits_for_dry_months_and_what_is_not_heavy_does_not() -> None:
    ground = box(15.0, 11.0, 17.0, 15.0)
    soft = SoggyPlace(
        1, ground, ground.centroid, 8.0, None, None, None, 0.9, False, None, 1.0, None, ("gate", 9.0, 0.0)
    )
    wet = replace(LAND, wetness=replace(LAND.wetness, soggy_places=(soft,)))
    assert [job.things for job in list_jobs(wet, PLAN) if job.is_soft] == [(Ref(Work.MOUND, 2),)]


def test_one_looks_again_in_the_wet_months_of_the_own_half_of_the_earth() -> None:
    assert the(Task.LOOK_AGAIN).months == (1, 2, 3, 4, 5, 11, 12)
    south = replace(LAND, site=replace(LAND.site, latitude=-40.0))
    assert the(Task.LOOK_AGAIN, land=south).months == (5, 6, 7, 8, 9, 10, 11)


def test_the_hours_of_a_path_are_barrows_raking_digging_and_edging() -> None:
    """Worked by hand: 20 barrows over 2 m at 4 min and 45 m/min, 1.7 m3 raked, .5 m3 dug at .5 m3/h, 10 m edged."""
    haul = 5.0 - 3.0  # from where the path passes the pile (x = 12 to 13.5) to its middle at x = 17, beside from 15.4
    expected = barrow_hours(20, haul, LAND.settings.jobs) + 1.7 / 1.0 + 0.5 / 0.5 + 0.05 * 10.0
    assert the(Task.LAY_PATHS).people_hours == pytest.approx(expected, abs=0.1)


def test_stakes_are_counted_and_their_hours_with_them() -> None:
    staked = Plan(mounds=(mound(1, 20.0, 13.0, 24.0, 13.0, stakes=(STAKE,) * 12),))
    assert the(Task.STAKE, staked).people_hours == pytest.approx(2.4)


def test_no_more_people_are_asked_than_there_are() -> None:
    alone = replace(LAND, settings=make_settings({"jobs": {"people": 1}}, "test"))
    assert the(Task.BUILD_MOUND, land=alone).people == 1
    assert the(Task.LAY_PATHS, land=alone).people == 1


def test_what_stands_asks_for_no_job_and_its_path_is_walked() -> None:
    side = replace(PATH, number=2, line=LineString([(22.0, 10.0), (28.0, 10.0)]), is_main=False)
    wanted = replace(PLAN, paths=(PATH, side))
    stood = replace(
        wanted,
        mounds=(replace(PLAN.mounds[0], status=Status.STANDING), PLAN.mounds[1]),
        hoop_houses=tuple(replace(house, status=Status.STANDING) for house in PLAN.hoop_houses),
        trellises=tuple(replace(row, status=Status.STANDING) for row in PLAN.trellises),
        paths=(replace(PATH, status=Status.STANDING), side),
    )
    built = [thing for job in list_jobs(LAND, stood) for thing in job.things if job.task is not Task.LOOK_AGAIN]
    assert built == [PLAN.tipping_places[0].ref, side.ref, Ref(Work.MOUND, 2)]
    before = [job for job in list_jobs(LAND, wanted) if job.things == (side.ref,)]
    after = [job for job in list_jobs(LAND, stood) if job.things == (side.ref,)]
    assert [job.people_hours for job in after] == [job.people_hours for job in before]


def test_without_works_there_are_no_jobs() -> None:
    assert list_jobs(LAND, Plan()) == ()


def test_the_outlet_is_cleared_before_anything_is_tipped() -> None:
    ditch = draw_thing(3, Kind.DITCH, "North ditch", LineString([(5.0, 50.0), (55.0, 50.0)]))
    ditched = replace(LAND, site=replace(LAND.site, features=(GATE, ditch)))
    listed = tasks(land=ditched)
    assert listed.index(Task.CLEAR) < listed.index(Task.TAKE_CHIPS)
    assert Task.CLEAR not in tasks(), "none is drawn"


def test_where_no_hole_was_read_holes_are_bored_before_anything_is_built() -> None:
    guessed = replace(PLAN, mounds=tuple(replace(mound, is_guess=True) for mound in PLAN.mounds))
    listed = list_jobs(LAND, guessed)
    bore = next(job for job in listed if job.task is Task.BORE)
    assert all(bore.number in job.after for job in listed if job.task is Task.BUILD_MOUND)
    assert Task.BORE not in tasks()
