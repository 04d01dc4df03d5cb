"""The sun over level ground with prisms on it: every ray met exactly by another library, summed minute by minute."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import shapely
from pvlib import spa
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.sunlight.position import solar_midnight

DIRECTIONS = 1440
"""Rays round the compass, a quarter degree apart."""

FAR = 400.0


@dataclass(frozen=True, slots=True)
class Prism:
    """An outline that stands from a base to a top; ``through`` is the light that it lets pass."""

    outline: BaseGeometry
    top: float
    base: float = 0.0
    through: float = 0.0


def hours(
    prisms: Sequence[Prism], places: Sequence[tuple[float, float]], latitude: float, days: BoolArray
) -> FloatArray:
    """Return hours a day of each place on the mean of the chosen days of 2025."""
    start = solar_midnight(date(2025, 1, 1), 0.0)
    minutes = start + 60.0 * (np.arange(365 * 1440) + 0.5)
    minutes = minutes[np.repeat(days, 1440)]
    zenith, _, _, _, azimuth, _ = spa.solar_position_numpy(minutes, latitude, 0.0, 50.0, 1007.0, 12.0, 69.2, 0.5667, 2)
    is_up = zenith < 90.0
    steep, toward = np.tan(np.radians(90.0 - zenith[is_up])), azimuth[is_up]
    ray = np.rint(toward / 360.0 * DIRECTIONS).astype(np.int64) % DIRECTIONS
    minutes_left = np.array([_left(prisms, place, steep, ray) for place in places])
    return np.asarray(minutes_left / 60.0 / days.sum())


def _left(prisms: Sequence[Prism], place: tuple[float, float], steep: FloatArray, ray: FloatArray) -> float:
    """Return the minutes of sun that are left to a place; of several things in line the darkest decides."""
    turn = np.radians(np.arange(DIRECTIONS) * 360.0 / DIRECTIONS)
    here = np.array(place)
    ends = here + FAR * np.stack([np.sin(turn), np.cos(turn)], axis=1)
    rays = shapely.linestrings(np.stack([np.broadcast_to(here, ends.shape), ends], axis=1))
    left = np.ones(steep.size)
    for prism in prisms:
        cut = shapely.intersection(rays, prism.outline)
        for part, number in zip(*shapely.get_parts(cut, return_index=True), strict=True):
            corners = shapely.get_coordinates(part)
            if len(corners) < 2:
                continue
            away = np.hypot(*(corners - here).T)
            near, far = away.min(), away.max()
            upper = np.inf if near < 1e-9 else prism.top / near
            lower = prism.base / far if prism.base > 0.0 else -1.0
            met = (ray == number) & (steep <= upper) & (steep > lower)
            left[met] = np.minimum(left[met], prism.through)
    return float(left.sum())
