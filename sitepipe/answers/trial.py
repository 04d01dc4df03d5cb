"""What a change does that is tried on the page, as patterns that the page fills in, and what a run says of it again."""

from __future__ import annotations

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
    "outlet": "More leaves over the boundary {where}: from {area} of ground, now {was}.",
    "outlet_fails": "{outlet} That is more than twice as much: do not build it so.",
    # Standing water on the parcel.
    "standing": "After {rain} of rain water covers {spread} and is {deeper} where it is deepest.",
    "wider": "{area} more of the parcel than now",
    "narrower": "{area} less of the parcel than now",
    "no_wider": "no more of the parcel than now",
    "deeper": "{height} deeper",
    "shallower": "{height} shallower",
    "no_deeper": "no deeper",
    # Roots.
    "roots": "{height} of drained soil above the wet-season water once it has settled ({settled} high); {wants}.",
    "want": "{crops} want {roots}",
    "no_roots": "The wet-season water is not known here.",
    "not_for_roots": "Nothing is grown on it.",
    # Sun.
    "sun": "The place has {hours} hours of sun a day in {month}.",
    "shade": "At noon it shades the ground {way} of it for {lengths}.",
    "shade_in": "{length} on the {day}",
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
    "coarse": "Tried on cells of {cell}, for the page's sake: a run tries it on cells of {full}.",
    "pushes": "It pushes water onto others. {said}",
    "harmless": "No more water next door, at the house or on the road. {said}",
    "caution": (
        "Call before you dig, keep off buried lines and the septic field, and ask the town before wet ground is "
        "filled: local codes and licensed people come first."
    ),
}
"""Sentences with places in braces. The page is handed them with its data and says nothing of its own."""

KINDS = {"mound": "A mound", "path": "A path", "swale": "A swale", "pad": "A pad"}
"""What may be tried, as a card's title begins."""
