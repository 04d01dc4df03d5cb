"""What a change does that is tried on the page, as patterns that the page fills in, and what a run says of it again."""

from __future__ import annotations

from collections.abc import Iterator

from sitepipe.analysis import Analysis
from sitepipe.answers.impact import LEAST_RISE, LEAST_SPREAD, say_harm
from sitepipe.answers.names import count, joined
from sitepipe.saying import say_area, say_depth
from sitepipe.units import Units

PATTERNS = {
    # Next door, at the house, on the road.
    "same": "No change.",
    "untold": "No rise that the heights can tell ({tell}).",
    "rises": "Water would stand {height} higher after {rain} of rain, {where} (the heights can tell {tell}).",
    "fails": "{rises} Do not build it so.",
    "falls": "Water stands {height} lower than now.",
    "no_house": "No house and no road are drawn.",
    "at_house": "At the house: {said}",
    "on_road": "On the road: {said}",
    # Outlets.
    "no_outlet": "No outlet gains much water.",
    "outlet": "More leaves over the boundary {where}: from {area} of ground instead of {was}.",
    "outlet_fails": "{outlet} That is more than twice as much: do not build it so.",
    # Standing water on the parcel.
    "standing": "After {rain} of rain water covers {spread} and is {deeper} where it is deepest. "
    "Hollows that fill and water on a road are counted.",
    "wider": "{area} more of the parcel than now",
    "narrower": "{area} less of the parcel than now",
    "no_wider": "no more of the parcel than now",
    "deeper": "{height} deeper",
    "shallower": "{height} shallower",
    "no_deeper": "no deeper",
    # Roots.
    "roots": "{height} of drained soil above the wet-season water once it has settled ({settled} high); {wants}.",
    "want": "{crops} want {roots}",
    "pooled": "After {rain} of rain water stands {height} deep at its foot: so long the roots have that much less.",
    "no_roots": "The wet-season water is not known here.",
    "not_for_roots": "Nothing is grown on it.",
    # Sun.
    "sun": "The place has {hours} of sun a day in {month}. {shade}",
    "shade": "Close to its {way} side it takes {taken}.",
    "shade_in": "{hours} on the {day}",
    "no_hours": "no hour",
    "hour": "{count} hour",
    "hours": "{count} hours",
    "no_shade": "It stands no higher than the ground.",
    # Loads and barrows.
    "fill": "{volume}: about {loads} and {barrows}, {way}.",
    "cut": "{volume} to dig out and lay somewhere: about {barrows}.",
    "from_tip": "{far} from where chips are tipped",
    "no_tip": "no tipping place is planned",
    "load": "{count} load",
    "loads": "{count} loads",
    "barrow": "{count} barrow",
    "barrows": "{count} barrows",
    # Hazards by distance.
    "near": "{far} from {thing}, not {rule}: {care}.",
    "on": "On or under {thing}: {care}.",
    "kept": "Nothing drawn is nearer than its rule.",
    # The whole.
    "lies": "{work} lies on {things}.",
    "coarse": "Tried on cells of {cell}, for the page's sake: a run tries it on cells of {full}.",
    "pushes": "It pushes water onto others: do not build it so.",
    "slight": "A little more water comes to others; see below whether that may be.",
    "harmless": "No more water next door, at the house or on the road.",
    "own": "Your own:",
    "proposed": "Proposed, to move or to leave out:",
    "caution": (
        "Call before you dig, keep off buried lines and the septic field, and ask the town before wet ground is "
        "filled: local codes and licensed people come first."
    ),
}
"""Sentences with places in braces. The page is handed them with its data and says nothing of its own."""

NO_ROOM = "This ground is large: the page has no room for the heights that changes are tried on."


def say_change(analysis: Analysis) -> Iterator[str]:
    """Say what the change that was tried does, on full cells; then what the page said where that differs."""
    change, units = analysis.plan.change, analysis.settings.units
    if change is None:
        return
    rises = {"next door": change.next_door, "at the house": change.house, "on the road": change.road}
    told = [f"{say_depth(rise, units)} higher {where}" for where, rise in rises.items() if rise >= LEAST_RISE]
    stands = _spread(change.standing_after - change.standing_before, units)
    if change.faults:
        yield f"The change must not be built so. {say_harm(change.faults[0], analysis.site, analysis.settings)}"
    verdict = "" if change.faults else "The change pushes no water onto others. "
    yield f"{verdict}Water stands {joined([*told, stands])}."
    if change.outlets:
        drained = joined([say_area(area, units) for area in change.outlets])
        yield f"More leaves over the boundary than now at {count(len(change.outlets), 'outlet')}: from {drained}."
    if change.page or not change.same_outlets:
        said = [
            f"{say_depth(max(change.page[key], 0.0), units)} higher {where}"
            for key, where in (("next_door", "next door"), ("house", "at the house"), ("road", "on the road"))
            if key in change.page
        ]
        if "standing_after" in change.page:
            before = change.page.get("standing_before", change.standing_before)
            said.append(_spread(change.page["standing_after"] - before, units))
        why = "its cells are wider" if change.same_ground else "it was tried on other heights or wider cells"
        yield f"The page said {joined(said)}; {why}." if said else f"The page found other outlets; {why}."


def _spread(more: float, units: Units) -> str:
    if abs(more) < LEAST_SPREAD:
        return "on no more of the parcel than now"
    return f"on {say_area(abs(more), units)} {'more' if more > 0.0 else 'less'} of the parcel than now"
