"""Layouts built into the ground in turn until one leaves the neighbours' water alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.works.mounds.layout import Layout
from sitepipe.works.record import Impact, Mound
from sitepipe.works.water.impact import Baseline, raise_mounds, weigh_impact

LAYOUTS_WEIGHED = 6
"""Layouts that are built and weighed whole before mounds are left out of the best."""
TURN_APART = 12.0
"""Layouts weighed one after the other differ by so much, or they would fail alike. [deg]"""

Builder = Callable[[Layout], tuple[tuple[Mound, ...], tuple[str, ...]]]


def settle_layout(
    site: Site, baseline: Baseline, layouts: Sequence[Layout], build: Builder, settings: Settings
) -> tuple[tuple[Mound, ...], Impact, tuple[str, ...]]:
    """Choose the best layout that passes; where none does, leave mounds out of the best until what is left passes.

    Returns
    -------
    mounds, impact, notes
        A plan that still fails with a single mound left is returned as it failed, with its faults.
    """

    def weigh(layout: Layout) -> tuple[tuple[Mound, ...], Impact, tuple[str, ...]]:
        mounds, notes = build(layout)
        added = raise_mounds(site, baseline.elevation, mounds, settings)
        return mounds, weigh_impact(site, baseline, mounds, added, settings), notes

    tried: list[Layout] = []
    for layout in layouts:
        if all(_turn(layout, other) >= TURN_APART for other in tried):
            tried.append(layout)
        if len(tried) == LAYOUTS_WEIGHED:
            break
    best = weigh(tried[0])
    if best[1].passes or not best[0]:
        return best
    pruned = _leave_out(tried[0], best, weigh)
    for layout in tried[1:]:
        mounds, impact, notes = weigh(layout)
        if impact.passes and _size(mounds) >= _size(pruned[0]):
            turned = "The best direction would have changed the water next door; the next best is taken."
            return mounds, impact, (*notes, turned)
    return pruned


def _leave_out(
    layout: Layout,
    weighed: tuple[tuple[Mound, ...], Impact, tuple[str, ...]],
    weigh: Callable[[Layout], tuple[tuple[Mound, ...], Impact, tuple[str, ...]]],
) -> tuple[tuple[Mound, ...], Impact, tuple[str, ...]]:
    first = weighed
    dropped = 0
    while not weighed[1].passes and len(layout.crests) > 1:
        place = weighed[1].faults[0][1]
        middles = 0.5 * (layout.crests[:, :2] + layout.crests[:, 2:])
        nearest = int(np.argmin(np.hypot(middles[:, 0] - place.x, middles[:, 1] - place.y)))
        layout = replace(layout, crests=np.delete(layout.crests, nearest, axis=0))
        weighed = weigh(layout)
        dropped += 1
    if not weighed[1].passes:
        return first
    said = (
        f"{dropped} mound{'s were' if dropped > 1 else ' was'} left out, since with "
        f"{'them' if dropped > 1 else 'it'} the water next door would have changed: {first[1].faults[0][0]}"
    )
    return weighed[0], weighed[1], (*weighed[2], said)


def _turn(one: Layout, other: Layout) -> float:
    return abs((one.bearing - other.bearing + 90.0) % 180.0 - 90.0)


def _size(mounds: Sequence[Mound]) -> float:
    return sum(float(mound.crest.length) for mound in mounds)
