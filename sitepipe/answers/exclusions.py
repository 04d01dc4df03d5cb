"""Why ground is kept clear and what limits a zone, in words, with who says so."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.answers.names import named, shown
from sitepipe.saying import say_area, say_distance
from sitepipe.scoring.record import Exclusion, Reason, Zone
from sitepipe.site import Feature, Site
from sitepipe.units import Units, compass_word
from sitepipe.wetness.whereabouts import whereabouts

_CODE = "ask the local code"

SOURCES = {
    Reason.BUILDING: "stands there",
    Reason.BED: "it is there; it is planted as it lies",
    Reason.UNDRAWN: "only the surface model shows it; draw what it is",
    Reason.WALL_FALL: f"IRC R401.3: ground falls 6 in within 10 ft of a wall; {_CODE}",
    Reason.SEPTIC: f"extension services: edible crops 10 ft off the field, 20 is safer; {_CODE}",
    Reason.BESIDE_SEPTIC: f"extension services: edible crops 10 ft off the field, 20 is safer; {_CODE}",
    Reason.WELL: f"compost and manure 50 to 100 ft from a well, value from memory; {_CODE}",
    Reason.BURIED_LINE: "call before you dig; 24 in either side of the marks by hand, and 1 ft for the drawing",
    Reason.KEEP_CLEAR: "drawn by you",
    Reason.TRUNK: "soil over roots smothers them; common practice, no source",
    Reason.HEDGE: "room to cut it; common practice, no source",
    Reason.WALL: "stands there",
    Reason.WATER: "drawn by you",
    Reason.WATER_BANK: f"common practice, no source; {_CODE}",
    Reason.DITCH: "water must pass",
    Reason.DITCH_BANK: f"common practice, no source; {_CODE}",
    Reason.CULVERT: "a mouth stays open; common practice, no source",
    Reason.ROAD: "drawn by you",
    Reason.ROAD_BAND: "soil 6 m from busy roads held 157 to 176 mg/kg of lead; test it, and mind salt spray",
    Reason.SIGHT: f"driveways want legs of 10 to 15 ft with nothing between 2 and 10 ft high; {_CODE}",
    Reason.HOLLOW: "filling it floods somebody else",
    Reason.BOUNDARY: _CODE,
}
"""Who says that ground is kept clear, or why."""

CRITERIA = {
    "sun_hours": "too little sun",
    "standing_water_m": "standing water",
    "slope_percent": "the slope",
    "water_behind_m2": "water passing through",
    "water_table_m": "dry enough without mounds",
    "wetness": "how wet it is",
    "wet_enough": "dry in parts",
    "haul_m": "far to barrow",
    "depth_to_water_index_m": "close to open water",
}
"""The weak point of ground that a criterion of its use limits."""


def title(exclusion: Exclusion) -> str:
    """Name the reason, and the drawn thing or hollow that it is round.

    Examples
    --------
    >>> from shapely import box
    >>> title(Exclusion(Reason.HOLLOW, 3, 0.0, box(0, 0, 1, 1), ()))
    'Hollow 3 stores the storm'
    """
    of = exclusion.of
    if exclusion.reason is Reason.HOLLOW:
        return f"Hollow {of} stores the storm" if of else "This hollow stores the storm"
    if not isinstance(of, Feature) or not of.name:
        return str(exclusion.reason)
    if exclusion.reason is Reason.BUILDING:
        return shown(of)
    return f"{shown(of)} is driven on" if exclusion.reason is Reason.ROAD else f"{exclusion.reason}, {shown(of)}"


def undrawn(ground: BaseGeometry, site: Site, units: Units) -> tuple[str, ...]:
    """Say how much of the parcel bears something that only the surface model shows, and ask what it is."""
    if ground.is_empty:
        return ()
    share = max(ground.area / site.parcel.area, 0.01)
    place = max(shapely.get_parts(ground), key=lambda patch: float(patch.area)).representative_point()
    name, far, bearing = whereabouts(place, site)
    said = (
        f"On {share:.0%} of the parcel ({say_area(ground.area, units)}), the largest patch {say_distance(far, units)} "
        f"{compass_word(bearing)} of {named(name)}, the surface model shows something that is not drawn. "
        "Nothing is planned there. Is it wood, a hedge, a roof? Draw it."
    )
    return (said,)


def limit(zone: Zone) -> str:
    """Name what most often limits a zone: a criterion, or the reason that keeps it clear; empty where nothing does.

    A zone of ten points in ten is held back by nothing.
    """
    if isinstance(zone.limit, Exclusion):
        return title(zone.limit)
    return CRITERIA[zone.limit] if zone.limit and round(10.0 * zone.score) < 10 else ""
