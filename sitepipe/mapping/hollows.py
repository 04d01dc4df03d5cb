"""Hollows and soaked ground as marks, numbered places and cards."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.answers.names import capital
from sitepipe.answers.water import likely
from sitepipe.answers.where import from_standpoint, name_of_place
from sitepipe.mapping.frame import polygons_of, smooth_area
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.parts import HOLLOW_CAUTION
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.saying import say_area, say_depth, say_duration, say_length, say_rain
from sitepipe.wetness.record import SoggyPlace


def rain_said(desk: Desk) -> str:
    """Return the rain of the larger storm, as people say it."""
    storms = desk.analysis.drainage.storms
    return say_rain(max(storm.rain_depth for storm in storms), desk.units) if storms else "heavy rain; no depth"


def add_hollow(view: View, desk: Desk, place: SoggyPlace, water: BaseGeometry) -> None:
    """Add one of the soggiest places; ``water`` is what is already drawn as standing."""
    units = desk.units
    called = name_of_place(place, desk.analysis.site)
    where = from_standpoint(desk.analysis.site, place.middle, units)
    facts = [f"about {say_area(place.area, units)}"]
    if place.depth is not None:
        facts.append(f"{say_depth(place.depth, units)} deep after {rain_said(desk)} of rain")
        facts.append(likely(place.probability))
    else:
        facts.append("soft rather than flooded")
    seen = "Seen wet." if place.is_seen else "Not seen."
    thing = f"hollow-{place.rank}"
    outline, middle = _smooth_outline(desk, place), place.middle
    if place.depth is None:
        outline = outline.difference(water)
        largest = max(polygons_of(outline), key=lambda piece: piece.area, default=None)
        middle = shapely.point_on_surface(largest) if largest is not None else middle
    west, south, east, north = outline.bounds if not outline.is_empty else place.outline.bounds
    reach = max(east - west, north - south) if place.depth is None else 0.0
    said = f"{where}: {', '.join(facts)}. {seen}"
    weight = place.rank if place.depth is not None else 10 + place.rank
    view.places.append(Place(thing, middle, reach, "hollows", f"{called},", said, weight=weight))
    view.marks.append(
        Drawn("touch" if place.depth is not None else "soaked", area=desk.frame.areas(outline), thing=thing)
    )
    view.cards[thing] = Card(
        called,
        where,
        _hollow_numbers(desk, place),
        None,
        HOLLOW_CAUTION,
        _hollow_parts(desk, place),
    )


def _smooth_outline(desk: Desk, place: SoggyPlace) -> BaseGeometry:
    cell = desk.analysis.site.grid.cell
    return smooth_area(place.outline.buffer(cell).buffer(-cell), 0.5 * cell).intersection(desk.analysis.site.parcel)


def _hollow_numbers(desk: Desk, place: SoggyPlace) -> tuple[tuple[str, str], ...]:
    numbers = []
    if place.depth is not None:
        numbers.append(("Deep", say_depth(place.depth, desk.units)))
    numbers.append(("Covers", say_area(place.area, desk.units)))
    if place.hours_to_drain is not None:
        numbers.append(("Stands for", say_duration(place.hours_to_drain)))
    return tuple(numbers)


def _hollow_parts(desk: Desk, place: SoggyPlace) -> tuple[Part, ...]:
    units = desk.units
    why = f"About {say_area(place.catchment_area, units)} of ground drains to it"
    ponds = desk.analysis.drainage.ponds
    if place.pond is not None and place.pond < len(ponds):
        pond = ponds[place.pond]
        why += f", and it must fill {say_depth(pond.depth, units)} deep before it runs over"
    strokes = [("solid", "Seen wet") if place.is_seen else ("dashes", "Worked out from heights, not seen")]
    if place.depth_low is not None and place.depth_high is not None:
        low, high = say_depth(place.depth_low, units), say_depth(place.depth_high, units)
        strokes.append(("dashes", f"Depth: {low} to {high}"))
    if place.depth is not None:
        spots = "Just where is less sure: the map's chances are for each spot alone"
        strokes.append(("dashes", f"{capital(likely(place.probability))}. {spots}"))
    parts = [Part("Why wet.", why + "."), Part("How sure.", strokes=tuple(strokes))]
    error = desk.analysis.site.ground.vertical_error
    parts.append(
        Part("Heights.", f"{desk.analysis.site.ground.source}: within {say_length(error, units)}, give or take.")
    )
    if place.hours_to_drain is not None and place.hours_to_drain > 72.0:
        parts.append(Part("Mosquitoes.", "Water that stands over three days in the warm season breeds them."))
    return tuple(parts)
