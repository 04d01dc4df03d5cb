"""The steps of matching, each on both sides of its threshold; a plant that asks for nothing else multiplies by one."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from sitepipe.planting.match import Place, fit
from sitepipe.planting.palette import Plant, read_palette
from sitepipe.planting.prevalence import prevalence_index
from sitepipe.planting.record import Reason, Unknown

EASY: Plant = replace(
    read_palette()[0],
    wet_classes=("W1", "W2", "W3", "W4"),
    aerated=0.0,
    least_sun=2.0,
    crop_sun=4.0,
    most_sun=None,
    coldest=-30.0,
    height=1.0,
    spread=1.0,
    status="may",
)
KIND = Place(0.6, 0.1, 0.0, 8.0, 3.0, 100.0, -20.0, False)


def score(plant: dict[str, Any], place: dict[str, Any]) -> float:
    return fit(replace(EASY, **plant), replace(KIND, **place)).score


@pytest.mark.parametrize(
    ("plant", "place", "expected"),
    [
        ({}, {}, 1.0),
        # Water: what is not known counts .7; one class drier than it likes .5, two none; wetter none.
        ({"wet_classes": ()}, {}, 0.7),
        ({"wet_classes": ("W3",)}, {"drained": 0.4}, 0.5),
        ({"wet_classes": ("W4",)}, {"drained": 0.4}, 0.0),
        ({"wet_classes": ("W4",)}, {"drained": 0.2}, 0.5),
        ({"wet_classes": ("W2",)}, {"drained": 0.6}, 0.0),
        ({"wet_classes": ("W1",)}, {"drained": 0.4}, 0.0),
        # Drained soil: a spare of the error or more is enough, less is a doubt, none is too little.
        ({"aerated": None}, {}, 0.9),
        ({"aerated": 0.5}, {"drained": 0.75, "drained_error": 0.25}, 1.0),
        ({"aerated": 0.5}, {"drained": 0.74, "drained_error": 0.25}, 0.6),
        ({"aerated": 0.5}, {"drained": 0.5}, 0.6),
        ({"aerated": 0.5}, {"drained": 0.49}, 0.0),
        ({"aerated": 0.1}, {"standing": 0.2}, 1.0),
        ({"aerated": 0.1}, {"standing": 0.21}, 0.0),
        ({"aerated": 0.0}, {"standing": 0.21}, 1.0),
        # Sun: half an hour under the least is .4, less is nothing; under what a crop needs .5.
        ({"least_sun": None, "crop_sun": None}, {}, 0.85),
        ({}, {"sun": 4.0}, 1.0),
        ({}, {"sun": 3.9}, 0.5),
        ({}, {"sun": 2.0}, 0.5),
        ({}, {"sun": 1.9}, 0.4),
        ({}, {"sun": 1.5}, 0.4),
        ({}, {"sun": 1.4}, 0.0),
        ({"least_sun": None}, {"sun": 3.6}, 0.4),
        ({"crop_sun": None}, {"sun": 2.0}, 1.0),
        ({"most_sun": 8.0}, {"sun": 8.0}, 1.0),
        ({"most_sun": 8.0}, {"sun": 8.1}, 0.0),
        # Cold: three degrees to spare is safe, down to none a doubt.
        ({"coldest": None}, {}, 0.9),
        ({"coldest": -30.0}, {"coldest": None}, 1.0),
        ({"coldest": -23.0}, {}, 1.0),
        ({"coldest": -22.0}, {}, 0.7),
        ({"coldest": -20.0}, {}, 0.7),
        ({"coldest": -19.0}, {}, 0.0),
        # Room: up to 1.8 widths of a mound, up to the square of its spread; a tree above 7 m is a doubt.
        ({"spread": None}, {}, 0.9),
        ({"spread": 5.4}, {"is_mound": True}, 1.0),
        ({"spread": 5.5}, {"is_mound": True}, 0.0),
        ({"spread": 5.5}, {}, 1.0),
        ({"spread": 10.0}, {}, 1.0),
        ({"spread": 10.1}, {}, 0.0),
        ({"height": 7.0}, {}, 1.0),
        ({"height": 7.1}, {}, 0.5),
        ({"height": None}, {}, 1.0),
        # Two doubts multiply.
        ({"height": 7.1, "wet_classes": ()}, {}, 0.35),
    ],
)
def test_each_need_counts_what_it_says(plant: dict[str, Any], place: dict[str, Any], expected: float) -> None:
    assert score(plant, place) == pytest.approx(expected)


def test_what_is_met_is_a_reason_and_what_is_not_a_doubt() -> None:
    found = fit(replace(EASY, spread=None), replace(KIND, sun=3.9))
    assert found.why == (Reason.WELL_ABOVE_WATER,)
    assert found.doubts == (Reason.CROPS_THINLY,)
    assert found.unknown == (Unknown.SPREAD,)
    refused = fit(replace(EASY, wet_classes=("W1",)), replace(KIND, standing=0.9))
    assert refused.why == (Reason.SUN_ENOUGH,)
    assert refused.doubts == ()
    assert refused.against == (Reason.TOO_WET,)


@pytest.mark.parametrize(
    ("cover", "index"),
    [({"OBL": 3.0}, 1.0), ({"UPL": 0.25}, 5.0), ({"OBL": 50.0, "UPL": 0.0}, 1.0), ({"FACW": 1.0, "FACU": 1.0}, 3.0)],
)
def test_a_prevalence_index_lies_between_all_wet_and_all_dry(cover: dict[str, float], index: float) -> None:
    # The weights 1 to 5 of the 1987 manual (value from memory).
    assert prevalence_index(cover) == pytest.approx(index)
