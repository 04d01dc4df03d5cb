"""The whole plan tried on the water: paths that would turn it are dug in, and what else does it is named."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shapely import Point

from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.units import say_length
from sitepipe.works.record import HoopHouse, Impact, LeftOut, Mound, Path, TippingPlace
from sitepipe.works.water.boundary import say_where
from sitepipe.works.water.impact import Baseline, weigh_impact
from sitepipe.works.water.outflows import SAME_OUTFLOW
from sitepipe.works.water.tipped import Tip, Tipped, height_of, say_works, tipped_works
from sitepipe.works.ways.paths import dig_in

TRIED_CELLS = 2_000_000
"""Cells that are drained again at most to find out which work turns the water; twice at least, eight times at most."""

LEAST_DUG = 1.0
"""Where less of a path than this may be dug it is left out. [m]"""

Weigher = Callable[[Sequence[Tipped]], Impact]


@dataclass(frozen=True, slots=True)
class WholePlan:
    """What the whole plan does to the water, the paths as they are to be laid, and what the user should know."""

    impact: Impact | None
    paths: tuple[Path, ...]
    left_out: tuple[LeftOut, ...]
    notes: tuple[str, ...]


def settle_plan(
    site: Site,
    baseline: Baseline,
    mounds: tuple[Mound, ...],
    house: HoopHouse | None,
    places: tuple[TippingPlace, ...],
    paths: tuple[Path, ...],
    settings: Settings,
) -> WholePlan:
    """Build everything that is tipped into the ground and weigh it as one.

    Where that fails, the paths nearest to the places at fault are dug in level with the ground, one after the other,
    as long as it helps; one that may not be dug where it lies is left out. What still fails is said with the works
    that do it: those without which it would not be.
    """
    works = tipped_works(site, baseline.elevation, mounds, house, places, paths, settings)
    if not works:
        return WholePlan(None, paths, (), ())

    def weigh(some: Sequence[Tipped]) -> Impact:
        return weigh_impact(site, baseline, mounds, height_of(some, site.grid), settings)

    tries = min(max(TRIED_CELLS // (site.grid.rows * site.grid.columns), 2), 8)
    impact, kept, reasons = _dig_in(works, weigh(works), weigh, tries)
    if impact.faults or impact.outlets:
        impact = _name_works(impact, kept, weigh, tries, site, settings)
    dug = {path.number: dig_in(path, site, settings) for path in paths if path.number in reasons}
    left_out = {
        number: LeftOut(path.joins, reasons[number], path.left_as_grass)
        for number, path in dug.items()
        if path.outline.area < LEAST_DUG * path.width
    }
    laid = tuple(dug.get(path.number, path) for path in paths if path.number not in left_out)
    notes = tuple(
        f"Path {path.number} is dug in level with the ground; tipped on top it would do harm: {reasons[path.number]}"
        for path in laid
        if path.is_dug_in
    )
    impact = replace(impact, built=say_works(kept, house, settings))
    return WholePlan(impact, laid, tuple(left_out.values()), notes)


def _dig_in(
    works: tuple[Tipped, ...], impact: Impact, weigh: Weigher, tries: int
) -> tuple[Impact, tuple[Tipped, ...], dict[int, str]]:
    """Take paths out of what is raised, nearest to the fault first, and keep each that makes a difference.

    Returns
    -------
    impact, what is still raised, and the fault for which each path was dug in
    """
    first, kept = impact, works
    reasons: dict[int, str] = {}
    left = {work.path for work in works if work.path is not None}
    while impact.faults and left and tries > 0:
        sentence, place = impact.faults[0]
        nearest = min((work for work in kept if work.path in left), key=lambda work: float(work.foot.distance(place)))
        left.discard(nearest.path)
        without = _without(kept, nearest)
        trial = weigh(without)
        tries -= 1
        if len(trial.faults) <= len(impact.faults) and trial.faults != impact.faults and nearest.path is not None:
            impact, kept = trial, without
            reasons[nearest.path] = sentence
    if impact.faults and left:
        bare = tuple(work for work in works if work.path is None)
        trial = weigh(bare)
        if not trial.faults:
            return trial, bare, {work.path: first.faults[0][0] for work in works if work.path is not None}
    return impact, kept, reasons


def _name_works(
    impact: Impact, works: tuple[Tipped, ...], weigh: Weigher, tries: int, site: Site, settings: Settings
) -> Impact:
    """Add to each fault and each outlet that grows which works do it, and what to do about the first fault."""
    trials: dict[str, Impact] = {}

    def without(work: Tipped) -> Impact:
        if work.name not in trials:
            trials[work.name] = weigh(_without(works, work))
        return trials[work.name]

    def that_do(place: Point, places: Callable[[Impact], list[Point]]) -> tuple[list[Tipped], Tipped]:
        nearest = sorted(works, key=lambda work: float(work.foot.distance(place)))[:tries]
        does = [
            work for work in nearest if all(other.distance(place) > SAME_OUTFLOW for other in places(without(work)))
        ]
        return does, nearest[0]

    outlets = []
    for outlet in impact.outlets:
        does, nearest = that_do(outlet.place, lambda trial: [other.place for other in trial.outlets])
        outlets.append(replace(outlet, done_by=_say_culprits(does, nearest)))
    faults, culprits = [], []
    for sentence, place in impact.faults:
        does, nearest = that_do(place, lambda trial: [other for _, other in trial.faults])
        faults.append((f"{sentence} {_say_culprits(does, nearest)}", place))
        culprits.append(does[0] if does else nearest)
    remedy = _remedy(culprits[0], say_where(faults[0][1], site, settings.units), settings) if faults else ""
    return replace(impact, faults=tuple(faults), remedy=remedy, outlets=tuple(outlets))


def _say_culprits(does: Sequence[Tipped], nearest: Tipped) -> str:
    if not does:
        return f"No one work does it alone; {nearest.name} lies nearest."
    told = " and ".join(_capital(work.name) if not index else work.name for index, work in enumerate(does[:3]))
    return f"{told} does it." if len(does) == 1 else f"{told} do it together."


def _without(works: Sequence[Tipped], one: Tipped) -> tuple[Tipped, ...]:
    return tuple(work for work in works if work is not one)


def _remedy(work: Tipped, where: str, settings: Settings) -> str:
    look = f"look at the place {where} in the next rain."
    if work.kind is Tip.PATH:
        return f"Dig the chips of {work.name} in, level with the ground, or lay the path another way; {look}"
    if work.kind is Tip.PAD:
        return f"Build the hoop house on its second choice of place, or leave the ground under it as it is; {look}"
    if work.kind is Tip.PILE:
        return f"Have the chips tipped at another place, or wheel them away before the next rain; {look}"
    gap = say_length(settings.mound.gap, settings.units)
    return f"Leave out {work.name} or open a gap of {gap} in it, so that the water goes where it went; {look}"


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
