"""The hoop house in sentences: why a place is good, why a good place fails, where its water goes."""

from __future__ import annotations

import math

from sitepipe.analysis import Analysis
from sitepipe.answers import exclusions
from sitepipe.answers.hazards import thing_named
from sitepipe.answers.names import called, capital, joined, shown, work_named
from sitepipe.answers.rows import say_ends, say_ridge, say_sun
from sitepipe.saying import say_depth, say_distance, say_fall, say_hours, say_length, say_volume
from sitepipe.site import Found, Kind, Status
from sitepipe.units import compass_word
from sitepipe.works.houses.house import PAD_ABOVE_WATER
from sitepipe.works.houses.record import (
    Fault,
    FaultKind,
    HoopHouse,
    HouseCriterion,
    PlaceScore,
    Refusal,
    RidgeReason,
    WaterEnd,
)
from sitepipe.works.houses.ridge import ridge_advice
from sitepipe.works.jobs.materials import FILL
from sitepipe.works.mounds.record import Lacking
from sitepipe.works.water.tipped import LEAST_PAD

MOST_REFUSALS = 3
_TOLD = (HouseCriterion.DRY, HouseCriterion.SHOULDER_SUN, HouseCriterion.ACCESS)
"""What is said of every place."""


def houses(analysis: Analysis) -> tuple[str, ...]:
    """Say where the hoop house goes, or that it fits nowhere and what decides against the best ground."""
    plan, own, units = analysis.plan, analysis.settings.hoop_house, analysis.settings.units
    if not (own.propose or plan.hoop_houses) or plan.mound_choice.lacking is Lacking.FINER_HEIGHTS:
        return ()
    places = (*plan.hoop_houses, *plan.other_hoop_houses)
    said = [_house(house, analysis) for house in places]
    built = {(house.length, house.width) for house in places}
    is_sought = all(house.is_proposed for house in plan.hoop_houses)
    missing = [size for size in own.sizes if size not in built] if is_sought else []
    sizes = " or ".join(f"{say_length(length, units)} by {say_length(width, units)}" for length, width in missing)
    if missing and (not built or max(built) < max(missing)):
        said.append(f"Hoop house: no house of {sizes} fits here.")
    if not built:
        said += [f"Hoop house: {refused(refusal, analysis)}" for refusal in plan.hoop_house_refusals[:MOST_REFUSALS]]
    return tuple(said)


def _house(house: HoopHouse, analysis: Analysis) -> str:
    units = analysis.settings.units
    place = "Hoop house" if house.status is Status.PROPOSED else f"Hoop house, choice {house.number}"
    if not house.is_proposed:
        place = capital(work_named(house))
    return (
        f"{place}: {say_length(house.length, units)} by {say_length(house.width, units)}, "
        f"ridge running {say_ends(house.bearing)}. {house_why(house, analysis)}{_pad(house, analysis)}"
    )


def _pad(house: HoopHouse, analysis: Analysis) -> str:
    fill = next((one.volume for one in analysis.plan.quantities if one.material == FILL), 0.0)
    if house.status is Status.ANOTHER or fill <= 0.0:
        return ""
    return f" Its raised floor takes {say_volume(fill, analysis.settings.units)} of firm fill."


NO_WEAKNESS = 0.9
"""A place whose worst score is above this has no weak point. [1]"""
_CHOICES = {2: "Second", 3: "Third"}
_BEHIND = {
    HouseCriterion.DRY: "wetter in spring",
    HouseCriterion.SHOULDER_SUN: "less sun in spring and autumn",
    HouseCriterion.MIDWINTER_SUN: "less sun at midwinter",
    HouseCriterion.TREES: "nearer to trees",
    HouseCriterion.SHELTER: "more wind",
    HouseCriterion.LEVEL: "steeper ground",
    HouseCriterion.ACCESS: "farther to carry",
    HouseCriterion.ROOM: "less room for snow and doors",
    HouseCriterion.DIRECTION: "a ridge that takes in less winter sun",
    HouseCriterion.SETBACKS: "nearer to the boundary",
}
_WEAK = {
    HouseCriterion.DRY: "a wet floor in spring",
    HouseCriterion.SHOULDER_SUN: "little sun in spring and autumn",
    HouseCriterion.MIDWINTER_SUN: "little sun at midwinter",
    HouseCriterion.TREES: "trees near it",
    HouseCriterion.SHELTER: "wind",
    HouseCriterion.LEVEL: "sloping ground",
    HouseCriterion.ACCESS: "far to carry",
    HouseCriterion.ROOM: "little room for snow and doors",
    HouseCriterion.DIRECTION: "a ridge that takes in less winter sun",
    HouseCriterion.SETBACKS: "near the boundary",
}


def house_why(house: HoopHouse, analysis: Analysis) -> str:
    """Say what speaks for a place, what most against it, and what sets it behind the first."""
    plan, is_second = analysis.plan, house.status is Status.ANOTHER
    best = max((*plan.hoop_houses, *plan.other_hoop_houses), key=lambda one: one.score)
    first = plan.hoop_houses[0]
    by_name = {one.criterion: judged(one, analysis) for one in house.reasons}
    told = " ".join(by_name[criterion] for criterion in _TOLD if criterion in by_name)
    if house.status is Status.STANDING:
        return f"Stands. {told}"
    if is_second and house is best and best.beds_lose > first.beds_lose:
        taken = say_sun(best.beds_lose)
        return f"Scores best by itself, but takes {taken} a day from the beds in the growing season. {told}"
    if is_second:
        lost = {one.criterion: one.score for one in first.reasons}
        behind = max(house.reasons, key=lambda one: lost.get(one.criterion, 0.0) - one.score)
        return f"{_CHOICES.get(house.number, 'Another')} choice: {_BEHIND[behind.criterion]}. {told}"
    if house is not best and best.beds_lose > first.beds_lose:
        taken = say_sun(best.beds_lose)
        return f"Comes before a place that is better by itself but takes {taken} a day from the beds. {told}"
    worst = min(house.reasons, key=lambda one: one.score, default=None)
    weak = "Nothing speaks against it."
    if worst is not None and worst.score <= NO_WEAKNESS:
        weak = f"Its weak point: {_WEAK[worst.criterion]}."
    why = "Best balance of all places and directions tried." if house.is_proposed else "Where you want it."
    return f"{why} {told} {weak}"


def judged(found: PlaceScore, analysis: Analysis) -> str:
    """Say in a sentence how a place fares by one criterion."""
    own, units = analysis.settings.hoop_house, analysis.settings.units
    measured = math.nan if found.measured is None else found.measured
    match found.criterion:
        case HouseCriterion.DRY:
            raised = max(PAD_ABOVE_WATER - measured, 0.0)
            pad = f"; raise the floor by {say_length(raised, units)} and ring it with a swale"
            depth = say_depth(measured, units)
            return f"In the wet season water stands {depth} down{pad if raised > LEAST_PAD else ''}."
        case HouseCriterion.SHOULDER_SUN:
            return f"{capital(say_hours(measured))} of sun a day in March, April, October and November."
        case HouseCriterion.MIDWINTER_SUN:
            return f"{capital(say_hours(measured))} of sun a day at midwinter."
        case HouseCriterion.TREES:
            is_far = found.score > 0.95
            return (
                "Far enough from every tree for its height." if is_far else "Trees stand nearer than their heights ask."
            )
        case HouseCriterion.SHELTER:
            return f"The worst wind comes from the {compass_word(own.wind_from or 0.0)}."
        case HouseCriterion.LEVEL:
            return f"The ground falls {_fall(measured)}."
        case HouseCriterion.ACCESS:
            if found.of is None:
                return "How far to carry is not known: draw the gate."
            return f"{capital(say_distance(measured, units))} from {thing_named(analysis, found.of)}."
        case HouseCriterion.ROOM:
            if found.of is None or measured >= own.better_room:
                return f"Nothing stands within {say_length(own.better_room, units)}."
            return f"{capital(thing_named(analysis, found.of))} stands {say_length(measured, units)} away."
        case HouseCriterion.DIRECTION:
            return f"The ridge runs {say_ridge(measured)}. {ridge(analysis)}"
        case HouseCriterion.SETBACKS:
            return f"At least {say_length(measured, units)} from the boundary, off all ground to keep clear."


def ridge(analysis: Analysis) -> str:
    """Say which way a ridge should run at this latitude, and why."""
    latitude = analysis.site.latitude
    where = f"At {abs(latitude):.0f} degrees {'north' if latitude >= 0 else 'south'}"
    return {
        RidgeReason.LOW_WINTER_SUN: f"{where} a ridge that runs east-west takes in more of the low winter sun.",
        RidgeReason.HIGH_WINTER_SUN: f"{where} the winter sun is high enough for a ridge that runs north-south, lit "
        "more evenly.",
        RidgeReason.WORST_WIND: "Without a winter crop the end wall faces the worst wind.",
        RidgeReason.FREE: "Without a winter crop, wind and access decide which way the ridge runs.",
    }[ridge_advice(latitude, analysis.settings)[1]]


def roof_water(house: HoopHouse, analysis: Analysis) -> str:
    """Say where a roof's water runs to, and what to do about it."""
    found, far = house.roof_water_goes, say_distance(house.roof_water_goes.distance, analysis.settings.units)
    match found.end:
        case WaterEnd.HOLLOW if found.of is not None:
            return (
                f"It runs to {called(found.of)}, {far} away: "
                "lead it past the beds in a grassed swale, or keep it in a barrel."
            )
        case WaterEnd.DRAIN if found.of is not None:
            drain = thing_named(analysis, found.of)
            return f"It runs to {drain}, {far} away; ask whose it is before you lead more water in."
        case WaterEnd.BOUNDARY:
            return (
                f"It leaves over the {compass_word(found.side or 0.0)} boundary, {far} away: keep it in barrels or a "
                "soakaway, so that no neighbour gets more water than before."
            )
        case WaterEnd.EDGE_OF_HEIGHTS:
            return f"It leaves the surveyed ground {far} away; what lies below is not known."
        case _:
            return "Where its water runs is not known: no heights there."


def refused(refusal: Refusal, analysis: Analysis) -> str:
    """Say what decides against a place that one would choose by its sun and its way."""
    where = _from_a_mark(refusal, analysis)
    sun = "" if refusal.hours is None else f" has {say_hours(refusal.hours)} of sun in spring and autumn"
    faults = joined([_fault(fault, analysis) for fault in refusal.faults])
    return f"The ground {where}{sun}, but {faults}." if sun else f"The ground {where} will not do: {faults}."


def _fault(fault: Fault, analysis: Analysis) -> str:
    units, of = analysis.settings.units, fault.of
    is_found = of is None or of.kind is Found.HOLLOW
    thing = "" if of is None else called(of) if is_found else thing_named(analysis, of)
    measured = math.nan if fault.measured is None else fault.measured
    roads = " or ".join(dict.fromkeys(shown(road) for road in analysis.site.of_kind(Kind.ROAD)))
    kept = "" if fault.exclusion is None else exclusions.title(fault.exclusion)
    return {
        FaultKind.STEEP: f"it falls {_fall(measured)}",
        FaultKind.TAKEN: "it is taken by another part of the plan",
        FaultKind.STANDS_ON: f"it lies on {thing}",
        FaultKind.UNDER: f"it lies under {thing}",
        FaultKind.LANE: f"it would stand in the way on {roads}",
        FaultKind.KEPT_CLEAR: f"it meets ground to keep clear: {kept}",
        FaultKind.SWALE: f"its swale would be dug beside {thing}",
        FaultKind.HOLLOW: f"water stands there, {thing}",
        FaultKind.FLOW: "water runs through it",
        FaultKind.BOUNDARY: f"it comes within {say_length(measured, units)} of the boundary",
        FaultKind.NO_ROOM: f"{thing} stands {say_length(measured, units)} away, too near for snow and doors",
        FaultKind.POOR: f"water stands {say_depth(measured, units)} down in the wet season"
        if fault.criterion is HouseCriterion.DRY
        else f"it has too little of this: {fault.criterion}",
    }[fault.kind]


def _from_a_mark(refusal: Refusal, analysis: Analysis) -> str:
    """Say where a place is from a thing that a helper can stand at."""
    marks = analysis.site.of_kind(Kind.GATE, Kind.BUILDING, Kind.TAP, Kind.TREE, Kind.FIXED_POINT)
    if not marks:
        return "in the parcel"
    here = refusal.place
    mark = min(marks, key=lambda feature: (feature.geometry.distance(here), feature.number))
    from_here = mark.geometry.centroid
    bearing = math.degrees(math.atan2(here.x - from_here.x, here.y - from_here.y))
    far = say_distance(mark.geometry.distance(here), analysis.settings.units)
    return f"{far} {compass_word(bearing)} of {shown(mark)}"


def _fall(grade: float) -> str:
    said = say_fall(grade)
    return "next to nothing" if said == "level" else said
