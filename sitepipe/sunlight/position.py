"""Where the sun stands: the NREL solar position algorithm."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray
from sitepipe.sunlight import periodic_terms as terms

DELTA_T = 69.2
"""Terrestrial time less universal time about 2025. [s]  Source: IERS bulletins, value from memory."""


@dataclass(frozen=True, slots=True)
class Geocentric:
    """The sun as seen from the middle of the earth, one value per instant.

    Parameters
    ----------
    declination, right_ascension, greenwich_hour_angle : (instants,) float array
        Apparent. [deg]
    distance : (instants,) float array
        Earth to sun. [astronomical unit]
    equation_of_time : (instants,) float array
        Apparent less mean solar time. [min]
    """

    declination: FloatArray
    right_ascension: FloatArray
    greenwich_hour_angle: FloatArray
    distance: FloatArray
    equation_of_time: FloatArray


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
    """

    elevation: FloatArray
    refraction: FloatArray
    azimuth: FloatArray

    @property
    def apparent_elevation(self) -> FloatArray:
        """Above the level horizon, lifted by the air: where the light comes from. [deg]."""
        return self.elevation + self.refraction


def seconds_of(moment: datetime) -> float:
    """Return seconds since 1970 in universal time; a moment that does not say its zone is refused.

    Raises
    ------
    ValueError
        If the moment has no time zone.

    Examples
    --------
    >>> seconds_of(datetime(1970, 1, 2, tzinfo=UTC))
    86400.0
    """
    if moment.tzinfo is None:
        raise ValueError(f"{moment} has no time zone; give one, such as datetime(..., tzinfo=UTC)")
    return moment.timestamp()


def solar_midnight(day: date, longitude: float) -> float:
    """Return when a day begins by mean solar time at a longitude, in seconds since 1970. No zone, no date line."""
    start = datetime(day.year, day.month, day.day, tzinfo=UTC)
    return (start - timedelta(hours=longitude / 15.0)).timestamp()


def geocentric_sun(seconds: FloatArray, delta_t: float = DELTA_T) -> Geocentric:
    """Return the sun's apparent place as seen from the middle of the earth.

    Parameters
    ----------
    seconds : (instants,) float array
        Since 1970-01-01 00:00 universal time. [s]
    delta_t : float
        Terrestrial less universal time. [s]

    References
    ----------
    Reda, I., Andreas, A. (2004), Solar position algorithm for solar radiation applications, Solar Energy 76:577-589,
    sections 3.1 to 3.11; corrigendum (2007) 81:838.

    Examples
    --------
    At the March equinox of 2025 (20 March 09:01 universal time) the sun crosses the equator.

    >>> when = datetime(2025, 3, 20, 9, 1, tzinfo=UTC).timestamp()
    >>> bool(abs(geocentric_sun(np.array([when])).declination[0]) < 0.001)
    True
    """
    julian_day = np.asarray(seconds, dtype=np.float64) / 86400.0 + 2440587.5
    century = (julian_day - 2451545.0) / 36525.0
    ephemeris_century = (julian_day + delta_t / 86400.0 - 2451545.0) / 36525.0
    millennium = ephemeris_century / 10.0
    longitude = np.degrees(_series(_LONGITUDE, millennium)) + 180.0
    latitude = -np.degrees(_series(_LATITUDE, millennium))
    distance = _series(_RADIUS, millennium)
    nutation, obliquity = _nutation_and_obliquity(ephemeris_century)

    lit = np.radians(longitude + nutation - 20.4898 / (3600.0 * distance))
    tilt, beta = np.radians(obliquity), np.radians(latitude)
    right_ascension = np.degrees(np.arctan2(np.sin(lit) * np.cos(tilt) - np.tan(beta) * np.sin(tilt), np.cos(lit)))
    declination = np.degrees(np.arcsin(np.sin(beta) * np.cos(tilt) + np.cos(beta) * np.sin(tilt) * np.sin(lit)))
    sidereal = (
        280.46061837
        + 360.98564736629 * (julian_day - 2451545.0)
        + 0.000387933 * century**2
        - century**3 / 38710000.0
        + nutation * np.cos(tilt)
    )
    mean_longitude = (
        280.4664567
        + 360007.6982779 * millennium
        + 0.03032028 * millennium**2
        + millennium**3 / 49931.0
        - millennium**4 / 15300.0
        - millennium**5 / 2000000.0
    )
    lead = mean_longitude - 0.0057183 - right_ascension + nutation * np.cos(tilt)
    return Geocentric(
        declination=declination,
        right_ascension=right_ascension % 360.0,
        greenwich_hour_angle=(sidereal - right_ascension) % 360.0,
        distance=distance,
        equation_of_time=4.0 * ((lead + 180.0) % 360.0 - 180.0),
    )


def sun_position(
    seconds: FloatArray,
    latitude: float,
    longitude: float,
    height: float = 0.0,
    pressure: float | None = None,
    temperature: float = 12.0,
    delta_t: float = DELTA_T,
) -> SunPosition:
    """Return where the sun stands at each instant.

    Parameters
    ----------
    seconds : (instants,) float array
        Since 1970-01-01 00:00 universal time. [s]
    latitude, longitude : float
        North and east are positive. [deg]
    height : float
        Above sea level. [m]
    pressure : float, optional
        Of the air; of the standard atmosphere at that height where not given; 0 for no refraction. [mbar]
    temperature : float
        Of the air, which only bends the light. [deg C]
    delta_t : float
        Terrestrial less universal time. [s]

    References
    ----------
    Reda & Andreas (2004), sections 3.12 to 3.15.
    """
    sun = geocentric_sun(np.asarray(seconds, dtype=np.float64), delta_t)
    air = standard_pressure(height) if pressure is None else pressure
    return SunPosition(
        *topocentric(
            sun.declination, sun.greenwich_hour_angle + longitude, sun.distance, latitude, height, air, temperature
        )
    )


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


@kernel
def topocentric(
    declination: FloatArray,
    hour_angle: FloatArray,
    distance: FloatArray,
    latitude: float,
    height: float,
    pressure: float,
    temperature: float,
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return elevation without air, refraction, and azimuth of the sun at one place. [deg].

    Parameters
    ----------
    declination, hour_angle : (instants,) float array
        Geocentric and apparent; the hour angle is local, westwards from the meridian. [deg]
    distance : (instants,) float array
        Earth to sun. [astronomical unit]
    latitude, height, pressure, temperature : float
        Of the place. [deg], [m], [mbar], [deg C]

    References
    ----------
    Reda & Andreas (2004), sections 3.12 to 3.15.
    """
    elevation = np.empty_like(declination)
    refraction = np.empty_like(declination)
    azimuth = np.empty_like(declination)
    phi = np.radians(latitude)
    reduced = np.arctan(0.99664719 * np.tan(phi))
    across = np.cos(reduced) + height / 6378140.0 * np.cos(phi)
    along = 0.99664719 * np.sin(reduced) + height / 6378140.0 * np.sin(phi)
    sin_phi, cos_phi = np.sin(phi), np.cos(phi)
    for k in range(declination.size):
        parallax = np.sin(np.radians(8.794 / (3600.0 * distance[k])))
        delta, hour = np.radians(declination[k]), np.radians(hour_angle[k])
        below = np.cos(delta) - across * parallax * np.cos(hour)
        shift = np.arctan2(-across * parallax * np.sin(hour), below)
        delta = np.arctan2((np.sin(delta) - along * parallax) * np.cos(shift), below)
        hour -= shift
        sine = sin_phi * np.sin(delta) + cos_phi * np.cos(delta) * np.cos(hour)
        true = np.degrees(np.arcsin(min(1.0, max(-1.0, sine))))
        elevation[k] = true
        lift = 0.0
        if true >= -(0.26667 + 0.5667):
            bend = 1.02 / (60.0 * np.tan(np.radians(true + 10.3 / (true + 5.11))))
            lift = pressure / 1010.0 * 283.0 / (273.0 + temperature) * bend
        refraction[k] = lift
        from_south = np.arctan2(np.sin(hour), np.cos(hour) * sin_phi - np.tan(delta) * cos_phi)
        azimuth[k] = (np.degrees(from_south) + 180.0) % 360.0
    return elevation, refraction, azimuth


_LONGITUDE = (
    terms.LONGITUDE_0,
    terms.LONGITUDE_1,
    terms.LONGITUDE_2,
    terms.LONGITUDE_3,
    terms.LONGITUDE_4,
    terms.LONGITUDE_5,
)
_LATITUDE = (terms.LATITUDE_0, terms.LATITUDE_1)
_RADIUS = (terms.RADIUS_0, terms.RADIUS_1, terms.RADIUS_2, terms.RADIUS_3, terms.RADIUS_4)


def _series(groups: tuple[FloatArray, ...], millennium: FloatArray) -> FloatArray:
    total = np.zeros_like(millennium)
    for power, group in enumerate(groups):
        waves = group[:, 0] * np.cos(group[:, 1] + np.multiply.outer(millennium, group[:, 2]))
        total += waves.sum(axis=-1) * millennium**power
    return total / 1e8


def _nutation_and_obliquity(century: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Nutation in longitude and true obliquity of the ecliptic. [deg]."""
    powers = np.stack([np.ones_like(century), century, century**2, century**3], axis=-1)
    arguments = powers @ _MOON_AND_SUN
    phase = np.radians(arguments @ terms.NUTATION_ARGUMENTS.T)
    a, b, c, d = terms.NUTATION_COEFFICIENTS.T
    nutation = ((a + np.multiply.outer(century, b)) * np.sin(phase)).sum(axis=-1) / 36e6
    wobble = ((c + np.multiply.outer(century, d)) * np.cos(phase)).sum(axis=-1) / 36e6
    return nutation, np.polynomial.polynomial.polyval(century / 100.0, _MEAN_OBLIQUITY) / 3600.0 + wobble


_MEAN_OBLIQUITY = (84381.448, -4680.93, -1.55, 1999.25, -51.38, -249.67, -39.05, 7.12, 27.87, 5.79, 2.45)
_MOON_AND_SUN = np.array(
    [
        [297.85036, 357.52772, 134.96298, 93.27191, 125.04452],
        [445267.111480, 35999.050340, 477198.867398, 483202.017538, -1934.136261],
        [-0.0019142, -0.0001603, 0.0086972, -0.0036825, 0.0020708],
        [1.0 / 189474.0, -1.0 / 300000.0, 1.0 / 56250.0, 1.0 / 327270.0, 1.0 / 450000.0],
    ]
)
