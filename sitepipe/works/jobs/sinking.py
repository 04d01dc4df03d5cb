"""How crests sink, and how they are topped up."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sitepipe.settings import MaterialsSettings
from sitepipe.works.jobs.materials import CHIPS, DUG, LOGS, SOIL
from sitepipe.works.mounds.record import Mound

FLAGGED_LOSS = 0.05
"""A crest this far below its height is topped up: common practice, no source. [m]"""
LOOKED_AFTER = 3
"""Years after building by which a mound has settled; what rots later is small and goes on. [year]"""


@dataclass(frozen=True, slots=True)
class CrestLife:
    """A crest from the year of building on: its height at the end of each year [m], and what tops it up [m3].

    Top-ups are of soil and compost, or of dug soil where the mound is of that.
    """

    heights: tuple[float, ...]
    lifts: tuple[float, ...]
    material: str


def crest_after(
    built: float, settlement: float, years: float, settling_years: float, core: float = 0.0, decay: float = 0.0
) -> float:
    """Height of a crest some time after building, without topping up.

    Settlement comes fast and levels off; wood below the cover rots on, slowly.

    Parameters
    ----------
    built : float
        Height as built. [m]
    settlement : float
        Share lost to settling in the end. [1]
    years : float
        Since building. [year]
    settling_years : float
        Time in which 63 parts in 100 of the settlement come. [year]
    core : float
        Thickness of wood below the crest as built. [m]
    decay : float
        Share of what is left of it that rots in a year. [1/year]

    Examples
    --------
    Chips with k .2 a year keep 82, 55 and 37 parts in 100 after 1, 3 and 5 years.

    >>> [round(crest_after(1.0, 0.0, t, 1.0, core=1.0, decay=0.2), 2) for t in (1.0, 3.0, 5.0)]
    [0.82, 0.55, 0.37]
    """
    settled = 1.0 - settlement * (1.0 - math.exp(-years / settling_years))
    return built * settled - core * settled * (1.0 - math.exp(-decay * years))


def crest_life(mound: Mound, years: int, materials: MaterialsSettings) -> CrestLife:
    """Follow a crest over some years, half a year after building in the first; one that has sunk is lifted again."""
    height, wood = mound.height, sum(volume for name, volume in mound.materials if name in {LOGS, CHIPS})
    # The thickness of the core below the crest, from its share of the volume.
    core = height.built * math.sqrt(wood / mound.volume) if wood > 0.0 else 0.0
    width = 0.5 * (mound.top_width + mound.base_width)
    # The top and the upper half of the sides.
    area = float(mound.crest.length) * width + math.pi * width * width / 4.0
    heights: list[float] = []
    lifts: list[float] = []
    lifted = 0.0
    for age in range(years):
        sunk = crest_after(height.built, height.settlement, age + 0.5, materials.settling_years, core, materials.decay)
        lost = height.finished - sunk - lifted
        lift = lost if age > 0 and lost > FLAGGED_LOSS else 0.0
        lifted += lift
        heights.append(float(sunk + lifted))
        lifts.append(lift * area)
    is_dug = any(name == DUG for name, _ in mound.materials)
    return CrestLife(tuple(heights), tuple(lifts), DUG if is_dug else SOIL)
