"""The answer on one screen."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import pytest

from sitepipe.analysis import Analysis, analyse
from sitepipe.answers.brief import WIDTH, brief, lines_of, work_of_first_year
from sitepipe.answers.report import report
from sitepipe.answers.sun import beside_buildings, mean_inside
from sitepipe.answers.water import standing_area
from sitepipe.planting.record import Planting
from sitepipe.saying import NO_BREAK, say_area, say_hours
from sitepipe.site import Kind
from sitepipe.works.record import Plan
from tests.mapping.drawn_analysis import make_analysis

SAMPLE = Path(__file__).resolve().parents[2] / "sample_site"
DRAWN = make_analysis()


@pytest.fixture(scope="module")
def sample() -> Analysis:
    return analyse(SAMPLE)


def headings(analysis: Analysis) -> list[str]:
    return [passage.heading for passage in brief(analysis)]


def test_the_sample_is_answered_on_one_screen_what_stops_first_on_top(sample: Analysis) -> None:
    lines = list(lines_of(brief(sample)))
    # The title and the names of the files are a line each: 25 in all.
    assert len(lines) <= 23
    assert max(map(len, lines)) <= WIDTH
    assert lines[0].startswith("Stop first: Protected wetland?")


def test_the_screen_says_the_same_numbers_as_the_whole_answer(sample: Analysis) -> None:
    short = " ".join(sentence for passage in brief(sample) for sentence in passage.sentences)
    whole = " ".join(sentence for passage in report(sample) for sentence in passage.sentences)
    assert say_area(standing_area(sample), sample.settings.units) in short
    for place in [place for place in sample.wetness.soggy_places if place.depth is not None][:3]:
        area = say_area(place.area, sample.settings.units)
        assert area in short
        assert area in whole
    inside = beside_buildings(sample)
    for hours in (sample.sunlight.sun_hours, sample.sunlight.leanest_hours):
        told = say_hours(mean_inside(hours, inside))
        assert told in short
        assert told in whole


def test_a_site_without_a_plan_is_not_asked_to_call_before_digging() -> None:
    bare = dataclasses.replace(DRAWN, plan=Plan(), planting=Planting())
    assert "This year" not in headings(bare)
    assert not any("811" in sentence for passage in brief(bare) for sentence in passage.sentences)
    assert any("811" in sentence for sentence in brief(DRAWN)[0].sentences)


def test_water_at_the_wall_of_a_house_stops_first() -> None:
    house = DRAWN.site.of_kind(Kind.BUILDING)[0]
    beside = house.geometry.buffer(1.0).difference(house.geometry)
    place = dataclasses.replace(DRAWN.wetness.soggy_places[0], outline=beside)
    wet = dataclasses.replace(DRAWN, wetness=dataclasses.replace(DRAWN.wetness, soggy_places=(place,)))
    said = brief(wet)[0].sentences[0].replace(NO_BREAK, " ")
    assert said == "Water stands at the wall of the house: lead it away from there before anything else."


def test_the_first_year_leaves_out_the_mounds_of_later_years() -> None:
    plan = DRAWN.plan
    stake, now, later, *_ = plan.jobs
    jobs = (stake, now, dataclasses.replace(later, year=2))
    assert work_of_first_year(dataclasses.replace(plan, jobs=jobs)) == stake.people_hours + now.people_hours


@pytest.mark.parametrize("name", ["x" * 300, "a b " * 60])
def test_no_name_makes_a_line_wider_than_the_screen(name: str) -> None:
    lines = lines_of(brief(make_analysis({"Gate": name, "House": name})))
    assert max(map(len, lines)) <= WIDTH
