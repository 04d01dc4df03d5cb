"""Lengths as people write them (shared check values, U01 to U05)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.units import ACRE, FOOT, INCH, SURVEY_FOOT, parse_length


@pytest.mark.parametrize(
    ("constant", "value"),
    [
        (SURVEY_FOOT, 0.3048006096012),  # U01, NIST definition: 1200/3937 m
        (ACRE, 4046.8564224),  # U02, NIST definition: 43,560 square feet
        (500_000.0 * (SURVEY_FOOT / FOOT - 1.0), 1.000002),  # U01: 2 parts in a million are 1.0 m at 500 km
        (43_560.0 * SURVEY_FOOT**2, 4046.8726099),  # U02: the acre of the survey foot
    ],
)
def test_units_are_what_their_definitions_say(constant: float, value: float) -> None:
    assert constant == pytest.approx(value, rel=1e-10, abs=1e-7)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("5 ft 7 3/8 in", 1.711325),
        ("5 ft 7-3/8 in", 1.711325),
        ("5' 7 3/8\"", 1.711325),
        ("5′ 7 3/8″", 1.711325),
        ("41 ft 6 1/2 in", 12.6619),
        ("41'6-1/2\"", 12.6619),
    ],
)
def test_feet_inches_and_fractions_by_hand(text: str, metres: float) -> None:
    """U04 and U05, by hand from the definition of the inch."""
    assert parse_length(text) == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("2.4 m", 2.4),
        ("8ft", 2.4384),
        ("-3 cm", -0.03),
        ("+3 cm", 0.03),
        ("−3 cm", -0.03),
        (".5 in", 0.0127),
        ("2. m", 2.0),
        ("1/4 in", 0.00635),
        ("12 mm", 0.012),
        ("3 yards", 2.7432),
        ("1 KM", 1000.0),
        ("-5 ft 6 in", -1.6764),
    ],
)
def test_lengths_are_read(text: str, metres: float) -> None:
    assert parse_length(text) == pytest.approx(metres, abs=1e-12)


@pytest.mark.parametrize(
    "text",
    ["", "  ", "2", "m", "8 inches deep", "two feet", "2,4 m", "1e3 m", "nan m", "inf ft", "--3 m", "+-3 m",
     "3 m -2 cm",      "5 furlongs", "1/2/3 in", "3 m; rm"],
)  # fmt: skip
def test_what_is_no_length_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="is not a length"):
        parse_length(text)


def test_a_division_by_zero_is_refused() -> None:
    with pytest.raises(ValueError, match="divides by zero"):
        parse_length("1/0 in")


@given(st.integers(0, 10_000), st.integers(0, 11), st.integers(0, 15))
def test_feet_and_inches_go_there_and_back(feet: int, inches: int, sixteenths: int) -> None:
    metres = feet * FOOT + (inches + sixteenths / 16) * INCH
    assert parse_length(f"{feet} ft {inches} {sixteenths}/16 in") == pytest.approx(metres, abs=1e-9)


@given(st.floats(0.0, 1e5).map(lambda value: round(value, 6)))
def test_metres_go_there_and_back(value: float) -> None:
    assert parse_length(f"{value:f} m") == pytest.approx(value, abs=1e-6)
