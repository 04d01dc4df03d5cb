"""The planting stage: lists and beds for zones and mounds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.answers.plants import note_of, why_of
from sitepipe.arrays import frozen
from sitepipe.drainage.record import PondingUncertainty
from sitepipe.errors import InputError, SettingsError
from sitepipe.planting.months import sowings
from sitepipe.planting.palette import read_palette
from sitepipe.planting.record import BedPlan, Planting, Reason
from sitepipe.planting.stage import choose_plants
from sitepipe.scoring.record import Use, Zone, Zones
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Feature, Found, Kind, OwnPlant, Ref, Site, Stock, Work
from sitepipe.units import Units
from sitepipe.works.mounds.record import Mound, MoundHeight
from sitepipe.works.record import Plan
from tests.scoring.records import constant, sunlight, water_table
from tests.sites import make_site, plane
from tests.works.grounds import known

SETTINGS = make_settings({"planting": {"coldest_night": "-20 F"}}, "site.toml")
WET = box(10, 10, 30, 25)
DRY = box(40, 10, 60, 25)
MOUND_BED = box(45, 12, 53, 15)


def site() -> Site:
    return make_site(plane(70, 70, 1.0, 0.0, 0.02))


def mound() -> Mound:
    height = MoundHeight(0.45, 0.15, 0.2, 0.1, 0.5, 0.7, 0.3, 0.8)
    return Mound(
        1, LineString([(45, 13.5), (53, 13.5)]), MOUND_BED, "berry bushes", "woody core", height, 0.6, 3.0, 10.0,
        (), 100, 10.0, (),
    )  # fmt: skip


def planted(
    settings: Settings = SETTINGS, hours: float = 8.0, lost: float = 0.0, own_plants: tuple[OwnPlant, ...] = ()
) -> Planting:
    here = replace(site(), own_plants=own_plants)
    labels = np.full(here.grid.shape, np.nan)
    depth = np.full(here.grid.shape, 1.0)
    numbered = ((1, WET, Use.WET_PLANTING, 0.1), (2, DRY, Use.LEAVE, 1.0))
    zones = []
    for number, outline, use, water in numbered:
        west, south, east, north = (int(side) for side in outline.bounds)
        rows = slice(70 - north, 70 - south)
        labels[rows, west:east] = number
        depth[rows, west:east] = water
        zones.append(Zone(number, use, outline, outline.area, 0.8, "", 0.5, hours))
    land = replace(
        known(here),
        settings=settings,
        sunlight=sunlight(here, constant(here, hours)),
        water_table=water_table(here, frozen(depth)),
        zones=Zones(tuple(zones), frozen(labels)),
    )
    uncertainty = PondingUncertainty(constant(here, 0.05), (), 10)
    return choose_plants(land, uncertainty, Plan(mounds=(mound(),), own_shade=((1, lost),)))


def test_wet_ground_gets_wet_plants_and_the_mound_gets_fruit() -> None:
    wet, raised = planted().beds
    assert [bed.of for bed in (wet, raised)] == [Ref(Found.ZONE, 1), Ref(Work.MOUND, 1)]
    fruit = {choice.latin for choice in raised.chosen if choice.layer == "shrub"}
    assert fruit
    assert fruit.isdisjoint(choice.latin for choice in wet.chosen)
    assert not any(choice.layer == "canopy" or choice.family for choice in raised.chosen)  # raised for berry bushes
    assert all(choice.fit >= 0.2 and why_of(choice) for bed in (wet, raised) for choice in bed.choices)


def test_counts_agree_with_positions_and_a_bed_holds_many_kinds() -> None:
    for bed, outline in zip(planted().beds, (WET, MOUND_BED), strict=True):
        assert all(outline.contains(place) for _, place in bed.positions)
        for choice in bed.choices:
            assert choice.count == sum(name == choice.common for name, _ in bed.positions)
        assert len(bed.chosen) > 5


def test_no_plant_is_set_out_beyond_its_limits() -> None:
    # Property: whatever water and light, what is planted bears them by its own row of the palette.
    by_latin = {plant.latin: plant for plant in read_palette()}
    for hours in (2.0, 4.5, 6.0, 9.0):
        wet, raised = planted(hours=hours).beds
        for bed, drained in ((wet, 0.1), (raised, 0.7)):
            for choice in bed.chosen:
                plant = by_latin[choice.latin]
                assert plant.aerated is None or plant.aerated <= drained
                assert (plant.least_sun or 0.0) <= hours + 0.5
                assert plant.coldest is None or plant.coldest <= -28.0
                assert plant.status in ("may", "ask")


def test_the_shade_of_the_plan_itself_counts_on_the_mound() -> None:
    sunny, shaded = planted(hours=8.0).beds[1], planted(hours=8.0, lost=5.0).beds[1]
    assert "Vaccinium corymbosum" in {choice.latin for choice in sunny.choices if choice.fit >= 0.8}
    assert "Vaccinium corymbosum" not in {choice.latin for choice in shaded.choices if choice.fit >= 0.8}


def test_no_invasive_plant_is_proposed() -> None:
    result = planted()
    proposed = {choice.latin for bed in result.beds for choice in bed.choices}
    assert proposed.isdisjoint({"Lythrum salicaria", "Iris pseudacorus", "Phalaris arundinacea", "Cicuta maculata"})


def test_plants_seen_give_the_prevalence_index() -> None:
    seen = {"soft rush": 50.0, "FACU": 50.0}
    found = planted(make_settings({"planting": {"seen": seen}}, "site.toml")).prevalence
    assert found is not None
    assert found.index == pytest.approx(2.5)  # soft rush is OBL: (50 x 1 + 50 x 4) / 100
    with pytest.raises(SettingsError, match=r"planting\.seen names 'elephant grass'"):
        planted(make_settings({"planting": {"seen": {"elephant grass": 10.0}}}, "site.toml"))


def test_nursery_stock_is_worth_only_what_the_grower_says() -> None:
    prices = {plant.latin: 2.0 for plant in read_palette()}
    priced = planted(make_settings({"planting": {"wanted": ["nursery stock"], "prices": prices}}, "site.toml")).beds[0]
    free = planted(make_settings({"planting": {"wanted": ["nursery stock"]}}, "site.toml")).beds[0]
    stock = [choice.nursery for choice in free.chosen if choice.nursery is not None]
    assert stock
    assert all(each.worth is None for each in stock)
    for choice in priced.chosen:
        if choice.nursery is not None:
            assert choice.nursery.worth == 2.0 * choice.nursery.plants_a_year
            assert choice.nursery.plants_a_year == choice.count // choice.nursery.blocks
    assert "at your price" not in note_of(free, Units.METRIC)
    assert "at your price" in note_of(priced, Units.METRIC)


def test_what_waits_goes_in_a_year_after_the_mound() -> None:
    raised = planted().beds[1]
    waiting = [choice.common for choice in raised.chosen if choice.waits]
    assert waiting
    assert f"From year 2, once the crest has been topped up: {', '.join(waiting)}" in note_of(raised, Units.METRIC)


def test_a_colder_night_strikes_plants_out() -> None:
    mild = planted(make_settings({"planting": {"coldest_night": "20 F", "choices": 20}}, "site.toml"))
    harsh = planted(make_settings({"planting": {"coldest_night": "-45 F", "choices": 20}}, "site.toml"))
    assert len(harsh.beds[0].choices) <= len(mild.beds[0].choices)
    known_tender = "Hibiscus moscheutos"
    assert known_tender not in {choice.latin for bed in harsh.beds for choice in bed.choices}


def own(name: str, count: int) -> OwnPlant:
    return OwnPlant(name, count, Stock.POT, "2027-04", "", "plants.csv, line 2")


def test_what_the_grower_has_is_placed_before_anything_is_proposed() -> None:
    result = planted(own_plants=(own("Highbush Blueberry", 3), own("red-osier dogwood", 4)))
    wet, raised = result.beds
    assert {choice.common: choice.own for choice in raised.chosen}["highbush blueberry"] == 3
    assert {choice.common: choice.own for choice in wet.chosen}["red-osier dogwood"] == 4
    assert not result.unplaced


def test_what_finds_no_place_says_why_and_where_it_would_come_nearest() -> None:
    (left,) = planted(own_plants=(own("apple", 2),)).unplaced
    assert (left.common, left.count) == ("apple", 2)
    assert left.reason is not Reason.NO_ROOM
    (crowded,) = planted(own_plants=(own("highbush blueberry", 400),)).unplaced
    assert crowded.reason is Reason.NO_ROOM
    assert 0 < crowded.count < 400


def test_an_own_plant_that_no_list_knows_is_refused_with_its_nearest_name() -> None:
    with pytest.raises(InputError, match=r"plants\.csv, line 2: 'highbush bluebery' .*highbush blueberry"):
        planted(own_plants=(own("highbush bluebery", 1),))


def test_vegetables_are_sown_between_the_frosts_each_in_time_to_ripen() -> None:
    season = (date(2025, 5, 10), date(2025, 10, 1))
    for plant in read_palette():
        for day in sowings(plant, season):
            assert plant.days is not None
            if plant.days <= 200.0:
                assert day + timedelta(days=plant.days) <= season[1] + timedelta(weeks=0 if plant.warm_season else 4)
                assert day >= season[0] - timedelta(weeks=4)
    tomato = next(plant for plant in read_palette() if plant.common == "tomato")
    assert sowings(tomato, season) == (date(2025, 5, 24),)
    assert sowings(tomato, (date(2025, 6, 20), date(2025, 8, 20))) == ()


def test_a_drawn_bed_too_wide_to_reach_into_says_so() -> None:
    ground = box(0.0, 0.0, 5.0, 2.0)
    bed = BedPlan(Ref(Kind.BED, 3), planted().beds[0].choices, ground=ground)
    assert "2.00 m wide: lay stepping boards every 1.22 m" in note_of(bed, Units.METRIC).replace("\u00a0", " ")
    narrow = replace(bed, ground=box(0.0, 0.0, 5.0, 1.2))
    assert "wide" not in note_of(narrow, Units.METRIC)


def bed_of_vegetables(own_plants: tuple[OwnPlant, ...] = (), features: tuple[Feature, ...] = ()) -> Planting:
    ground = box(5.0, 40.0, 17.0, 42.0)
    bed = Feature(number=1, kind=Kind.BED, name="Long bed", geometry=ground)
    here = replace(site(), own_plants=own_plants, features=(bed, *features))
    land = replace(known(here), settings=SETTINGS)
    return choose_plants(land, PondingUncertainty(constant(here, 0.0), (), 10), Plan())


def test_one_bed_of_vegetables_is_cut_in_four_plots_and_no_family_stands_in_two() -> None:
    planting = bed_of_vegetables()
    assert [(plot.part, plot.parts) for plot in planting.plots] == [(1, 4), (2, 4), (3, 4), (4, 4)]
    for year in range(4):
        families = [family for plot in planting.plots for family in plot.years[year].families]
        assert len(families) == len(set(families)) >= 6
    assert planting.rotation_years == 4
    (bed,) = planting.beds
    assert bed.of == Ref(Kind.BED, 1)
    assert len(bed.positions) == sum(choice.count for choice in bed.choices)


@pytest.mark.parametrize(
    ("tree", "kind", "reason"),
    [
        ("Black walnut", "tomato", Reason.POISONED_BY_WALNUT),  # juglone 50 to 60 ft: Ohio State
        ("White pine", "gooseberry", Reason.RUST_OF_PINE),  # kept apart by law or rule: common practice, no source
    ],
)
def test_what_a_tree_would_harm_is_not_planted_near_it(tree: str, kind: str, reason: Reason) -> None:
    near = Feature(number=2, kind=Kind.TREE, name=tree, geometry=Point(11.0, 45.0))
    (left,) = bed_of_vegetables((own(kind, 2),), (near,)).unplaced
    assert left.reason is reason
    assert kind == "gooseberry" or not bed_of_vegetables((own(kind, 2),)).unplaced
