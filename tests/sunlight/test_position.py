"""Where the sun stands, held against its own paper, almanacs and two other libraries."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from astral import Observer
from astral.sun import sun as astral_sun
from hypothesis import given, settings
from hypothesis import strategies as st
from pvlib import spa

from sitepipe.sunlight import periodic_terms as terms
from sitepipe.sunlight.position import (
    geocentric_sun,
    seconds_of,
    solar_midnight,
    standard_pressure,
    sun_position,
    topocentric,
)
from sitepipe.sunlight.sunrise import sunrise_and_sunset

MOUNTAIN = timezone(timedelta(hours=-7))
NREL = {"latitude": 39.742476, "longitude": -105.1786, "height": 1830.14}
NREL_AIR = {"pressure": 820.0, "temperature": 11.0, "delta_t": 67.0}
NREL_MOMENT = datetime(2003, 10, 17, 12, 30, 30, tzinfo=MOUNTAIN)


def _nrel() -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([seconds_of(NREL_MOMENT)])


def test_the_example_of_the_paper_comes_out_to_a_tenthousandth_of_a_degree() -> None:
    # Source: Reda & Andreas (2004), NREL/TP-560-34302, table A5.1. The zenith 50.11162 is the refracted one.
    sun = sun_position(_nrel(), **NREL, **NREL_AIR)
    assert 90.0 - sun.apparent_elevation[0] == pytest.approx(50.11162, abs=1e-4)
    assert sun.azimuth[0] == pytest.approx(194.34024, abs=1e-4)
    assert sun.elevation[0] == pytest.approx(39.872046, abs=1e-5)
    assert sun.refraction[0] == pytest.approx(0.016332, abs=1e-5)


def test_the_steps_on_the_way_are_those_of_the_paper() -> None:
    # Source: the same table. Right ascension and declination are geocentric.
    sun = geocentric_sun(_nrel(), 67.0)
    assert sun.right_ascension[0] == pytest.approx(202.22741, abs=1e-5)
    assert sun.declination[0] == pytest.approx(-9.31434, abs=1e-5)
    assert sun.distance[0] == pytest.approx(0.9965422974, abs=1e-9)
    assert (sun.greenwich_hour_angle[0] + NREL["longitude"]) % 360.0 == pytest.approx(11.105900, abs=1e-5)
    assert sun.equation_of_time[0] == pytest.approx(14.641503, abs=1e-4)  # published value from memory


def test_a_tilted_plane_meets_the_light_as_in_the_paper() -> None:
    # Source: the same table, value from memory: tilt 30, turned 10 degrees from south to east, incidence 25.18700.
    sun = sun_position(_nrel(), **NREL, **NREL_AIR)
    tilt, facing = np.radians(30.0), np.radians(170.0)
    up, toward = np.radians(sun.apparent_elevation[0]), np.radians(sun.azimuth[0])
    cosine = np.sin(up) * np.cos(tilt) + np.cos(up) * np.sin(tilt) * np.cos(toward - facing)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(25.187, abs=1e-3)


def test_the_paper_counts_its_sunset_in_universal_time() -> None:
    # Source: Reda & Andreas (2004): sunrise 06:12:43, sunset 17:20:19, values from memory. Its sunset is that of the
    # 17th in universal time, which is the evening of the 16th at the place; the evening of the 17th is 87 s earlier.
    morning = sunrise_and_sunset(date(2003, 10, 17), NREL["latitude"], NREL["longitude"])
    evening = sunrise_and_sunset(date(2003, 10, 16), NREL["latitude"], NREL["longitude"])
    assert morning is not None
    assert evening is not None
    assert abs(morning[0] - datetime(2003, 10, 17, 6, 12, 43, tzinfo=MOUNTAIN)) <= timedelta(seconds=1)
    assert abs(evening[1] - datetime(2003, 10, 16, 17, 20, 19, tzinfo=MOUNTAIN)) <= timedelta(seconds=1)


@pytest.mark.parametrize(
    ("day", "rises", "sets"),
    [
        (date(2015, 1, 2), (7, 19), (16, 49)),
        (date(2015, 4, 2), (5, 43), (18, 24)),
        (date(2015, 8, 2), (5, 1), (19, 10)),
        (date(2015, 12, 2), (7, 1), (16, 38)),
    ],
)
def test_the_almanac_says_the_same_to_the_minute(day: date, rises: tuple[int, int], sets: tuple[int, int]) -> None:
    # Source: United States Naval Observatory, 39 N 105 W, as quoted in the test suite of pvlib.
    found = sunrise_and_sunset(day, 39.0, -105.0)
    assert found is not None
    midnight = datetime(day.year, day.month, day.day, tzinfo=MOUNTAIN)
    for moment, (hour, minute) in zip(found, (rises, sets), strict=True):
        assert abs(moment - midnight - timedelta(hours=hour, minutes=minute)) <= timedelta(seconds=60)


def test_the_periodic_terms_are_those_of_another_transcription() -> None:
    # Independent: pvlib's copy of the tables of NREL/TP-560-34302.
    for name, letter, count in (("LONGITUDE", "L", 6), ("LATITUDE", "B", 2), ("RADIUS", "R", 5)):
        for power in range(count):
            ours = getattr(terms, f"{name}_{power}")
            np.testing.assert_array_equal(ours, getattr(spa, f"{letter}{power}"))
    np.testing.assert_array_equal(terms.NUTATION_ARGUMENTS, spa.NUTATION_YTERM_ARRAY)
    np.testing.assert_array_equal(terms.NUTATION_COEFFICIENTS, spa.NUTATION_ABCD_ARRAY)


@settings(deadline=None, max_examples=40)
@given(st.floats(-89.0, 89.0), st.floats(-180.0, 180.0), st.floats(0.0, 3000.0), st.floats(0.0, 2.2e9))
def test_another_library_sees_the_sun_where_we_do(
    latitude: float, longitude: float, height: float, seconds: float
) -> None:
    # Independent: pvlib's SPA, from 1970 to 2039, anywhere.
    when = np.array([seconds])
    sun = sun_position(when, latitude, longitude, height, 1000.0, 12.0, 69.2)
    zenith, true_zenith, _, _, azimuth, minutes = spa.solar_position_numpy(
        when, latitude, longitude, height, 1000.0, 12.0, 69.2, 0.5667, 1
    )
    assert 90.0 - sun.elevation[0] == pytest.approx(true_zenith[0], abs=1e-7)
    if abs(zenith[0] - 90.8333) > 0.001:
        assert 90.0 - sun.apparent_elevation[0] == pytest.approx(zenith[0], abs=1e-7)
    if true_zenith[0] > 0.1:
        assert (sun.azimuth[0] - azimuth[0] + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-5)
    assert geocentric_sun(when).equation_of_time[0] == pytest.approx(minutes[0], abs=1e-6)


@settings(deadline=None, max_examples=40)
@given(st.floats(-1.2e11, 1.2e11), st.floats(-80.0, 80.0), st.floats(-60.0, 6000.0))
def test_another_library_sees_the_same_sun_through_the_six_thousand_years_of_the_paper(
    seconds: float, latitude: float, delta_t: float
) -> None:
    # Independent: pvlib's SPA, from the year -1833 to 5772; far from today the slow terms weigh enough to be seen.
    # A day number of 2.5 million keeps a ten-millionth of a degree.
    when = np.array([seconds])
    sun = geocentric_sun(when, delta_t)
    here = sun_position(when, latitude, 20.0, 500.0, 900.0, -5.0, delta_t)
    zenith, true_zenith, *_, minutes = spa.solar_position_numpy(
        when, latitude, 20.0, 500.0, 900.0, -5.0, delta_t, 0.5667, 1
    )
    assert 90.0 - here.elevation[0] == pytest.approx(true_zenith[0], abs=1e-6)
    if abs(zenith[0] - 90.8333) > 0.001:
        assert 90.0 - here.apparent_elevation[0] == pytest.approx(zenith[0], abs=1e-6)
    assert sun.distance[0] == pytest.approx(spa.earthsun_distance(when, delta_t, 1)[0], abs=1e-12)
    assert (sun.equation_of_time[0] - minutes[0] + 720.0) % 1440.0 - 720.0 == pytest.approx(0.0, abs=2e-6)


@pytest.mark.parametrize(("height", "pressure"), [(0.0, 101.3), (500.0, 95.5), (1800.0, 81.8)])
def test_the_air_has_the_pressure_of_fao_56(height: float, pressure: float) -> None:
    # Source: FAO-56, example 2 (81.8 kPa at 1800 m) and annex 2, table 2.1, values from memory.
    assert standard_pressure(height) / 10.0 == pytest.approx(pressure, abs=0.06)


@pytest.mark.parametrize(("latitude", "longitude"), [(42.5, -73.0), (-33.9, 151.2), (56.5, 8.6), (-17.7, 179.9)])
@pytest.mark.parametrize("month", [1, 3, 6, 9, 12])
def test_another_almanac_rises_and_sets_with_us(latitude: float, longitude: float, month: int) -> None:
    # Independent: astral, whose formulas are good to a minute (its own statement); the date line is crossed at 179.9 E.
    found = sunrise_and_sunset(date(2025, month, 15), latitude, longitude)
    assert found is not None
    other = astral_sun(Observer(latitude, longitude), date(2025, month, 15), tzinfo=UTC)
    for ours, theirs in zip(found, (other["sunrise"], other["sunset"]), strict=True):
        apart = (ours - theirs).total_seconds() % 86400.0
        # A day of mean solar time and one of universal time may hold neighbouring sunrises, minutes apart.
        assert min(apart, 86400.0 - apart) < 260.0


# Source of the next five: Duffie & Beckman, Solar Engineering of Thermal Processes, chapter 1; values from memory.
@pytest.mark.parametrize(
    ("declination", "hour_angle", "zenith", "from_south"),
    [(-14.0, -37.5, 66.5, -40.0), (23.1, 97.5, 79.6, 112.0), (-2.4, 60.0, 70.3, 66.8)],
)
def test_the_textbook_finds_zenith_and_azimuth_at_43_north(
    declination: float, hour_angle: float, zenith: float, from_south: float
) -> None:
    far = np.array([1e9])
    elevation, _, azimuth = topocentric(np.array([declination]), np.array([hour_angle]), far, 43.0, 0.0, 0.0, 10.0)
    assert 90.0 - elevation[0] == pytest.approx(zenith, abs=0.15)
    assert azimuth[0] - 180.0 == pytest.approx(from_south, abs=0.15)


def test_the_textbook_knows_how_far_the_clock_is_from_the_sun() -> None:
    # 3 February: equation of time -13.5 min; 10:30 Central Standard Time at 89.4 W is 10:19 by the sun.
    sun = geocentric_sun(np.array([datetime(2025, 2, 3, 16, 30, tzinfo=UTC).timestamp()]))
    assert sun.equation_of_time[0] == pytest.approx(-13.5, abs=0.4)  # the book fits a curve over all years
    hour_angle = (sun.greenwich_hour_angle[0] - 89.4 + 180.0) % 360.0 - 180.0
    assert 12.0 * 60.0 + 4.0 * hour_angle == pytest.approx(10.0 * 60.0 + 19.0, abs=0.5)


def test_a_moment_without_a_zone_is_refused() -> None:
    with pytest.raises(ValueError, match="no time zone"):
        seconds_of(datetime(2025, 6, 21, 12, 0))  # noqa: DTZ001 (the fault under test)


def test_the_same_moment_in_any_zone_is_the_same_sun() -> None:
    moment = datetime(2025, 3, 30, 1, 30, tzinfo=UTC)
    zones = [ZoneInfo(name) for name in ("Europe/Copenhagen", "Pacific/Auckland", "America/New_York")]
    assert {seconds_of(moment.astimezone(zone)) for zone in zones} == {moment.timestamp()}


def test_a_solar_day_begins_half_a_turn_from_noon_on_both_sides_of_the_date_line() -> None:
    for longitude in (-179.9, -73.0, 0.0, 8.6, 179.9):
        noon = solar_midnight(date(2025, 4, 15), longitude) + 43200.0
        sun = sun_position(np.array([noon]), 45.0, longitude)
        assert sun.azimuth[0] == pytest.approx(180.0, abs=1.5)  # the equation of time is near 0 in mid-April


def test_there_is_no_sunset_on_a_polar_day_and_no_sunrise_in_a_polar_night() -> None:
    assert sunrise_and_sunset(date(2025, 6, 21), 70.0, 25.0) is None
    assert sunrise_and_sunset(date(2025, 12, 21), 70.0, 25.0) is None
    assert sunrise_and_sunset(date(2025, 12, 21), -70.0, 25.0) is None
