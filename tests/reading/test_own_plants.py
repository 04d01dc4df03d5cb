"""plants.csv: the grower's own plants."""

from __future__ import annotations

from pathlib import Path

import pytest

from sitepipe.errors import InputError
from sitepipe.reading.own_plants import read_own_plants
from sitepipe.site import OwnPlant, Stock


def write(folder: Path, *rows: str, heading: str = "name,how many,as what,ready when,what for") -> Path:
    path = folder / "plants.csv"
    path.write_text("\n".join((heading, *rows)) + "\n", encoding="utf-8")
    return path


def test_a_list_is_read_as_people_keep_it(tmp_path: Path) -> None:
    path = write(tmp_path, "Pawpaw;3;bare root;2027-04;fruit", "mint;10;;;", heading="plant;count;as;ready;for")
    assert read_own_plants(path) == (
        OwnPlant("Pawpaw", 3, Stock.BARE_ROOT, "2027-04", "fruit", "plants.csv, line 2"),
        OwnPlant("mint", 10, Stock.POT, "", "", "plants.csv, line 3"),
    )


@pytest.mark.parametrize(
    ("row", "said"),
    [
        (",3,pot,,", r"plants\.csv, line 2 names no plant"),
        ("mint,-1,pot,,", r"how many is '-1'\. Write a whole number"),
        ("mint,1e9,pot,,", r"how many is '1e9'\. Write a whole number"),
        ("mint,2.5,pot,,", r"how many is '2\.5'\. Write a whole number"),
        ("mint,1,tree,,", r"as what is 'tree'\. Write one of: seed"),
        ("mint,1,pot,2027-13,", r"ready when is '2027-13'\. Write a year, month or day"),
        ("mint,1,pot,soon,", r"ready when is 'soon'"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(tmp_path: Path, row: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_own_plants(write(tmp_path, row))


def test_more_plants_than_can_be_drawn_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="more than 5,000 plants"):
        read_own_plants(write(tmp_path, "mint,5001,seed,,"))
    with pytest.raises(InputError, match="has no column 'how many'"):
        read_own_plants(write(tmp_path, "mint", heading="name"))
