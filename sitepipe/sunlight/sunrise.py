"""When the sun rises and sets over a level horizon."""

from __future__ import annotations

from datetime import UTC, date, datetime

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.sunlight.position import geocentric_sun, solar_midnight

SUN_RADIUS = 0.26667
"""Half the sun's width as seen. [deg]  Source: Reda & Andreas (2004), section 3.11."""

STANDARD_REFRACTION = 0.5667
"""Refraction of a sun on the horizon. [deg]  Source: Reda & Andreas (2004), section 3.11."""


def sunrise_and_sunset(day: date, latitude: float, longitude: float) -> tuple[datetime, datetime] | None:
    """Return when the sun's upper edge rises and sets on a day of mean solar time, or None on a polar day or night.

    Parameters
    ----------
    day : date
        From one mean solar midnight at the place to the next.
    latitude, longitude : float
        [deg]

    Returns
    -------
    (datetime, datetime) or None
        In universal time, to the second, for a level horizon at sea level and standard refraction.

    References
    ----------
    Reda & Andreas (2004), appendix A.2, found here by halving instead of by their one-step correction: the same
    instants to the second.
    """
    start = solar_midnight(day, longitude)
    minutes = start + 60.0 * np.arange(1441.0)
    low = -(SUN_RADIUS + STANDARD_REFRACTION)

    def above(seconds: FloatArray) -> FloatArray:
        sun = geocentric_sun(seconds)
        delta, hour = np.radians(sun.declination), np.radians(sun.greenwich_hour_angle + longitude)
        phi = np.radians(latitude)
        sine = np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.cos(hour)
        return np.asarray(np.degrees(np.arcsin(np.clip(sine, -1.0, 1.0))) - low)

    is_up = above(minutes) > 0.0
    turns = np.flatnonzero(is_up[1:] != is_up[:-1])
    rises, sets = [k for k in turns if not is_up[k]], [k for k in turns if is_up[k]]
    if not rises or not sets:
        return None
    found: list[datetime] = []
    for k in (rises[0], sets[-1]):
        fine = minutes[k] + np.arange(0.0, 61.0)
        crossing = above(fine)
        found.append(datetime.fromtimestamp(float(np.interp(0.0, *_ascending(crossing, fine))), tz=UTC))
    return found[0], found[1]


def _ascending(values: FloatArray, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    return (values, places) if values[-1] > values[0] else (values[::-1], places[::-1])
