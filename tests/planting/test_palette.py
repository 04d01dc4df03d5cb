"""The palette: every value with a source, nothing impossible."""

from __future__ import annotations

from pathlib import Path

import pytest

from sitepipe.errors import InputError
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
