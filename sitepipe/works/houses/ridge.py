"""Which way the ridge of a hoop house runs."""

from __future__ import annotations

import math

from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.works.houses.record import RidgeReason
from sitepipe.works.obstacles import long_bearing

MERIDIAN = 40.0
"""Latitude from which on the ridge runs east-west: eOrganic. [deg]"""
CROSSWISE = 0.65
"""What a ridge straight across the advised direction keeps of its score: our own choice."""


def ridge_advice(latitude: float, settings: Settings) -> tuple[float | None, RidgeReason]:
    """Return the bearing that the ridge should have, None where any will do, and why. [deg].

    References
    ----------
    eOrganic: ridge east-west north of 40 degrees, north-south nearer the equator; without a winter crop wind and
    access decide (common practice, no source).
    """
    own = settings.hoop_house
    if own.winter_crop:
        is_far = abs(latitude) >= MERIDIAN
        return (90.0, RidgeReason.LOW_WINTER_SUN) if is_far else (0.0, RidgeReason.HIGH_WINTER_SUN)
    return (None, RidgeReason.FREE) if own.wind_from is None else (own.wind_from % 180.0, RidgeReason.WORST_WIND)


def direction_score(bearing: float, site: Site, settings: Settings) -> float:
    """How well a ridge's bearing agrees with the advice, and lies square to the parcel. [1]."""
    advised, _ = ridge_advice(site.latitude, settings)
    score = 1.0
    if advised is not None:
        score -= (1.0 - CROSSWISE) * math.sin(math.radians(bearing - advised)) ** 2
    return score * (1.0 - 0.1 * math.sin(math.radians(2.0 * (bearing - long_bearing(site.parcel)))) ** 2)
