"""How readily water moves sideways through the soil of a site: measured in auger holes, else by texture."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sitepipe.drainage.storm import SOAKING
from sitepipe.settings import Settings
from sitepipe.site import AugerReading

WET_SHARE = 0.5
"""The Green-Ampt conductivity is about half of the saturated one, since air stays in the pores. [1]"""

LOOSENED = 3.0
"""Roots and worms make the upper half metre of grown ground about so much readier: common practice, no source. [1]"""

DAY = 86_400.0
"""[s]"""


def soil_conductivity(settings: Settings, readings: Sequence[AugerReading] = ()) -> float:
    """Return the conductivity of the soil above the tight layer: as set, as holes that were timed say, or by texture.

    Of several holes the geometric mean is taken, since conductivity varies by factors. [m/day].

    Examples
    --------
    >>> round(soil_conductivity(Settings()), 2)
    0.94
    """
    given = settings.water_table.conductivity
    if given is not None:
        return given
    found = [timed for timed in map(timed_conductivity, readings) if timed is not None]
    if found:
        return math.exp(sum(math.log(one) for one in found) / len(found))
    return LOOSENED * 24.0 * SOAKING[settings.soil.texture] / WET_SHARE


def timed_conductivity(reading: AugerReading) -> float | None:
    """Return the conductivity around a hole that was bailed or filled and timed, None where it was not. [m/day]."""
    refill, bottom = reading.refill, reading.hole_depth
    if refill is None or bottom is None:
        return None
    if refill.end > refill.start:
        return inverse_auger_conductivity(refill.radius, bottom - refill.start, bottom - refill.end, refill.seconds)
    if reading.depth_to_water is None:
        return None
    rested = reading.depth_to_water
    mean = 0.5 * (refill.start + refill.end) - rested
    return auger_hole_conductivity(refill.radius, bottom - rested, mean, refill.start - refill.end, refill.seconds)


def auger_hole_conductivity(radius: float, below: float, mean: float, rise: float, seconds: float) -> float:
    """Conductivity from how fast water comes back into a bailed hole. [m/day].

    For holes well above a tight layer (further than half their depth of water), and a rise of no more than a quarter
    of what was bailed: later the ground around has drained and the figure comes out too low.

    Parameters
    ----------
    radius : float
        Of the hole. [m]
    below : float
        Depth of the hole below the water at rest. [m]
    mean : float
        Mean depth of its water below the water at rest while it was timed. [m]
    rise : float
        Of the water in that time. [m]
    seconds : float
        [s]

    References
    ----------
    Ernst (1950), in van Beers (1958), The auger hole method, ILRI bulletin 1: K = 4000 r^2 / ((H + 20 r)(2 - y/H) y)
    dy/dt, lengths in cm, time in s, K in m/day (value from memory).

    Examples
    --------
    >>> round(auger_hole_conductivity(0.04, 0.80, 0.36, 0.07, 50.0), 4)
    1.0036
    """
    r, depth, y = 100.0 * radius, 100.0 * below, 100.0 * mean
    return 4000.0 * r * r / ((depth + 20.0 * r) * (2.0 - y / depth) * y) * (100.0 * rise / seconds)


def inverse_auger_conductivity(radius: float, start: float, end: float, seconds: float) -> float:
    """Conductivity from how fast water sinks in a hole that was filled above the water table. [m/day].

    Parameters
    ----------
    radius : float
        Of the hole. [m]
    start, end : float
        Height of the water above the bottom of the hole. [m]
    seconds : float
        [s]

    References
    ----------
    Porchet's method, as in ILRI publication 16: K = r / (2 t) ln((h0 + r/2) / (ht + r/2)) (value from memory).

    Examples
    --------
    >>> round(inverse_auger_conductivity(0.04, 0.70, 0.60, 600.0), 4)
    0.4307
    """
    return DAY * radius / (2.0 * seconds) * math.log((start + 0.5 * radius) / (end + 0.5 * radius))
