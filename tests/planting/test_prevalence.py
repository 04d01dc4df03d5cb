"""The prevalence index."""

from __future__ import annotations

import pytest

from sitepipe.answers.plants import prevalence_of
from sitepipe.errors import SettingsError
from sitepipe.planting.prevalence import prevalence_index
from sitepipe.planting.record import Planting, Prevalence


def test_the_worked_example_comes_out() -> None:
    # Trade facts 2.1: 30 % FACW, 40 % FACU, 30 % FAC -> 3.10 (definition from the 1987 manual, value from memory).
    assert prevalence_index({"FACW": 30, "FACU": 40, "FAC": 30}) == pytest.approx(3.10)


def test_three_or_less_points_to_wetland() -> None:
    for index, reading in ((3.0, "they point to wetland vegetation"), (3.01, "do not point to wetland")):
        assert reading in prevalence_of(Planting(prevalence=Prevalence(index, ())))


@pytest.mark.parametrize(
    ("cover", "words"), [({"XYZ": 1.0}, "not one of"), ({"OBL": -1.0}, "must not be negative"), ({}, "no cover")]
)
def test_what_cannot_be_is_refused(cover: dict[str, float], words: str) -> None:
    with pytest.raises(SettingsError, match=words):
        prevalence_index(cover)
