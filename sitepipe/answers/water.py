"""Where water stands, where it comes from and where it leaves, in sentences."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence

import numpy as np
from shapely import Point

from sitepipe.analysis import Analysis
from sitepipe.answers import ground_water
from sitepipe.answers.names import called, capital, joined, shown, spoken, without_controls, work_named
from sitepipe.answers.where import from_standpoint, say_place
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.record import Bank, ClimbingCulvert, Crossing, Gaps, Question, Storm
from sitepipe.saying import (
    say_area,
    say_chance,
    say_depth,
    say_distance,
    say_duration,
    say_length,
    say_rain,
    say_volume,
    say_water,
)
from sitepipe.site import Feature, Kind, Site
from sitepipe.units import Units, compass_word
from sitepipe.wetness.record import SoggyPlace
from sitepipe.works.houses.record import WaterEnd
from sitepipe.works.water.record import Swale

NEAR_DRAIN = 4.0
"""A drain nearer than this to a crossing carries its water. [m]"""
MOST_CROSSINGS = 3
WORTH_SAYING = 1.0
"""A smaller gap under water is not worth a word; own choice. [m2]"""
ALMOST_SURE = 0.95
"""From this chance on a place is said to be almost sure to be wet. [1]"""
_SOURCES = {"neighbours": "neighbouring ground", "own": "the parcel itself", "roof": "roofs", "road": "roads"}


def larger_storm(analysis: Analysis) -> Storm | None:
    """Return the storm with the most rain, the one that depths and chances are said for."""
    return max(analysis.drainage.storms, key=lambda storm: storm.rain_depth, default=None)


def soggy_place(place: SoggyPlace, analysis: Analysis) -> str:
    """Say one of the wettest places: where, how large, how deep, for what rain, how sure, on what evidence."""
    units = analysis.settings.units
    storm = larger_storm(analysis)
    size = f"about {say_area(place.area, units)}"
    gap = _area_of_gaps(place, storm, analysis)
    if gap >= WORTH_SAYING:
        size += f" and over the gap of {say_area(gap, units)} in the heights"
    where = say_place(place, analysis.site, units)
    if place.depth is None:
        said = f"{where}: {size}, soft rather than flooded."
    else:
        after = f" after {say_rain(storm.rain_depth, units)} of rain" if storm else ""
        said = f"{where}: {size}, {say_depth(place.depth, units)} deep{after}"
        said += f"{_span(place.depth_low, place.depth_high, units)}, "
        said += f"{likely(place.probability)}."
    said += " Seen wet." if place.is_seen else " Worked out, not yet seen."
    if place.hours_to_drain is not None and math.isfinite(place.hours_to_drain):
        said += f" Gone after about {say_duration(place.hours_to_drain)}."
    return said


def _area_of_gaps(place: SoggyPlace, storm: Storm | None, analysis: Analysis) -> float:
    """Return how much ground without heights stands under water with a place, whose area is of known ground. [m2]."""
    site = analysis.site
    if place.pond is None or storm is None:
        return 0.0
    outline = analysis.drainage.ponds[place.pond].outline
    box = site.grid.around(outline.bounds)
    is_under = np.isnan(site.elevation[box]) & (storm.depth[box] > 0.0)
    if not is_under.any():
        return 0.0
    return float((is_under & cells_inside(site.grid.part(box), outline.intersection(site.parcel))).sum()) * (
        site.grid.cell_area
    )


def _span(low: float | None, high: float | None, units: Units) -> str:
    if low is None or high is None:
        return ""
    shallow, deep = say_depth(low, units), say_depth(high, units)
    return "" if shallow == deep else f" (between {shallow} and {deep})"


def standing_area(analysis: Analysis) -> float:
    """Return how much of the parcel likely stands under water after the larger storm, before anything is built. [m2].

    The sum of the places that are named: console, page and sheets take the one figure of standing water from here.
    """
    return sum(place.area for place in analysis.wetness.soggy_places if place.depth is not None)


def likely(probability: float) -> str:
    """Say how likely a place is to hold water.

    Examples
    --------
    >>> likely(0.97), likely(0.6).replace(chr(160), " ")
    ('almost sure to be wet', '6 chances in 10 to be wet')
    """
    return "almost sure to be wet" if probability >= ALMOST_SURE else f"{say_chance(probability)} to be wet"


def through(analysis: Analysis) -> str:
    """Say in one sentence where most water comes in and where most leaves."""
    site, units = analysis.site, analysis.settings.units
    told = []
    for word, is_inflow in (("comes in", True), ("leaves", False)):
        found = [crossing for crossing in analysis.drainage.crossings if crossing.is_inflow is is_inflow]
        if found:
            most = max(found, key=lambda crossing: crossing.upslope_area)
            more = " and more" if most.from_outside_heights else ""
            told.append(f"{word} {_by(most, site)} ({say_area(most.upslope_area, units)}{more})")
    return f"It {', '.join(told)}." if told else "None to speak of crosses the boundary."


def standing(analysis: Analysis) -> tuple[str, ...]:
    """Say the wettest places in order, and how far map and observations agree."""
    places = analysis.wetness.soggy_places
    said = [f"{place.rank}. {soggy_place(place, analysis)}" for place in places]
    if not said:
        said = ["No place on the parcel is likely to hold water."]
    agreement = analysis.wetness.agreement
    if agreement is not None:
        seen = agreement.seen_wet + agreement.seen_dry
        said.append(f"What was seen agrees with what was worked out at {agreement.right} of {seen} places.")
    return tuple(said)


def coming_in(analysis: Analysis) -> tuple[str, ...]:
    """Say where water enters, how much ground is behind it, and what a storm brings."""
    site, units = analysis.site, analysis.settings.units
    crossings = sorted(
        (crossing for crossing in analysis.drainage.crossings if crossing.is_inflow), key=lambda c: -c.upslope_area
    )
    said = [
        f"{at}: {say_area(crossing.upslope_area, units)} of ground behind it"
        f"{', and more that the heights do not cover' if crossing.from_outside_heights else ''}."
        for at, crossing in _told_apart(crossings[:MOST_CROSSINGS], analysis)
    ]
    if not crossings:
        said = ["No water to speak of crosses the boundary inwards."]
    elif len(crossings) > MOST_CROSSINGS:
        more = len(crossings) - MOST_CROSSINGS
        said.append(f"{more} smaller place{'s' if more > 1 else ''} beside these.")
    if site.open_edge:
        said.append(
            "The ground that feeds the parcel runs off the edge of the heights: more water comes than is counted."
        )
    said.extend(_brought(storm, units) for storm in analysis.drainage.storms)
    return tuple(said)


def assumptions(analysis: Analysis) -> tuple[str, ...]:
    """Say what is taken for granted of gaps in the heights and of the water table."""
    return (*gaps_said(analysis.drainage.gaps, analysis.settings.units), ground_water.basis(analysis))


def gaps_said(gaps: Gaps, units: Units) -> tuple[str, ...]:
    """Say what became of the gaps in the heights."""
    said = []
    if gaps.closed:
        said.append(
            f"{gaps.closed} gap{'s' if gaps.closed > 1 else ''} in the heights, {say_area(gaps.closed_area, units)} in "
            "all, taken for ground as low as the lowest beside it, which lets no water out."
        )
    if gaps.open:
        said.append(
            f"{gaps.open} larger gap{'s' if gaps.open > 1 else ''} in the heights, {say_area(gaps.open_area, units)} "
            "in all, taken for an edge that water leaves over. Draw water where it is water."
        )
    if gaps.edge:
        said.append(
            f"{say_area(gaps.edge_area, units)} of the parcel without heights, joined to the edge of the heights; "
            "water leaves over it. Bring heights that cover it."
        )
    return tuple(said)


def asked(question: Question, analysis: Analysis) -> str:
    """Ask what only somebody on the spot, or wider heights, can answer."""
    site, units = analysis.site, analysis.settings.units
    if isinstance(question, ClimbingCulvert):
        name = site.feature(question.culvert).name
        return without_controls(
            f"{name} climbs {say_depth(question.climb, units)} from where its drawing begins to where it ends; "
            "water is taken to run the other way. Is it drawn from its inlet to its outlet?"
        )
    if isinstance(question, Bank):
        road = None if question.road is None else site.feature(question.road)
        bank = "A bank" if road is None or road.name == road.kind else f"The bank of {without_controls(road.name)}"
        return (
            f"{bank} holds water back up to {say_depth(question.depth, units)} deep, and the ground beyond it is "
            f"lower, {say_distance(question.width, units)} across. Is there a pipe here? Draw it as a culvert if there "
            "is."
        )
    return (
        f"More water may come from beyond the {compass_word(question.side)} edge of the heights than is counted; it "
        f"would pass {say_area(question.area, units)} of the parcel. Heights about "
        f"{say_distance(question.wider, units)} wider on that side would likely settle it."
    )


def warnings(site: Site, told: Collection[float] = ()) -> tuple[str, ...]:
    """Return what the reading warns of; not of open sides (degrees from north) that are told of already."""
    beyond = site.open_sides
    sides = joined([compass_word(side) for side in beyond.sides if side not in told]) if beyond else ""
    if beyond is None or not sides:
        return site.warnings
    if beyond.most_cells is None:
        said = f"the heights end on the {sides} before the ground that drains to the parcel does."
    else:
        said = (
            f"on the {sides} the ground that drains to the parcel goes on beyond the window, which holds at most "
            f"{beyond.most_cells:,} cells (ground.widest_window in site.toml)."
        )
    return (*site.warnings, f"More water comes from outside: {said}")


def _brought(storm: Storm, units: Units) -> str:
    total = sum(storm.arrives.values())
    shares = sorted(storm.arrives.items(), key=lambda item: (-item[1], item[0]))
    parts = [
        f"{say_water(amount, units)} from {_SOURCES.get(source, source)}" for source, amount in shares if amount > 0.05
    ]
    if not parts:
        return f"{say_rain(storm.rain_depth, units)} of rain soaks in where it falls."
    return f"{say_rain(storm.rain_depth, units)} of rain brings {say_water(total, units)}: {joined(parts)}."


def leaving(analysis: Analysis) -> tuple[str, ...]:
    """Say where water leaves and how much of a storm it carries."""
    units = analysis.settings.units
    crossings = sorted(
        (crossing for crossing in analysis.drainage.crossings if not crossing.is_inflow), key=lambda c: -c.upslope_area
    )
    said = [
        f"{at}: {say_area(crossing.upslope_area, units)} of ground drains there."
        for at, crossing in _told_apart(crossings[:MOST_CROSSINGS], analysis)
    ]
    if not said:
        said = ["Nowhere over the surface: what comes stands, soaks in, or dries up."]
    said.extend(
        f"After {say_rain(storm.rain_depth, units)} of rain {say_water(storm.leaves, units)} leave."
        for storm in analysis.drainage.storms
    )
    return tuple(said)


def side(place: Point, site: Site) -> str:
    """Say on which side of the parcel a place lies."""
    middle = site.parcel.centroid
    bearing = math.degrees(math.atan2(place.x - middle.x, place.y - middle.y))
    return compass_word(bearing)


def _told_apart(crossings: Sequence[Crossing], analysis: Analysis) -> Iterator[tuple[str, Crossing]]:
    """Yield where each crossing is, and of several on one side where along it."""
    site = analysis.site
    sides = [_at(crossing, site) for crossing in crossings]
    for at, crossing in zip(sides, crossings, strict=True):
        along = f", {from_standpoint(site, crossing.place, analysis.settings.units)}" if sides.count(at) > 1 else ""
        yield at + along, crossing


def _at(crossing: Crossing, site: Site) -> str:
    drain = _drain_at(crossing, site)
    return f"On the {side(crossing.place, site)} side{f', by {shown(drain)}' if drain else ''}"


def _by(crossing: Crossing, site: Site) -> str:
    drain = _drain_at(crossing, site)
    return f"by {shown(drain)}" if drain else f"on the {side(crossing.place, site)}"


def _drain_at(crossing: Crossing, site: Site) -> Feature | None:
    drains = site.of_kind(Kind.CULVERT, Kind.DITCH)
    return next((drain for drain in drains if drain.geometry.distance(crossing.place) <= NEAR_DRAIN), None)


def say_swale(swale: Swale, analysis: Analysis) -> str:
    """Say how deep a swale is, how the ground falls along it, and where it leads."""
    units, goes = analysis.settings.units, swale.leads_to
    end = {
        WaterEnd.HOLLOW: f"to {called(goes.of)}" if goes.of else "to a hollow",
        WaterEnd.DRAIN: f"to {spoken(goes.of, analysis.site)}" if goes.of else "to a ditch",
        WaterEnd.BOUNDARY: f"over the {compass_word(goes.side or 0.0)} boundary: ask before you lead more water there",
        WaterEnd.EDGE_OF_HEIGHTS: "off the heights",
        WaterEnd.UNKNOWN: "where no heights are",
    }[goes.end]
    return (
        f"{say_length(swale.depth, units)} deep, {say_distance(swale.length, units)} long; the ground falls "
        f"{say_length(swale.fall, units)} along it. It leads {end}. {say_volume(swale.dug, units)} is dug."
    )


def swales(analysis: Analysis) -> tuple[str, ...]:
    """Say each swale."""
    return tuple(f"{capital(work_named(swale))}: {say_swale(swale, analysis)}" for swale in analysis.plan.swales)
