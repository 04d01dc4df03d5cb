"""The sun's year, folded: against another library, by symmetry, at the poles and at the date line."""

from __future__ import annotations

from datetime import date

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from pvlib import solarposition, spa

from sitepipe.settings import SeasonSettings, SunSettings, make_settings
from sitepipe.sunlight.clear_sky import clear_sky
from sitepipe.sunlight.daily import day_length
from sitepipe.sunlight.position import solar_midnight, standard_pressure
from sitepipe.sunlight.season import REFERENCE_YEAR, growing_season
from sitepipe.sunlight.tables import (
    BEAM_UP,
    BINS,
    SEASON,
    SKY_SECTOR,
    STEP_MINUTES,
    SunTables,
    _cut,
    _longest_gap,
    _sky_widths,
    sectors,
    sky_lost,
    sun_tables,
    year_of_sun,
)

ALL_YEAR = make_settings({"season": {"start": "01-01", "end": "12-31"}}, "site.toml").season


def tables_at(latitude: float, longitude: float = -73.0, season: SeasonSettings = ALL_YEAR) -> SunTables:
    return sun_tables(latitude, longitude, 100.0, season, SunSettings())


def lost_below(tables: SunTables, degrees: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return what an even horizon takes, in the lanes of the tables."""
    bin_ = round(np.sin(np.radians(degrees)) * (BINS - 1))
    return np.asarray(tables.opaque[:, bin_].sum(axis=0, dtype=np.float64))


@pytest.mark.parametrize("latitude", [42.5, -33.0, 5.0, 67.0])
def test_an_open_field_has_the_hours_that_another_library_counts(latitude: float) -> None:
    # Independent: pvlib, every five minutes of 2025, apparent elevation of the sun's middle above 0.
    times = pd.date_range("2025-01-01", "2026-01-01", freq="5min", tz="Etc/GMT+5", inclusive="left")
    sun = solarposition.get_solarposition(times, latitude, -73.0, 100.0, pressure=100129.0, temperature=12.0)
    up = (sun["apparent_elevation"] > 0.0).groupby(times.month).mean() * 24.0
    np.testing.assert_allclose(tables_at(latitude).full[:12], up.to_numpy(), atol=0.03)


@pytest.mark.parametrize("latitude", [30.0, 42.5, 55.0])
def test_an_open_field_has_about_the_day_lengths_of_fao_56(latitude: float) -> None:
    # Source: FAO-56 equation 34, without air; refraction adds some minutes to a day.
    days = np.array([15, 46, 74, 105, 135, 166, 196, 227, 258, 288, 319, 349], dtype=np.float64)
    more = tables_at(latitude).full[:12] - day_length(latitude, days)
    assert more.min() > -0.1  # the 15th is not quite the month
    assert more.max() < 0.4


@pytest.mark.parametrize("degrees", [5.0, 15.0, 30.0, 45.0])
def test_hours_above_an_even_horizon_are_those_of_another_library(degrees: float) -> None:
    times = pd.date_range("2025-01-01", "2026-01-01", freq="5min", tz="Etc/GMT+5", inclusive="left")
    sun = solarposition.get_solarposition(times, 42.5, -73.0, 100.0, pressure=100129.0, temperature=12.0)
    above = (sun["apparent_elevation"] > degrees).groupby(times.month).mean() * 24.0
    tables = tables_at(42.5)
    np.testing.assert_allclose((tables.full - lost_below(tables, degrees))[:12], above.to_numpy(), atol=0.05)


@settings(deadline=None, max_examples=6)
@given(st.floats(-80.0, 80.0))
def test_a_higher_horizon_never_leaves_more_sun(latitude: float) -> None:
    tables = tables_at(round(latitude, 1))
    for lane in (*range(12), SEASON, BEAM_UP):
        assert (np.diff(tables.opaque[:, :, lane], axis=1) >= -1e-6).all()
        assert (tables.foliage[..., lane] <= tables.opaque[..., lane] + 1e-6).all()


def test_mornings_are_the_mirror_of_evenings() -> None:
    tables = tables_at(42.5, season=ALL_YEAR)
    east = (tables.azimuth > 0.0) & (tables.azimuth < 180.0)
    for bin_ in (100, 300, 600):
        morning = tables.opaque[east, bin_, SEASON].sum()
        evening = tables.opaque[~east, bin_, SEASON].sum()
        assert morning == pytest.approx(evening, rel=0.02)


@pytest.mark.parametrize("latitude", [20.0, 42.5, 68.0])
def test_the_hemispheres_are_alike_six_months_apart(latitude: float) -> None:
    north, south = tables_at(latitude).full[:12], tables_at(-latitude).full[:12]
    np.testing.assert_allclose(north, np.roll(south, 6), atol=0.75)
    # Months differ in length and the orbit is not round; over the year the hours agree better.
    assert north.mean() == pytest.approx(south.mean(), abs=0.35)


def test_a_polar_day_is_24_hours_and_a_polar_night_none() -> None:
    hours = tables_at(80.0).full[:12]
    assert hours[5] == pytest.approx(24.0, abs=1e-3)
    assert hours[[0, 10, 11]].max() == 0.0
    assert tables_at(-80.0).full[11] == pytest.approx(24.0, abs=1e-3)


def test_the_year_is_the_same_on_both_sides_of_the_date_line() -> None:
    west, east = tables_at(-17.7, 179.99), tables_at(-17.7, -179.99)
    # The same day begins 24 hours apart there; the sun moves on by that much.
    np.testing.assert_allclose(west.full, east.full, atol=0.03)
    np.testing.assert_allclose(west.azimuth, east.azimuth, atol=0.2)


@pytest.mark.parametrize("latitude", [0.0, 10.0, 23.4, 42.5, -35.0, 70.0, -89.9])
def test_sectors_go_once_round_the_compass(latitude: float) -> None:
    path = year_of_sun(latitude, 0.0, 0.0)
    low, high = sectors(path, 144)
    np.testing.assert_allclose(low[1:], high[:-1])
    assert high[-1] - low[0] == pytest.approx(360.0)
    assert 140 <= low.size <= 190
    assert (high - low).min() > 0.0
    assert (high - low).max() <= 15.0


@pytest.mark.parametrize(("latitude", "longitude"), [(42.5, -73.0), (-33.9, 151.2), (69.0, 20.0)])
def test_the_year_is_where_the_sun_stands_instant_by_instant(latitude: float, longitude: float) -> None:
    # Independent: pvlib's SPA, hour by hour.
    path = year_of_sun(latitude, longitude, 300.0, 60.0)
    start = solar_midnight(date(REFERENCE_YEAR, 1, 1), longitude)
    seconds = np.asarray(start + (np.arange(365 * 24) + 0.5) * 3600.0, dtype=np.float64)
    zenith, _, _, _, azimuth, _ = spa.solar_position_numpy(
        seconds, latitude, longitude, 300.0, standard_pressure(300.0), 12.0, 69.2, 0.5667, 1
    )
    instant = path.day * 24 + np.floor(path.hour).astype(np.int64)
    np.testing.assert_allclose(path.elevation, 90.0 - zenith[instant], atol=0.016)
    np.testing.assert_allclose((path.azimuth - azimuth[instant] + 180.0) % 360.0, 180.0, atol=0.03)
    assert set(np.flatnonzero(zenith < 89.98)) <= set(instant) <= set(np.flatnonzero(zenith < 90.02))


@given(arrays(np.bool_, st.integers(1, 30)))
def test_the_cut_is_made_where_the_longest_stretch_without_sun_ends(reached: np.ndarray) -> None:
    gap = _longest_gap(reached)
    if reached.all() or not reached.any():
        assert gap == 0
        return
    size = reached.size
    dark = [next(n for n in range(size) if reached[(k - 1 - n) % size]) * bool(reached[k]) for k in range(size)]
    assert reached[gap]
    assert dark[gap] == max(dark)
    assert gap == dark.index(max(dark))


@given(st.floats(0.0, 300.0), st.floats(0.0, 200.0), st.floats(1.0, 20.0))
def test_a_stretch_is_cut_into_equal_pieces_of_about_the_width(first: float, length: float, width: float) -> None:
    pieces = np.diff(np.concatenate([[first], _cut(first, first + length, width)]))
    if length < 1e-9:
        assert pieces.size == 0
        return
    assert pieces.sum() == pytest.approx(length)
    np.testing.assert_allclose(pieces, pieces[0], atol=1e-9)
    assert pieces.size == max(1, round((first + length - first) / width))


@given(st.lists(st.sampled_from([0.7, 1.3, 5.0, 10.0]), min_size=1, max_size=60))
def test_the_sky_of_ten_degrees_is_given_to_the_middle_one_of_its_sectors(widths: list[float]) -> None:
    given_to = _sky_widths(np.array(widths))
    assert given_to.sum() == pytest.approx(sum(widths))
    run: list[int] = []
    for k, width in enumerate(widths):
        run.append(k)
        if sum(widths[i] for i in run) >= SKY_SECTOR - 1e-6 or k == len(widths) - 1:
            assert given_to[run[(len(run) - 1) // 2]] == pytest.approx(sum(widths[i] for i in run))
            assert np.count_nonzero(given_to[run]) == 1
            run = []
        assert width <= SKY_SECTOR


def test_the_tables_hold_what_the_path_says_sector_by_sector_and_height_by_height() -> None:
    chosen = make_settings(
        {"season": {"start": "04-10", "end": "09-20", "leaf_on": "05-05", "leaf_off": "10-25"}}, "site.toml"
    ).season
    sun = SunSettings()
    tables, path, dates = (
        sun_tables(42.5, -73.0, 100.0, chosen, sun),
        year_of_sun(42.5, -73.0, 100.0),
        growing_season(42.5, chosen),
    )
    low, high = sectors(path, sun.azimuths)
    np.testing.assert_allclose((tables.azimuth - (low + high) / 2.0 + 180.0) % 360.0, 180.0)
    turned = (path.azimuth - low[0]) % 360.0 + low[0]
    beam, sky = clear_sky(path.elevation, path.distance, sun.turbidity, 100.0)
    month = np.repeat(np.arange(12), [31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    hours, in_season = STEP_MINUTES / 60.0, dates.days[path.day]
    up, toward = np.radians(path.elevation), np.radians(path.azimuth)
    vector = np.stack([np.cos(up) * np.sin(toward), np.cos(up) * np.cos(toward), np.sin(up)])
    energy = beam * 3600e-6 * hours / dates.days.sum() * in_season
    stops = np.where(dates.days_in_leaf, 1.0 - sun.light_through_leaf, 1.0 - sun.light_through_bare)
    for a in range(0, tables.azimuth.size, 17):
        for bin_ in (0, 60, 300, 700, BINS - 1):
            below = (turned >= low[a]) & (turned < high[a]) & (np.sin(up) * (BINS - 1) <= bin_)
            expected = np.zeros((2, 16))
            for row, weight in enumerate((np.ones(path.day.size), stops[path.day])):
                worth = weight * below
                of_month = np.bincount(month[path.day], worth * hours, 12)
                expected[row, :12] = of_month / np.bincount(month, minlength=12)
                expected[row, 12] = (worth * in_season).sum() * hours / dates.days.sum()
                expected[row, 13:] = (vector * energy * worth).sum(axis=1)
            np.testing.assert_allclose(tables.opaque[a, bin_], expected[0], atol=2e-5)
            np.testing.assert_allclose(tables.foliage[0, a, bin_], expected[1], atol=2e-5)
    loses = np.asarray(tables.opaque.max(axis=2) > 0.0)
    for a, lowest in enumerate(tables.lowest):
        assert not loses[a, lowest]
        assert loses[a, lowest + 1 :].all()
    np.testing.assert_allclose(tables.full, tables.opaque[:, -1].sum(axis=0, dtype=np.float64))
    np.testing.assert_allclose(tables.sky_stopped[1], stops[dates.days].mean())
    expected_sky = (sky * in_season).sum() * 3600e-6 * hours / dates.days.sum()
    assert tables.sky_energy == pytest.approx(expected_sky)


@pytest.mark.parametrize("latitude", [0.0, 10.0, 42.5, -35.0, 70.0])
def test_wherever_the_sun_goes_the_sectors_are_fine(latitude: float) -> None:
    path = year_of_sun(latitude, 0.0, 0.0)
    low, high = sectors(path, 144)
    index = np.searchsorted(high, (path.azimuth - low[0]) % 360.0 + low[0], side="right")
    assert (high - low)[np.minimum(index, low.size - 1)].max() < 1.1 * 360.0 / 144


def test_the_steps_of_time_do_not_matter() -> None:
    fine, coarse = year_of_sun(42.5, -73.0, 0.0, 1.0), year_of_sun(42.5, -73.0, 0.0, 5.0)
    assert fine.day.size / 60.0 / 365.0 == pytest.approx(coarse.day.size * 5.0 / 60.0 / 365.0, abs=0.01)


@pytest.mark.parametrize("degrees", [0.0, 20.0, 45.0, 90.0])
def test_an_even_horizon_leaves_the_square_of_its_cosine_of_the_sky(degrees: float) -> None:
    # Source: Dozier & Frew (1990): the sky view of level ground under an even horizon is the squared cosine.
    up, _ = sky_lost()
    taken = 2.0 * np.pi * up[round(np.sin(np.radians(degrees)) * (BINS - 1))]
    assert 1.0 - taken == pytest.approx(np.cos(np.radians(degrees)) ** 2, abs=2e-3)
    assert tables_at(42.5).sky_width.sum() == pytest.approx(2.0 * np.pi)


def test_leaves_take_more_in_july_than_bare_twigs_in_january() -> None:
    season = make_settings({"season": {"leaf_on": "05-01", "leaf_off": "11-01"}}, "site.toml").season
    tables = sun_tables(42.5, -73.0, 100.0, season, SunSettings())
    opaque, deciduous = tables.opaque[:, -1].sum(axis=0), tables.foliage[0, :, -1].sum(axis=0)
    assert deciduous[6] / opaque[6] == pytest.approx(1.0 - 0.2, abs=1e-4)
    assert deciduous[0] / opaque[0] == pytest.approx(1.0 - 0.6, abs=1e-4)
    assert tables.foliage[1, :, -1].sum(axis=0)[0] / opaque[0] == pytest.approx(1.0 - 0.15, abs=1e-4)
