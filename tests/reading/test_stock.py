"""stock.csv: what there is to build with."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sitepipe.answers.stock import taken_for_granted
from sitepipe.errors import InputError
from sitepipe.reading.stock import BALE, read_stock
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Site, Stuff, Supply
from sitepipe.units import CUBIC_YARD, FOOT, INCH
from tests.sites import make_site

SETTINGS = Settings()


def site_with(stock: tuple[Supply, ...] | None) -> Site:
    return replace(make_site(np.zeros((4, 4))), stock=stock)


def write(folder: Path, *rows: str, heading: str = "what,how much,unit,from when,price,note") -> Path:
    path = folder / "stock.csv"
    path.write_text("\n".join((heading, *rows)) + "\n", encoding="utf-8")
    return path


def test_a_table_is_read_as_people_keep_it(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        "Chips;6;loads a year;;;tree crew",
        "soil;10;cubic yards;2028-04;30;delivered",
        "compost;2,5;m3;2027;?;",
        "lawn to turn;100;square feet;year 3;;",
        "posts;12;;;4;",
        heading="material;amount;unit;from;price;note",
    )
    supplies, said = read_stock(path, SETTINGS)
    assert supplies == (
        Supply(Stuff.CHIPS, 6 * SETTINGS.materials.load, is_yearly=True),
        Supply(Stuff.SOIL, 10 * CUBIC_YARD, year=2, month=4, price=30.0 / CUBIC_YARD),
        Supply(Stuff.COMPOST, 2.5, price=None),
        Supply(Stuff.LAWN, 100 * FOOT**2, year=3),
        Supply(Stuff.POSTS, 12.0, price=4.0),
    )
    assert said == ("Year 1 of the plan is 2027, the first that stock.csv names.",)


def test_a_bale_is_as_large_as_sellers_have_it() -> None:
    # .36 x .46 x .91 m: sellers' sizes; 14 x 18 x 36 in.
    assert pytest.approx(14 * 18 * 36 * INCH**3, rel=0.02) == BALE


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("chip,1,loads,,,", r"stock\.csv, line 2: what is 'chip' \(did you mean 'chips'\?\)\. Write one of: chips"),
        ("chips,,loads,,,", r"line 2 has no how much"),
        ("chips,-1,loads,,,", r"how much is -1 load\. Write 0 or more"),
        ("chips,1e9,loads,,,", r"how much is 1e\+09 load"),
        ("chips,some,loads,,,", r"how much is 'some'; it must be a number"),
        ("chips,1,piece,,,", r"unit of chips is 'piece'.*Write one of: cubic metre"),
        ("posts,1,loads,,,", r"unit of posts is 'loads'"),
        ("film,1,bags,,,", r"unit of film is 'bags'.*Write one of: square metre"),
        ("chips,1,loads,soon,,", r"from when is 'soon'\. Write a year, month or day"),
        ("chips,1,loads,2027-13,,", r"from when is '2027-13'"),
        ("chips,1,loads,,-5,", r"price is '-5'\. Write what one load costs, or \?"),
        ("chips,1,loads,,cheap,", r"price is 'cheap'; it must be a number"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(tmp_path: Path, row: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_stock(write(tmp_path, row), SETTINGS)


def test_what_nobody_said_is_said_to_be_taken_for_granted() -> None:
    (first, hours) = taken_for_granted(site_with(None), SETTINGS)
    assert "No stock.csv says what there is" in first
    assert "jobs.hours" in hours
    bought = (Supply(Stuff.SOIL, 3.0, price=20.0),)
    said = list(taken_for_granted(site_with(bought), make_settings({"jobs": {"hours": {"may": 5.0}}}, "site.toml")))
    assert said == [
        "stock.csv names no chips and leaves and no logs and brush: none is counted on.",
        "Money is not said (materials.money_per_year): nothing is bought.",
    ]
    enough = (Supply(Stuff.CHIPS, 3.0), Supply(Stuff.LOGS, 0.0), Supply(Stuff.SOIL, 3.0))
    assert "is a middle of 9 to 10 tenths of logs" in next(taken_for_granted(site_with(enough), SETTINGS))
