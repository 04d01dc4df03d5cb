"""What auger holes say about the wet season, and what they do not."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from functools import partial
from typing import Any

import numpy as np

from sitepipe.settings import WaterTableSettings
from sitepipe.site import AugerReading
from sitepipe.wetness.record import Bound, Evidence, HoleLevel

LEAST_ERROR = 0.03
"""A design level is no better than this however many readings: common practice, no source. [m]"""
GRAY_ERROR = 0.22
"""Gray marks the level within this at three of four loamy sites (Humphrey & O'Driscoll 2011). [m]"""
LIMIT_ERROR = 0.10
"""How far past a limit the level may be before it is thought unlikely: common practice, no source. [m]"""


def gather_holes(
    readings: Sequence[AugerReading], settings: WaterTableSettings, latitude: float
) -> tuple[tuple[HoleLevel, ...], tuple[str, ...]]:
    """Turn readings into evidence, hole by hole, and name the holes that say nothing.

    Only readings of the wet months count as a design level; of several, the one that a quarter of them stand above.
    The depth where gray begins is a level too, less the height by which the water stands above it. A reading from
    another month says how deep the wet-season water is at most, and nothing more.
    """
    wet_months = settings.wet_at(latitude)
    places = dict.fromkeys(reading.place for reading in readings)
    found = {
        place: _judge_hole([reading for reading in readings if reading.place == place], settings, wet_months)
        for place in places
    }
    return tuple(hole for hole in found.values() if hole), tuple(place for place, hole in found.items() if not hole)


def _judge_hole(own: list[AugerReading], settings: WaterTableSettings, wet_months: Collection[int]) -> HoleLevel | None:
    wet = [reading for reading in own if reading.day.month in wet_months]
    seen = [reading for reading in wet if reading.depth_to_water is not None]
    grays = [reading.gray_depth for reading in own if reading.gray_depth is not None]
    hole = partial(HoleLevel, own[0].place, own[0].x, own[0].y, gray_depth=min(grays, default=None))
    if seen:
        depth = float(np.quantile([_depth(reading) for reading in seen], 0.25))
        error = max(LEAST_ERROR, settings.reading_error / math.sqrt(len(seen)))
        if grays:
            depth, error = _combined(depth, error, min(grays) - settings.gray_above, GRAY_ERROR)
        told = _highest(seen) | {"days": tuple(reading.day for reading in seen)}
        return hole(max(depth, 0.0), error, Bound.LEVEL, Evidence.WET_SEASON, **told)
    if grays:
        return hole(max(min(grays) - settings.gray_above, 0.0), GRAY_ERROR, Bound.LEVEL, Evidence.COLOUR)
    if wet and all(reading.hole_depth is not None for reading in wet):
        bottom = min(reading.hole_depth or 0.0 for reading in wet)
        return hole(bottom, LIMIT_ERROR, Bound.NO_HIGHER, Evidence.DRY, highest=bottom)
    seen = [reading for reading in own if reading.depth_to_water is not None]
    if not seen:
        return None
    told = _highest(seen) | {"days": tuple(reading.day for reading in own)}
    return hole(max(told["highest"], 0.0), LIMIT_ERROR, Bound.NO_DEEPER, Evidence.OUT_OF_SEASON, **told)


def _highest(readings: list[AugerReading]) -> dict[str, Any]:
    """Return the highest water of some readings, its day, and what was written beside it."""
    highest = min(readings, key=_depth)
    return {"highest": _depth(highest), "highest_day": highest.day, "rain_since": highest.rain_since}


def _combined(depth: float, error: float, other: float, other_error: float) -> tuple[float, float]:
    weight, other_weight = error**-2, other_error**-2
    return (depth * weight + other * other_weight) / (weight + other_weight), (weight + other_weight) ** -0.5


def _depth(reading: AugerReading) -> float:
    return math.inf if reading.depth_to_water is None else reading.depth_to_water
