"""What comes near to a buried line, a field, a well, walls, roots, the boundary or a road, in sentences."""

from __future__ import annotations

from collections.abc import Iterable

from sitepipe.analysis import Analysis
from sitepipe.answers.names import capital, joined, shown, spoken
from sitepipe.saying import say_distance, say_length
from sitepipe.site import Kind, Ref
from sitepipe.units import INCH, Units
from sitepipe.works.hazards import Hazard, Part

MOST_STEPS = 20
"""From 10 ft or 2 m on a distance is said as one to walk."""

_PARTS = {
    Part.POST: "its posts stand",
    Part.SWALE: "its swale runs",
    Part.CUT: "it is dug",
    Part.FOOT: "its foot lies",
    Part.PAD: "its pad lies",
    Part.PILE: "the pile lies",
    Part.TRUCK_WAY: "the truck drives",
}
CARE = {
    Kind.BURIED_LINE: "have it marked first, dig by hand",
    Kind.SEPTIC: "no wheel, spade or load on it; the local health code decides",
    Kind.WELL: "keep compost and fuel from it; the local health code decides",
    Kind.BUILDING: "water must run away from the wall; the local code decides",
    Kind.WALL: "leave its footing as it is",
    Kind.TREE: "dig by hand and cut no thick root",
    Kind.HEDGE: "dig by hand and cut no thick root",
    Kind.PARCEL: "be sure where the line runs",
    Kind.ROAD: "have the soil tested for lead before it is dug",
}


def near_work(analysis: Analysis, work: Ref) -> tuple[str, ...]:
    """Say everything that the parts of one work come near to, what is nearest to its rule first."""
    return _sentences(analysis, (hazard for hazard in analysis.plan.hazards if hazard.work == work))


def near_stake(analysis: Analysis, label: str) -> str:
    """Say what one stake stands near to, for a column beside its tapes; empty where there is nothing."""
    own = sorted((h.distance, thing_named(analysis, h.thing)) for h in analysis.plan.hazards if h.label == label)
    return joined([f"{say_length(far, analysis.settings.units)} from {name}" for far, name in own])


def thing_named(analysis: Analysis, thing: Ref) -> str:
    """Return what a drawn thing is called in a sentence; number 0 is the boundary."""
    return shown(analysis.site.feature(thing)) if thing.number else "the boundary"


def all_near(analysis: Analysis) -> tuple[str, ...]:
    """Say what each work of the plan comes near to, a sentence for each."""
    works = dict.fromkeys(hazard.work for hazard in _built(analysis))
    told = []
    for work in works:
        name = spoken(work, analysis.site)
        told += [f"{capital(name)}: {sentence}" for sentence in near_work(analysis, work)]
    return tuple(told)


def near_lines(analysis: Analysis) -> tuple[str, ...]:
    """Say for each buried line, field or other thing that is come too near to, which works are near and what to do."""
    works: dict[Ref, dict[Ref, float]] = {}
    for hazard in sorted(_built(analysis), key=lambda one: one.distance):
        if hazard.thing.kind in (Kind.BURIED_LINE, Kind.SEPTIC) or not hazard.is_kept:
            works.setdefault(hazard.thing, {}).setdefault(hazard.work, hazard.distance)
    told = []
    for thing, near in works.items():
        each = joined(
            [f"{spoken(work, analysis.site)} ({_apart(far, analysis.settings.units)})" for work, far in near.items()]
        )
        told.append(f"Near {thing_named(analysis, thing)}: {each}; {CARE[Kind(thing.kind.value)]}.")
    return tuple(told)


def _built(analysis: Analysis) -> list[Hazard]:
    """Return the hazards of what is built: of houses and tipping places not those of other places."""
    built = {work.ref for work in analysis.plan.works}
    return [hazard for hazard in analysis.plan.hazards if hazard.work in built]


def _apart(metres: float, units: Units) -> str:
    """Say how far apart things are: to half a foot or ten centimetres, from ten steps on as a distance to walk."""
    step = 6.0 * INCH if units is Units.IMPERIAL else 0.1
    steps = round(metres / step)
    return say_length(steps * step, units) if steps <= MOST_STEPS else say_distance(metres, units)


def _sentences(analysis: Analysis, hazards: Iterable[Hazard]) -> tuple[str, ...]:
    units = analysis.settings.units
    groups: dict[tuple[Part, Ref], list[Hazard]] = {}
    for hazard in sorted(hazards, key=lambda one: (one.is_kept, one.distance - one.rule)):
        groups.setdefault((hazard.part, hazard.thing), []).append(hazard)
    told = []
    for (part, thing), found in groups.items():
        worst = found[0]
        who = _PARTS.get(part) or (
            f"stake{'s' if len(found) > 1 else ''} {joined([one.label for one in found])} "
            f"stand{'' if len(found) > 1 else 's'}"
        )
        where = f"{_apart(worst.distance, units)} from" if worst.distance > 0.0 else "on or under"
        short = f", not {_apart(worst.rule, units)}" if worst.rule > 0.0 else ""
        rule = f" (at least {_apart(worst.rule, units)})" if worst.is_kept else short
        told.append(f"{who} {where} {thing_named(analysis, thing)}{rule}: {CARE[Kind(thing.kind.value)]}.")
    return tuple(told)
