"""The palette: every value with a source, nothing impossible."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from sitepipe.errors import InputError
from sitepipe.planting.nursery import read_increase
from sitepipe.planting.palette import read_palette


def test_no_plant_is_without_its_sources() -> None:
    for plant in read_palette():
        assert plant.indicator_source
        assert plant.tolerance_source
        assert plant.light_source
        assert plant.coldest_source
        assert plant.size_source
        assert not plant.indicator or plant.indicator_region, plant.latin


def test_the_impossible_minimum_of_black_chokeberry_is_left_unknown() -> None:
    # USDA PLANTS gives +24 F for a shrub that is hardy far below zero: a known error of the source.
    chokeberry = next(plant for plant in read_palette() if plant.latin == "Aronia melanocarpa")
    assert chokeberry.coldest is None
    assert "impossible" in chokeberry.coldest_source


@pytest.mark.parametrize(
    "latin",
    [
        "Lythrum salicaria",
        "Iris pseudacorus",
        "Phragmites australis",
        "Phalaris arundinacea",
        "Frangula alnus",
        "Elaeagnus umbellata",
    ],
)
def test_invasive_plants_are_marked_never(latin: str) -> None:
    assert next(plant for plant in read_palette() if plant.latin == latin).status == "never"


def test_an_own_list_replaces_a_row_and_adds_another(tmp_path: Path) -> None:
    own = tmp_path / "mine.csv"
    own.write_text("latin,common,wet_classes,in_row_m\nSalix nigra,my willow,W4,1.0\nNova inventa,new thing,W3,0.5\n")
    plants = {plant.latin: plant for plant in read_palette(own)}
    assert plants["Salix nigra"].common == "my willow"
    assert plants["Nova inventa"].row == 0.5
    assert len(plants) == len(read_palette()) + 1
    assert len(read_palette(own, replaces=True)) == 2


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ("A b,c,,x", "in_row_m is 'x'"),
        ("A b,c,,99", "in_row_m is 99; it must be at most 20"),
        ("A b,c,W9,1", "wet_classes is 'W9'"),
        (",c,W1,1", "needs a latin and a common name"),
    ],
)
def test_a_row_that_cannot_be_is_refused_with_its_line(tmp_path: Path, row: str, words: str) -> None:
    own = tmp_path / "mine.csv"
    own.write_text(f"latin,common,wet_classes,in_row_m\n{row}\n")
    with pytest.raises(InputError, match=words) as caught:
        read_palette(own)
    assert "mine.csv line 2" in str(caught.value)


def test_a_hardy_shrub_with_a_minimum_above_freezing_is_refused(tmp_path: Path) -> None:
    own = tmp_path / "mine.csv"
    own.write_text("latin,common,form,min_temp_c\nA b,c,shrub,5\n")
    with pytest.raises(InputError, match="survives frost"):
        read_palette(own)


def test_a_missing_list_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.csv cannot be read"):
        read_palette(tmp_path / "none.csv")


# Greatest rooting depth, FAO-56 table 22, lower and upper end [m]: values from memory.
ROOTS = {
    "lettuce": (0.3, 0.5), "spinach": (0.3, 0.5), "radish": (0.3, 0.5), "celery": (0.3, 0.5), "garlic": (0.3, 0.5),
    "bulb onion": (0.3, 0.6), "broccoli": (0.4, 0.6), "cauliflower": (0.4, 0.7), "Brussels sprout": (0.4, 0.6),
    "potato": (0.4, 0.6), "carrot": (0.5, 1.0), "bush bean": (0.5, 0.7), "pepper": (0.5, 1.0), "beet": (0.6, 1.0),
    "pea": (0.6, 1.0), "summer squash": (0.6, 1.0), "eggplant": (0.7, 1.2), "sweet corn": (0.8, 1.2),
    "sweet potato": (1.0, 1.5), "winter squash": (1.0, 1.5),
}  # fmt: skip
# In the row [in], Knott's Handbook for Vegetable Growers: values from memory.
IN_ROW = {
    "lettuce": (4, 15), "spinach": (2, 6), "radish": (0.5, 2), "garlic": (3, 6), "bulb onion": (1, 4), "carrot": (1, 3),
    "broccoli": (12, 27), "cabbage": (12, 24), "cauliflower": (14, 24), "potato": (6, 12), "pepper": (12, 24),
    "tomato": (12, 48), "bush bean": (2, 4), "pea": (1, 3), "sweet corn": (6, 12), "summer squash": (24, 48),
    "eggplant": (18, 30), "parsnip": (2, 4), "beet": (2, 4),
}  # fmt: skip


@pytest.mark.parametrize("common", sorted(ROOTS))
def test_roots_of_vegetables_are_those_of_the_published_table(common: str) -> None:
    plant = next(plant for plant in read_palette() if plant.common == common)
    assert (plant.aerated, plant.roots) == pytest.approx(ROOTS[common])


@pytest.mark.parametrize("common", sorted(IN_ROW))
def test_vegetables_stand_as_far_apart_as_a_handbook_says(common: str) -> None:
    plant = next(plant for plant in read_palette() if plant.common == common)
    least, most = IN_ROW[common]
    assert plant.in_row is not None
    assert least <= round(plant.in_row / 0.0254, 0 if most > 6 else 1) <= most


def test_cautions_are_plain_words_in_which_no_length_goes_without_its_unit_s_mark() -> None:
    for plant in read_palette():
        assert not re.search(r"\[|\b(M|V|CP)\b|\d ?(m|cm|ft|in)\b(?!})", plant.caution), plant.common
        assert not plant.caution or plant.caution_source, plant.common


def test_every_row_of_increase_has_a_bed_seasons_and_a_take_that_can_be() -> None:
    for latin, increase in read_increase().items():
        assert 0.05 <= increase.in_row <= increase.row <= 1.5, latin
        assert 1 <= increase.years[0] <= increase.years[1] <= 4, latin
        assert 0.0 < increase.take[0] <= increase.take[1] <= 1.0, latin
        assert set(increase.months) <= set(range(1, 13)), latin
