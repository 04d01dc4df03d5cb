"""What a reader is told of lengths, areas, amounts and chances."""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe import saying, units
from sitepipe.units import FOOT, INCH, Units, parse_length

SIGNS = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4"}


def plain(said: str) -> str:
    return said.replace(saying.NO_BREAK, " ")


def typed(said: str) -> str:
    """Write a said length as a person would type it."""
    text = plain(said).replace("−", "-").replace(",", "")
    for sign, fraction in SIGNS.items():
        text = text.replace(sign, fraction)
    return re.sub(r"\s+", " ", text.replace("- ", "-")).strip()


# As printed on the drawn sheet of the design: heights to the half inch, stakes to the quarter.
@pytest.mark.parametrize(
    ("say", "metres", "expected"),
    [
        (saying.say_length, Fraction(51, 2), "2 ft 1½ in"),
        (saying.say_length, Fraction(18), "1 ft 6 in"),
        (saying.say_length, Fraction(231, 2), "9 ft 7½ in"),
        (saying.say_length, Fraction(67 * 12), "67 ft"),
        (saying.say_length, Fraction(132 * 24 + 1, 2), "132 ft ½ in"),
        (saying.say_depth, Fraction(8), "8 in"),
        (saying.say_depth, Fraction(3, 2), "1½ in"),
    ],
)
def test_inches_are_said_as_the_design_draws_them(
    say: Callable[[float, Units], str], metres: Fraction, expected: str
) -> None:
    assert plain(say(float(metres) * INCH, Units.IMPERIAL)) == expected


@given(st.floats(min_value=-500.0, max_value=500.0))
def test_a_length_typed_back_lies_within_half_a_step(metres: float) -> None:
    assert abs(parse_length(typed(saying.say_length(metres, Units.IMPERIAL))) - metres) <= INCH / 4 + 1e-9
    assert abs(parse_length(typed(saying.say_length(metres, Units.METRIC))) - metres) <= 0.005 + 1e-9


def test_twelve_inches_are_a_foot_and_never_left_as_inches() -> None:
    assert plain(saying.say_length(11.9 * INCH, Units.IMPERIAL)) == "1 ft"
    assert plain(saying.say_length(11.6 * INCH, Units.IMPERIAL)) == "11½ in"


def test_a_length_that_rounds_to_nothing_has_no_sign() -> None:
    assert plain(saying.say_length(-0.001, Units.METRIC)) == "0 cm"


@pytest.mark.parametrize(
    ("square_metres", "metric", "imperial"),
    [
        # 43,560 sq ft to the acre, 10,000 m2 to the hectare: NIST Handbook 44, appendix C (value from memory)
        (4046.8564224, "4,050 m²", "1 acre"),
        (10_000.0, "1 ha", "2.5 acres"),
        (93.8322, "94 m²", "1,010 sq ft"),
        (0.2, "0 m²", "under 10 sq ft"),
    ],
)
def test_areas_are_said_no_finer_than_ten_square_feet(square_metres: float, metric: str, imperial: str) -> None:
    assert plain(saying.say_area(square_metres, Units.METRIC)) == metric
    assert plain(saying.say_area(square_metres, Units.IMPERIAL)) == imperial


@pytest.mark.parametrize(
    ("cubic_metres", "imperial"),
    [(9.939, "13 cu yd"), (0.7645549, "1 cu yd"), (1.2, "1½ cu yd"), (0.1, "under ½ cu yd")],
)
def test_fill_is_said_in_cubic_yards(cubic_metres: float, imperial: str) -> None:
    assert plain(saying.say_volume(cubic_metres, Units.IMPERIAL)) == imperial


def test_a_roof_s_water_is_said_in_gallons() -> None:
    # 6 x 12 m under 25 mm of rain sheds 1800 L; 1 US gallon is 231 cubic inches.
    assert plain(saying.say_water(1.8, Units.METRIC)) == "1,800 litres"
    assert plain(saying.say_water(231 * INCH**3 * 55, Units.IMPERIAL)) == "55 gallons"


def test_chances_are_counted_in_tens_and_never_claim_to_be_certain() -> None:
    assert plain(saying.say_chance(0.72)) == "7 chances in 10"
    assert plain(saying.say_chance(0.1)) == "1 chance in 10"
    assert plain(saying.say_chance(1.0)) == "more than 9 chances in 10"
    assert plain(saying.say_chance(0.0)) == "less than 1 chance in 10"


@given(st.floats(min_value=-720.0, max_value=720.0))
def test_a_direction_is_never_more_than_an_eighth_of_a_turn_off(degrees: float) -> None:
    named = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    off = (degrees - 45.0 * named.index(units.compass_word(degrees)) + 180.0) % 360.0 - 180.0
    assert abs(off) <= 22.5 + 1e-9


def test_levels_say_which_side_of_the_bench_mark() -> None:
    assert plain(saying.say_level(1.2 * FOOT, Units.IMPERIAL)) == "1 ft 2½ in above"
    assert plain(saying.say_level(-0.4, Units.METRIC)) == "40 cm below"
    assert saying.say_level(0.001, Units.METRIC) == "level"


def test_stays_are_said_in_hours_and_then_in_days() -> None:
    assert [plain(saying.say_duration(hours)) for hours in (0.4, 1.0, 30.0, 72.0)] == [
        "under 1 hour",
        "1 hour",
        "30 hours",
        "3 days",
    ]


SAYINGS = [
    saying.say_length,
    saying.say_level,
    saying.say_depth,
    saying.say_distance,
    saying.say_area,
    saying.say_volume,
    saying.say_water,
    saying.say_rain,
]


@pytest.mark.parametrize("say", SAYINGS)
@pytest.mark.parametrize("system", list(Units))
def test_what_is_not_known_is_said_so(say: Callable[[float, Units], str], system: Units) -> None:
    assert say(math.nan, system) == saying.UNKNOWN


@pytest.mark.parametrize("say", SAYINGS)
@given(value=st.floats(min_value=0.0, max_value=1e6))
def test_a_number_never_parts_from_its_unit(say: Callable[[float, Units], str], value: float) -> None:
    for system in Units:
        said = say(value, system)
        assert not re.search(r"[\d½¼¾] (?!chance)", said)
