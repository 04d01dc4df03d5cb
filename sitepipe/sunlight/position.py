"""Where the sun stands, by the almanac's short formula."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from sitepipe.arrays import FloatArray


@dataclass(frozen=True, slots=True)
class SunPosition:
    """The sun as seen from one place, one value per instant.

    Parameters
    ----------
    elevation : (instants,) float array
        Above the level horizon, as if there were no air. [deg]
    refraction : (instants,) float array
        What the air lifts it by; 0 well below the horizon. [deg]
    azimuth : (instants,) float array
        Clockwise from north, 0 to 360. [deg]
    distance : (instants,) float array
        Earth to sun. [astronomical unit]
    equation_of_time : (instants,) float array
        Apparent less mean solar time. [min]
    """

    elevation: FloatArray
    refraction: FloatArray
    azimuth: FloatArray
    distance: FloatArray
    equation_of_time: FloatArray

    @property
    def apparent_elevation(self) -> FloatArray:
        """Above the level horizon, lifted by the air: where the light comes from. [deg]."""
        return self.elevation + self.refraction


def solar_midnight(day: date, longitude: float) -> float:
    """Return when a day begins by mean solar time at a longitude, in seconds since 1970. No zone, no date line."""
    start = datetime(day.year, day.month, day.day, tzinfo=UTC)
    return (start - timedelta(hours=longitude / 15.0)).timestamp()


def sun_position(seconds: FloatArray, latitude: float, longitude: float, height: float = 0.0) -> SunPosition:
    """Return where the sun stands at each instant; good to about a hundredth of a degree from 1950 to 2050.

    Parameters
    ----------
    seconds : (instants,) float array
        Since 1970-01-01 00:00 universal time. [s]
    latitude, longitude : float
        North and east are positive. [deg]
    height : float
        Above sea level; thin air bends the light less. [m]

    References
    ----------
    Michalsky (1988), The Astronomical Almanac's algorithm for approximate solar position (1950-2050), Solar Energy
    40:227-235 (coefficients from memory; held against its successors' published values and two libraries). Refraction
    at 12 deg C: Reda & Andreas (2004), Solar Energy 76:577-589, equation 42. The 9 seconds of arc of the sun's
    parallax are left out.

    Examples
    --------
    At the March equinox of 2025 (20 March 09:01 universal time) the sun stands on the horizon of the pole.

    >>> when = datetime(2025, 3, 20, 9, 1, tzinfo=UTC).timestamp()
    >>> bool(abs(sun_position(np.array([when]), 90.0, 0.0).elevation[0]) < 0.01)
    True
    """
    days = np.asarray(seconds, dtype=np.float64) / 86400.0 - 10957.5
    mean_longitude = 280.460 + 0.9856474 * days
    anomaly = np.radians(357.528 + 0.9856003 * days)
    ecliptic = np.radians(mean_longitude + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2.0 * anomaly))
    tilt = np.radians(23.439 - 0.0000004 * days)
    right_ascension = np.degrees(np.arctan2(np.cos(tilt) * np.sin(ecliptic), np.cos(ecliptic)))
    ahead = (mean_longitude - right_ascension + 180.0) % 360.0 - 180.0
    sine = np.sin(tilt) * np.sin(ecliptic)
    cosine = np.sqrt(1.0 - sine**2)
    hour = np.radians((days + 0.5) % 1.0 * 360.0 - 180.0 + longitude + ahead)
    phi = np.radians(latitude)
    up = np.sin(phi) * sine + np.cos(phi) * cosine * np.cos(hour)
    elevation = np.degrees(np.arcsin(np.clip(up, -1.0, 1.0)))
    north = np.cos(phi) * sine - np.sin(phi) * cosine * np.cos(hour)
    return SunPosition(
        elevation=elevation,
        refraction=_refraction(elevation, height),
        azimuth=np.degrees(np.arctan2(-cosine * np.sin(hour), north)) % 360.0,
        distance=1.00014 - 0.01671 * np.cos(anomaly) - 0.00014 * np.cos(2.0 * anomaly),
        equation_of_time=4.0 * ahead,
    )


def _refraction(elevation: FloatArray, height: float) -> FloatArray:
    is_seen = elevation >= -0.8333
    above = np.where(is_seen, elevation, 0.0)
    bend = 1.02 / (60.0 * np.tan(np.radians(above + 10.3 / (above + 5.11))))
    return np.where(is_seen, standard_pressure(height) / 1010.0 * 283.0 / 285.0 * bend, 0.0)


def standard_pressure(height: float) -> float:
    """Return the pressure of the air at a height, in mbar.

    References
    ----------
    Allen et al. (1998), FAO Irrigation and Drainage Paper 56, equation 7.

    Examples
    --------
    >>> round(standard_pressure(1800.0), 0)
    818.0
    """
    return float(1013.0 * ((293.0 - 0.0065 * height) / 293.0) ** 5.26)
