"""Which way the ridge of a hoop house runs."""

from __future__ import annotations

import math

import shapely
from shapely import LineString

from sitepipe.settings import Settings
from sitepipe.site import Site

MERIDIAN = 40.0
"""Latitude from which on the ridge runs east-west: eOrganic. [deg]"""
CROSSWISE = 0.65
"""What a ridge straight across the advised direction keeps of its score: our own choice."""


def ridge_advice(latitude: float, settings: Settings) -> tuple[float | None, str]:
    """Return the bearing that the ridge should have, None where any will do, and why. [deg].

    References
    ----------
    eOrganic: ridge east-west north of 40 degrees, north-south nearer the equator; without a winter crop wind and
    access decide (common practice, no source).
    """
    if settings.hoop_house.winter_crop:
        where = f"At {abs(latitude):.0f} degrees {'north' if latitude >= 0 else 'south'}"
        if abs(latitude) >= MERIDIAN:
            return 90.0, f"{where} a ridge that runs east-west takes in more of the low winter sun."
        return (
            0.0,
            f"{where} the winter sun is high enough for a ridge that runs north-south, lit more evenly.",
        )
    if settings.hoop_house.wind_from is not None:
        return settings.hoop_house.wind_from % 180.0, "Without a winter crop the end wall faces the worst wind."
    return None, "Without a winter crop, wind and access decide which way the ridge runs."


def direction_score(bearing: float, site: Site, settings: Settings) -> float:
    """How well a ridge's bearing agrees with the advice, and lies square to the parcel. [1]."""
    advised, _ = ridge_advice(site.latitude, settings)
    score = 1.0
    if advised is not None:
        score -= (1.0 - CROSSWISE) * math.sin(math.radians(bearing - advised)) ** 2
    return score * (1.0 - 0.1 * math.sin(math.radians(2.0 * (bearing - parcel_bearing(site)))) ** 2)


def parcel_bearing(site: Site) -> float:
    """Bearing of the longer side of the smallest rectangle around the parcel, 0 to 180. [deg]."""
    corners = list(shapely.oriented_envelope(site.parcel).exterior.coords)
    sides = [LineString(corners[k : k + 2]) for k in (0, 1)]
    longer = max(sides, key=lambda side: side.length)
    (x0, y0), (x1, y1) = longer.coords
    return math.degrees(math.atan2(x1 - x0, y1 - y0)) % 180.0
