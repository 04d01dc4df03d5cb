"""holes.csv: auger holes by name or place."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from sitepipe.errors import InputError, SettingsError
from tests.reading.folders import NORTH, WEST, make_folder, point, polygon, read, write_drawing

HEADING = "place,date,depth to water,rain since,hole depth,depth where gray begins"


def folder(path: Path, *rows: str, heading: str = HEADING) -> Path:
    make_folder(path)
    write_drawing(
        path / "parcel.geojson",
        polygon(kind="parcel"),
        point(WEST + 30.0, NORTH - 20.0, kind="observation", name="Hole A"),
        point(WEST + 31.0, NORTH - 20.0, kind="observation", name="Twice"),
        point(WEST + 41.0, NORTH - 20.0, kind="observation", name="Twice"),
    )
    (path / "holes.csv").write_text("\n".join([heading, *rows]), encoding="utf-8")
    return path


def test_readings_are_read_with_their_place_and_units(tmp_path: Path) -> None:
    site = read(
        folder(
            tmp_path,
            "Hole A,2025-04-09,8 in,2 in two days before,40 in,14 in",
            "hole a,2025-08-18,dry,none for three weeks,40 in,none",
        ),
        units="imperial",
    )
    wet, dry = site.auger_readings
    assert (wet.x, wet.y, wet.day) == (WEST + 30.0, NORTH - 20.0, date(2025, 4, 9))
    assert wet.depth_to_water == pytest.approx(0.2032)
    assert wet.gray_depth == pytest.approx(0.3556)
    assert dry.depth_to_water is None
    assert dry.gray_depth is None
    assert dry.hole_depth == pytest.approx(1.016)
    assert wet.rain_since == "2 in two days before"


@pytest.mark.parametrize("first", ["sep=;", '"sep=;"', "SEP=;"])
def test_the_line_that_a_spreadsheet_puts_above_the_heading_is_understood(tmp_path: Path, first: str) -> None:
    folder(tmp_path)
    text = f"{first}\n{HEADING.replace(',', ';')}\nHole A;2025-04-09;0,25;none, for weeks;1,0;\n"
    (tmp_path / "holes.csv").write_text(text, encoding="utf-8")
    (reading,) = read(tmp_path).auger_readings
    assert (reading.depth_to_water, reading.rain_since, reading.hole_depth) == (0.25, "none, for weeks", 1.0)


def test_a_hole_may_be_placed_by_coordinates(tmp_path: Path) -> None:
    site = read(folder(tmp_path, f"B,2025-04-09,0.3,{WEST + 1},{NORTH - 2}", heading="place,date,depth to water,x,y"))
    assert (site.auger_readings[0].x, site.auger_readings[0].y) == (WEST + 1.0, NORTH - 2.0)
    assert any("numbers without a unit are taken as metres" in said for said in site.assumptions)


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("Hole B,2025-04-09,0.2,,,", r"place is 'Hole B', which is not drawn \(did you mean 'hole a'\?\)"),
        ("Hole A,9.4.2025,0.2,,,", r"date is '9\.4\.2025'; write year-month-day"),
        ("Hole A,2025-13-09,0.2,,,", "date is '2025-13-09'; write year-month-day"),
        ("Hole A,2999-04-09,0.2,,,", "date is 2999-04-09, which is long past or yet to come"),
        (",2025-04-09,0.2,,,", "line 2 names no place"),
        ("Twice,2025-04-09,0.2,,,", "'Twice', and 2 things are drawn with that name"),
        ("Hole A,2025-04-09,0,21,,", "are 0,21, and no depth to water has decimals"),
        ("Hole A,2025-04-09,1,5\nHole A,2025-04-10,1,6", "is that one number with a decimal comma"),
        ("Hole A,2025-04-09,,,,", "has no depth to water"),
        ("Hole A,2025-04-09,wet,,,", "is not a length"),
        ("Hole A,2025-04-09,40 m,,,", "must lie between 0 and 10 m"),
        ("Hole A,2025-04-09,1.2 m,,1 m,", "below the bottom of the hole"),
    ],
)
def test_rows_that_cannot_be_are_refused(tmp_path: Path, row: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read(folder(tmp_path, row))


@pytest.mark.parametrize(
    ("rows", "said"),
    [
        (
            ("B,2025-04-09,0.3,{x},{y}", "b,2025-04-10,0.3,{x},{far}"),
            r"line 3: 'b' lies 9\.0 m from where it is drawn or",
        ),
        (("Hole A,2025-04-09,0.3,{x},{y}",), r"line 2: 'Hole A' lies 29\.0 m from where it is drawn"),
        (("C,2025-04-09,0.3,{x},4740102",), r"line 2 lies 3\.0 km from the parcel"),
        ((",2025-04-09,0.3,{x},{y}",), "line 2 names no place"),
    ],
)
def test_a_hole_lies_in_one_place_near_the_parcel(tmp_path: Path, rows: tuple[str, ...], said: str) -> None:
    written = [row.format(x=WEST + 1, y=NORTH - 20, far=NORTH - 29) for row in rows]
    with pytest.raises(InputError, match=said):
        read(folder(tmp_path, *written, heading="place,date,depth to water,x,y"))


def test_a_hole_may_be_placed_by_two_tapes(tmp_path: Path) -> None:
    folder(
        tmp_path,
        "B,2025-04-09,0.3,Hole A,3,Post,4,left",
        heading="place,date,depth to water,from 1,tape 1,from 2,tape 2,side",
    )
    write_drawing(
        tmp_path / "parcel.geojson",
        polygon(kind="parcel"),
        point(WEST + 30.0, NORTH - 20.0, kind="observation", name="Hole A"),
        point(WEST + 35.0, NORTH - 20.0, kind="fixed point", name="Post"),
    )
    (reading,) = read(tmp_path).auger_readings
    # A right angle: 3, 4, 5.
    assert (reading.x, reading.y) == pytest.approx((WEST + 31.8, NORTH - 17.6))


def test_bare_depths_on_a_site_in_feet_are_asked_about(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match="depth to water is 8 without a unit, and the site is in feet"):
        read(folder(tmp_path, "Hole A,2025-04-09,8,,,"), units="imperial")


def test_a_table_without_its_columns_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="no column 'date'"):
        read(folder(tmp_path, "Hole A,0.2", heading="place,depth to water"))


TIMED = "place,date,depth to water,hole depth,test from,test to,test minutes,hole width"


def test_a_timed_hole_is_read_with_its_units(tmp_path: Path) -> None:
    rows = ("Hole A,2025-04-09,16 in,48 in,31 in,28 in,1.5,3 in", "Hole A,2025-05-09,20 in,48 in,,,,")
    site = read(folder(tmp_path, *rows, heading=TIMED), units="imperial")
    timed, plain = (reading.refill for reading in site.auger_readings)
    assert timed is not None
    assert (timed.start, timed.end) == pytest.approx((31 * 0.0254, 28 * 0.0254))
    assert (timed.seconds, timed.radius) == pytest.approx((90.0, 1.5 * 0.0254))
    assert plain is None


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("Hole A,2025-04-09,0.4,1.2,0.8,,1,0.08", "test from is given, but test to is not"),
        ("Hole A,2025-04-09,0.4,1.2,0.8,0.7,1,", "test from is given, but hole width is not"),
        ("Hole A,2025-04-09,0.4,1.2,0.8,0.8,1,0.08", "must be two different depths"),
        ("Hole A,2025-04-09,0.4,1.2,0.8,0.7,0,0.08", "test minutes is 0"),
        ("Hole A,2025-04-09,0.4,1.2,0.8,0.7,1,2 m", "hole width 2 m"),
        ("Hole A,2025-04-09,0.4,,0.8,0.7,1,0.08", "a timed hole needs its hole depth"),
        ("Hole A,2025-04-09,0.4,0.8,0.8,0.7,1,0.08", "a timed hole needs its hole depth"),
        ("Hole A,2025-04-09,dry,1.2,0.8,0.7,1,0.08", "the hole was bailed; that needs the depth to water at rest"),
        ("Hole A,2025-04-09,0.75,1.2,0.8,0.7,1,0.08", "the hole was bailed; that needs the depth to water at rest"),
        ("Hole A,2025-04-09,0.4,1.2,0.3,0.5,9,0.08", "below where it rests"),
    ],
)
def test_a_timed_hole_that_cannot_be_is_refused_with_what_is_missing(tmp_path: Path, row: str, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read(folder(tmp_path, row, heading=TIMED))
