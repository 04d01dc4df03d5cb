"""Beam and sky light under a clear sky of stated turbidity."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import FloatArray

SOLAR_CONSTANT = 1367.0
"""Beam above the air at the mean distance of the sun. [W/m2]  Source: Rigollier, Bauer & Wald (2000)."""


def air_mass(elevation: FloatArray, height: float) -> FloatArray:
    """Return how many times the air of a zenith path the light passes, for true elevations in degrees.

    References
    ----------
    Kasten & Young (1989), Applied Optics 28:4735; pressure after Rigollier et al. (2000), equation 6.

    Examples
    --------
    >>> round(float(air_mass(np.array(90.0), 0.0)), 2)
    1.0
    """
    above = np.maximum(elevation, 0.0)
    return np.asarray(np.exp(-height / 8434.5) / (np.sin(np.radians(above)) + 0.50572 * (above + 6.07995) ** -1.6364))


def clear_sky(
    elevation: FloatArray, distance: FloatArray, turbidity: float, height: float
) -> tuple[FloatArray, FloatArray]:
    """Return the beam on a plane that faces the sun, and the sky's light on level ground. [W/m2].

    Parameters
    ----------
    elevation : float array
        Of the sun. [deg]
    distance : float array
        Earth to sun. [astronomical unit]
    turbidity : float
        Linke's, for an air mass of 2: 2 very clean and cold, 3 clean and warm, 5 polluted. [1]
    height : float
        Above sea level. [m]

    References
    ----------
    Rigollier, C., Bauer, O., Wald, L. (2000), On the clear sky model of the ESRA, Solar Energy 68:33-48, equations
    3 to 19; Kasten (1996) optical thickness. Equations from memory; held against FAO-56 equation 37 in the tests.
    """
    sine = np.maximum(np.sin(np.radians(elevation)), 0.0)
    above_air = SOLAR_CONSTANT / np.asarray(distance) ** 2
    mass = air_mass(elevation, height)
    thin = 1.0 / (6.62960 + mass * (1.75130 + mass * (-0.12020 + mass * (0.00650 - 0.00013 * mass))))
    thickness = np.where(mass <= 20.0, thin, 1.0 / (10.4 + 0.718 * mass))
    beam = above_air * np.exp(-0.8662 * turbidity * mass * thickness)
    zenith = -1.5843e-2 + 3.0543e-2 * turbidity + 3.797e-4 * turbidity**2
    a0 = max(0.26463 - 0.061581 * turbidity + 0.0031408 * turbidity**2, 0.0022 / zenith)
    a1 = 2.0402 + 0.018945 * turbidity - 0.011161 * turbidity**2
    a2 = -1.3025 + 0.039231 * turbidity + 0.0085079 * turbidity**2
    sky = above_air * zenith * (a0 + sine * (a1 + sine * a2))
    is_day = np.asarray(elevation) > 0.0
    return np.where(is_day, beam, 0.0), np.where(is_day, np.maximum(sky, 0.0), 0.0)
