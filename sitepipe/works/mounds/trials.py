"""Layouts built into the ground in turn until one leaves the neighbours' water alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from sitepipe.works.mounds.layout import Layout
from sitepipe.works.mounds.record import Mound, RefusedFill
from sitepipe.works.water.record import Impact, OutletChange, Rise

LAYOUTS_WEIGHED = 6
"""Layouts that are built and weighed whole before mounds are left out of the best."""
TURN_APART = 12.0
"""Layouts weighed one after the other differ by so much, or they would fail alike. [deg]"""


@dataclass(frozen=True, slots=True)
class Weighed:
    """A layout that was built: its mounds, the fills that would not do, and what it does to the water.

    ``spared`` is the harm of the best layout, for which another was taken or ``left_out`` mounds were left out.
    """

    layout: Layout
    mounds: tuple[Mound, ...]
    refused: tuple[RefusedFill, ...]
    impact: Impact
    spared: Rise | OutletChange | None = None
    left_out: int = 0

    @property
    def size(self) -> float:
        """Length of all crests. [m]."""
        return sum(float(mound.crest.length) for mound in self.mounds)


def settle_layout(layouts: Sequence[Layout], weigh: Callable[[Layout], Weighed]) -> Weighed:
    """Choose the best layout that passes; where none does, leave mounds out of the best until what is left passes.

    A plan that still fails with a single mound left is returned as it failed, with its faults.
    """
    tried: list[Layout] = []
    for layout in layouts:
        if len(tried) < LAYOUTS_WEIGHED and all(layout.turn_to(other) >= TURN_APART for other in tried):
            tried.append(layout)
    best = weigh(tried[0])
    if best.impact.passes or not best.mounds:
        return best
    pruned = _leave_out(best, weigh)
    for layout in tried[1:]:
        other = weigh(layout)
        if other.impact.passes and other.size >= pruned.size:
            return replace(other, spared=best.impact.faults[0])
    return pruned


def _leave_out(first: Weighed, weigh: Callable[[Layout], Weighed]) -> Weighed:
    weighed, dropped = first, 0
    while not weighed.impact.passes and len(weighed.layout.crests) > 1:
        place, crests = weighed.impact.faults[0].place, weighed.layout.crests
        middles = 0.5 * (crests[:, :2] + crests[:, 2:])
        nearest = int(np.argmin(np.hypot(middles[:, 0] - place.x, middles[:, 1] - place.y)))
        weighed = weigh(replace(weighed.layout, crests=np.delete(crests, nearest, axis=0)))
        dropped += 1
    if not weighed.impact.passes:
        return first
    return replace(weighed, spared=first.impact.faults[0], left_out=dropped)
