"""The jobs in sentences."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import LineString

from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.jobs import AFTER_THE_MARKS, SaidJob, say_job, say_months
from sitepipe.planting.record import Early, Planting, PlantingMonth, SetOut
from sitepipe.saying import NO_BREAK
from sitepipe.settings import make_settings
from sitepipe.site import Kind, Ref, Stock, Work
from sitepipe.works.jobs.record import Job, Task
from sitepipe.works.water.record import Rise, RisesAt
from sitepipe.works.ways.record import Path
from tests.mapping.drawn_analysis import make_analysis
from tests.works.grounds import arch_on, swale_on

DRAWN = make_analysis()
EARLY = (Early("mint", 3, Stock.DIVISION, 1, 4, 1, 6), Early("apple", 2, Stock.BARE_ROOT, 1, 4, 2, 10))
LINE = LineString([(0.0, 0.0), (4.0, 0.0)])
PLAN = replace(DRAWN.plan, arches=(arch_on(LINE),), swales=(swale_on(LINE),))
PATHS = (Ref(Work.PATH, 1),)
FIRST = (Ref(Work.MOUND, 1),)
SECOND = (Ref(Work.MOUND, 2),)


def said(task: Task, things: tuple[Ref, ...] = (), **settings: object) -> SaidJob:
    jobs = (Job(Task.BUILD_MOUND, None, 1, 1.0, FIRST, number=1),)
    sets = SetOut(FIRST[0], "Lactuca sativa", "lettuce", 20, Stock.SEED, 1, 4, again=2.0, until=8)
    planting = Planting(months=(PlantingMonth(1, 4, (sets,), 0.1),), early=EARLY)
    analysis = replace(
        DRAWN, plan=replace(PLAN, jobs=jobs), planting=planting, settings=make_settings(settings, "test")
    )
    return say_job(Job(task, None, 1, 1.0, things, months=(4,)), analysis)


def said_of_path(path: Path) -> SaidJob:
    job = Job(Task.LAY_PATHS, None, 1, 1.0, PATHS, digs=path.is_dug_in)
    return say_job(job, replace(DRAWN, plan=replace(PLAN, paths=(path,))))


def test_every_task_can_be_said() -> None:
    things = {
        Task.CLEAR: (next(iter(DRAWN.site.of_kind(Kind.CULVERT))).ref,),
        Task.LAY_PATHS: PATHS,
        Task.BUILD_HOUSE: (Ref(Work.HOOP_HOUSE, 1),),
        Task.SET_TRELLIS: (Ref(Work.TRELLIS, 1),),
        Task.SET_ARCH: (Ref(Work.ARCH, 1),),
        Task.DIG_SWALE: (Ref(Work.SWALE, 1),),
    }
    for task in Task:
        words = said(task, things.get(task, FIRST))
        assert all(text.endswith(".") for text in (words.detail, words.caution))
        assert words.tools
        assert not words.title.endswith(".")


def test_planting_says_how_many_of_what_and_what_to_do_with_what_comes_early() -> None:
    words = said(Task.PLANT, FIRST)
    assert words.title == "Plant in April: mound 1"
    assert "Mound 1: 20 of lettuce (again every two weeks until August)" in words.detail
    assert (words.quantity, words.tools[0]) == ("20 of one kind", "seed")
    trench, order = said(Task.HEEL_IN).detail.split("Too long in a trench, so order later")
    assert trench.startswith("3 of mint until June of year 1. Bare roots")
    assert "2 of apple until October of year 2" in order


def test_the_first_job_asks_as_the_cautions_do_and_names_the_private_lines() -> None:
    asked = said(Task.ASK, units=DRAWN.settings.units.value).caution
    assert asked in [caution.text for caution in cautions_of(DRAWN)]
    for words in ("811", "Water pipe", "Septic", "Private lines are not marked"):
        assert words.lower() in asked.lower()


@pytest.mark.parametrize(("units", "kept"), [("imperial", "18 to 24 in"), ("metric", "45 to 60 cm")])
def test_hand_digging_is_said_in_the_units_of_the_user(units: str, kept: str) -> None:
    assert kept in said(Task.ASK, units=units).caution.replace(NO_BREAK, " ")


@pytest.mark.parametrize("task", [Task.STAKE, Task.BUILD_MOUND, Task.SET_TRELLIS, Task.SET_ARCH, Task.DIG_SWALE])
def test_what_breaks_the_ground_waits_for_the_marks(task: Task) -> None:
    kinds = {Task.SET_ARCH: Work.ARCH, Task.DIG_SWALE: Work.SWALE}
    assert AFTER_THE_MARKS in said(task, (Ref(kinds.get(task, Work.MOUND), 1),)).caution


def test_a_path_says_what_it_joins_and_is_dug_in_only_where_it_must_be() -> None:
    path = PLAN.paths[0]
    laid = said_of_path(path)
    assert "path 1, the road to hoop house" in laid.detail.lower()
    assert "spade" not in laid.tools
    assert "level with the ground" not in laid.detail
    rise = Rise(RisesAt.NEXT_DOOR, PLAN.mounds[0].crest.centroid, 0.05, 0.05, fails=True)
    sunk = said_of_path(replace(path, dug_in_for=rise))
    assert "Dig path 1" in sunk.detail
    assert "spade" in sunk.tools
    assert AFTER_THE_MARKS in sunk.caution


def test_a_wheelchair_path_says_that_chips_are_too_soft() -> None:
    assert "too soft for a wheelchair" in said(Task.LAY_PATHS, PATHS, path={"wheel": "wheelchair"}).detail
    assert "wheelchair" not in said(Task.LAY_PATHS, PATHS).detail


def test_stakes_are_counted() -> None:
    counted = sum(len(mound.stakes) for mound in PLAN.mounds)
    assert said(Task.STAKE).quantity == f"{counted} stakes"


def test_a_mound_says_how_high_and_of_what_and_only_the_trial_waits_for_a_wet_spell() -> None:
    trial, other = said(Task.BUILD_MOUND, FIRST, units="imperial"), said(Task.BUILD_MOUND, SECOND, units="imperial")
    # 18 in settled and 3 parts in 10 lost to settling: 25.7 in built, 2 ft 1.5 in to the nearest half inch.
    assert "2 ft 1½ in high; it settles to 1 ft 6 in" in trial.detail.replace(NO_BREAK, " ")
    assert "chips and leaves" in trial.detail
    assert trial.title == "Build mound 1, the trial"
    assert "wet spell before you build the next" in trial.detail
    assert other.title == "Build mound 2"
    assert "wet spell" not in other.detail


def test_the_last_job_names_what_is_topped_up() -> None:
    assert "Top up mound 1 as the years say" in said(Task.LOOK_AGAIN, FIRST).detail


@pytest.mark.parametrize(
    ("months", "expected"),
    [((11, 12, 1, 2, 3), "November to March"), ((4,), "April"), (tuple(range(1, 13)), "January to December")],
)
def test_months_are_said_as_runs(months: tuple[int, ...], expected: str) -> None:
    assert say_months(months) == expected
