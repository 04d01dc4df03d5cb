"""From what is known of the ground to how well it suits each use."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, IntArray, frozen
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.record import Drainage
from sitepipe.scoring.criteria import asked_of, looked_at
from sitepipe.scoring.exclusions import exclusions_of
from sitepipe.scoring.membership import NOTHING_LIMITS, membership, weighed
from sitepipe.scoring.record import Exclusion, Scores, Use
from sitepipe.settings import MoundUse, PathUse, Settings, WetPlantingUse
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.record import WaterTable, Wetness

SCORED = (Use.MOUND, Use.WET_PLANTING, Use.PATH)
"""Uses that are scored; the others are what remains."""


def score_uses(
    site: Site,
    terrain: Terrain,  # noqa: ARG001 (every stage of this room takes what was found before it)
    drainage: Drainage,
    sunlight: Sunlight,
    wetness: Wetness,
    water_table: WaterTable,
    settings: Settings,
) -> Scores:
    """Score every cell of the parcel for mounds, wet planting and paths, and say what limits it."""
    inside = cells_inside(site.grid, site.parcel) & np.isfinite(site.elevation)
    values = looked_at(site, drainage, sunlight, wetness, water_table, settings)
    exclusions = exclusions_of(site, drainage, settings.keep_clear)
    excluded = [cells_inside(site.grid, exclusion.outline) for exclusion in exclusions]
    wishes: dict[Use, MoundUse | WetPlantingUse | PathUse] = {
        Use.MOUND: settings.scoring.mound,
        Use.WET_PLANTING: settings.scoring.wet_planting,
        Use.PATH: settings.scoring.path,
    }
    scores: dict[Use, FloatArray] = {}
    limited_by: dict[Use, IntArray] = {}
    criteria: dict[Use, tuple[str, ...]] = {}
    for use, wish in wishes.items():
        asked = asked_of(wish)
        met = [membership(values[name], one.none_at, one.full_at, one.least) for name, one in asked.items()]
        score, limit = weighed(met, [one.weight for one in asked.values()])
        score[~inside] = np.nan
        limit[~inside] = NOTHING_LIMITS
        _forbid(use, score, limit, inside, exclusions, excluded)
        scores[use], limited_by[use] = frozen(score), frozen(limit)
        criteria[use] = tuple(asked)
    return Scores(
        suitability_mound=scores[Use.MOUND],
        suitability_wet_planting=scores[Use.WET_PLANTING],
        suitability_path=scores[Use.PATH],
        limited_by=limited_by,
        criteria=criteria,
        exclusions=exclusions,
    )


def _forbid(
    use: Use,
    score: FloatArray,
    limit: IntArray,
    inside: BoolArray,
    exclusions: tuple[Exclusion, ...],
    excluded: list[BoolArray],
) -> None:
    """Set the score to 0 where an exclusion forbids the use; the first one that does is named."""
    for number in range(len(exclusions) - 1, -1, -1):
        if use in exclusions[number].uses:
            here = excluded[number] & inside
            score[here] = 0.0
            limit[here] = -2 - number
