"""What mounds and paths are made of: by material, in loads, barrows and hours, free and bought."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.settings import JobsSettings, MaterialsSettings
from sitepipe.works.jobs.record import Quantity, YearOfWork
from sitepipe.works.mounds.fills import Fill
from sitepipe.works.mounds.record import Mound
from sitepipe.works.mounds.volumes import ridge_volume
from sitepipe.works.ways.record import Path

LOGS, CHIPS, SOIL, DUG = "logs and brush", "chips and leaves", "soil and compost", "soil dug on the spot"
FILL = "firm fill"
"""What a floor is raised with: gravel or subsoil that stays where it is."""


def split_volume(
    heights: FloatArray, top: float, spacing: float, fill: Fill, cover: float, logs: float
) -> tuple[tuple[str, float], ...]:
    """Split a mound into its materials: a woody core is the same ridge, lower by the cover. [m3].

    Parameters
    ----------
    heights : (stations,) float array
        As built, above the ground. [m]
    top, spacing : float
        Width of the top; distance between stations. [m]
    fill : Fill
    cover : float
        Soil over the wood, measured straight down. [m]
    logs : float
        Share of logs and brush in the core. [1]

    Examples
    --------
    >>> from sitepipe.works.mounds.fills import find_fill
    >>> split = split_volume(np.array([0.6, 0.6]), 0.6, 8.0, find_fill("woody core", "loam", 0.1), 0.2, 0.5)
    >>> [(name, round(volume, 1)) for name, volume in split]
    [('logs and brush', 2.2), ('chips and leaves', 2.2), ('soil and compost', 4.1)]
    """
    whole = ridge_volume(heights, top, fill.side_slope, spacing)
    if not fill.is_woody:
        return ((DUG if fill.name == "native soil" else SOIL, whole),)
    core = ridge_volume(np.maximum(heights - cover, 0.0), top, fill.side_slope, spacing)
    return ((LOGS, logs * core), (CHIPS, (1.0 - logs) * core), (SOIL, whole - core))


def count_barrows(volume: float, barrow: float) -> int:
    """Barrows that a volume takes, the last one counted whole. Volumes in m3.

    Examples
    --------
    >>> count_barrows(0.764554857984, 0.085)
    9
    """
    return math.ceil(volume / barrow - 1e-9)


def barrow_hours(barrows: int, way: float, jobs: JobsSettings) -> float:
    """Hours to fill, wheel there and back, and tip. ``way`` is one way. [m], [h].

    Examples
    --------
    Ten barrows over 45 m at 45 m/min and 4 min each: ten times six minutes.

    >>> barrow_hours(10, 45.0, JobsSettings())
    1.0
    """
    return barrows * (jobs.loading + 2.0 * way / jobs.walking) / 60.0


def add_volumes(volumes: Iterable[tuple[str, float]]) -> tuple[tuple[str, float], ...]:
    """Add up (material, volume) by material, in the order in which materials are listed. Volumes in m3.

    Examples
    --------
    >>> add_volumes([(SOIL, 1.0), (CHIPS, 2.0), (SOIL, 0.5)])
    (('chips and leaves', 2.0), ('soil and compost', 1.5))
    """
    sums = dict.fromkeys((CHIPS, LOGS, SOIL, DUG, FILL), 0.0)
    for name, volume in volumes:
        sums[name] += volume
    return tuple((name, volume) for name, volume in sums.items() if volume > 0.0)


def add_up(
    mounds: Sequence[Mound],
    paths: Sequence[Path],
    years: Sequence[YearOfWork],
    materials: MaterialsSettings,
    jobs: JobsSettings,
    floor: float = 0.0,
) -> tuple[Quantity, ...]:
    """Add up every material over all years, and say what comes for nothing and what has to be bought.

    Chips, leaves, logs and brush come in free loads, soil and compost by the cubic metre; chips that paths take are
    counted first, since paths are built first. What tops up is in it, and the ``floor`` of the hoop house [m3], whose
    fill no one gives away. Without years all of it is the first year's; a
    mound that no year reaches counts as later.
    """
    lifts = dict(add_volumes(part for year in years for part in year.top_ups))
    own = [(CHIPS, path.chips) for path in paths] + [part for mound in mounds for part in mound.materials]
    own.append((FILL, floor))
    need = dict(add_volumes([*own, *lifts.items()]))
    first_year = dict(years[0].materials) if years else need
    free_loads = materials.loads_per_year * materials.load * materials.years
    free_soil = materials.soil_per_year * materials.years
    quantities = []
    for name, volume in need.items():
        if name in {DUG, FILL}:
            free = volume if name == DUG else 0.0
        elif name == SOIL:
            free = min(volume, free_soil)
        else:
            free = min(volume, free_loads)
            free_loads -= free
        first = first_year.get(name, 0.0)
        quantities.append(
            Quantity(
                material=name,
                volume=volume,
                loads=volume / materials.load,
                barrows=count_barrows(volume, jobs.barrow),
                free=free,
                to_buy=max(volume - free, 0.0),
                first_year=first,
                first_loads=first / materials.load,
                first_barrows=min(count_barrows(first, jobs.barrow), count_barrows(volume, jobs.barrow)),
                top_ups=lifts.get(name, 0.0),
            )
        )
    return tuple(quantities)
