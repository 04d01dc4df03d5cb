"""What the plan does to the water, in sentences: next door, at the house, on the road, over the boundary."""

from __future__ import annotations

import math
from collections.abc import Iterator

from shapely import Point

from sitepipe.analysis import Analysis
from sitepipe.answers.names import called, capital, joined, shown, tame
from sitepipe.fields import Sayers
from sitepipe.saying import say_area, say_depth, say_distance, say_length, say_rain
from sitepipe.settings import Settings
from sitepipe.site import Kind, Ref, Site, Work
from sitepipe.units import Units, compass_word
from sitepipe.works.record import Plan
from sitepipe.works.water.outlets import LEAST_GROUND
from sitepipe.works.water.record import BoundaryChange, Impact, OutletChange, Rise, RisesAt
from sitepipe.works.ways.record import Path

WORTH_SAYING = 0.003
"""Flowing water that gets deeper by less is said not to. [m]"""
LEAST_SPREAD = 1.0
"""Standing water that covers less more is said not to spread. [m2]"""
LEAST_RISE = 0.001
"""Standing water that rises or falls by less is said not to change. [m]"""
NAMED_AT_MOST = 3

_RISES = {
    RisesAt.NEXT_DOOR: "beyond the boundary",
    RisesAt.HOUSE: "at the house",
    RisesAt.ROAD: "on the road",
}
_AT = {RisesAt.NEXT_DOOR: "next door", RisesAt.HOUSE: "at the walls", RisesAt.ROAD: "at the road"}
_CALLED = {
    Work.HOOP_HOUSE: "the pad of the hoop house",
    Work.TIPPING_PLACE: "the chip pile",
}


def say_impact(analysis: Analysis) -> tuple[str, ...]:
    """Say what the plan does to the water, before and after."""
    found, site, settings = analysis.plan.impact, analysis.site, analysis.settings
    if found is None:
        return ()
    built = joined(list(say_built(analysis.plan, settings)))
    tried = f" with {built} in place" if built else ""
    said = [f"Tried on the water{tried}. {verdict(found)}", say_standing(found, settings.units)]
    harms: tuple[Rise | OutletChange, ...] = (*found.rises, *found.outlets)
    said += [say_harm(harm, site, settings) for harm in harms if _is_told(harm)]
    said += _boundary(found, site, settings)
    if found.faults:
        said.append(say_remedy(found, site, settings))
    return tuple(said)


def sayers(analysis: Analysis) -> Sayers:
    """Return the sentences that the impact and what it holds tell beside their fields."""
    site, settings, units = analysis.site, analysis.settings, analysis.settings.units
    return {
        BoundaryChange: {"where": lambda change: say_stretch(change, site, units)},
        OutletChange: {
            "where": lambda outlet: say_outlet(outlet, site, units),
            "no_longer_leaves": lambda outlet: say_where(outlet.came_from, site, units) if outlet.came_from else "",
            "done_by": say_culprits,
        },
        Impact: {
            "built": lambda _: list(say_built(analysis.plan, settings)),
            "house": lambda found: say_change_at(found, RisesAt.HOUSE, units),
            "road": lambda found: say_change_at(found, RisesAt.ROAD, units),
            "faults": lambda found: [say_harm(fault, site, settings) for fault in found.faults],
            "remedy": lambda found: say_remedy(found, site, settings),
        },
    }


def verdict(found: Impact) -> str:
    """Say in one sentence what the plan does to the water next door."""
    if not found.passes:
        return "The plan changes the water at the boundary and must not be built so."
    if found.outlets:
        return "The plan backs no water up next door, but lets more of it leave there than now."
    return "The plan pushes no water next door."


def say_in_short(found: Impact, units: Units) -> str:
    """Say in a few words what the plan does to the water, that on the parcel not left out."""
    if not found.passes:
        return "It pushes water: see the caution."
    said = "More water leaves at one edge than now" if found.outlets else "No water is pushed next door"
    more = found.ponded_area_after - found.ponded_area_before
    return f"{said}; {say_area(more, units)} more stands here." if more >= LEAST_SPREAD else f"{said}."


def say_growth(found: Impact, units: Units) -> str:
    """Say how much more of the parcel stands under water than today, where it is enough to be seen; else nothing."""
    more = found.ponded_area_after - found.ponded_area_before
    return f"On the parcel standing water grows by {say_area(more, units)}." if more >= LEAST_SPREAD else ""


def say_standing(found: Impact, units: Units) -> str:
    """Say how much more of the parcel stands under water than today, and how much deeper.

    How much does today is one figure, that of the wet places; this one is taken on the ground of the trial.
    """
    more, deeper = found.ponded_area_after - found.ponded_area_before, found.deepest_after - found.deepest_before
    spread = "covers no more ground than today"
    if abs(more) >= LEAST_SPREAD:
        spread = f"covers {say_area(abs(more), units)} {'more' if more > 0.0 else 'less'} of the parcel than today"
    return f"Standing water then {spread} and is {deeper_said(deeper, units)}."


def deeper_said(deeper: float, units: Units) -> str:
    """Say how much deeper water stands or flows than today; a hair is nothing."""
    if abs(deeper) < WORTH_SAYING:
        return "no deeper"
    return f"at most {say_depth(abs(deeper), units)} {'deeper' if deeper > 0.0 else 'shallower'}"


def say_built(plan: Plan, settings: Settings) -> tuple[str, ...]:
    """Say what was built into the ground that was tried."""
    built = plan.impact.built if plan.impact is not None else ()
    mounds, paths = (sum(work.kind is kind for work in built) for kind in (Work.MOUND, Work.PATH))
    said = [f"{mounds} mound{'s' if mounds > 1 else ''} as built"] * bool(mounds)
    if paths:
        thick = say_length(settings.path.chip_depth, settings.units)
        said.append(f"{paths} path{'s' if paths > 1 else ''} with {thick} of chips")
    for work in built:
        if work.kind is Work.HOOP_HOUSE:
            raised = next(house.raised for house in plan.hoop_houses if house.number == work.number)
            said.append(f"{say_tipped(work)} ({say_length(raised, settings.units)} high)")
        elif work.kind is Work.TIPPING_PLACE:
            said.append(say_tipped(work))
    return tuple(said)


def say_tipped(work: Ref) -> str:
    """Name what is tipped for a work.

    Examples
    --------
    >>> say_tipped(Ref(Work.MOUND, 3)), say_tipped(Ref(Work.TIPPING_PLACE, 1))
    ('mound 3', 'the pile of chips at tipping place 1')
    """
    return _CALLED[Work(work.kind)].format(work.number) if work.kind in _CALLED else called(work)


def _is_told(harm: Rise | OutletChange) -> bool:
    """Tell whether a harm has a sentence of its own: all that fails, all that leaves, and a rise that may be seen."""
    return harm.fails or isinstance(harm, OutletChange) or (harm.at is RisesAt.NEXT_DOOR and harm.height >= LEAST_RISE)


def say_harm(harm: Rise | OutletChange, site: Site, settings: Settings) -> str:
    """Say what the water would do at a place, and which works do it."""
    told = _rise(harm, site, settings.units) if isinstance(harm, Rise) else _outlet(harm, site, settings.units)
    return f"{told}{' ' + say_culprits(harm) if harm.nearest is not None else ''}"


def _rise(rise: Rise, site: Site, units: Units) -> str:
    where, storm = say_where(rise.place, site, units), say_rain(rise.rain, units)
    higher = f"{say_depth(rise.height, units)} higher {_RISES[rise.at]} after {storm} of rain, {where}"
    return f"Water would stand {higher}." if rise.fails else f"Water would stand {higher}: less than counts as harm."


def _outlet(outlet: OutletChange, site: Site, units: Units) -> str:
    where = say_outlet(outlet, site, units)
    if outlet.fails and outlet.area_before < LEAST_GROUND:
        area = say_area(outlet.area_after, units)
        return f"Water from {area} would leave {where.replace(', ', ' where it did not, ', 1)}."
    moved = f"; much of that no longer leaves {say_where(outlet.came_from, site, units)}" if outlet.came_from else ""
    more = "More than twice as much water would leave" if outlet.fails else "More water leaves"
    return (
        f"{more} {where}: from {say_area(outlet.area_after, units)} of ground, where it was "
        f"{say_area(outlet.area_before, units)}{moved}. There it flows {say_sheet(outlet.flow_before, units)} today, "
        f"{say_sheet(outlet.flow_after, units)} with the plan."
    )


def say_outlet(outlet: OutletChange, site: Site, units: Units) -> str:
    """Say over which side of the boundary water leaves, and where."""
    return f"over the {compass_word(outlet.facing)} boundary, {say_where(outlet.place, site, units)}"


def say_stretch(change: BoundaryChange, site: Site, units: Units) -> str:
    """Say which stretch of the boundary is meant."""
    return f"{compass_word(change.facing)} boundary, {say_where(change.place, site, units)}"


def say_sheet(depth: float, units: Units) -> str:
    """Say how deep a sheet flows; deeper water is a stream."""
    return f"{say_depth(depth, units)} deep" if math.isfinite(depth) else "as a stream"


def say_culprits(harm: Rise | OutletChange) -> str:
    """Say which works do it; nothing where it was not asked."""
    if not harm.done_by:
        return f"No one work does it alone; {say_tipped(harm.nearest)} lies nearest." if harm.nearest else ""
    told = capital(" and ".join(say_tipped(work) for work in harm.done_by[:NAMED_AT_MOST]))
    return f"{told} {'does it' if len(harm.done_by) == 1 else 'do it together'}."


def say_remedy(found: Impact, site: Site, settings: Settings) -> str:
    """Say what to do about the first thing that fails the plan; nothing where nothing does."""
    if not found.faults:
        return ""
    fault = found.faults[0]
    work = fault.done_by[0] if fault.done_by else fault.nearest
    look = f"look at the place {say_where(fault.place, site, settings.units)} in the next rain."
    if work is None:
        return f"Change the plan there; {look}"
    if work.kind is Work.PATH:
        return f"Dig the chips of {say_tipped(work)} in, level with the ground, or lay the path another way; {look}"
    if work.kind is Work.HOOP_HOUSE:
        return f"Build the hoop house on its second choice of place, or leave the ground under it as it is; {look}"
    if work.kind is Work.TIPPING_PLACE:
        return f"Have the chips tipped at another place, or wheel them away before the next rain; {look}"
    gap = say_length(settings.mound.gap, settings.units)
    return f"Leave out {say_tipped(work)} or open a gap of {gap} in it, so that the water goes where it went; {look}"


def say_change_at(found: Impact, at: RisesAt, units: Units) -> str:
    """Say how standing water changes at the house or the road; nothing where none is drawn."""
    height = next((rise.height for rise in found.rises if rise.at is at), None)
    if height is None:
        return ""
    if abs(height) < LEAST_RISE:
        return f"Standing water {_AT[at]} does not change."
    return f"Standing water {_AT[at]} {'rises' if height > 0.0 else 'falls'} by {say_depth(abs(height), units)}."


def _boundary(found: Impact, site: Site, settings: Settings) -> Iterator[str]:
    """Say what leaves over the edge: no more than may, how deep the sheet is, and where there is a stream."""
    units = settings.units
    if not found.boundary:
        return
    if not found.outlets:
        yield "No outlet on the boundary gains much water."
    sheets = [change for change in found.boundary if math.isfinite(max(change.flow_before, change.flow_after))]
    if sheets:
        most = max(sheets, key=lambda change: max(change.flow_before, change.flow_after))
        deeper = max(0.0, *(change.flow_after - change.flow_before for change in sheets))
        yield (
            f"In the largest storm water flows over the boundary {say_sheet(most.flow_before, units)} today where it "
            f"is deepest ({say_stretch(most, site, units)}); with the plan it gets {deeper_said(deeper, units)}. "
            "Rough figures, without ditches and pipes."
        )
    streams = [change for change in found.boundary if change not in sheets]
    if streams:
        most = max(streams, key=lambda change: change.area_after)
        yield (
            f"A stream leaves over the {say_stretch(most, site, units)}: from {say_area(most.area_before, units)} of "
            f"ground today, from {say_area(most.area_after, units)} with the plan. How deep it runs is not known."
        )


def say_path_dug_in(path: Path, site: Site, settings: Settings) -> str:
    """Say why a path is dug in; nothing where it is not."""
    if path.dug_in_for is None:
        return ""
    reason = say_harm(path.dug_in_for, site, settings)
    return f"Path {path.number} is dug in level with the ground; tipped on top it would do harm: {reason}"


def say_where(place: Point, site: Site, units: Units) -> str:
    """Say where a place is from something that a person can stand at: a gate, a building, a corner."""
    marks = site.of_kind(Kind.GATE) or site.of_kind(Kind.FIXED_POINT) or site.of_kind(Kind.BUILDING)
    if not marks:
        return _from(place, site.parcel.centroid, "the middle of the parcel", units)
    mark = min(marks, key=lambda feature: float(feature.geometry.distance(place)))
    name = f"the {tame(mark.name).lower()}" if mark.kind is Kind.GATE else shown(mark)
    return _from(place, mark.geometry.centroid, name, units)


def _from(place: Point, origin: Point, name: str, units: Units) -> str:
    far = math.hypot(place.x - origin.x, place.y - origin.y)
    if far < 1.0:
        return f"at {name}"
    bearing = math.degrees(math.atan2(place.x - origin.x, place.y - origin.y))
    return f"{say_distance(far, units)} {compass_word(bearing)} of {name}"
