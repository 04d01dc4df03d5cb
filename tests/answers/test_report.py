"""The answers in sentences, and the same as data."""

from __future__ import annotations

import dataclasses
import json
import math
import re
from datetime import date

import numpy as np
import pytest
from shapely import Point
from shapely.affinity import translate

from sitepipe.analysis import Analysis
from sitepipe.answers import impact, mounds, plants, sun, water, ways, works
from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.layers import declared_layers, rasters
from sitepipe.answers.names import joined, named, tame
from sitepipe.answers.report import opening, report
from sitepipe.answers.summary import summarise
from sitepipe.answers.water import asked
from sitepipe.answers.where import from_standpoint
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.record import Bank, Crossing, OpenEdge
from sitepipe.mapping.sheet import sheet_of
from sitepipe.planting.record import BedPlan, PlantChoice, Planting, Unplaced
from sitepipe.planting.record import Reason as PlantReason
from sitepipe.saying import NO_BREAK, say_area, say_distance
from sitepipe.settings import Settings
from sitepipe.site import Found, Kind, OpenSides, Ref, Work
from sitepipe.units import Units
from sitepipe.works.record import Plan
from tests.mapping.drawn_analysis import make_analysis
from tests.sites import draw_thing

DRAWN = make_analysis()


def plain(sentences: tuple[str, ...]) -> list[str]:
    return [sentence.replace(NO_BREAK, " ") for sentence in sentences]


HOLLOW = dataclasses.replace(
    DRAWN.wetness.soggy_places[0],
    area=107.8,
    depth=0.2,
    depth_low=0.14,
    depth_high=0.24,
    probability=0.9,
    is_seen=True,
    hours_to_drain=96.0,
    where=("Gate", 44.2, 80.0),
)


def test_the_wettest_place_is_said_whole() -> None:
    assert water.soggy_place(HOLLOW, DRAWN).replace(NO_BREAK, " ") == (
        "Hollow by the culvert, 130 ft east of the gate: about 1,160 sq ft, 8 in deep after 2 in of rain "
        "(between 6 in and 9 in), 9 chances in 10 to be wet. Seen wet. Gone after about 4 days."
    )
    assert plain(water.standing(DRAWN))[0].startswith("1. Hollow ")


def test_soaked_ground_is_given_no_depth_and_no_chance_of_flooding() -> None:
    place = dataclasses.replace(HOLLOW, depth=None, is_seen=False, hours_to_drain=None)
    assert water.soggy_place(place, DRAWN).replace(NO_BREAK, " ") == (
        "Soaked ground by the culvert, 130 ft east of the gate: about 1,160 sq ft, soft rather than flooded. "
        "Worked out, not yet seen."
    )


def test_ground_without_wet_places_says_so() -> None:
    dry = dataclasses.replace(DRAWN, wetness=dataclasses.replace(DRAWN.wetness, soggy_places=(), agreement=None))
    assert water.standing(dry) == ("No place on the parcel is likely to hold water.",)


def test_water_that_comes_and_leaves_is_told_by_side_and_size() -> None:
    west, south, east, _ = DRAWN.site.parcel.bounds
    inflow = Crossing(Point(west, south + 35.0), 4050.0, True, True)
    outflow = Crossing(Point(east - 16.0, south + 0.6), 7500.0, False)
    storm = dataclasses.replace(DRAWN.drainage.storms[-1], arrives={"neighbours": 120.0, "own": 60.0})
    drainage = dataclasses.replace(DRAWN.drainage, crossings=(inflow, outflow), storms=(storm,))
    crossed = dataclasses.replace(DRAWN, drainage=drainage)
    coming, leaving = plain(water.coming_in(crossed)), plain(water.leaving(crossed))
    assert coming[0] == "On the west side: 1 acre of ground behind it, and more that the heights do not cover."
    assert any(
        sentence.startswith("2 in of rain brings 48,000 gallons: 32,000 gallons from neighbouring")
        for sentence in coming
    )
    assert leaving[0] == "On the south-east side, by the culvert: 1.9 acres of ground drains there."


def test_two_places_on_one_side_are_told_apart() -> None:
    west, south, _, _ = DRAWN.site.parcel.bounds
    inflows = tuple(Crossing(Point(west, south + along), 485.0, True) for along in (30.0, 36.0))
    crossed = dataclasses.replace(DRAWN, drainage=dataclasses.replace(DRAWN.drainage, crossings=inflows, storms=()))
    first, second = plain(water.coming_in(crossed))[:2]
    assert first.startswith("On the west side, ")
    assert "of the gate: " in first
    assert first != second


def test_a_gap_under_the_water_is_counted_with_its_place() -> None:
    """Six cells of the hollow lose their heights: the sentence says their area beside that of the known ground."""
    pond = DRAWN.drainage.ponds[HOLLOW.pond or 0]
    storm = max(DRAWN.drainage.storms, key=lambda one: one.rain_depth)
    rows, columns = np.nonzero((storm.depth > 0.0) & cells_inside(DRAWN.site.grid, pond.outline))
    elevation = DRAWN.site.elevation.copy()
    elevation[rows[:6], columns[:6]] = np.nan
    gapped = dataclasses.replace(DRAWN, site=dataclasses.replace(DRAWN.site, elevation=elevation))
    gap = say_area(6 * DRAWN.site.grid.cell_area, DRAWN.settings.units)
    assert f"and over the gap of {gap} in the heights, " in water.soggy_place(HOLLOW, gapped)


def test_a_parcel_that_no_water_crosses_says_so() -> None:
    still = dataclasses.replace(DRAWN, drainage=dataclasses.replace(DRAWN.drainage, crossings=(), storms=()))
    still = dataclasses.replace(still, site=dataclasses.replace(DRAWN.site, open_edge=False))
    assert water.coming_in(still) == ("No water to speak of crosses the boundary inwards.",)
    assert water.leaving(still) == ("Nowhere over the surface: what comes stands, soaks in, or dries up.",)


@pytest.mark.parametrize(
    ("east", "north", "side"), [(0.0, 50.0, "north"), (50.0, 0.0, "east"), (-50.0, -50.0, "south-west")]
)
def test_a_side_is_named_from_the_middle_of_the_parcel(east: float, north: float, side: str) -> None:
    middle = DRAWN.site.parcel.centroid
    assert water.side(Point(middle.x + east, middle.y + north), DRAWN.site) == side


def test_a_place_at_a_thing_has_no_direction() -> None:
    gate = DRAWN.site.of_kind(Kind.GATE)[0].geometry.centroid
    assert from_standpoint(DRAWN.site, gate, Units.METRIC) == "at the gate"
    assert from_standpoint(DRAWN.site, translate(gate, 0.0, -20.0), Units.METRIC) == f"20{NO_BREAK}m south of the gate"


def test_the_sun_is_told_for_the_season_and_its_leanest_month() -> None:
    told = dataclasses.replace(DRAWN.sunlight, season=(date(2025, 5, 1), date(2025, 9, 30)))
    first, second = plain(sun.sunlight(dataclasses.replace(DRAWN, sunlight=told)))
    assert re.match(r"1 May to 30 September: \d+½? hours", first)
    assert second.startswith("September is the leanest month")


def test_shares_are_counted_inside_the_parcel_alone() -> None:
    inside = np.array([[True, True, False, False]])
    assert sun.share_inside(np.array([[7.0, 2.0, 9.0, np.nan]]), inside, 6.0) == 0.5
    assert math.isnan(sun.mean_inside(np.array([[np.nan, np.nan, 9.0, 9.0]]), inside))


def test_a_mound_is_told_with_both_its_heights() -> None:
    assert plain(mounds.say_mounds(DRAWN))[0].startswith(
        "Mound 1, for hazels and strawberries: build it 2 ft 1½ in high, it settles to 1 ft 6 in; 9 ft 6 in across"
    )


def test_a_reason_that_holds_for_several_mounds_is_said_once() -> None:
    said = mounds.say_mounds(DRAWN)
    assert sum("The rows run" in sentence for sentence in said) == 1


def test_own_plants_are_said_first_with_where_they_go_or_why_not() -> None:
    hazel = PlantChoice("Corylus americana", "hazel", 0.8, (), 4, 1.8, "shrub", own=3, is_chosen=True)
    mound, zone = Ref(Work.MOUND, 1), Ref(Found.ZONE, 2)
    where = (("hazel", Point(0.0, 0.0)),) * 4
    beds = (BedPlan(mound, (hazel,), where), BedPlan(zone, (dataclasses.replace(hazel, own=2),), where))
    left = Unplaced("apple", 2, PlantReason.ROOTS_IN_WATER, mound, 0.9, 6.0)
    told = plain(plants.plants(dataclasses.replace(DRAWN, planting=Planting(beds, (left,)))))
    assert told[0] == "Your hazel: 3 in mound 1 and 2 in ground B."
    assert told[1].startswith("No place for 2 of apple: its roots would stand in water (nearest to it: mound 1).")
    assert "2 ft 11½ in of ground above" in told[1]
    assert told[2].startswith("Mound 1: 4 of hazel.")


def test_every_bed_is_said() -> None:
    hazel = PlantChoice("Corylus americana", "hazel", 0.8, (), 1, 1.8, "shrub", is_chosen=True)
    beds = tuple(BedPlan(Ref(Found.ZONE, k), (hazel,), (("hazel", Point(0.0, 0.0)),)) for k in range(1, 13))
    told = plants.plants(dataclasses.replace(DRAWN, planting=Planting(beds)))
    assert [sentence.partition(":")[0] for sentence in told] == [f"Ground {letter}" for letter in "ABCDEFGHIJKL"]


def test_nothing_proposed_is_said_so() -> None:
    bare = dataclasses.replace(DRAWN, plan=Plan(), planting=Planting())
    assert mounds.say_mounds(bare) == ("No mound is proposed.",)
    assert ways.paths(bare) == ("No path is proposed.",)
    assert plants.plants(bare) == ("Nothing is proposed for planting.",)
    assert impact.say_impact(bare) == ()
    house, row = works.structures(bare)
    assert house.endswith("fits here.")
    assert row.startswith("Trellis: there is no bed or mound")


def test_the_report_answers_in_the_order_in_which_people_ask() -> None:
    headings = [passage.heading for passage in report(DRAWN)]
    assert headings[:4] == ["Before you start", "Where water stands", "Where it comes from", "Where it leaves"]
    assert opening(DRAWN.site, Units.IMPERIAL).startswith("Rushy Bottom: 1.1")


@pytest.mark.parametrize("units", list(Units))
def test_only_the_user_s_units_are_said(units: Units) -> None:
    analysis = make_analysis(units=units)
    passages = [passage for passage in report(analysis) if passage.heading not in {"Before you start", "Mounds"}]
    everything = " ".join(sentence for passage in passages for sentence in passage.sentences)
    foreign = (
        r"[\d½](\u00a0)(ft|in|cu|sq|acres|gallons)\b" if units is Units.METRIC else r"\d\u00a0(m|cm|ha|m²|m³|litres)\b"
    )
    assert not re.search(foreign, everything)


def test_no_sentence_holds_a_percentage_or_an_unknown() -> None:
    for passage in report(DRAWN):
        for sentence in passage.sentences:
            assert "%" not in sentence
            assert "nan" not in sentence.split()


def test_hostile_names_are_one_tame_line() -> None:
    nasty = "Gate\x1b]0;owned\x07\n\u202e" + "x" * 500
    assert tame(nasty).isprintable()
    assert len(tame(nasty)) <= 80
    analysis = make_analysis({"Gate": nasty}, site_name=nasty)
    for passage in report(analysis):
        for sentence in passage.sentences:
            assert "\x1b" not in sentence
            assert "\u202e" not in sentence


def test_plain_kinds_take_an_article_and_names_do_not() -> None:
    assert [named("gate"), named("Keep clear"), named("West gate post")] == [
        "the gate",
        "the keep clear",
        "West gate post",
    ]
    assert joined([]) == ""
    assert joined(["a"]) == "a"
    assert joined(["a", "b", "c"]) == "a, b and c"


def test_the_summary_is_plain_json_and_its_numbers_are_those_of_the_records() -> None:
    told = json.loads(json.dumps(summarise(DRAWN), allow_nan=False))
    assert list(told) == [
        "made_by",
        "format",
        "site",
        "water",
        "sun",
        "zones",
        "works",
        "planting",
        "cautions",
        "least_sure",
        "warnings",
        "assumptions",
    ]
    assert told["site"]["parcel_area_m2"] == pytest.approx(DRAWN.site.parcel.area, abs=0.001)
    assert [place["rank"] for place in told["water"]["soggiest_places"]] == [
        place.rank for place in DRAWN.wetness.soggy_places
    ]
    assert told["works"]["mounds"][0]["built_height_m"] == pytest.approx(DRAWN.plan.mounds[0].height.built, abs=1e-4)
    assert len(told["cautions"]) == len(cautions_of(DRAWN))
    assert len(told["sun"]["monthly_mean_h_per_day"]) == 12


def test_every_number_of_the_summary_says_its_unit_or_is_a_count_a_rank_or_a_share() -> None:
    pure = {
        "rotation_years", "rank_low", "rank_high", "season_months", "after", "order",
        "format", "rank", "number", "probability", "score", "wetness", "fit", "count", "loads", "barrows", "people",
        "posts", "year", "month", "leanest_month", "crossings", "settlement", "seen_wet", "seen_dry", "right",
        "area_under_curve", "share_in_parcel", "cells_drained", "equally_likely_grounds", "chance_that_roots_stay_dry",
        "least_slope_told_from_level", "cost", "months", "pieces", "at_hand", "side_slope",
        "to_find", "mound", "least_people", "share_of_parcel_in_full_sun_in_leanest_month",
    }  # fmt: skip
    united = re.compile(r"_(m|m2|m3|m4|deg|h|h_per_day|mj_per_m2_per_day)$")

    def look(value: object, key: str) -> None:
        if isinstance(value, dict):
            for name, inner in value.items():
                look(inner, key if united.search(key) else name)
        elif isinstance(value, list):
            for inner in value:
                look(inner, key)
        elif isinstance(value, int | float) and not isinstance(value, bool):
            assert (
                key in pure or united.search(key) or key in {"builds_mounds", "tops_up_mounds"} or in_features(key)
            ), key

    def in_features(key: str) -> bool:
        return key in summarise(DRAWN)["site"]["features"]

    look(summarise(DRAWN), "")


def test_what_is_not_known_is_null_in_the_summary() -> None:
    unknown = dataclasses.replace(DRAWN.terrain, slope_floor=math.nan)
    assert summarise(dataclasses.replace(DRAWN, terrain=unknown))["site"]["least_slope_told_from_level"] is None


def test_the_summary_holds_no_place_on_the_earth() -> None:
    asked = dataclasses.replace(DRAWN.drainage, questions=(Bank(None, 0.5, 4.0, DRAWN.site.parcel.centroid),))
    text = json.dumps(summarise(dataclasses.replace(DRAWN, drainage=asked)))
    west, south, east, north = (str(int(number) // 100) for number in DRAWN.site.parcel.bounds)
    assert not re.search(rf"\b({west}|{south}|{east}|{north})\d\d\.", text)
    assert not re.search(r'"(latitude|longitude|crs|coordinates)"', text)


def test_every_declared_layer_is_held_by_the_analysis_in_the_same_order() -> None:
    assert [name for name, _, _ in rasters(DRAWN)] == list(declared_layers())


def test_a_season_over_new_year_is_said_as_it_runs() -> None:
    turned = dataclasses.replace(DRAWN.sunlight, season=(date(2025, 10, 1), date(2025, 3, 31)))
    analysis: Analysis = dataclasses.replace(DRAWN, sunlight=turned, settings=Settings())
    assert sun.season(analysis).replace(NO_BREAK, " ") == "1 October to 31 March"


def test_an_open_edge_is_said_once_by_whoever_knows_more_of_it() -> None:
    north = (
        "More water comes from outside: the heights end on the east and north before the ground that drains to the "
        "parcel does."
    )
    better = OpenEdge(270.0, 30.0, 50.0, DRAWN.site.parcel.centroid)
    site = dataclasses.replace(DRAWN.site, open_sides=OpenSides((270.0, 90.0, 0.0)))
    drainage = dataclasses.replace(DRAWN.drainage, questions=(better,))
    passages = report(dataclasses.replace(DRAWN, site=site, drainage=drainage))
    said = next(passage for passage in passages if passage.heading == "Look at this")
    assert north in said.sentences
    assert north.replace("east", "west, east") in water.warnings(site)
    full = dataclasses.replace(site, open_sides=OpenSides((180.0,), 4_000_000))
    assert "beyond the window, which holds at most 4,000,000 cells" in water.warnings(full)[-1]
    told = next(sentence for sentence in said.sentences if "than is counted" in sentence).replace(NO_BREAK, " ")
    assert told.startswith(
        "More water may come from beyond the west edge of the heights than is counted; it would pass"
    )


def test_a_bank_is_called_by_the_name_of_its_road_where_it_has_one() -> None:
    """The bank of a road without a name of its own is a bank."""
    site = DRAWN.site
    road = draw_thing(len(site.features) + 1, Kind.ROAD, "road", site.parcel)
    bank = Bank(Ref(road.kind, road.number), 0.5, 4.0, site.parcel.centroid)
    for name, begins in (("Mill Lane", "The bank of Mill Lane holds water back up to"), ("road", "A bank holds")):
        features = (*site.features, dataclasses.replace(road, name=name))
        told = asked(bank, dataclasses.replace(DRAWN, site=dataclasses.replace(site, features=features)))
        assert told.startswith(begins)


def test_a_mound_is_as_long_in_words_as_on_the_page() -> None:
    """Both say the length at the foot, from end to end, and that is the longer side of what is drawn."""
    analysis = make_analysis()
    mound = analysis.plan.mounds[0]
    said = say_distance(mound.length, analysis.settings.units)
    told = [sentence for passage in report(analysis) for sentence in passage.sentences if "Mound 1, for" in sentence]
    assert f"{said} long at its foot" in told[0]
    assert sheet_of(analysis)["views"][2]["places"][0]["rest"].startswith(f"{said} long: build it")
    assert mound.outline.minimum_rotated_rectangle.length == pytest.approx(
        2.0 * (mound.length + mound.base_width), rel=0.01
    )
