"""Matching plants to places."""

from __future__ import annotations

from dataclasses import replace

from sitepipe.planting.match import Place, Purpose, fit, leads, wet_class
from sitepipe.planting.palette import Host, Plant, read_palette
from sitepipe.planting.record import Reason, Unknown

PLANTS: dict[str, Plant] = {plant.latin: plant for plant in read_palette()}
DRY_MOUND = Place(0.7, 0.05, 0.0, 8.0, 3.2, 30.0, None, True)
SPRING_WET = Place(0.15, 0.05, 0.1, 8.0, 10.0, 200.0, None, False)
POOL = Place(0.0, 0.05, 0.9, 8.0, 10.0, 200.0, None, False)


def test_the_wet_class_comes_from_depth_and_standing_water() -> None:
    assert [wet_class(d, 0.0) for d in (0.1, 0.29, 0.3, 0.44, 0.45, 1.0)] == ["W3", "W3", "W2", "W2", "W1", "W1"]
    assert wet_class(0.6, 0.5) == "W4"


def test_a_blueberry_is_refused_on_saturated_ground_though_it_is_rated_facw() -> None:
    # An indicator is not a crop tolerance: rated FACW (Wisconsin DNR list), rots where water stands in summer;
    # design depth .45 m from the BC drainage handbook.
    blueberry = PLANTS["Vaccinium corymbosum"]
    assert blueberry.indicator == "FACW"
    assert fit(blueberry, SPRING_WET).score == 0.0
    assert fit(blueberry, DRY_MOUND).score > 0.8


def test_a_pawpaw_is_refused_on_saturated_ground_though_it_is_rated_fac() -> None:
    # Does not survive waterlogging: Cornell; Montgomery Parks.
    assert fit(PLANTS["Asimina triloba"], SPRING_WET).score == 0.0


def test_wet_lovers_do_not_go_on_the_mound_nor_apples_at_its_foot() -> None:
    assert fit(PLANTS["Caltha palustris"], DRY_MOUND).score == 0.0
    assert fit(PLANTS["Malus pumila"], SPRING_WET).score == 0.0
    assert fit(PLANTS["Pontederia cordata"], POOL).score > 0.8


def test_invasive_and_poisonous_plants_are_never_proposed_anywhere() -> None:
    for plant in PLANTS.values():
        if plant.status in ("never", "hazard", "keep away"):
            assert all(fit(plant, place).score == 0.0 for place in (DRY_MOUND, SPRING_WET, POOL))


def test_cold_strikes_out_only_what_it_kills() -> None:
    cardinal = PLANTS["Hibiscus moscheutos"]  # USDA PLANTS: -13 F, -25 C
    assert fit(cardinal, replace(POOL, coldest=-20.0)).score > 0.0
    assert fit(cardinal, replace(POOL, coldest=-30.0)).score == 0.0
    assert Unknown.COLDEST_NIGHT in fit(cardinal, POOL).unknown


def test_less_sun_never_makes_a_sun_plant_fit_better() -> None:
    for plant in PLANTS.values():
        if plant.most_sun is not None:
            continue
        scores = [fit(plant, replace(SPRING_WET, sun=hours)).score for hours in (9.0, 6.0, 4.0, 2.0, 0.5)]
        assert scores == sorted(scores, reverse=True), plant.latin


def test_a_shade_plant_is_refused_in_full_sun() -> None:
    ramps = PLANTS["Allium tricoccum"]
    assert fit(ramps, replace(DRY_MOUND, sun=9.0)).score == 0.0
    assert fit(ramps, replace(DRY_MOUND, sun=3.0)).score > 0.5


def test_a_plant_that_asks_for_sour_soil_leaves_that_open() -> None:
    # Blueberry pH 4.5-5.2: Ohio State, read in the trade facts.
    assert PLANTS["Vaccinium corymbosum"].acidity == "4.5-5.2"
    assert Unknown.ACIDITY in fit(PLANTS["Vaccinium corymbosum"], DRY_MOUND).unknown
    assert Unknown.ACIDITY not in fit(PLANTS["Malus pumila"], DRY_MOUND).unknown


def test_a_tree_wider_than_the_mound_is_refused() -> None:
    assert fit(PLANTS["Diospyros virginiana"], DRY_MOUND).score == 0.0


def test_what_a_mound_was_raised_for_leads_and_no_vegetable_stands_among_fruit() -> None:
    strawberry, blueberry, lettuce = (
        PLANTS[latin] for latin in ("Fragaria x ananassa", "Vaccinium corymbosum", "Lactuca sativa")
    )
    for purpose, plant in ((Purpose.STRAWBERRIES, strawberry), (Purpose.BLUEBERRIES, blueberry)):
        place = replace(DRY_MOUND, purpose=purpose)
        assert leads(plant, purpose)
        assert fit(plant, place).score > 0.0
        assert fit(lettuce, place).against == (Reason.ANOTHER_PURPOSE,)
        assert not leads(lettuce, purpose)
    assert fit(strawberry, replace(DRY_MOUND, purpose=Purpose.VEGETABLES)).against == (Reason.RUNS,)


def test_a_rust_from_a_juniper_troubles_an_apple_and_one_from_a_white_pine_strikes_a_currant_out() -> None:
    # Kept apart: common practice, no source.
    orchard = replace(DRY_MOUND, purpose=Purpose.TREES, width=9.0, area=90.0, drained=1.5)
    apple, currant = PLANTS["Malus pumila"], PLANTS["Ribes nigrum"]
    near = replace(orchard, near=frozenset({Host.JUNIPER, Host.WHITE_PINE}))
    assert fit(apple, near).score == 0.5 * fit(apple, orchard).score > 0.0
    assert Reason.RUST_OF_JUNIPER in fit(apple, near).doubts
    assert Reason.RUST_OF_PINE in fit(currant, near).against


def test_a_nursery_bed_is_watered_and_takes_what_would_grow_too_large() -> None:
    bed = replace(DRY_MOUND, is_mound=False, purpose=Purpose.NURSERY, area=3.0)
    assert fit(PLANTS["Cephalanthus occidentalis"], bed).score > 0.0
    assert fit(PLANTS["Quercus bicolor"], replace(bed, drained=0.4)).score > 0.0
    assert fit(PLANTS["Lactuca sativa"], bed).score == 0.0
