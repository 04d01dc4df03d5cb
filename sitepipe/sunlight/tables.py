"""The sun's path of a year, folded into what is lost below any horizon height, azimuth by azimuth."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from functools import lru_cache

import numpy as np

from sitepipe.arrays import Float32Array, FloatArray, LongArray, frozen
from sitepipe.settings import SeasonSettings, SunSettings
from sitepipe.sunlight.clear_sky import clear_sky
from sitepipe.sunlight.position import solar_midnight, sun_position
from sitepipe.sunlight.season import REFERENCE_YEAR, growing_season, month_of_each_day

BINS = 1024
"""Horizon heights in a table, evenly spaced by the sine: .056 degrees apart at the horizon."""

SEASON, BEAM_EAST, BEAM_NORTH, BEAM_UP = 12, 13, 14, 15
LANES = 16
"""What a table holds: hours of the twelve months and of the season, and the season's beam as a vector."""

STEP_MINUTES = 3.0
SKY_SECTOR = 10.0
"""Width of the sectors in which the sky is sampled. [deg]"""


@dataclass(frozen=True, slots=True)
class SunTables:
    """Light that is lost below a horizon, by azimuth and horizon height.

    Parameters
    ----------
    azimuth : (azimuths,) float array
        Middle of each sector, clockwise from north. [deg]
    sky_width : (azimuths,) float array
        Of the sector of sky that an azimuth speaks for, 0 for most. [rad]
    lowest : (azimuths,) int array
        Highest bin below which no sun is lost.
    opaque : (azimuths, BINS, LANES) float32 array
        Lost below bin ``b``, whose horizon has the sine ``b / (BINS - 1)``, if what stands there lets no light
        through. Hours [h/day]; energy [MJ/m2/day].
    foliage : (2, azimuths, BINS, LANES) float32 array
        The same for deciduous and for evergreen crowns, which let their share through.
    sky_stopped : (3,) float array
        Share of the sky's light that opaque things, deciduous and evergreen crowns stop, season mean. [1]
    full : (LANES,) float array
        With no horizon at all.
    sky_energy : float
        Of the whole sky on level ground, season mean. [MJ/m2/day]
    """

    azimuth: FloatArray
    sky_width: FloatArray
    lowest: LongArray
    opaque: Float32Array
    foliage: Float32Array
    sky_stopped: FloatArray
    full: FloatArray
    sky_energy: float


@dataclass(frozen=True, slots=True)
class SunPath:
    """Where the sun is through an ordinary year, whenever it is up, in even steps.

    Parameters
    ----------
    day : (instants,) int array
        Day of the year from 0, by mean solar time.
    hour : (instants,) float array
        Mean solar time. [h]
    elevation, azimuth : (instants,) float array
        Apparent. [deg]
    distance : (instants,) float array
        Earth to sun. [astronomical unit]
    """

    day: LongArray
    hour: FloatArray
    elevation: FloatArray
    azimuth: FloatArray
    distance: FloatArray


def year_of_sun(latitude: float, longitude: float, height: float, step_minutes: float = STEP_MINUTES) -> SunPath:
    """Return the sun's path through an ordinary year: its middle, as lifted by the air, above the level horizon."""
    start = solar_midnight(date(REFERENCE_YEAR, 1, 1), longitude)
    steps = round(1440.0 / step_minutes)
    seconds = np.asarray(start + (np.arange(365 * steps) + 0.5) * step_minutes * 60.0, dtype=np.float64)
    sun = sun_position(seconds, latitude, longitude, height)
    is_up = sun.apparent_elevation > 0.0
    index = np.flatnonzero(is_up)
    return SunPath(
        day=index // steps,
        hour=np.asarray((index % steps + 0.5) * step_minutes / 60.0, dtype=np.float64),
        elevation=sun.apparent_elevation[is_up],
        azimuth=sun.azimuth[is_up],
        distance=sun.distance[is_up],
    )


def sectors(path: SunPath, count: int) -> tuple[FloatArray, FloatArray]:
    """Cut the part of the compass where the sun goes into ``count`` sectors, and the rest into a few for the sky.

    Returns
    -------
    low, high : (sectors,) float array
        Edges, one after the other round the compass, from 0 to 720. [deg]
    """
    fine = 7200
    time = np.bincount(np.minimum((path.azimuth * fine / 360.0).astype(np.int64), fine - 1), minlength=fine)
    near = int(fine / 360.0 * 2.0)
    padded = np.concatenate([time[-near:], time, time[:near]]) > 0
    reached = np.convolve(padded, np.ones(2 * near + 1), "same")[near:-near] > 0
    gap = _longest_gap(reached)
    turned = np.roll(reached, -gap)
    bounds = np.flatnonzero(np.diff(np.concatenate([[False], turned, [False]]).astype(np.int8)))
    edges = [np.zeros(1)]
    for first, last in bounds.reshape(-1, 2):
        edges.append(_cut(_end(edges), first * 360.0 / fine, SKY_SECTOR))
        edges.append(_cut(first * 360.0 / fine, last * 360.0 / fine, turned.sum() * 360.0 / fine / count))
    edges.append(_cut(_end(edges), 360.0, SKY_SECTOR))
    every = np.concatenate(edges) + gap * 360.0 / fine
    return every[:-1], every[1:]


def _end(edges: list[FloatArray]) -> float:
    return float(np.concatenate(edges)[-1])


def _cut(first: float, last: float, width: float) -> FloatArray:
    """Return the edges that cut a stretch into pieces of about a width, without the first; none for no stretch."""
    if last - first < 1e-9:
        return np.zeros(0)
    return np.linspace(first, last, max(1, round((last - first) / width)) + 1)[1:]


def _longest_gap(reached: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> int:
    """Index at which the longest stretch without sun ends, so that a cut there splits nothing."""
    if reached.all() or not reached.any():
        return 0
    starts = np.flatnonzero(reached & ~np.roll(reached, 1))
    lengths = [int(np.argmax(np.roll(reached[::-1], int(k))) if k else np.argmax(reached[::-1])) for k in starts]
    return int(starts[int(np.argmax(lengths))])


def sun_tables(
    latitude: float, longitude: float, height: float, season: SeasonSettings, settings: SunSettings
) -> SunTables:
    """Fold the sun's path at a place into tables; the same place and settings are folded once.

    A hundredth of a degree of latitude, a degree of longitude and 50 m of height move no hour by a minute.

    Parameters
    ----------
    latitude, longitude, height : float
        Of the place. [deg], [deg], [m]
    season : SeasonSettings
    settings : SunSettings
    """
    return _folded(round(latitude, 2), round(longitude), 50.0 * round(height / 50.0), season, settings)


@lru_cache(maxsize=4)
def _folded(
    latitude: float, longitude: float, height: float, season: SeasonSettings, settings: SunSettings
) -> SunTables:
    dates = growing_season(latitude, season)
    path = year_of_sun(latitude, longitude, height)
    low, high = sectors(path, settings.azimuths)
    middle = (low + high) / 2.0
    index = np.searchsorted(high, (path.azimuth - low[0]) % 360.0 + low[0], side="right")
    index = np.minimum(index, low.size - 1)
    beam, sky = clear_sky(path.elevation, path.distance, settings.turbidity, height)

    in_season, in_leaf = dates.days, dates.days_in_leaf
    hours = STEP_MINUTES / 60.0
    month = month_of_each_day()
    per_month = hours / np.bincount(month, minlength=13)[month]
    per_season = np.where(in_season, hours / in_season.sum(), 0.0)
    vector = _toward(path.elevation, path.azimuth) * (beam * 3600e-6 * per_season[path.day])
    sine_bin = np.ceil(np.sin(np.radians(path.elevation)) * (BINS - 1)).astype(np.int64)

    lost = np.zeros((2, low.size, BINS, LANES))
    at = in_leaf[path.day].astype(np.int64), index, sine_bin
    np.add.at(lost, (*at, month[path.day] - 1), per_month[path.day])
    for lane, worth in zip((SEASON, BEAM_EAST, BEAM_NORTH, BEAM_UP), (per_season[path.day], *vector), strict=True):
        np.add.at(lost[..., lane], at, worth)
    np.cumsum(lost, axis=2, out=lost)
    bare, leafy = lost.astype(np.float32)
    opaque = bare + leafy
    bare_stops, leaf_stops = 1.0 - settings.light_through_bare, 1.0 - settings.light_through_leaf
    evergreen_stops = 1.0 - settings.light_through_evergreen
    season_stops = np.where(in_leaf, leaf_stops, bare_stops)[in_season].mean()
    loses = opaque.max(axis=2) > 0.0
    lowest = np.where(loses[:, -1], np.maximum(np.argmax(loses, axis=1) - 1, 0), BINS - 1)
    return SunTables(
        azimuth=frozen(middle % 360.0),
        sky_width=frozen(np.radians(_sky_widths(high - low))),
        lowest=frozen(lowest.astype(np.int64)),
        opaque=frozen(opaque),
        foliage=frozen(
            np.stack(
                [
                    bare * np.float32(bare_stops) + leafy * np.float32(leaf_stops),
                    opaque * np.float32(evergreen_stops),
                ]
            )
        ),
        sky_stopped=frozen(np.array([1.0, season_stops, evergreen_stops])),
        full=frozen(opaque[:, -1].sum(axis=0, dtype=np.float64)),
        sky_energy=float((sky * 3600e-6 * per_season[path.day]).sum()),
    )


def _toward(elevation: FloatArray, azimuth: FloatArray) -> FloatArray:
    """Return unit vectors (east, north, up) towards the sun, shaped (3, instants)."""
    e, a = np.radians(elevation), np.radians(azimuth)
    return np.stack([np.cos(e) * np.sin(a), np.cos(e) * np.cos(a), np.sin(e)])


def _sky_widths(width: FloatArray) -> FloatArray:
    """Give the sky's width of each run of about ten degrees to the sector in its middle, none to the others."""
    given = np.zeros_like(width)
    first = 0
    for k in range(width.size):
        run = width[first : k + 1].sum()
        if run >= SKY_SECTOR - 1e-6 or k == width.size - 1:
            given[(first + k) // 2] += run
            first = k + 1
    return given


def sky_lost() -> tuple[FloatArray, FloatArray]:
    """Return, for each horizon bin, the even sky's light that it takes from a sector, upwards and sideways.

    Of a sector one radian wide, as a share of the light of the whole sky on level ground.

    References
    ----------
    Dozier & Frew (1990), IEEE Trans. Geosci. Remote Sensing 28:963, equation 7, taken apart into a vector.
    """
    sine = np.arange(BINS) / (BINS - 1.0)
    height = np.arcsin(sine)
    return sine**2 / (2.0 * np.pi), (height + sine * np.cos(height)) / (2.0 * np.pi)
