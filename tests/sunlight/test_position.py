"""Where the sun stands, held against published examples, almanacs and two other libraries."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from astral import Observer
from astral.sun import sun as astral_sun
from hypothesis import given, settings
from hypothesis import strategies as st
from pvlib import spa

from sitepipe.arrays import FloatArray
from sitepipe.sunlight.position import solar_midnight, standard_pressure, sun_position

MOUNTAIN = timezone(timedelta(hours=-7))
GOLDEN = 39.742476, -105.1786, 1830.14
UPPER_EDGE = 0.26667
"""Half the sun's width as seen. [deg]  Source: Reda & Andreas (2004), section 3.11."""


def at(*moments: datetime) -> FloatArray:
    return np.array([moment.timestamp() for moment in moments])


def rise_and_set(day: date, latitude: float, longitude: float) -> tuple[datetime, datetime] | None:
    """Return when the sun's upper edge comes and goes, to the second."""
    seconds = solar_midnight(day, longitude) + np.arange(86400.0)
    is_up = sun_position(seconds, latitude, longitude).elevation > -(UPPER_EDGE + 0.5667)
    turns = np.flatnonzero(is_up[1:] != is_up[:-1]) + 1
    if turns.size != 2:
        return None
    rises, sets = (datetime.fromtimestamp(float(seconds[k]), tz=UTC) for k in turns)
    return rises, sets


def test_the_example_of_the_solar_position_algorithm() -> None:
    # Source: Reda & Andreas (2004), NREL/TP-560-34302, table A5.1. The zenith 50.11162 is the refracted one, in air of
    # 820 mbar and 11 degrees; the short formula is good to a hundredth of a degree.
    sun = sun_position(at(datetime(2003, 10, 17, 12, 30, 30, tzinfo=MOUNTAIN)), *GOLDEN)
    assert 90.0 - sun.apparent_elevation[0] == pytest.approx(50.11162, abs=0.011)
    assert sun.azimuth[0] == pytest.approx(194.34024, abs=0.011)
    assert sun.elevation[0] == pytest.approx(39.872046, abs=0.011)
    assert sun.refraction[0] == pytest.approx(0.016332, abs=2e-4)
    assert sun.distance[0] == pytest.approx(0.9965422974, abs=1e-4)
    assert sun.equation_of_time[0] == pytest.approx(14.641503, abs=0.05)  # published value from memory
    # From the pole the sun stands as high as its declination.
    pole = sun_position(at(datetime(2003, 10, 17, 12, 30, 30, tzinfo=MOUNTAIN)), 90.0, 0.0)
    assert pole.elevation[0] == pytest.approx(-9.31434, abs=0.011)


def test_a_tilted_plane_meets_the_light_as_in_the_paper() -> None:
    # Source: the same table, value from memory: tilt 30, turned 10 degrees from south to east, incidence 25.18700.
    sun = sun_position(at(datetime(2003, 10, 17, 12, 30, 30, tzinfo=MOUNTAIN)), *GOLDEN)
    tilt, facing = np.radians(30.0), np.radians(170.0)
    up, toward = np.radians(sun.apparent_elevation[0]), np.radians(sun.azimuth[0])
    cosine = np.sin(up) * np.cos(tilt) + np.cos(up) * np.sin(tilt) * np.cos(toward - facing)
    assert np.degrees(np.arccos(cosine)) == pytest.approx(25.187, abs=0.011)


def test_the_paper_counts_its_sunset_in_universal_time() -> None:
    # Source: Reda & Andreas (2004): sunrise 06:12:43, sunset 17:20:19, values from memory. Its sunset is that of the
    # 17th in universal time, which is the evening of the 16th at the place; the evening of the 17th is 87 s earlier.
    morning, evening = (rise_and_set(date(2003, 10, day), *GOLDEN[:2]) for day in (17, 16))
    assert morning is not None
    assert evening is not None
    assert abs(morning[0] - datetime(2003, 10, 17, 6, 12, 43, tzinfo=MOUNTAIN)) <= timedelta(seconds=4)
    assert abs(evening[1] - datetime(2003, 10, 16, 17, 20, 19, tzinfo=MOUNTAIN)) <= timedelta(seconds=4)


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
    found = rise_and_set(day, 39.0, -105.0)
    assert found is not None
    midnight = datetime(day.year, day.month, day.day, tzinfo=MOUNTAIN)
    for moment, (hour, minute) in zip(found, (rises, sets), strict=True):
        assert abs(moment - midnight - timedelta(hours=hour, minutes=minute)) <= timedelta(seconds=60)


@settings(deadline=None, max_examples=60)
@given(
    st.floats(-89.0, 89.0), st.floats(-180.0, 180.0), st.floats(0.0, 3000.0), st.floats(-6.3e8, 2.5e9)
)  # fmt: skip
def test_another_library_sees_the_sun_where_we_do(
    latitude: float, longitude: float, height: float, seconds: float
) -> None:
    # Independent: pvlib's SPA, from 1950 to 2050, anywhere. Parallax, which is left out, is 9 seconds of arc at most.
    when = np.array([seconds])
    sun = sun_position(when, latitude, longitude, height)
    zenith, true_zenith, _, _, azimuth, minutes = spa.solar_position_numpy(
        when, latitude, longitude, height, standard_pressure(height), 12.0, 69.2, 0.5667, 1
    )
    assert 90.0 - sun.elevation[0] == pytest.approx(true_zenith[0], abs=0.014)
    if zenith[0] < 90.8:
        assert 90.0 - sun.apparent_elevation[0] == pytest.approx(zenith[0], abs=0.016)
        turned = (sun.azimuth[0] - azimuth[0] + 180.0) % 360.0 - 180.0
        assert turned * np.sin(np.radians(zenith[0])) == pytest.approx(0.0, abs=0.014)
    assert sun.equation_of_time[0] == pytest.approx(minutes[0], abs=0.06)
    assert sun.distance[0] == pytest.approx(spa.earthsun_distance(when, 69.2, 1)[0], abs=1e-4)


@pytest.mark.parametrize(("height", "pressure"), [(0.0, 101.3), (500.0, 95.5), (1800.0, 81.8)])
def test_the_air_has_the_pressure_of_fao_56(height: float, pressure: float) -> None:
    # Source: FAO-56, example 2 (81.8 kPa at 1800 m) and annex 2, table 2.1, values from memory.
    assert standard_pressure(height) / 10.0 == pytest.approx(pressure, abs=0.06)


@pytest.mark.parametrize(("latitude", "longitude"), [(42.5, -73.0), (-33.9, 151.2), (56.5, 8.6), (-17.7, 179.9)])
@pytest.mark.parametrize("month", [1, 3, 6, 9, 12])
def test_another_almanac_rises_and_sets_with_us(latitude: float, longitude: float, month: int) -> None:
    # Independent: astral, whose formulas are good to a minute (its own statement); the date line is crossed at 179.9 E.
    found = rise_and_set(date(2025, month, 15), latitude, longitude)
    assert found is not None
    other = astral_sun(Observer(latitude, longitude), date(2025, month, 15), tzinfo=UTC)
    for ours, theirs in zip(found, (other["sunrise"], other["sunset"]), strict=True):
        apart = (ours - theirs).total_seconds() % 86400.0
        # A day of mean solar time and one of universal time may hold neighbouring sunrises, minutes apart.
        assert min(apart, 86400.0 - apart) < 260.0


# Source: Duffie & Beckman, Solar Engineering of Thermal Processes, chapter 1; values from memory.
@pytest.mark.parametrize(
    ("declination", "hour_angle", "zenith", "from_south"),
    [(-14.0, -37.5, 66.5, -40.0), (23.1, 97.5, 79.6, 112.0), (-2.4, 60.0, 70.3, 66.8)],
)
def test_the_textbook_finds_zenith_and_azimuth_at_43_north(
    declination: float, hour_angle: float, zenith: float, from_south: float
) -> None:
    noon = solar_midnight(date(2025, 1, 1), 0.0) + 43200.0 + 86400.0 * np.arange(365.0)
    seconds = noon + 240.0 * hour_angle - 60.0 * sun_position(noon, 90.0, 0.0).equation_of_time
    # From the pole the sun stands as high as its declination; the book rounds it.
    day = int(np.argmin(np.abs(sun_position(seconds, 90.0, 0.0).elevation - declination)))
    sun = sun_position(seconds[[day]], 43.0, 0.0)
    assert 90.0 - sun.elevation[0] == pytest.approx(zenith, abs=0.3)
    assert sun.azimuth[0] - 180.0 == pytest.approx(from_south, abs=0.3)


def test_the_textbook_knows_how_far_the_clock_is_from_the_sun() -> None:
    # Source: the same; 3 February: equation of time -13.5 min. The book fits a curve over all years.
    sun = sun_position(at(datetime(2025, 2, 3, 16, 30, tzinfo=UTC)), 43.0, -89.4)
    assert sun.equation_of_time[0] == pytest.approx(-13.5, abs=0.4)


def test_a_solar_day_begins_half_a_turn_from_noon_on_both_sides_of_the_date_line() -> None:
    for longitude in (-179.9, -73.0, 0.0, 8.6, 179.9):
        noon = solar_midnight(date(2025, 4, 15), longitude) + 43200.0
        sun = sun_position(np.array([noon]), 45.0, longitude)
        assert sun.azimuth[0] == pytest.approx(180.0, abs=1.5)  # the equation of time is near 0 in mid-April


def test_there_is_no_sunset_on_a_polar_day_and_no_sunrise_in_a_polar_night() -> None:
    assert rise_and_set(date(2025, 6, 21), 70.0, 25.0) is None
    assert rise_and_set(date(2025, 12, 21), 70.0, 25.0) is None
    assert rise_and_set(date(2025, 12, 21), -70.0, 25.0) is None
