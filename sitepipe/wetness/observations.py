"""What was seen on the ground, and how far it outweighs the model around it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.settings import ObservationSettings
from sitepipe.site import Observation, Ref, Seen, Site
from sitepipe.wetness.indicators import log_odds
from sitepipe.wetness.record import Agreement

SUREST = 0.95
"""Most that one sight is believed: pins and dates may be off. Common practice, no source. [1]"""

UNDATED = 0.5
"""How far a sight with no hours since rain is believed. Common practice, no source. [1]"""

RUSHES = 0.9
"""Soft rush is an obligate wetland plant: it records seasons, not one shower (national wetland plant list). [1]"""

RING = 5.0
"""Beyond so many reaches a sight has less than 1 % of its say; it is left out. [1]"""


@dataclass(frozen=True, slots=True)
class Sight:
    """Something seen at one cell.

    Parameters
    ----------
    is_wet : bool
    trust : float
        0 to `SUREST`: how far it is believed. [1]
    row, column : int
    feature : Observation
    """

    is_wet: bool
    trust: float
    row: int
    column: int
    feature: Observation


def sights_of(site: Site, settings: ObservationSettings) -> tuple[tuple[Sight, ...], tuple[Ref, ...]]:
    """Read the drawn observations; return what was seen, and those that lie where no height is known."""
    seen: list[Sight] = []
    unused: list[Ref] = []
    for feature in site.drawn(Observation):
        if feature.seen not in {Seen.WET, Seen.RUSHES, Seen.DRY}:
            continue
        place = feature.geometry.representative_point()
        row, column = site.grid.cell_at(place.x, place.y)
        if not (site.grid.holds(row, column) and math.isfinite(site.elevation[row, column])):
            unused.append(Ref(feature.kind, feature.number))
            continue
        is_wet = feature.seen is not Seen.DRY
        trust = RUSHES if feature.seen is Seen.RUSHES else trust_of(is_wet, feature.hours, settings)
        seen.append(Sight(is_wet, trust, row, column, feature))
    return tuple(seen), tuple(unused)


def trust_of(is_wet: bool, hours: float | None, settings: ObservationSettings) -> float:
    """Return how far a sight is believed, given the hours since rain.

    Water right after rain says little, after two days much; firm ground right after rain says much, after a dry
    week little.

    Examples
    --------
    >>> trust_of(True, 72.0, ObservationSettings()), trust_of(True, 12.0, ObservationSettings())
    (0.95, 0.2375)
    >>> trust_of(False, 12.0, ObservationSettings()), trust_of(False, 96.0, ObservationSettings())
    (0.95, 0.2375)
    """
    if hours is None:
        return UNDATED
    if is_wet:
        return SUREST * min(1.0, max(hours, 0.0) / settings.wet_after)
    return SUREST * min(1.0, settings.dry_within / max(hours, settings.dry_within))


def agreement(wetness: FloatArray, sights: tuple[Sight, ...]) -> Agreement | None:
    """Return how well a map agrees with what was seen; None where nothing was seen."""
    if not sights:
        return None
    wet = np.array([wetness[s.row, s.column] for s in sights if s.is_wet])
    dry = np.array([wetness[s.row, s.column] for s in sights if not s.is_wet])
    right = int((wet >= 0.5).sum() + (dry < 0.5).sum())
    return Agreement(len(wet), len(dry), right, area_under_curve(wet, dry))


def area_under_curve(wet: FloatArray, dry: FloatArray) -> float | None:
    """Return the chance that a place seen wet is modelled wetter than one seen dry, ties counted half.

    It is the area under the receiver operating characteristic, and Mann and Whitney's U over the number of pairs.

    Returns
    -------
    float or None
        0.5 is guessing, 1 is perfect; None where one side is empty. [1]

    References
    ----------
    Hanley & McNeil (1982), The meaning and use of the area under a receiver operating characteristic (ROC) curve,
    Radiology 143, 29-36.

    Examples
    --------
    >>> import numpy as np
    >>> area_under_curve(np.array([0.9, 0.6]), np.array([0.2, 0.6]))
    0.875
    """
    if wet.size == 0 or dry.size == 0:
        return None
    above = np.searchsorted(np.sort(dry), wet, side="left")
    level = np.searchsorted(np.sort(dry), wet, side="right")
    return float((above + level).sum() / 2.0 / (wet.size * dry.size))


def shifted(
    wetness: FloatArray, elevation: FloatArray, cell: float, sights: tuple[Sight, ...], settings: ObservationSettings
) -> FloatArray:
    """Return the map moved towards what was seen, most at the place itself, not at all far away.

    The difference between sight and map, as log-odds, is carried to the cells around by simple kriging: it fades
    with distance and with height (a pool says nothing of the bank above it), sights close together share their
    say instead of adding it up, and one alone moves its own cell by its trust times the difference. A map that is
    already surer than the sight is left alone.

    Parameters
    ----------
    wetness : (rows, columns) float array
        Above 0 and below 1; NaN where unknown. [1]
    elevation : (rows, columns) float array
        [m]
    cell : float
        [m]
    sights : tuple of Sight
    settings : ObservationSettings

    Returns
    -------
    (rows, columns) float array
        Above 0 and below 1. [1]

    References
    ----------
    Chiles & Delfiner (2012), Geostatistics, 2nd edition, section 3.2 (simple kriging with error variances; value
    from memory). The covariance, exp(-distance) in scaled space of three dimensions, is valid.
    """
    believed = [sight for sight in sights if sight.trust > 0.0 and np.isfinite(wetness[sight.row, sight.column])]
    if not believed:
        return wetness
    rows = np.array([sight.row for sight in believed])
    columns = np.array([sight.column for sight in believed])
    trust = np.array([sight.trust for sight in believed])
    modelled = log_odds(wetness[rows, columns])
    certain = math.log(settings.certain / (1.0 - settings.certain))
    is_wet = np.array([sight.is_wet for sight in believed])
    missing = np.where(is_wet, np.maximum(certain - modelled, 0.0), np.minimum(-certain - modelled, 0.0))
    across = cell / settings.reach
    lifted = elevation / settings.height_reach
    places = np.stack([rows * across, columns * across, lifted[rows, columns]], axis=1)
    apart = np.linalg.norm(places[:, None, :] - places[None, :, :], axis=2)
    weights = np.linalg.solve(np.exp(-apart) + np.diag((1.0 - trust) / trust), missing)
    shift = np.zeros(wetness.shape)
    ring = math.ceil(RING / across)
    for row, column, weight in zip(rows, columns, weights, strict=True):
        south, east = min(row + ring + 1, wetness.shape[0]), min(column + ring + 1, wetness.shape[1])
        near = tuple(np.ogrid[max(row - ring, 0) : south, max(column - ring, 0) : east])
        level = np.hypot((near[0] - row) * across, (near[1] - column) * across)
        distance = np.hypot(level, lifted[near] - lifted[row, column])
        shift[near] += np.where(distance < RING, weight * np.exp(-distance), 0.0)
    moved = wetness.copy()
    is_told = shift != 0.0
    moved[is_told] = 1.0 / (1.0 + np.exp(-log_odds(wetness[is_told]) - shift[is_told]))
    return moved
