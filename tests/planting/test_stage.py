"""The planting stage: lists and beds for zones and mounds."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, box

from sitepipe.answers.plants import note_of, why_of
from sitepipe.arrays import frozen
from sitepipe.drainage.record import PondingUncertainty
from sitepipe.errors import InputError, SettingsError
from sitepipe.planting.months import planting_jobs, put_off, sowings
from sitepipe.planting.palette import read_palette
from sitepipe.planting.record import BedPlan, Planting, Reason, SetOut
from sitepipe.planting.stage import choose_plants
from sitepipe.scoring.record import Use, Zone, Zones
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Bed as DrawnBed
from sitepipe.site import Feature, Found, Kind, OwnPlant, Ref, Site, Stock, Work
from sitepipe.units import Units
from sitepipe.works.jobs.record import Task
from sitepipe.works.mounds.record import Mound, MoundHeight
from sitepipe.works.record import Plan
from sitepipe.works.rows.record import Arch
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


def test_planting_that_a_year_has_no_hours_for_is_put_off_proposals_in_open_ground_first() -> None:
    def pots(number: int, kind: Found | Work, year: int = 1, is_own: bool = False) -> SetOut:
        return SetOut(Ref(kind, number), f"kind {number}", "", 15, Stock.POT, year, 6, is_own=is_own)  # 2 h each

    sets = [pots(1, Found.ZONE), pots(2, Work.MOUND), pots(3, Found.ZONE, is_own=True), pots(4, Found.ZONE, 2)]
    assert [each.year for each in put_off(sets, lambda _: 4.0)] == [2, 1, 1, 2]
    assert [each.year for each in put_off(sets, lambda _: 2.0)] == [3, 2, 1, 4]
    assert [each.year for each in put_off(sets, lambda year: 0.0 if year == 1 else 99.0)] == [2, 2, 2, 2]
    assert put_off(sets, lambda _: 8.0) == sets


def test_all_jobs_of_a_year_keep_within_its_hours() -> None:
    # To ask, stake, build the mound and look again takes 14 h of the first year.
    told = make_settings({"planting": {"coldest_night": "-20 F"}, "jobs": {"hours": {"june": 15.0}}}, "site.toml")
    free, bound = planted(), planted(told)
    assert sum(month.people_hours for month in free.months if month.year == 1) > 1.0
    for year in range(1, 9):
        hours = sum(job.people_hours for job in planting_jobs(bound) if job.year == year)
        assert hours <= (1.0 if year == 1 else 15.0) + 1e-9
    assert sum(each.count for month in bound.months for each in month.sets) == sum(
        each.count for month in free.months for each in month.sets
    )


def test_what_waits_goes_in_a_year_after_the_mound() -> None:
    planting = planted()
    raised = planting.beds[1]
    waiting = {choice.common for choice in raised.chosen if choice.waits}
    sets = [each for month in planting.months for each in month.sets if each.of == raised.of]
    assert waiting
    assert {each.common for each in sets if each.year == 2 and each.month == 10} == waiting
    # Wet November to May: built by October of year 1, the mound settles for a year; what need not wait, in spring.
    assert {(each.year, each.month) for each in sets if each.common not in waiting} == {(2, 5)}
    assert "October of year 2: " in note_of(raised, planting, Units.METRIC)


def test_every_plant_that_is_counted_is_set_out_in_some_month_and_wet_ground_while_it_bears() -> None:
    planting = planted()
    for bed in planting.beds:
        sets = [each for month in planting.months for each in month.sets if each.of == bed.of]
        for choice in bed.chosen:
            assert choice.count == sum(each.count for each in sets if each.latin == choice.latin)
        if bed.of.kind is Found.ZONE:
            assert all(each.month in range(6, 11) for each in sets)  # wet months: November to May, the default
    assert all(month.people_hours > 0.0 for month in planting.months)


def test_what_comes_before_its_bed_is_heeled_in_and_the_jobs_say_so() -> None:
    mine = OwnPlant("highbush blueberry", 2, Stock.BARE_ROOT, "2027-04", "", "plants.csv, line 2")
    planting = planted(own_plants=(mine,))
    (early,) = planting.early
    assert (early.common, early.count, early.year, early.month) == ("highbush blueberry", 2, 1, 4)
    assert (early.until_year, early.until_month) == (2, 10)
    jobs = list(planting_jobs(planting))
    assert (jobs[0].task, jobs[0].year, jobs[0].months) == (Task.HEEL_IN, 1, (4,))
    assert [(job.year, job.months[0]) for job in jobs[1:]] == [(m.year, m.month) for m in planting.months]
    assert not planted(own_plants=(replace(mine, ready="2027"),)).early[1:]


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
    said = note_of(bed, Planting(), Units.METRIC).replace("\u00a0", " ")
    assert "2.00 m wide: lay stepping boards every 1.22 m" in said
    narrow = replace(bed, ground=box(0.0, 0.0, 5.0, 1.2))
    assert "wide" not in note_of(narrow, Planting(), Units.METRIC)


def drawn_bed(
    own_plants: tuple[OwnPlant, ...] = (),
    features: tuple[Feature, ...] = (),
    settings: Settings = SETTINGS,
    is_nursery: bool = False,
) -> Planting:
    """One drawn bed, 12 m by 2 m, on dry ground."""
    bed = DrawnBed(number=1, kind=Kind.BED, name="Long bed", geometry=box(5.0, 40.0, 17.0, 42.0), is_nursery=is_nursery)
    here = replace(site(), own_plants=own_plants, features=(bed, *features))
    land = replace(known(here), settings=settings)
    return choose_plants(land, PondingUncertainty(constant(here, 0.0), (), 10), Plan())


def test_one_drawn_bed_is_cut_in_four_plots_and_no_family_stands_in_two() -> None:
    planting = drawn_bed()
    assert [(plot.part, plot.parts) for plot in planting.plots] == [(1, 4), (2, 4), (3, 4), (4, 4)]
    for year in range(4):
        families = [family for plot in planting.plots for family in plot.years[year].families]
        assert len(families) == len(set(families)) >= 6
    assert planting.rotation_years == 4
    assert "tomato" in {choice.common for choice in planting.beds[0].chosen}  # no walnut stands near
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
    (left,) = drawn_bed((own(kind, 2),), (near,)).unplaced
    assert left.reason is reason


def test_a_nursery_bed_holds_rows_in_a_block_for_each_season_and_money_only_at_the_grower_s_price() -> None:
    prices = {"American elder": 5.0}
    settings = make_settings({"planting": {"coldest_night": "-20 F", "prices": prices}}, "site.toml")
    mine = OwnPlant("American elder", 20, Stock.CUTTING, "", "for the nursery", "plants.csv, line 2")
    planting = drawn_bed((mine,), settings=settings, is_nursery=True)
    (bed,) = planting.beds
    stock = {choice.common: choice for choice in bed.chosen}
    assert len(stock) > 5
    assert not planting.unplaced
    for choice in bed.chosen:
        kind = choice.nursery
        assert kind is not None
        assert choice.count == kind.blocks * kind.set_a_year == sum(n == choice.common for n, _ in bed.positions)
        assert kind.blocks == kind.years_high
        assert (kind.worth_low is None) is (choice.common != "American elder")
    elder = stock["American elder"].nursery
    assert elder is not None
    # Elder: hardwood cuttings, fit to sell in 1 to 2 years, 70 to 90 in 100 take (Native Plant Network; trade notes).
    assert (elder.by, elder.years_low, elder.years_high) == ("hardwood cutting", 1, 2)
    assert elder.set_a_year >= stock["American elder"].own == 20
    assert (elder.sold_low, elder.sold_high) == (int(elder.set_a_year * 0.7), int(elder.set_a_year * 0.9))
    assert elder.worth_high == 5.0 * elder.sold_high


def test_young_plants_keep_their_rows_and_stay_in_the_bed() -> None:
    (bed,) = drawn_bed(is_nursery=True).beds
    places = [place for _, place in bed.positions]
    assert bed.ground is not None
    assert all(bed.ground.contains(place) for place in places)
    spots = shapely.get_coordinates(places)
    apart = np.hypot(*(spots[:, None] - spots[None]).T)[~np.eye(len(spots), dtype=bool)]
    assert apart.min() >= min(choice.spacing for choice in bed.chosen) - 1e-9


def test_more_cuttings_than_a_nursery_holds_say_so() -> None:
    mine = OwnPlant("purple osier", 2000, Stock.CUTTING, "", "to sell", "plants.csv, line 2")
    (left,) = drawn_bed((mine,), is_nursery=True).unplaced
    assert (left.common, left.reason) == ("purple osier", Reason.NO_ROOM)


def test_vines_climb_both_feet_of_an_arch() -> None:
    here = site()
    land = replace(known(here), settings=SETTINGS)
    line = LineString([(20.0, 40.0), (26.0, 40.0)])
    arch = Arch(1, line=line, outline=line.buffer(1.0), span=2.0, height=1.9, panels=5, posts=12, post_depth=0.6,
                beside=None, is_wet=False)  # fmt: skip
    (bed,) = choose_plants(land, PondingUncertainty(constant(here, 0.0), (), 10), Plan(arches=(arch,))).beds
    assert bed.of == Ref(Work.ARCH, 1)
    assert {choice.layer for choice in bed.chosen} == {"climber"}
    assert {round(place.y, 6) for _, place in bed.positions} == {39.0, 41.0}
