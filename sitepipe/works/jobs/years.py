"""What to build first when only so many loads arrive in a year, and how crests sink and are topped up."""

from __future__ import annotations

import math
from collections.abc import Sequence

from sitepipe.settings import MaterialsSettings
from sitepipe.works.jobs.materials import CHIPS, DUG, FILL, LOGS, SOIL, add_volumes
from sitepipe.works.jobs.record import YearOfWork
from sitepipe.works.mounds.record import Mound
from sitepipe.works.ways.record import Path

FLAGGED_LOSS = 0.05
"""A crest this far below its height is topped up: common practice, no source. [m]"""
LOOKED_AFTER = 3
"""Years after building by which a mound has settled; what rots later is small and goes on. [year]"""
MOST_YEARS = 20


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


def plan_years(
    mounds: Sequence[Mound], paths: Sequence[Path], materials: MaterialsSettings, floor: float = 0.0
) -> tuple[YearOfWork, ...]:
    """Share the building out over years: paths and one trial mound first, then what each year's material covers.

    Loads and soil that are not used are kept for the next year. Top-ups come before new mounds, of soil and compost, or
    of dug soil where the mound is of that; dug soil waits for no delivery. The list ends when every mound is three
    years old and stands at its height; what wood rots later is topped up when it shows. The ``floor`` of the hoop
    house [m3] is filled in the first. Where the paths take more chips than come in the first year, no mound is begun
    before there are chips again.
    """
    if not mounds:
        return ()
    built: dict[int, int] = {}
    lifted: dict[int, float] = {mound.number: 0.0 for mound in mounds}
    chips = soil = 0.0
    years: list[YearOfWork] = []
    for year in range(1, MOST_YEARS + 1):
        chips += materials.loads_per_year * materials.load
        soil += materials.soil_per_year
        used: list[tuple[str, float]] = []
        if year == 1:
            used = [(FILL, floor), *((CHIPS, path.chips) for path in paths)]
            chips -= sum(path.chips for path in paths)
        tops_up: list[int] = []
        top_ups: list[tuple[str, float]] = []
        for mound in mounds:
            lost = _loss(mound, built, lifted, year, materials)
            if mound.number in built and lost > FLAGGED_LOSS:
                amount = lost * _top_up_area(mound)
                lifted[mound.number] += lost
                stuff = _tops_up_with(mound)
                soil -= amount if stuff == SOIL else 0.0
                top_ups.append((stuff, amount))
                tops_up.append(mound.number)
        new: list[int] = []
        for mound in mounds:
            if mound.number in built or (year == 1 and new):
                continue
            wood, cover = _needs(mound)
            is_first = not built and not new
            if (is_first and chips >= 0.0) or (wood <= chips + 1e-9 and cover <= soil + 1e-9):
                chips, soil = chips - wood, soil - cover
                used.extend(mound.materials)
                built[mound.number] = year
                new.append(mound.number)
        heights = tuple(
            (mound.number, _crest(mound, built, lifted, year, materials)) for mound in mounds if mound.number in built
        )
        stuffs, lifts = add_volumes([*used, *top_ups]), add_volumes(top_ups)
        volume = sum(amount for _, amount in stuffs)
        loads = volume / materials.load
        years.append(YearOfWork(year, tuple(new), tuple(tops_up), loads, volume, heights, stuffs, lifts))
        all_stand = all(
            mound.height.finished - height <= FLAGGED_LOSS for mound, (_, height) in zip(mounds, heights, strict=False)
        )
        if len(built) == len(mounds) and year - max(built.values()) >= LOOKED_AFTER and all_stand:
            break
    return tuple(years)


def _needs(mound: Mound) -> tuple[float, float]:
    """Wood and chips, and soil and compost, that a mound takes from what is brought. [m3]."""
    wood = sum(volume for name, volume in mound.materials if name in {LOGS, CHIPS})
    return wood, sum(volume for name, volume in mound.materials if name == SOIL)


def _tops_up_with(mound: Mound) -> str:
    return DUG if any(name == DUG for name, _ in mound.materials) else SOIL


def _core(mound: Mound) -> float:
    """Thickness of the woody core below the crest, from its share of the volume. [m]."""
    wood, _ = _needs(mound)
    if wood <= 0.0 or mound.volume <= 0.0:
        return 0.0
    return mound.height.built * math.sqrt(wood / mound.volume)


def _crest(
    mound: Mound, built: dict[int, int], lifted: dict[int, float], year: int, materials: MaterialsSettings
) -> float:
    """Crest at the end of a year, half a year after building in that year. [m]."""
    age = year - built[mound.number] + 0.5
    height = mound.height
    own = crest_after(height.built, height.settlement, age, materials.settling_years, _core(mound), materials.decay)
    return float(own + lifted[mound.number])


def _loss(
    mound: Mound, built: dict[int, int], lifted: dict[int, float], year: int, materials: MaterialsSettings
) -> float:
    if mound.number not in built:
        return 0.0
    return mound.height.finished - _crest(mound, built, lifted, year, materials)


def _top_up_area(mound: Mound) -> float:
    """Area that a top-up is spread over: the top and the upper half of the sides. [m2]."""
    width = 0.5 * (mound.top_width + mound.base_width)
    return float(mound.crest.length) * width + math.pi * width * width / 4.0
