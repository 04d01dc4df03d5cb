"""What a day of the year brings to level open ground: hours of day and energy above the air."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import FloatArray

SOLAR_CONSTANT = 0.0820
"""[MJ/m2/min]  Source: Allen et al. (1998), FAO-56, equation 28."""


def declination(day_of_year: FloatArray) -> FloatArray:
    """Return the sun's declination in radians (FAO-56 equation 24).

    Examples
    --------
    >>> round(float(declination(np.array(246.0))), 3)
    0.12
    """
    return np.asarray(0.409 * np.sin(2.0 * np.pi / 365.0 * np.asarray(day_of_year) - 1.39))


def sunset_hour_angle(latitude: float, day_of_year: FloatArray) -> FloatArray:
    """Return half the day as an angle in radians: 0 in a polar night, pi on a polar day (FAO-56 equation 25)."""
    cosine = -np.tan(np.radians(latitude)) * np.tan(declination(day_of_year))
    return np.asarray(np.arccos(np.clip(cosine, -1.0, 1.0)))


def day_length(latitude: float, day_of_year: FloatArray) -> FloatArray:
    """Return the hours from sunrise to sunset of the sun's middle, without air (FAO-56 equation 34).

    Examples
    --------
    >>> round(float(day_length(-20.0, np.array(246.0))), 1)
    11.7
    """
    return np.asarray(24.0 / np.pi * sunset_hour_angle(latitude, day_of_year))


def extraterrestrial_energy(latitude: float, day_of_year: FloatArray) -> FloatArray:
    """Return the energy on level ground above the air. [MJ/m2/day].

    Parameters
    ----------
    latitude : float
        North is positive. [deg]
    day_of_year : float array
        1 to 366.

    References
    ----------
    Allen, R.G. et al. (1998), Crop evapotranspiration, FAO Irrigation and Drainage Paper 56, equations 21 to 25.

    Examples
    --------
    Example 8 of the paper: 20 degrees south on 3 September.

    >>> round(float(extraterrestrial_energy(-20.0, np.array(246.0))), 1)
    32.2
    """
    day = np.asarray(day_of_year, dtype=np.float64)
    nearness = 1.0 + 0.033 * np.cos(2.0 * np.pi / 365.0 * day)
    phi, delta, half = np.radians(latitude), declination(day), sunset_hour_angle(latitude, day)
    height = half * np.sin(phi) * np.sin(delta) + np.cos(phi) * np.cos(delta) * np.sin(half)
    return np.asarray(24.0 * 60.0 / np.pi * SOLAR_CONSTANT * nearness * height)
