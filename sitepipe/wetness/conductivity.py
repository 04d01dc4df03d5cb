"""How readily water moves sideways through the soil of a site."""

from __future__ import annotations

from sitepipe.drainage.storm import SOAKING
from sitepipe.settings import Settings

WET_SHARE = 0.5
"""The Green-Ampt conductivity is about half of the saturated one, since air stays in the pores. [1]"""

LOOSENED = 3.0
"""Roots and worms make the upper half metre of grown ground about so much readier: common practice, no source. [1]"""


def soil_conductivity(settings: Settings) -> float:
    """Return the conductivity of the soil above the tight layer, as set or by texture. [m/day].

    Examples
    --------
    >>> round(soil_conductivity(Settings()), 2)
    0.94
    """
    given = settings.water_table.conductivity
    if given is not None:
        return given
    return LOOSENED * 24.0 * SOAKING[settings.soil.texture] / WET_SHARE
