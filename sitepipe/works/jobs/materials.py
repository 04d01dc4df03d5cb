"""What mounds and paths are made of: by material, in loads, barrows and hours, free and bought."""

from __future__ import annotations

import math
from collections.abc import Iterable

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.settings import JobsSettings
from sitepipe.works.mounds.fills import Fill
from sitepipe.works.mounds.volumes import ridge_volume

LOGS, CHIPS, SOIL, DUG = "logs and brush", "chips and leaves", "soil and compost", "soil dug on the spot"
FILL = "firm fill"
"""What a floor is raised with: gravel or subsoil that stays where it is."""
SODS = "sods turned over"
"""Of a mound's own foot, as part of its cover."""


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
    sums = dict.fromkeys((CHIPS, LOGS, SOIL, SODS, DUG, FILL), 0.0)
    for name, volume in volumes:
        sums[name] += volume
    return tuple((name, volume) for name, volume in sums.items() if volume > 0.0)
