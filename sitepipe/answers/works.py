"""What is proposed, in sentences: mounds, hoop house, trellises, paths, chips and what they do to the water."""

from __future__ import annotations

from collections.abc import Iterator

from sitepipe.analysis import Analysis
from sitepipe.answers import exclusions
from sitepipe.answers.hazards import left_out, thing_named
from sitepipe.answers.names import joined, tame
from sitepipe.scoring.record import Use
from sitepipe.units import (
    Units,
    compass_word,
    say_area,
    say_depth,
    say_distance,
    say_length,
    say_volume,
    say_work,
)
from sitepipe.works.own_shade import say_costs
from sitepipe.works.record import HoopHouse, Impact, Mound, Path, Quantity, Trellis
from sitepipe.works.water.tipped import LEAST_PAD

WORTH_SAYING = 0.003
"""Flowing water that gets deeper by less is said not to. [m]"""

SHEET = 0.0305
"""Water is a sheet up to about a tenth of a foot (TR-55, table 3-1). [m]"""
GATHERED = " Where they come out deeper than a sheet (an inch or so, 3 cm) water gathers, and they are too high."

_ZONE_WORDS = {
    Use.MOUND: "raised mounds",
    Use.WET_PLANTING: "wet-tolerant planting",
    Use.PATH: "paths",
    Use.KEEP_CLEAR: "ground to keep clear",
    Use.LEAVE: "ground to leave as it is",
}
_LIMIT_WORDS = {
    Use.MOUND: "limited most by",
    Use.WET_PLANTING: "limited most by",
    Use.PATH: "limited most by",
    Use.KEEP_CLEAR: "the largest because of",
}


def ground_for_uses(analysis: Analysis) -> tuple[str, ...]:
    """Say how much of the parcel belongs to which use, and what limits it."""
    units = analysis.settings.units
    said = []
    for use in Use:
        zones = [zone for zone in analysis.zones.zones if zone.use is use]
        if zones:
            largest = max(zones, key=lambda zone: (zone.area, -zone.number))
            numbers = joined([str(zone.number) for zone in zones])
            held = exclusions.limit(largest)
            limit = f"; {_LIMIT_WORDS[use]} {tame(held)}" if use in _LIMIT_WORDS and held else ""
            area = say_area(sum(zone.area for zone in zones), units)
            said.append(
                f"{_ZONE_WORDS[use].capitalize()}: {area} in zone{'s' if len(zones) > 1 else ''} {numbers}{limit}."
            )
    return tuple(said) or ("No zone could be drawn.",)


def mounds(analysis: Analysis) -> tuple[str, ...]:
    """Say each mound: what for, how high to build it, what it settles to, how wide, how much fill."""
    units = analysis.settings.units
    if not analysis.plan.mounds:
        return ("No mound is proposed.",)
    said, reason = [], ""
    for mound in analysis.plan.mounds:
        said.append(_mound(mound, units) + (f" {mound.why}" if mound.why != reason else ""))
        reason = mound.why
    return tuple(said)


def _mound(mound: Mound, units: Units) -> str:
    height, name = mound.height, f"Mound {mound.number}, for {tame(mound.crops)}"
    if height.finished <= 0.0:
        return f"{name}: no height is needed here."
    return (
        f"{name}: build it {say_length(height.built, units)} high, it settles to "
        f"{say_length(height.finished, units)}; {say_length(mound.base_width, units)} across "
        f"and {say_distance(mound.length, units)} long at its foot, {say_volume(mound.volume, units)} of "
        f"{tame(mound.fill)}."
    )


def structures(analysis: Analysis) -> tuple[str, ...]:
    """Say where the hoop house and the trellises go, or why there is no place for them."""
    plan, units = analysis.plan, analysis.settings.units
    said = [_hoop_house(house, units) for house in plan.hoop_houses]
    if not plan.hoop_houses:
        said.extend(f"Hoop house: {reason}" for reason, _ in plan.hoop_house_refusals[:3])
    said.extend(_trellis(trellis, units) for trellis in plan.trellises)
    if plan.hoop_houses or plan.trellises:
        said.append(say_costs(plan.shade_costs))
    return tuple(said)


def _hoop_house(house: HoopHouse, units: Units) -> str:
    place = "Hoop house" if house.rank == 1 else f"Hoop house, choice {house.rank}"
    return (
        f"{place}: {say_length(house.length, units)} by {say_length(house.width, units)}, "
        f"ridge running {_ridge(house.bearing)}. {house.why}{_pad(house, units)}"
    )


def _pad(house: HoopHouse, units: Units) -> str:
    if house.rank > 1 or house.raised <= LEAST_PAD:
        return ""
    fill = say_volume(house.raised * float(house.outline.area), units)
    return f" Its raised floor takes about {fill} of firm fill, more on a slope; that is not in the list below."


def _trellis(trellis: Trellis, units: Units) -> str:
    return (
        f"Trellis {trellis.number}: {say_distance(trellis.line.length, units)} long, "
        f"{say_length(trellis.height, units)} high, running {_ridge(trellis.bearing)}; {trellis.posts} posts, "
        f"{say_length(trellis.post_depth, units)} in the ground. {trellis.why}"
    )


def _ridge(bearing: float) -> str:
    return f"{compass_word(bearing)} to {compass_word(bearing + 180.0)}"


def paths(analysis: Analysis) -> tuple[str, ...]:
    """Say where paths run, how wide, and the chips that they take."""
    if not analysis.plan.paths and not analysis.plan.left_out:
        return ("No path is proposed.",)
    said = [_path(path, analysis) for path in analysis.plan.paths]
    return (*said, *(left_out(analysis, path) for path in analysis.plan.left_out))


def _path(path: Path, analysis: Analysis) -> str:
    start, end = (tame(name) for name in path.joins)
    units = analysis.settings.units
    return (
        f"Path {path.number}, from {start} to {end}: {say_distance(path.line.length, units)} long, "
        f"{say_length(path.width, units)} wide, {say_volume(path.chips, units)} of chips. {path.why}"
        f"{dug_in(path, analysis)}"
    )


def dug_in(path: Path, analysis: Analysis) -> str:
    """Say that a path is dug in, and where it is not; empty where it lies on the ground."""
    units = analysis.settings.units
    if not path.is_dug_in:
        return ""
    thick = say_length(analysis.settings.path.chip_depth, units)
    said = f" Dig it {thick} deep and lay the chips level with the ground."
    if path.grass_length < 0.01:
        return said
    beside = joined(list(dict.fromkeys(thing_named(analysis, thing) for thing in path.left_as_grass)))
    return f"{said} Leave {say_distance(path.grass_length, units)} of it as grass, undug, beside {beside}."


def chips(analysis: Analysis) -> tuple[str, ...]:
    """Say what it takes in all, what of it is free, and where a truck may tip."""
    plan, units = analysis.plan, analysis.settings.units
    said = []
    for quantity in plan.quantities:
        note = f" {quantity.note}" if quantity.note else ""
        said.append(f"{tame(quantity.material).capitalize()}: {_quantity(quantity, units)}.{note}")
    if plan.tipping_places:
        said.append(f"Where to tip chips: {plan.tipping_places[0].access} {plan.tipping_places[0].why}")
    hours = sum(job.people_hours for job in plan.jobs)
    if plan.jobs:
        said.append(f"{len(plan.jobs)} jobs, about {say_work(hours)} of work in all; the map lists them.")
    return tuple(said)


def _quantity(quantity: Quantity, units: Units) -> str:
    """Say how much in all, how much of it in the first year and later, what tops up and what is bought."""
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
    if quantity.to_buy > 0.05:
        said += f"; {say_volume(quantity.to_buy, units)} to buy"
    return said


def _carried(loads: float, barrows: int) -> str:
    said = f"{loads:.1f}".removesuffix(".0")
    return f"{said} load{'' if said == '1' else 's'} or {barrows:,} barrow{'' if barrows == 1 else 's'}"


def impact(analysis: Analysis) -> tuple[str, ...]:
    """Say what the plan does to the water, before and after."""
    found, units = analysis.plan.impact, analysis.settings.units
    if found is None:
        return ()
    verdict = (
        "changes the water at the boundary and must not be built so"
        if not found.passes
        else "pushes no water next door"
        if not found.outlets
        else "backs no water up next door, but lets more of it leave there than now"
    )
    areas = (say_area(area, units) for area in (found.ponded_area_before, found.ponded_area_after))
    depths = (say_depth(depth, units) for depth in (found.deepest_before, found.deepest_after))
    built = f" with {joined(list(found.built))} built into the ground" if found.built else ""
    said = [f"Tried against the drainage{built}, the plan {verdict}."]
    said.append(f"Standing water covers {' before and '.join(areas)} after, at most {' and '.join(depths)} deep.")
    said.extend(fault for fault, _ in found.faults)
    said.extend(_outlets(found, analysis))
    if found.remedy:
        said.append(found.remedy)
    return tuple(said)


def _outlets(found: Impact, analysis: Analysis) -> Iterator[str]:
    """Say what leaves over the edge: where more than before, and how deep it flows at the storm's peak."""
    units, share = analysis.settings.units, analysis.settings.mound.outlet_growth
    for outlet in found.outlets:
        moved = f"; much of that no longer leaves {outlet.came_from}" if outlet.came_from else ""
        yield (
            f"More water leaves {outlet.where}: from {say_area(outlet.area_after, units)} of ground, where it was "
            f"{say_area(outlet.area_before, units)}{moved}. There it flows {_deep(outlet.flow_before, units)} now and "
            f"{_deep(outlet.flow_after, units)} then."
            f"{' ' if outlet.done_by else ''}{outlet.done_by}"
        )
    if not found.outlets and found.boundary:
        yield f"No outlet on the boundary drains more ground than now by over {round(100.0 * share)} in 100."
    if found.boundary:
        most = max(found.boundary, key=lambda change: (max(change.flow_before, change.flow_after), change.where))
        deeper = max(change.flow_after - change.flow_before for change in found.boundary)
        grows = f"at most {say_depth(deeper, units)} deeper than now" if deeper >= WORTH_SAYING else "deeper than now"
        where = "anywhere it gets " if deeper >= WORTH_SAYING else "nowhere does it get "
        yield (
            f"At the peak of the largest storm water flows over the boundary {_deep(most.flow_before, units)} now and "
            f"{_deep(most.flow_after, units)} then where it is deepest ({most.where}); {where}{grows}. Rough figures: "
            "Manning's formula for a sheet through dense grass, at the peak of TR-55; ditches and pipes are left out."
            + (GATHERED if max(most.flow_before, most.flow_after) > SHEET else "")
        )


def _deep(depth: float, units: Units) -> str:
    return f"{say_depth(depth, units)} deep"


def drain_instead(analysis: Analysis) -> tuple[str, ...]:
    """Say whether a ditch would do instead, and why or why not."""
    drain = analysis.plan.drain
    if drain is None:
        return ()
    return (f"A ditch instead: {'possible' if drain.is_possible else 'no'}. {drain.why}",)
