"""A change that was tried on the page, weighed again on full cells."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sitepipe.drainage.trial import check_sum
from sitepipe.errors import InputError
from sitepipe.site import SavedChange
from sitepipe.works.land import Land
from sitepipe.works.water.impact import Baseline, weigh_impact
from sitepipe.works.water.raised_ground import SHAPES, WholeWork
from sitepipe.works.water.record import Impact, RisesAt, TriedChange
from sitepipe.works.water.tipped import Tipped, rows_of

SAME = 1e-6
"""Figures that differ by less are the same: what a file writes of a number. [m], [m2]"""


def weigh_change(land: Land, baseline: Baseline, built: Sequence[Tipped], change: SavedChange) -> TriedChange:
    """Put a change in the place of the works that it replaces or leaves out, and run the water again.

    Raises
    ------
    InputError
        If it replaces or leaves out a work that the plan does not build.
    """
    gone = {work.replaces for work in change.works if work.replaces} | {*change.left_out}
    known = {f"{work.work.kind.value} {work.work.number}" for work in built}
    for name in sorted(gone - known):
        raise InputError(
            f"the change that was tried replaces {name!r}, which this plan does not build. "
            "Try it once more on the page of this run"
        )
    pieces = [WholeWork(SHAPES[one.kind], one.start, one.end, one.rise, one.half, one.slope) for one in change.works]
    own = np.array([baseline.ground.row(piece) for piece in pieces]).reshape(-1, 10)
    kept = [work for work in built if f"{work.work.kind.value} {work.work.number}" not in gone]
    impact = weigh_impact(land, baseline, np.concatenate([rows_of(kept), own]))
    outlets = tuple(outlet.area_after for outlet in impact.outlets)
    return TriedChange(
        passes=impact.passes,
        next_door=_rise(impact, RisesAt.NEXT_DOOR),
        house=_rise(impact, RisesAt.HOUSE),
        road=_rise(impact, RisesAt.ROAD),
        standing_before=impact.ponded_area_before,
        standing_after=impact.ponded_area_after,
        outlets=outlets,
        faults=impact.faults,
        same_ground=change.ground == check_sum(baseline.ground.heights),
        page={key: value for key, value in change.page.items() if abs(value - _figures(impact)[key]) > SAME},
        same_outlets=np.array_equal(outlets, change.outlets),
    )


def _rise(impact: Impact, at: RisesAt) -> float:
    return next((rise.height for rise in impact.rises if rise.at is at), 0.0)


def _figures(impact: Impact) -> dict[str, float]:
    return {
        "next_door": _rise(impact, RisesAt.NEXT_DOOR),
        "house": _rise(impact, RisesAt.HOUSE),
        "road": _rise(impact, RisesAt.ROAD),
        "standing_before": impact.ponded_area_before,
        "standing_after": impact.ponded_area_after,
    }
