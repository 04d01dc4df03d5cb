"""The whole plan tried on the water: paths that would turn it are dug in, and what else does it is named."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shapely import Point

from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.units import say_length
from sitepipe.works.boundary import say_where
from sitepipe.works.impact import Baseline, weigh_impact
from sitepipe.works.record import HoopHouse, Impact, Mound, Path, TippingPlace
from sitepipe.works.tipped import Tipped, height_of, say_works, tipped_works

TRIED_CELLS = 2_000_000
"""Cells that are drained again at most to find out which work turns the water; twice at least, eight times at most."""

Weigher = Callable[[Sequence[Tipped]], Impact]


@dataclass(frozen=True, slots=True)
class WholePlan:
    """What the whole plan does to the water, the paths as they are to be laid, and what the user should know."""

    impact: Impact | None
    paths: tuple[Path, ...]
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
    as long as it helps. What still fails is said with the works that do it: those without which it would not be.
    """
    works = tipped_works(site, baseline.elevation, mounds, house, places, paths, settings)
    if not works:
        return WholePlan(None, paths, ())

    def weigh(some: Sequence[Tipped]) -> Impact:
        return weigh_impact(site, baseline, mounds, height_of(some, site.grid), settings)

    tries = min(max(TRIED_CELLS // (site.grid.rows * site.grid.columns), 2), 8)
    raised = weigh(works)
    impact, kept = _dig_in(works, raised, weigh, tries)
    if impact.faults:
        impact = _name_works(impact, kept, weigh, tries, site, settings)
    dug = {work.path for work in works} - {work.path for work in kept}
    laid = tuple(_dug_in(path, settings) if path.number in dug else path for path in paths)
    notes = tuple(
        f"Path {number} is dug in level with the ground: tipped on top it would change the water next door. "
        f"{raised.faults[0][0]}"
        for number in sorted(number for number in dug if number is not None)
    )
    return WholePlan(replace(impact, built=say_works(kept, house, settings)), laid, notes)


def _dig_in(works: Sequence[Tipped], impact: Impact, weigh: Weigher, tries: int) -> tuple[Impact, tuple[Tipped, ...]]:
    """Take paths out of what is raised, nearest to the fault first, and keep each that makes a difference."""
    kept = tuple(works)
    left = {work.path for work in works if work.path is not None}
    while impact.faults and left and tries > 0:
        place = impact.faults[0][1]
        nearest = min((work for work in kept if work.path in left), key=lambda work: float(work.foot.distance(place)))
        left.discard(nearest.path)
        without = tuple(work for work in kept if work is not nearest)
        trial = weigh(without)
        tries -= 1
        if len(trial.faults) <= len(impact.faults) and trial.faults != impact.faults:
            impact, kept = trial, without
    if impact.faults and left and any(work.path is None for work in kept):
        trial = weigh(tuple(work for work in works if work.path is None))
        if not trial.faults:
            return trial, tuple(work for work in works if work.path is None)
    return impact, kept


def _name_works(
    impact: Impact, works: tuple[Tipped, ...], weigh: Weigher, tries: int, site: Site, settings: Settings
) -> Impact:
    """Add to each fault which works do it, and to the plan what to do about the first."""
    faults, culprits = [], []
    for sentence, place in impact.faults:
        nearest = sorted(works, key=lambda work: float(work.foot.distance(place)))[:tries]
        does = [work for work in nearest if not _is_there(weigh(_without(works, work)), place)]
        told = " and ".join(_capital(work.name) if not index else work.name for index, work in enumerate(does[:3]))
        if len(does) == 1:
            faults.append((f"{sentence} {told} does it.", place))
        elif does:
            faults.append((f"{sentence} {told} do it together.", place))
        else:
            faults.append((f"{sentence} No one work does it alone; {nearest[0].name} lies nearest.", place))
        culprits.append(does[0] if does else nearest[0])
    return replace(
        impact,
        faults=tuple(faults),
        remedy=_remedy(culprits[0], say_where(faults[0][1], site, settings.units), settings),
    )


def _without(works: Sequence[Tipped], one: Tipped) -> tuple[Tipped, ...]:
    return tuple(work for work in works if work is not one)


def _is_there(impact: Impact, place: Point) -> bool:
    """Tell whether a fault at this place, or a few steps off, is still found."""
    return any(other.distance(place) <= 5.0 for _, other in impact.faults)


def _remedy(work: Tipped, where: str, settings: Settings) -> str:
    look = f"look at the place {where} in the next rain."
    if work.path is not None:
        return f"Dig the chips of {work.name} in, level with the ground, or lay the path another way; {look}"
    if work.name.startswith("the pad"):
        return f"Build the hoop house on its second choice of place, or leave the ground under it as it is; {look}"
    if work.name.startswith("the pile"):
        return f"Have the chips tipped at another place, or wheel them away before the next rain; {look}"
    gap = say_length(settings.mound.gap, settings.units)
    return f"Leave out {work.name} or open a gap of {gap} in it, so that the water goes where it went; {look}"


def _dug_in(path: Path, settings: Settings) -> Path:
    thick = say_length(settings.path.chip_depth, settings.units)
    return replace(
        path,
        cut=path.cut + path.chips,
        is_dug_in=True,
        why=f"{path.why} Dig it {thick} deep and lay the chips level with the ground.",
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
