"""What the four questions draw and say, against the records that they were drawn from."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon
from shapely.affinity import translate

from sitepipe.drainage.record import Bank, Crossing, OpenEdge
from sitepipe.mapping.build import build_view
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.relief import draw_ground
from sitepipe.mapping.sun import sun_view
from sitepipe.mapping.today import today_view
from sitepipe.mapping.view import Desk
from sitepipe.mapping.water import shores, water_view
from sitepipe.saying import say_area
from sitepipe.settings import make_settings
from sitepipe.site import Ref, Work
from sitepipe.works.water.record import Rise, RisesAt
from tests.mapping.drawn_analysis import make_analysis, shifted


@pytest.fixture(scope="module")
def desk() -> Desk:
    analysis = make_analysis()
    return Desk(analysis, frame_of(analysis.site), draw_ground(analysis.site))


def _areas(view_marks: list[Drawn], name: str) -> list[Polygon]:
    found = []
    for mark in view_marks:
        if mark.mark == name:
            for rings in mark.area:
                outer, *holes = [np.reshape(ring, (-1, 2)) for ring in rings]
                found.append(Polygon(outer, holes))
    return found


def test_a_surer_shore_lies_inside_a_less_sure_one(desk: Desk) -> None:
    areas = shores(desk)
    assert areas["stands-5"].buffer(0.05).covers(areas["stands-8"])
    assert areas["stands-2"].buffer(0.05).covers(areas["stands-5"])


def test_the_bands_of_chance_do_not_lie_on_one_another(desk: Desk) -> None:
    """Patterns that overlap would add up to a class that no legend knows."""
    view = water_view(desk)
    bands = [shapely.union_all(_areas(view.marks, name)) for name in ("stands-8", "stands-5", "stands-2")]
    for k, band in enumerate(bands):
        for other in bands[k + 1 :]:
            assert band.intersection(other).area < 0.02 * min(band.area, other.area)


def test_a_shore_stands_where_the_chance_says(desk: Desk) -> None:
    grid = desk.analysis.site.grid
    inside = shapely.contains_xy(shores(desk)["stands-5"], *np.meshgrid(grid.x, grid.y))
    chance = desk.analysis.ponding_uncertainty.ponding_probability
    parcel = shapely.contains_xy(desk.analysis.site.parcel, *np.meshgrid(grid.x, grid.y))
    agrees = (inside == (chance >= 0.5))[parcel]
    assert agrees.mean() > 0.985


def test_the_soggiest_places_are_numbered_by_their_rank(desk: Desk) -> None:
    view = water_view(desk)
    for place, soggy in zip(view.places, desk.analysis.wetness.soggy_places, strict=False):
        assert place.thing == f"hollow-{soggy.rank}"
        assert say_area(soggy.area, desk.units) in place.rest
        assert ("Seen wet." in place.rest) is soggy.is_seen


def test_soaked_ground_is_drawn_and_given_no_chance_of_standing_water(desk: Desk) -> None:
    analysis = desk.analysis
    soaked = replace(
        analysis.wetness.soggy_places[0],
        rank=4,
        depth=None,
        depth_low=None,
        depth_high=None,
        probability=0.0,
        middle=shifted(Point(30.0, 30.0)),
        outline=shifted(Point(30.0, 30.0)).buffer(5.0),
    )
    wetness = replace(analysis.wetness, soggy_places=(*analysis.wetness.soggy_places, soaked))
    view = water_view(replace(desk, analysis=replace(analysis, wetness=wetness)))
    entry = next(place for place in view.places if place.thing == "hollow-4")
    assert "soft rather than flooded" in entry.rest
    assert "chance" not in entry.rest
    assert ("soaked", "Soft, soaked") in view.legend or len(view.legend) == 6
    assert _areas(view.marks, "soaked")


def test_crossings_side_by_side_share_a_number_and_small_ones_have_none(desk: Desk) -> None:
    analysis = desk.analysis
    crossings = (
        Crossing(shifted(Point(20.5, 53.0)), 4000.0, True),
        Crossing(shifted(Point(20.5, 55.0)), 900.0, True),
        Crossing(shifted(Point(50.0, 88.0)), 100.0, True),
        Crossing(shifted(Point(74.0, 20.6)), 7500.0, False),
    )
    drainage = replace(analysis.drainage, crossings=crossings)
    view = water_view(replace(desk, analysis=replace(analysis, drainage=drainage)))
    assert [place.group for place in view.places if place.group in ("in", "out")] == ["in", "out"]


def test_a_question_is_numbered_where_it_can_be_answered(desk: Desk) -> None:
    middle = desk.analysis.site.parcel.centroid
    asked = (Bank(None, 0.5, 4.0, middle), OpenEdge(90.0, 9.0, 9.0, Point(middle.x + 5000.0, middle.y)))
    drainage = replace(desk.analysis.drainage, questions=asked)
    view = water_view(replace(desk, analysis=replace(desk.analysis, drainage=drainage)))
    found = [place for place in view.places if place.thing.startswith("question")]
    assert [place.anchor for place in found] == [middle]
    assert "Is there a pipe here?" in found[0].rest
    assert view.cards["question-0"].parts[0].text == found[0].rest


def test_flow_lines_end_at_the_shore(desk: Desk) -> None:
    """Drawn lines leave out the ground that is likelier under water than not."""
    water = shapely.affinity.translate(shores(desk)["stands-5"], -desk.frame.west, -desk.frame.south)
    for mark in water_view(desk).marks:
        if mark.mark.startswith("runs"):
            line = shapely.LineString(np.reshape(mark.line[0], (-1, 2)))
            assert line.intersection(water.buffer(-0.1)).length < 0.2
            assert mark.mark == "runs-guessed" or len(mark.widths) == len(line.coords)


def test_the_classes_of_sun_cover_the_parcel_once(desk: Desk) -> None:
    view = sun_view(desk)
    pieces = [piece for name in ("sun-8", "sun-6", "sun-4", "sun-0") for piece in _areas(view.marks, name)]
    assert sum(piece.area for piece in pieces) == pytest.approx(desk.analysis.site.parcel.area, rel=0.02)
    assert shapely.union_all(pieces).area == pytest.approx(desk.analysis.site.parcel.area, rel=0.02)


def test_the_breaks_between_classes_of_sun_are_those_of_the_settings(desk: Desk) -> None:
    own = make_settings({"sun": {"light_breaks": [7.0, 5.0, 3.0]}}, "site.toml")
    view = sun_view(replace(desk, analysis=replace(desk.analysis, settings=own)))
    assert {"7 or more", "Under 3"} & {said for _, said in view.legend}
    assert not any("6" in said for _, said in view.legend)
    assert "6\u00a0hours" not in view.answer


def test_edges_of_shade_are_broken_where_trees_were_guessed(desk: Desk) -> None:
    sure = replace(desk.analysis.sunlight, doubtful=np.zeros(desk.analysis.site.grid.shape))
    drawn = {mark.mark for mark in sun_view(desk).marks}
    assert {"edge", "edge-guessed"} <= drawn
    certain = sun_view(replace(desk, analysis=replace(desk.analysis, sunlight=sure)))
    assert "edge-guessed" not in {mark.mark for mark in certain.marks}
    assert "Trees guessed" not in [said for _, said in certain.legend]


def test_the_terms_of_a_mounds_height_are_said(desk: Desk) -> None:
    card = build_view(desk).cards["mound-3"]
    why = next(part.text for part in card.parts if part.head == "Why so high.")
    assert re.findall(r"\d+\u00a0in|\d+\u00a0ft\u00a0\d+½?\u00a0in", why)[:2] == [
        "1\u00a0ft\u00a06\u00a0in",
        "6\u00a0in",
    ]
    assert "3 parts in\u00a010" in why


def test_a_plan_that_pushes_water_says_so_first(desk: Desk) -> None:
    impact = desk.analysis.plan.impact
    assert impact is not None
    rise = Rise(RisesAt.NEXT_DOOR, Point(1.0, 1.0), 0.05, 0.05, fails=True, done_by=(Ref(Work.MOUND, 3),))
    pushed = replace(impact, rises=(rise,))
    analysis = replace(desk.analysis, plan=replace(desk.analysis.plan, impact=pushed))
    view = build_view(replace(desk, analysis=analysis))
    assert view.caution.startswith("As drawn it pushes water onto other ground. Leave out mound 3")
    assert view.answer.endswith("see the caution.")


def test_what_was_seen_stands_beside_the_water_that_it_speaks_of(desk: Desk) -> None:
    frame = desk.frame
    ponds = translate(shores(desk)["stands-2"], -frame.west, -frame.south)
    seen = [Point(mark.at) for mark in water_view(desk).marks if mark.mark in ("seen-wet", "seen-dry")]
    assert len(seen) == 3
    assert all(ponds.distance(place) > 0.02 * frame.width for place in seen)


def test_a_job_that_digs_says_so_in_the_job_itself(desk: Desk) -> None:
    view = today_view(desk)
    entries = {place.bold: place for place in view.places}
    assert "buried lines are marked" in view.cards[entries["Build mound 3, the trial."].thing].caution
    assert "buried lines" not in view.cards[entries["Look again after the next wet spell."].thing].caution
    assert "811" in view.caution
    assert len({place.job for place in view.places}) == len(view.places)


def test_a_job_keeps_its_tick_when_the_map_is_drawn_again(desk: Desk) -> None:
    first = [place.job for place in today_view(desk).places]
    assert first == [place.job for place in today_view(desk).places]
    other = make_analysis(site_name="Another place")
    elsewhere = today_view(Desk(other, desk.frame, desk.ground))
    assert not set(first) & {place.job for place in elsewhere.places}


def test_the_chart_of_a_mound_begins_as_built_and_follows_the_years(desk: Desk) -> None:
    plan = desk.analysis.plan
    cards = build_view(desk).cards
    for mound in plan.mounds:
        section = cards[f"mound-{mound.number}"].section
        assert section is not None
        years = [year.year for year in plan.years if mound.number in year.builds]
        if not years:
            assert section["years"] == []
            continue
        assert section["years"][0] == (years[0] - 0.5, pytest.approx(mound.height.built, abs=1e-3))
        told = {year.year: dict(year.crest_heights).get(mound.number) for year in plan.years}
        for year, height in section["years"][1:]:
            assert height == pytest.approx(told[int(year)], abs=1e-3)
