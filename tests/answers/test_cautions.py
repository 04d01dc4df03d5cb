"""A caution stands wherever something can hurt someone, and nowhere else."""

from __future__ import annotations

import dataclasses
from datetime import date
from typing import Any

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.analysis import Analysis
from sitepipe.answers.cautions import cautions_of, wetland_signs
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.edges import feeds
from sitepipe.planting.record import BedPlan, PlantChoice, Planting
from sitepipe.settings import Settings
from sitepipe.site import AugerReading, Kind, Ref, Work
from sitepipe.units import Units
from sitepipe.works.record import Plan
from sitepipe.works.water.record import DitchVerdict, DrainAdvice, Impact, Rise, RisesAt
from tests.mapping.drawn_analysis import make_analysis
from tests.sites import draw_thing

BARE = make_analysis()
BARE = dataclasses.replace(
    BARE,
    site=dataclasses.replace(BARE.site, features=()),
    plan=Plan(),
    planting=Planting(),
    wetness=dataclasses.replace(BARE.wetness, soggy_places=()),
    drainage=dataclasses.replace(BARE.drainage, crossings=()),
)
MIDDLE = BARE.site.parcel.centroid


def with_features(*drawn: tuple[Kind, object], **told: Any) -> Analysis:
    features = tuple(
        draw_thing(number, kind, told.get("name", str(kind)), shape, None, None, told.get("attributes", {}))
        for number, (kind, shape) in enumerate(drawn, start=1)
    )
    return dataclasses.replace(BARE, site=dataclasses.replace(BARE.site, features=features))


def topics(analysis: Analysis) -> set[str]:
    return {caution.topic for caution in cautions_of(analysis)}


def test_steep_ground_that_drains_to_the_parcel_is_a_caution_and_elsewhere_it_is_none() -> None:
    grid, terrain, drainage = BARE.site.grid, BARE.terrain, BARE.drainage
    inside = cells_inside(grid, BARE.site.parcel)
    feeding = feeds(drainage.receiver, drainage.order, inside) & ~inside
    assert feeding.sum() * grid.cell_area > 200.0
    for steep, told in ((feeding, True), (~feeding & ~inside, False)):
        slope = np.where(steep, 0.6, 0.05)
        found = topics(dataclasses.replace(BARE, terrain=dataclasses.replace(terrain, broad_slope=slope)))
        assert ("steep ground" in found) == told


def test_bare_ground_still_says_to_call_before_digging_and_to_ask_locally() -> None:
    assert topics(BARE) == {"digging", "law"}


# Each row: what is there, and the caution that it must raise. Common practice, no source, unless the code names one.
@pytest.mark.parametrize(
    ("kind", "shape", "topic"),
    [
        (Kind.SEPTIC, MIDDLE.buffer(5.0), "septic"),
        (Kind.BUILDING, MIDDLE.buffer(5.0), "septic"),
        (Kind.WELL, MIDDLE, "well"),
        (Kind.ROAD, MIDDLE.buffer(5.0), "lead"),
        (Kind.ROAD, MIDDLE.buffer(5.0), "sight"),
    ],
)
def test_what_is_drawn_raises_its_caution(kind: Kind, shape: object, topic: str) -> None:
    assert topic in topics(with_features((kind, shape)))
    assert topic not in topics(BARE)


def test_a_road_a_hundred_feet_off_is_near_and_one_further_is_not() -> None:
    west, south, _, north = BARE.site.parcel.bounds
    assert "lead" in topics(with_features((Kind.ROAD, box(west - 40.0, south, west - 30.0, north))))
    assert "lead" not in topics(with_features((Kind.ROAD, box(west - 50.0, south, west - 40.0, north))))


def test_a_buried_line_is_named_where_digging_is_warned_of() -> None:
    site = with_features((Kind.BURIED_LINE, LineString([(0, 0), (1, 1)])), name="Old water pipe")
    assert "Old water pipe" in cautions_of(site)[0].text
    assert cautions_of(site)[0].topic == "digging"


def test_the_plan_raises_the_cautions_of_building() -> None:
    assert {"walls", "lifting", "hoop house", "neighbour", "plants"} <= topics(make_analysis())


def test_a_plan_that_pushes_water_is_forbidden_in_plain_words() -> None:
    rise = Rise(RisesAt.NEXT_DOOR, MIDDLE, 0.05, 0.05, fails=True, done_by=(Ref(Work.MOUND, 3),))
    failing = Impact(1.0, 2.0, 0.1, 0.2, 1.0, (), (rise,), ())
    analysis = dataclasses.replace(BARE, plan=Plan(impact=failing))
    (caution,) = [caution for caution in cautions_of(analysis) if caution.topic == "neighbour"]
    assert "Do not build it so. Leave out mound 3" in caution.text


def test_a_drain_that_is_possible_raises_the_caution_of_trenches() -> None:
    for is_possible in (True, False):
        drain = DrainAdvice(DitchVerdict.POSSIBLE if is_possible else DitchVerdict.NO_OUTLET)
        assert ("trench" in topics(dataclasses.replace(BARE, plan=Plan(drain=drain)))) is is_possible


def gray(depth: float | None) -> AugerReading:
    return AugerReading("A", 0.0, 0.0, date(2025, 4, 2), 0.3, 1.0, "none", depth)


def test_two_signs_of_wetland_mean_stop_and_one_means_ask() -> None:
    """Plants, soil and water are the three tests; two or more and nobody fills or ditches (trade notes 2.5)."""
    rushes = with_features((Kind.OBSERVATION, MIDDLE), name="Soft rushes")
    wet = dataclasses.replace(rushes, wetness=make_analysis().wetness)
    both = dataclasses.replace(rushes, site=dataclasses.replace(rushes.site, auger_readings=(gray(0.25),)))
    assert len(wetland_signs(both)) == 2
    assert any("Stop: this may be protected wetland" in caution.title for caution in cautions_of(both))
    assert len(wetland_signs(rushes)) == 1
    assert not any("Stop" in caution.title for caution in cautions_of(rushes))
    assert "wetland" in topics(wet)


@pytest.mark.parametrize(("depth", "is_sign"), [(0.30, True), (0.31, False), (None, False)])
def test_gray_soil_is_a_sign_within_a_foot(depth: float | None, is_sign: bool) -> None:
    site = dataclasses.replace(BARE.site, auger_readings=(gray(depth),))
    assert bool(wetland_signs(dataclasses.replace(BARE, site=site))) is is_sign


def test_water_that_stands_beyond_three_days_breeds_mosquitoes() -> None:
    analysis = make_analysis()
    for hours, breeds in ((73.0, True), (71.0, False)):
        places = tuple(dataclasses.replace(place, hours_to_drain=hours) for place in analysis.wetness.soggy_places)
        wetness = dataclasses.replace(analysis.wetness, soggy_places=places)
        assert ("mosquitoes" in topics(dataclasses.replace(analysis, wetness=wetness))) is breeds


def test_cautions_of_single_plants_are_said_together() -> None:
    def kind(latin: str, common: str, caution: str, asks: bool = False) -> PlantChoice:
        return PlantChoice(latin, common, 0.9, (), 0, 1.0, "herb", caution=caution, asks_locally=asks)

    kinds = (kind("Urtica dioica", "nettle", "stings", asks=True), kind("Asimina triloba", "pawpaw", "leaf poisonous"))
    beds = tuple(BedPlan(Ref(Work.MOUND, number), kinds) for number in (1, 2))
    analysis = dataclasses.replace(BARE, planting=Planting(beds))
    texts = [caution.text for caution in cautions_of(analysis) if caution.topic == "plants"]
    assert "water hemlock" in texts[0]
    assert texts[1:] == [
        "Pawpaw: leaf poisonous; nettle: ask the local list before planting, it is unwanted in places; stings."
    ]


def test_distances_are_said_in_the_user_s_units() -> None:
    drawn = with_features((Kind.SEPTIC, MIDDLE.buffer(5.0)))
    metric = dataclasses.replace(drawn, settings=Settings(units=Units.METRIC))
    assert "3 m away" in next(c.text for c in cautions_of(metric) if c.topic == "septic").replace("\u00a0", " ")
    assert isinstance(MIDDLE, Point)
