"""The plan as tasks."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import LineString, Point, box

from sitepipe.settings import Settings, make_settings
from sitepipe.site import Kind, Ref, Work
from sitepipe.works.built import Side, Stake
from sitepipe.works.houses.search import rectangle
from sitepipe.works.jobs.listing import digging_caution, list_jobs
from sitepipe.works.jobs.materials import barrow_hours
from sitepipe.works.jobs.record import Job, YearOfWork
from sitepipe.works.record import Plan
from sitepipe.works.water.record import Rise, RisesAt
from sitepipe.works.ways.record import Path
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import PLAIN, house_on, mound, place_at, row_on

GATE = draw_thing(1, Kind.GATE, "Gate", Point(30.0, 6.5))
PIPE = draw_thing(2, Kind.BURIED_LINE, "Old pipe", LineString([(10.0, 10.0), (20.0, 20.0)]))
SITE = make_site(plane(60, 60, 1.0), 1.0, (GATE, PIPE))
LINE = LineString([(12.0, 10.0), (22.0, 10.0)])
PATH = Path(1, LINE, LINE.buffer(0.45), (GATE.ref, Ref(Work.MOUND, 1)), 0.9, True, (), 1.7, 0.5, 10.0, 12.0, 10.0)
PLACE = place_at(10.0, 10.0)
HOUSE = house_on(rectangle(40.0, 40.0, 90.0, 9.0, 4.0))
ROW = row_on(LineString([(30.0, 30.0), (36.0, 30.0)]), is_wet=True)
STAKE = Stake("A1", Point(20.0, 13.0), (("Gate", 10.0), ("House", 12.0)), Side.LEFT, 60.0, 0.4)
PLAN = Plan(
    mounds=(mound(1, 20.0, 13.0, 24.0, 13.0), mound(2, 14.0, 13.0, 18.0, 13.0)),
    hoop_houses=(HOUSE,),
    trellises=(ROW,),
    paths=(PATH,),
    tipping_places=(PLACE,),
    years=(YearOfWork(1, (1,), (), 1.0, 4.0, ()), YearOfWork(2, (2,), (1,), 1.0, 4.0, ())),
    bench_mark="West gate post",
)


def jobs(plan: Plan = PLAN, settings: Settings = PLAIN) -> tuple[Job, ...]:
    return list_jobs(SITE, plan, settings)


def named(start: str, plan: Plan = PLAN, settings: Settings = PLAIN) -> Job:
    return next(job for job in jobs(plan, settings) if job.title.startswith(start))


def test_asking_and_measuring_come_first() -> None:
    titles = [job.title for job in jobs()]
    assert titles[:2] == ["Ask before anyone digs", "Measure and stake"]
    assert [job.number for job in jobs()] == list(range(1, len(titles) + 1))


def test_chips_and_paths_come_before_mounds_and_posts_after() -> None:
    titles = [job.title for job in jobs()]
    order = [
        "Take the first load",
        "Lay the main path",
        "Build mound 1, the trial",
        "Plant mound 1",
        "Build mound 2",
        "Plant mound 2",
        "Build the hoop house",
        "Set trellis 1",
    ]
    places = [next(index for index, title in enumerate(titles) if title.startswith(start)) for start in order]
    assert places == sorted(places)
    assert titles[-1] == "Look again after the next wet spell"


def test_the_first_job_calls_and_names_the_private_line_and_every_job_that_digs_waits_for_the_marks() -> None:
    asked = named("Ask")
    for words in ("811", "Old pipe", "Private lines are not marked"):
        assert words in asked.caution
    for start in ("Measure", "Build mound 1", "Build the hoop house", "Set trellis", "Lay the main path"):
        job = named(start)
        assert job.digs
        assert "Only once the buried lines are marked" in job.caution


def test_what_comes_before_is_asked_staked_and_laid_and_earlier_years_come_first() -> None:
    listed = jobs()
    by_title = {job.title: job for job in listed}
    stake = by_title["Measure and stake"]
    assert stake.after == (by_title["Ask before anyone digs"].number,)
    for job in listed:
        assert all(number < job.number for number in job.after)
        if job.title.startswith("Build mound"):
            assert stake.number in job.after
            earlier = {
                other.number for other in listed if other.title.startswith("Build mound") and other.year < job.year
            }
            assert earlier <= set(job.after)


def test_a_path_that_is_only_laid_on_top_does_not_dig() -> None:
    flat = Plan(paths=(Path(1, LINE, PATH.outline, PATH.joins, 0.9, True, (), 1.7, 0.0, 10.0, 12.0, 10.0),))
    assert not named("Lay the main path", flat).digs
    assert "spade" not in named("Lay the main path", flat).tools


def test_a_path_that_is_dug_in_is_told_so_with_the_call_before_digging() -> None:
    sunk = replace(PATH, dug_in_for=Rise(RisesAt.NEXT_DOOR, Point(0.0, 0.0), 0.05, 0.05, fails=True))
    job = named("Lay the main path", replace(PLAN, paths=(sunk,)))
    assert "Dig path 1 (Gate to mound 1)" in job.detail
    assert "level with the ground, or it holds water back" in job.detail
    assert job.digs
    assert "spade" in job.tools
    assert "level with the ground" not in named("Lay the main path").detail


def test_the_hours_of_a_path_are_barrows_raking_digging_and_edging() -> None:
    """Worked by hand: 20 barrows over 2 m at 4 min and 45 m/min, 1.7 m3 raked, .5 m3 dug at .5 m3/h, 10 m edged."""
    settings = make_settings({}, "test")
    haul = (
        5.0 - 3.0
    )  # from where the path passes the pile (x = 12 to 13.5) to its middle at x = 17, beside from 15.4 on
    hours = named("Lay the main path").people_hours
    expected = barrow_hours(20, haul, settings.jobs) + 1.7 / 1.0 + 0.5 / 0.5 + 0.05 * 10.0
    assert hours == pytest.approx(expected, abs=0.1)


def test_stakes_are_counted_and_their_hours_with_them() -> None:
    staked = Plan(mounds=(mound(1, 20.0, 13.0, 24.0, 13.0, stakes=(STAKE,) * 12),))
    job = named("Measure", staked)
    assert job.quantity == "12 stakes"
    assert job.people == 2
    assert job.people_hours == pytest.approx(2.4)


def test_a_mound_says_how_high_it_is_built_and_what_of() -> None:
    job = named("Build mound 1")
    assert "57\u00a0cm" in job.detail
    assert "40\u00a0cm" in job.detail
    assert "chips and leaves" in job.detail
    assert "Year 1" in job.detail
    assert job.people_hours == 8.0


def test_no_more_people_are_asked_than_there_are() -> None:
    alone = make_settings({"jobs": {"people": 1}}, "test")
    assert named("Build mound 1", settings=alone).people == 1
    assert named("Lay the main path", settings=alone).people == 1


def test_a_wheelchair_path_says_that_chips_are_too_soft() -> None:
    chair = make_settings({"path": {"wheel": "wheelchair"}}, "test")
    assert "too soft for a wheelchair" in named("Lay the main path", settings=chair).detail


def test_the_last_job_names_what_is_topped_up() -> None:
    assert "Top up mounds 1" in jobs()[-1].detail


def test_without_works_there_are_no_jobs() -> None:
    assert jobs(Plan()) == ()


def test_hand_digging_is_said_in_the_units_of_the_user() -> None:
    imperial = make_settings({"units": "imperial"}, "test")
    assert "2\u00a0ft" in digging_caution(SITE, imperial)
    assert "61\u00a0cm" in digging_caution(SITE, PLAIN)


def test_a_site_without_buried_lines_names_none() -> None:
    bare = make_site(plane(20, 20, 1.0), 1.0, (draw_thing(1, Kind.BED, "Bed", box(5.0, 5.0, 8.0, 8.0)),))
    assert digging_caution(bare, PLAIN).endswith("Private lines are not marked.")


def test_the_outlet_is_cleared_before_anything_is_tipped() -> None:
    ditch = draw_thing(3, Kind.DITCH, "North ditch", LineString([(5.0, 50.0), (55.0, 50.0)]))
    titles = [job.title for job in list_jobs(replace(SITE, features=(GATE, PIPE, ditch)), PLAN, PLAIN)]
    assert titles.index("Clear the outlet") < titles.index("Take the first load of chips")
    assert "Clear the outlet" not in [job.title for job in jobs()], "none is drawn"


def test_where_no_hole_was_read_holes_are_bored_before_anything_is_built() -> None:
    guessed = replace(PLAN, mounds=tuple(replace(mound, is_guess=True) for mound in PLAN.mounds))
    titles = [job.title for job in jobs(guessed)]
    assert titles.index("Bore holes first") < titles.index("Take the first load of chips")
    assert "Bore holes first" not in [job.title for job in jobs()]


def test_the_trial_is_seen_through_a_wet_spell_before_the_rest() -> None:
    assert "wet spell before you build the next" in named("Build mound 1").detail
    assert "wet spell" not in named("Build mound 2").detail
