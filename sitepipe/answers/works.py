"""What is proposed, in sentences: mounds, hoop house, trellises, paths, chips and what they do to the water."""

from __future__ import annotations

import math
from collections.abc import Iterator

from sitepipe.analysis import Analysis
from sitepipe.answers import exclusions, houses, rows, stock, water, ways
from sitepipe.answers.impact import say_path_dug_in
from sitepipe.answers.mounds import say_notes
from sitepipe.answers.names import NUMBERS, count, joined, letters, tame
from sitepipe.saying import say_area, say_distance, say_length, say_volume, say_work
from sitepipe.scoring.record import Use
from sitepipe.settings import Settings
from sitepipe.site import Ref
from sitepipe.works.jobs.materials import CHIPS, DUG, FILL, LOGS, SODS, SOIL
from sitepipe.works.jobs.record import Quantity
from sitepipe.works.water.drain import ROOTS_WANTED
from sitepipe.works.water.record import DitchVerdict, DrainAdvice

DAY = 6.0
"""Hours that a crew works on a day: common practice, no source. [h]"""

_ZONE_WORDS = {
    Use.MOUND: "raised mounds",
    Use.WET_PLANTING: "wet-tolerant planting",
    Use.PATH: "paths",
    Use.KEEP_CLEAR: "ground to keep clear",
    Use.LEAVE: "ground to leave as it is",
}
_LIMIT_WORDS = {
    Use.MOUND: "its weak point:",
    Use.WET_PLANTING: "its weak point:",
    Use.PATH: "its weak point:",
    Use.KEEP_CLEAR: "the largest is for",
}


def ground_for_uses(analysis: Analysis) -> tuple[str, ...]:
    """Say how much of the parcel belongs to which use, and what limits it."""
    units = analysis.settings.units
    said = []
    for use in Use:
        zones = [zone for zone in analysis.zones.zones if zone.use is use]
        if zones:
            largest = max(zones, key=lambda zone: (zone.area, -zone.number))
            names = joined([letters(zone.number) for zone in zones])
            held = exclusions.limit(largest)
            limit = f"; {_LIMIT_WORDS[use]} {tame(held)}" if use in _LIMIT_WORDS and held else ""
            area = say_area(sum(zone.area for zone in zones), units)
            said.append(f"{_ZONE_WORDS[use].capitalize()}: {area}, ground {names}{limit}.")
    return tuple(said) or ("No zone could be drawn.",)


def structures(analysis: Analysis) -> tuple[str, ...]:
    """Say where the hoop house and the trellises go, or why there is no place for them."""
    said = (*houses.houses(analysis), *rows.rows(analysis), *rows.arches(analysis), *water.swales(analysis))
    plan = analysis.plan
    return (*said, rows.own_shade(plan.shade_costs)) if plan.hoop_houses or plan.trellises else said


def notes(analysis: Analysis) -> Iterator[str]:
    """Say what else there is to know of the plan."""
    yield from say_notes(analysis)
    yield from ways.notes(analysis)
    said = (say_path_dug_in(path, analysis.site, analysis.settings) for path in analysis.plan.paths)
    yield from (why for why in said if why)


LAW = "Ask before you dig: the outlet must be yours or permitted, and wet ground may be protected."
MATERIAL_NOTES = {
    CHIPS: "Mixed chips from tree work; no black walnut near crops that it poisons, nothing painted or "
    "pressure-treated. Keep them out of the paths of water: they float.",
    LOGS: "Any rotting wood but treated wood; two people to a wet log, and keep it from walls and fences.",
    SOIL: "Topsoil and ripe compost, no clay and no subsoil on top; ask for a lead test of soil from a roadside. "
    "Manure, hay and straw may carry weedkillers that outlive composting: ask, then see whether beans grow in it.",
    SODS: "Once the buried lines are marked: upside down, joints broken; none with couch, reed canary grass or mint.",
    DUG: "Only once the buried lines are marked; topsoil only, and not from the ground that stores the storm.",
    FILL: "For the raised floor of the hoop house: gravel or firm subsoil, tamped in layers.",
}
"""What to look at in each material."""


def chips(analysis: Analysis) -> tuple[str, ...]:
    """Say what is short, what it takes in all, what of it is found, in which year, and where a truck may tip."""
    plan, settings = analysis.plan, analysis.settings
    said = [*stock.short(analysis), *stock.waits(analysis)]
    for quantity in plan.quantities:
        note = f" {MATERIAL_NOTES[quantity.material]}" if quantity.material in MATERIAL_NOTES else ""
        said.append(f"{tame(quantity.material).capitalize()}: {_quantity(quantity, settings)}.{note}")
    said += [*stock.articles(analysis), *stock.left_over(analysis), *stock.years(analysis)]
    if plan.tipping_places:
        first = plan.tipping_places[0]
        said.append(f"Where to tip chips: {ways.tipping_access(first, analysis)} {ways.tipping_why(first, analysis)}")
    hours = sum(job.people_hours for job in plan.jobs)
    if plan.jobs:
        jobs = f"{len(plan.jobs)} job{'s' if len(plan.jobs) > 1 else ''}"
        said.append(f"{jobs}, {say_work(hours)} of work in all: {days_said(hours, analysis.settings.jobs.people)}.")
    return tuple(said)


def days_said(hours: float, people: int) -> str:
    """Say how many days a crew needs for some hours of work.

    Examples
    --------
    >>> days_said(170.0, 3)
    'about nine Saturdays for three'
    """
    days = max(math.ceil(hours / (DAY * people) - 0.5), 1)
    return f"about {count(days, 'Saturday')} for {NUMBERS[people] if people < len(NUMBERS) else people}"


def _quantity(quantity: Quantity, settings: Settings) -> str:
    """Say how much in all, how much of it in the first year and later, what tops up and what is bought."""
    units = settings.units
    said = f"{say_volume(quantity.volume, units)}, {_carried(quantity.loads, quantity.barrows)}"
    later = quantity.volume - quantity.first_year
    if later > 1e-6 and quantity.first_year <= 0.0:
        said += ", none of it in the first year"
    elif later > 1e-6:
        first = _carried(quantity.first_loads, quantity.first_barrows)
        rest = _carried(quantity.loads - quantity.first_loads, quantity.barrows - quantity.first_barrows)
        said += (
            f": {say_volume(quantity.first_year, units)} in the first year ({first}), "
            f"{say_volume(later, units)} later ({rest})"
        )
    if quantity.top_ups > 1e-6:
        said += f"; {say_volume(quantity.top_ups, units)} of it tops up crests that have sunk"
    if to_find := stock.say_to_find(quantity, settings):
        said += f"; {to_find} of it to find or buy"
    return said


def _carried(loads: float, barrows: int) -> str:
    said = f"{loads:.1f}".removesuffix(".0")
    return f"{said} load{'' if said == '1' else 's'} or {barrows:,} barrow{'' if barrows == 1 else 's'}"


def drain_instead(analysis: Analysis) -> tuple[str, ...]:
    """Say whether a ditch would do instead, and why or why not."""
    drain = analysis.plan.drain
    if drain is None:
        return ()
    return (f"A ditch instead: {'possible' if drain.is_possible else 'no'}. {ditch_why(drain, analysis)}",)


def ditch_why(drain: DrainAdvice, analysis: Analysis) -> str:
    """Say what a ditch would need and give, or what stands against it."""
    units, options = analysis.settings.units, analysis.settings.mound
    outlet = f"the {_plain(drain.outlet, analysis)}" if drain.outlet is not None else ""
    if drain.verdict is DitchVerdict.NO_OUTLET:
        return (
            "No ditch, stream or pipe is drawn on the parcel or at its edge, and water may not be led onto the "
            f"neighbour's ground or the road. {LAW}"
        )
    if drain.verdict is DitchVerdict.AT_OUTLET:
        return f"The wettest ground lies at {outlet} already; a ditch would not take its water further. {LAW}"
    if drain.fall is None or drain.needed is None or drain.length is None or drain.spacing is None:
        return f"The heights do not cover the way to {outlet}. {LAW}"
    if drain.verdict is DitchVerdict.CROSSES:
        crossed = ", ".join(f"the {name}" for name in dict.fromkeys(_plain(thing, analysis) for thing in drain.crossed))
        return f"The straight way to {outlet} has the fall, but it would cross {crossed}."
    sizes = (
        f"{say_length(options.ditch_depth, units)} deep in the wettest ground it starts "
        f"{say_length(abs(drain.fall), units)} {'higher' if drain.fall >= 0.0 else 'lower'} than {outlet}, "
        f"{say_distance(drain.length, units)} away, and must start {say_length(drain.needed, units)} higher"
    )
    if drain.verdict is DitchVerdict.TOO_LOW:
        return f"A ditch has nowhere to drain: {sizes}. So raise the roots instead."
    return (
        f"A ditch or drain to {outlet} has the fall: {sizes}. Parallel drains "
        f"{say_distance(drain.spacing, units)} apart would hold the water {say_length(ROOTS_WANTED, units)} down. "
        f"{LAW} Call 811 first, and never dig deeper than your waist."
    )


def _plain(thing: Ref, analysis: Analysis) -> str:
    return tame(analysis.site.feature(thing).name).lower()
