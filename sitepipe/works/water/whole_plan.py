"""The whole plan tried on the water: paths that would turn it are dug in, and what else does it is named."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TypeVar

from sitepipe.site import Ref
from sitepipe.works.built import Built, these
from sitepipe.works.land import Land
from sitepipe.works.water.boundary import PIECE
from sitepipe.works.water.impact import Baseline, weigh_impact
from sitepipe.works.water.outlets import SAME_OUTLET
from sitepipe.works.water.record import Impact, OutletChange, Rise
from sitepipe.works.water.tipped import Tipped, rows_of, tipped_works
from sitepipe.works.ways.paths import dig_in
from sitepipe.works.ways.record import LeftOut, Path

TRIED_CELLS = 2_000_000
"""Cells that are drained again at most to find out which work turns the water; twice at least, eight times at most."""
LEAST_HELP = 0.01
"""Of the sum of harm: a path is not dug in for less, our own choice. [1]"""
LEAST_DUG = 1.0
"""Where less of a path than this may be dug it is left out. [m]"""

Weigher = Callable[[Sequence[Tipped]], Impact]
Harm = TypeVar("Harm", Rise, OutletChange)


def settle_plan(
    land: Land,
    baseline: Baseline,
    works: Sequence[Built],
) -> tuple[Impact | None, tuple[Path, ...], tuple[LeftOut, ...]]:
    """Build everything that is tipped into the ground and weigh it as one.

    Where that fails, the proposed paths nearest to the places at fault are dug in level with the ground, one after the
    other, as long as it helps; one that may not be dug where it lies is left out. What still fails is told with the
    works that do it: those without which it would not be.

    Returns
    -------
    impact, the paths as they are to be laid, those left out
    """
    grid = land.site.grid
    paths, tipped = these(Path, works), tipped_works(land, baseline.ground, works)
    if not tipped:
        return None, paths, ()

    def weigh(some: Sequence[Tipped]) -> Impact:
        return weigh_impact(land, baseline, rows_of(some))

    tries = min(max(TRIED_CELLS // (grid.rows * grid.columns), 2), 8)
    impact, kept, reasons = _dig_in(tipped, weigh(tipped), weigh, tries)
    impact = _name_works(impact, kept, weigh, tries)
    laid: list[Path] = []
    left_out: list[LeftOut] = []
    for path in paths:
        harm = reasons.get(path.number)
        dug = path if harm is None else replace(dig_in(path, land.site, land.settings), dug_in_for=harm)
        if harm is None or dug.outline.area >= LEAST_DUG * path.width:
            laid.append(dug)
        else:
            left_out.append(LeftOut(path.joins, harm, dug.left_as_grass))
    return replace(impact, built=tuple(work.work for work in kept)), tuple(laid), tuple(left_out)


def _dig_in(
    works: tuple[Tipped, ...], impact: Impact, weigh: Weigher, tries: int
) -> tuple[Impact, tuple[Tipped, ...], dict[int, Rise | OutletChange]]:
    """Take paths out of what is raised, nearest to the fault first, and keep each that makes a difference.

    Returns
    -------
    impact, what is still raised, and the fault for which each path was dug in
    """
    first, kept = impact, works
    reasons: dict[int, Rise | OutletChange] = {}
    left = [work for work in works if work.may_go]
    while impact.faults and left and tries > 0:
        fault = impact.faults[0]
        left.sort(key=lambda work: float(work.foot.distance(fault.place)))
        nearest = left.pop(0)
        without = _without(kept, nearest)
        trial = weigh(without)
        tries -= 1
        if harm_of(trial) < harm_of(impact) - LEAST_HELP:
            impact, kept = trial, without
            reasons[nearest.work.number] = fault
            left = [work for work in kept if work.may_go]
    if impact.faults and left:
        bare = tuple(work for work in works if not work.may_go)
        trial = weigh(bare)
        if trial.passes:
            dug = (work.work.number for work in works if work.may_go)
            return trial, bare, dict.fromkeys(dug, first.faults[0])
    return impact, kept, reasons


def harm_of(impact: Impact) -> float:
    """Add the faults up: rises in centimetres, ground that an outlet gains in hundreds of square metres."""
    return sum(
        100.0 * fault.height if isinstance(fault, Rise) else (fault.area_after - fault.area_before) / 100.0
        for fault in impact.faults
    )


def _name_works(impact: Impact, works: tuple[Tipped, ...], weigh: Weigher, tries: int) -> Impact:
    """Add to each fault and each outlet that grows which works do it."""
    trials: dict[Ref, Impact] = {}

    def without(work: Tipped) -> Impact:
        if work.work not in trials:
            trials[work.work] = weigh(_without(works, work))
        return trials[work.work]

    def is_gone(harm: Harm, trial: Impact) -> bool:
        others = trial.faults if harm.fails else trial.outlets
        return all(other.place.distance(harm.place) > SAME_OUTLET * PIECE for other in others)

    def named(harm: Harm) -> Harm:
        nearest = sorted(works, key=lambda work: float(work.foot.distance(harm.place)))[:tries]
        does = tuple(work.work for work in nearest if is_gone(harm, without(work)))
        return replace(harm, done_by=does, nearest=nearest[0].work)

    return replace(
        impact,
        rises=tuple(named(rise) if rise.fails else rise for rise in impact.rises),
        outlets=tuple(named(outlet) for outlet in impact.outlets),
    )


def _without(works: Sequence[Tipped], one: Tipped) -> tuple[Tipped, ...]:
    return tuple(work for work in works if work is not one)
