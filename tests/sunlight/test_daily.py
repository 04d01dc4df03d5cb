"""Hours of day and energy above the air, held against FAO-56."""

from __future__ import annotations

import numpy as np
import pytest

from sitepipe.sunlight.daily import day_length, declination, extraterrestrial_energy, sunset_hour_angle

MID_MONTH = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349], dtype=np.float64)


def test_example_8_of_the_paper() -> None:
    # Source: Allen et al. (1998), FAO-56, example 8: 20 S, 3 September.
    day = np.array(246.0)
    assert float(declination(day)) == pytest.approx(0.120, abs=5e-4)
    assert float(sunset_hour_angle(-20.0, day)) == pytest.approx(1.527, abs=5e-4)
    assert float(extraterrestrial_energy(-20.0, day)) == pytest.approx(32.2, abs=0.05)


def test_example_9_of_the_paper() -> None:
    # Source: FAO-56, example 9: the same place and day.
    assert float(day_length(-20.0, np.array(246.0))) == pytest.approx(11.7, abs=0.05)


def test_example_10_of_the_paper() -> None:
    # Source: FAO-56, example 10: Rio de Janeiro, 15 May; N 10.9, Ra 25.1; Rs 14.45 with 7.1 h of sun.
    day = np.array(135.0)
    hours, energy = float(day_length(-22.9, day)), float(extraterrestrial_energy(-22.9, day))
    assert hours == pytest.approx(10.9, abs=0.05)
    assert energy == pytest.approx(25.1, abs=0.05)
    assert (0.25 + 0.5 * 7.1 / hours) * energy == pytest.approx(14.45, abs=0.01)


def test_example_18_of_the_paper() -> None:
    # Source: FAO-56, example 18: Uccle, 50.80 N, 100 m, 6 July.
    assert float(extraterrestrial_energy(50.80, np.array(187.0))) == pytest.approx(41.09, abs=0.005)


@pytest.mark.parametrize(
    ("latitude", "energy"),
    [
        (50.0, [8.9, 14.4, 22.2, 31.5, 38.5, 41.7, 40.2, 34.3, 25.6, 16.8, 10.2, 7.5]),
        (40.0, [15.0, 20.4, 27.2, 34.7, 39.7, 41.8, 40.8, 36.7, 29.9, 22.5, 16.3, 13.6]),
    ],
)
def test_the_rows_of_annex_2_for_energy(latitude: float, energy: list[float]) -> None:
    # Source: FAO-56, annex 2, table 2.6, rows from memory.
    np.testing.assert_allclose(extraterrestrial_energy(latitude, MID_MONTH), energy, atol=0.1)


@pytest.mark.parametrize(
    ("latitude", "hours"),
    [
        (50.0, [8.3, 9.8, 11.6, 13.5, 15.2, 16.1, 15.7, 14.3, 12.3, 10.4, 8.7, 7.9]),
        (40.0, [9.5, 10.5, 11.7, 13.1, 14.2, 14.8, 14.6, 13.6, 12.2, 10.9, 9.7, 9.2]),
    ],
)
def test_the_rows_of_annex_2_for_hours(latitude: float, hours: list[float]) -> None:
    # Source: FAO-56, annex 2, table 2.7, rows from memory.
    np.testing.assert_allclose(day_length(latitude, MID_MONTH), hours, atol=0.1)


def test_february_in_the_south_as_quoted() -> None:
    # Source: FAO-56, annex 2, table 2.6: 34 S 39.2, 36 S 38.9 in February.
    assert float(extraterrestrial_energy(-34.0, np.array(46.0))) == pytest.approx(39.2, abs=0.1)
    assert float(extraterrestrial_energy(-36.0, np.array(46.0))) == pytest.approx(38.9, abs=0.1)


def test_the_textbook_at_43_north() -> None:
    # Source: Duffie & Beckman, chapter 1, from memory: 15 April 33.8 MJ/m2; 16 March 11.7 h.
    assert float(extraterrestrial_energy(43.0, np.array(105.0))) == pytest.approx(33.8, abs=0.3)
    assert float(day_length(43.0, np.array(75.0))) == pytest.approx(11.7, abs=0.05)


def test_polar_days_and_nights_are_whole() -> None:
    assert float(day_length(75.0, np.array(172.0))) == 24.0
    assert float(day_length(75.0, np.array(355.0))) == 0.0
    assert float(extraterrestrial_energy(75.0, np.array(355.0))) == 0.0
