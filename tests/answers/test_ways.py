"""Paths, tipping places, hoop houses, rows and hazards are said once each, from what is drawn in the analysis."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import Point

from sitepipe.analysis import Analysis
from sitepipe.answers import hazards, houses, rows, ways
from sitepipe.site import Kind, Ref, Work
from sitepipe.works.hazards import Hazard, Part
from sitepipe.works.houses.record import Fault, FaultKind, HouseCriterion, Refusal
from sitepipe.works.ways.record import NoTipping
from tests.mapping.drawn_analysis import make_analysis

DRAWN = make_analysis()
PATH = DRAWN.plan.paths[0]
PIPE = next(feature for feature in DRAWN.site.features if feature.kind is Kind.BURIED_LINE)


def with_plan(**changes: object) -> Analysis:
    return replace(DRAWN, plan=replace(DRAWN.plan, **changes))  # type: ignore[arg-type]


def plain(text: str) -> str:
    return text.replace("\u00a0", " ")


def test_a_path_names_both_its_ends_and_the_path_that_it_starts_from() -> None:
    onward = replace(PATH, number=2, joins=(Ref(Work.PATH, 1), Ref(Work.MOUND, 3)))
    analysis = with_plan(paths=(PATH, onward))
    assert ways.from_to(PATH.joins, analysis) == "the road to hoop house"
    assert ways.from_to(onward.joins, analysis) == "path 1 to mound 3"
    assert ways.from_to((None, onward.joins[1]), analysis) == "the way in to mound 3"


def test_the_shortest_way_is_told_where_it_is_worth_more_and_water_where_it_crosses() -> None:
    assert ways.path_why(PATH, DRAWN) == "Easy going; no water crosses it."
    wet = replace(PATH, shortest_cost=80.0, waters=((10.0, 400.0),))
    said = plain(ways.path_why(wet, DRAWN))
    assert "the shortest way" in said
    assert "is wetter or steeper. Water crosses it once (after" in said
    assert "pipe or a plank" in said


def test_a_truck_turns_or_backs_in_from_where_it_comes() -> None:
    (place,) = DRAWN.plan.tipping_places
    assert ways.tipping_access(place, DRAWN).endswith("can turn there. Not after rain; the driver decides.")
    backed = plain(ways.tipping_access(replace(place, can_turn=False, off_lane=0.0), DRAWN))
    assert "from the gate on the drive, and backs in from the gate." in backed
    assert "off the drive" not in plain(ways.tipping_access(replace(place, off_lane=None), DRAWN))


@pytest.mark.parametrize("why", list(NoTipping))
def test_where_no_truck_can_tip_the_reason_is_said(why: NoTipping) -> None:
    (said,) = ways.notes(with_plan(no_tipping=why))
    assert said.startswith("No tipping place: ")


def test_what_no_path_reaches_is_said_by_name() -> None:
    (said,) = ways.notes(with_plan(unreached=(Ref(Work.MOUND, 2), Ref(Work.HOOP_HOUSE, 1))))
    assert said.startswith("No path reaches mound 2, hoop house: ")


@pytest.mark.parametrize("kind", list(FaultKind))
def test_every_reason_against_a_place_has_its_words(kind: FaultKind) -> None:
    fault = Fault(kind, PIPE.ref, measured=0.07, criterion=HouseCriterion.DRY)
    said = plain(houses.refused(Refusal(Point(60.0, 40.0), 7.0, (fault,)), DRAWN))
    assert said.startswith("The ground ")
    assert "hours of sun in spring and autumn, but " in said


def test_where_no_house_fits_it_is_said_first() -> None:
    said = houses.houses(with_plan(hoop_houses=(), other_hoop_houses=()))
    assert said[0].startswith("Hoop house: no house of ")
    assert said[0].endswith(" fits here.")
    assert len(said) == 2


def test_a_row_says_whose_vines_it_carries() -> None:
    assert "For vines on mound 2, which it stands beside." in rows.rows(DRAWN)[0]


def test_a_hazard_says_what_is_near_and_how_far_it_should_be() -> None:
    near = Hazard(Ref(Work.TRELLIS, 1), Part.POST, PIPE.ref, 0.5, 0.9, False, Point(0.0, 0.0))
    stake = replace(near, part=Part.STAKE, label="T1A", distance=1.2, is_kept=True)
    analysis = with_plan(hazards=(near, stake))
    post, driven = (plain(said) for said in hazards.near_work(analysis, near.work))
    assert post.startswith("its posts stand")
    assert "Water pipe" in post
    assert "dig by hand" in post
    assert driven.startswith("stake T1A stand")
    assert "Water pipe" in hazards.near_stake(analysis, "T1A")
    assert hazards.near_stake(analysis, "T1B") == ""
