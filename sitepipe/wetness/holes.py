"""What auger holes say about the wet season, and what they do not."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from sitepipe.settings import WaterTableSettings
from sitepipe.site import AugerReading
from sitepipe.units import Units, say_depth

LEAST_ERROR = 0.03
"""A design level is no better than this however many readings: common practice, no source. [m]"""
GRAY_ERROR = 0.22
"""Gray marks the level within this at three of four loamy sites (Humphrey & O'Driscoll 2011). [m]"""
LIMIT_ERROR = 0.10
"""How far past a limit the level may be before it is thought unlikely: common practice, no source. [m]"""


@dataclass(frozen=True, slots=True)
class HoleEvidence:
    """One hole as evidence: ``bound`` is ``level``, ``no deeper`` or ``no higher``. Lengths in m."""

    place: str
    x: float
    y: float
    depth: float
    error: float
    bound: str
    said: str


_MakeHole = Callable[[float, float, str, str], HoleEvidence]


def gather_holes(
    readings: Sequence[AugerReading], settings: WaterTableSettings, southern: bool, units: Units
) -> tuple[tuple[HoleEvidence, ...], tuple[str, ...]]:
    """Turn readings into evidence, hole by hole, and say what the user should know about them.

    Only readings of the wet months count as a design level; of several, the one that a quarter of them stand above.
    The depth where gray begins is a level too, less the height by which the water stands above it. A reading from
    another month says how deep the wet-season water is at most, and nothing more.
    """
    wet_months = {(month + 5) % 12 + 1 if southern else month for month in settings.wet_months}
    evidence: list[HoleEvidence] = []
    notes: list[str] = []
    for place in dict.fromkeys(reading.place for reading in readings):
        own = [reading for reading in readings if reading.place == place]
        found, note = _judge_hole(own, settings, wet_months, units)
        if found is not None:
            evidence.append(found)
        if note:
            notes.append(note)
    return tuple(evidence), tuple(notes)


def _judge_hole(
    own: list[AugerReading], settings: WaterTableSettings, wet_months: set[int], units: Units
) -> tuple[HoleEvidence | None, str]:
    wet = [reading for reading in own if reading.day.month in wet_months]
    levels = [reading.depth_to_water for reading in wet if reading.depth_to_water is not None]
    grays = [reading.gray_depth for reading in own if reading.gray_depth is not None]
    first = own[0]

    def hole(depth: float, error: float, bound: str, said: str) -> HoleEvidence:
        return HoleEvidence(first.place, first.x, first.y, max(depth, 0.0), error, bound, said)

    if levels:
        depth = float(np.quantile(levels, 0.25))
        error = max(LEAST_ERROR, settings.reading_error / math.sqrt(len(levels)))
        highest = min((reading for reading in wet if reading.depth_to_water is not None), key=_depth)
        rain = f", rain: {highest.rain_since}" if highest.rain_since else ""
        said = (
            f"{first.place}: {len(levels)} wet-season reading{'s' if len(levels) > 1 else ''}, "
            f"highest water {say_depth(_depth(highest), units)} down on {highest.day.isoformat()}{rain}"
        )
        note = (
            f"{first.place} was read once in a wet season: read it weekly through one spring for a level to trust."
            if len(levels) == 1
            else ""
        )
        if grays:
            depth, error = _combined(depth, error, min(grays) - settings.gray_above, GRAY_ERROR)
            said += f"; gray from {say_depth(min(grays), units)}"
        return hole(depth, error, "level", said + "."), note
    if grays:
        said = f"{first.place}: gray from {say_depth(min(grays), units)} down; no wet-season reading."
        note = f"{first.place} has no wet-season reading; its level rests on the colour of the soil."
        return hole(min(grays) - settings.gray_above, GRAY_ERROR, "level", said), note
    if wet and all(reading.hole_depth is not None for reading in wet):
        bottom = min(reading.hole_depth or 0.0 for reading in wet)
        said = f"{first.place}: dry to its bottom, {say_depth(bottom, units)} down, in a wet season."
        return hole(bottom, LIMIT_ERROR, "no higher", said), ""
    return _judge_dry_season(own, hole, units)


def _judge_dry_season(own: list[AugerReading], hole: _MakeHole, units: Units) -> tuple[HoleEvidence | None, str]:
    place = own[0].place
    seen = [reading for reading in own if reading.depth_to_water is not None]
    if not seen:
        return None, f"{place} was only read dry, out of the wet season: it says nothing about the wet season."
    shallowest = min(seen, key=_depth)
    depth = _depth(shallowest)
    said = (
        f"{place}: water {say_depth(depth, units)} down on {shallowest.day.isoformat()}, out of the wet season: "
        "in the wet season it stands higher."
    )
    note = (
        f"{place} was read only on {', '.join(reading.day.isoformat() for reading in own)}, out of the wet season: "
        "that is no design level; read it again in spring."
    )
    return hole(depth, LIMIT_ERROR, "no deeper", said), note


def _combined(depth: float, error: float, other: float, other_error: float) -> tuple[float, float]:
    weight, other_weight = error**-2, other_error**-2
    return (depth * weight + other * other_weight) / (weight + other_weight), (weight + other_weight) ** -0.5


def _depth(reading: AugerReading) -> float:
    return math.inf if reading.depth_to_water is None else reading.depth_to_water
