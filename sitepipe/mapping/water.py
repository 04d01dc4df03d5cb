"""Where does water stand? Shores of three chances, what runs, what comes in and leaves."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from shapely import LineString, Point
from shapely.geometry.base import BaseGeometry

from sitepipe.drainage.record import Crossing, FlowLine
from sitepipe.mapping.contours import area_between
from sitepipe.mapping.frame import lines_of, polygons_of, smooth, smooth_area
from sitepipe.mapping.palette import flow_width
from sitepipe.mapping.relief import smoothed
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.mapping.words import capital, count, from_standpoint, name_of_hollow
from sitepipe.site import Kind
from sitepipe.units import say_area, say_chance, say_depth, say_duration, say_length, say_rain
from sitepipe.wetness.record import SoggyPlace

CLASSES = ((0.8, "stands-8", "8 or more"), (0.5, "stands-5", "5 to 8"), (0.2, "stands-2", "2 to 5"))
LEAST_SHORE = 2.0
"""Smaller pieces of a chance class are noise of the cells. [m2]"""
MOST_HOLLOWS, MOST_CROSSINGS = 5, 2
LEAST_SHARE, MERGED = 0.1, 6.0
"""A crossing with less ground behind it than this share of the largest, or within 6 m of a larger one, gets no number."""
LEAST_LINE = 4.0
"""A shorter piece of a flow line is not drawn. [m]"""
HOLLOW_CAUTION = (
    "Do not fill or ditch it before you ask: it may be protected wetland, and the water it holds back would go next door."
)
LEAVES_CAUTION = (
    "Water that leaves is someone else's next. Do not lower, widen or block its way out without asking "
    "the road's owner, the neighbour or the town."
)


def shores(desk: Desk) -> dict[str, BaseGeometry]:
    """Return the area of each chance class and all wetter ones, smooth to the eye, clipped to the parcel."""
    site, grid = desk.analysis.site, desk.analysis.site.grid
    chance = smoothed(desk.analysis.sureness.ponding_probability, max(0.6, 0.35 / grid.cell))
    areas = {}
    for low, mark, _ in CLASSES:
        area = area_between(grid.x, grid.y, chance, low, least=LEAST_SHORE)
        areas[mark] = smooth_area(area, 0.12 * grid.cell).intersection(site.parcel)
    return areas


def water_view(desk: Desk) -> View:
    """Draw the water and say where it stands."""
    view = View("Water", "Where does water stand?", _answer(desk), "Chances in 10 that water stands there")
    areas = shores(desk)
    _add_shores(view, desk, areas)
    _add_flow(view, desk, areas["stands-5"])
    _add_seen(view, desk)
    for place in desk.analysis.wetness.soggy_places[:MOST_HOLLOWS]:
        _add_hollow(view, desk, place, areas["stands-2"])
    if any(mark["mark"] == "soaked" for mark in view.marks):
        view.add_legend("soaked", "Soft, soaked")
    _add_crossings(view, desk)
    if not view.places:
        view.caption = "No hollow here holds water"
    view.caution = LEAVES_CAUTION if any(not c.is_inflow for c in desk.analysis.drainage.crossings) else HOLLOW_CAUTION
    return view


def _answer(desk: Desk) -> str:
    places = desk.analysis.wetness.soggy_places[:MOST_HOLLOWS]
    standing = [place for place in places if place.depth is not None]
    soaked = len(places) - len(standing)
    rain = _rain(desk)
    if not places:
        return f"Nowhere for long, as far as the heights can tell, after {rain} of rain."
    if not standing:
        return f"Nowhere for long; {count(soaked, 'place')} {'stays' if soaked == 1 else 'stay'} soaked."
    area = say_area(sum(place.area for place in standing), desk.units)
    said = capital(f"in {count(len(standing), 'hollow')}: about {area} after {rain} of rain.")
    times = [place.hours_to_drain for place in standing]
    if len(standing) > 1 and all(time is not None for time in times):
        longest = max(standing, key=lambda place: (place.hours_to_drain or 0.0, -place.rank))
        said += f" Hollow\u00a0{longest.rank} holds it longest."
    return said


def _rain(desk: Desk) -> str:
    storms = desk.analysis.drainage.storms
    return say_rain(max(storm.rain_depth for storm in storms), desk.units) if storms else "heavy rain; no depth"


def _add_shores(view: View, desk: Desk, areas: dict[str, BaseGeometry]) -> None:
    drier = [mark for _, mark, _ in CLASSES]
    for k in range(len(CLASSES) - 1, -1, -1):
        mark = drier[k]
        band = areas[mark].difference(areas[drier[k - 1]]) if k else areas[mark]
        shore = [desk.frame.line(LineString(p.exterior.coords)) for p in polygons_of(areas[mark])]
        if shore:
            view.marks.append({"mark": mark, "area": desk.frame.areas(band), "line": shore, "thing": ""})
    for _, mark, said in CLASSES:
        view.add_legend(mark, said)


def _add_flow(view: View, desk: Desk, ponds: BaseGeometry) -> None:
    site = desk.analysis.site
    near = site.parcel.buffer(12.0)
    lines = sorted(desk.analysis.drainage.flow_lines, key=lambda flow: -max(flow.upslope_area))
    for rank, flow in enumerate(lines):
        for piece, areas in _smooth_pieces(flow, near, ponds, site.grid.cell):
            view.marks.append(
                {
                    "mark": "runs-guessed" if flow.is_guessed else "runs",
                    "line": [desk.frame.line(piece)],
                    "width": [round(flow_width(area), 1) for area in areas],
                    "rank": rank,
                    "thing": f"flow-{rank}",
                }
            )
            view.cards.setdefault(f"flow-{rank}", _flow_card(desk, flow))
    drawn = {mark["mark"] for mark in view.marks}
    if "runs" in drawn:
        view.add_legend("runs", "Water runs")
    if "runs-guessed" in drawn:
        view.add_legend("runs-guessed", "Runs, guessed")


def _smooth_pieces(
    flow: FlowLine, near: BaseGeometry, ponds: BaseGeometry, cell: float
) -> list[tuple[LineString, list[float]]]:
    """Cut a flow line at the shores, and carry the ground behind it to the new vertices."""
    whole = smooth(flow.line, 1.1 * cell)
    along = shapely.line_locate_point(flow.line, shapely.points(shapely.get_coordinates(flow.line)))
    pieces = []
    for piece in lines_of(whole.intersection(near).difference(ponds)):
        if piece.length < LEAST_LINE:
            continue
        slim = piece.simplify(0.05)
        at = shapely.line_locate_point(flow.line, shapely.points(shapely.get_coordinates(slim)))
        pieces.append((slim, np.interp(at, along, np.asarray(flow.upslope_area, dtype=np.float64)).tolist()))
    return pieces


def _flow_card(desk: Desk, flow: FlowLine) -> Card:
    area = say_area(max(flow.upslope_area), desk.units)
    if flow.is_guessed:
        return Card(
            "Water runs in, guessed",
            parts=(
                Part("What.", f"Water from about {area} of ground comes this way."),
                Part("How sure.", strokes=(("dots", "No heights there: the line is a guess"),)),
            ),
        )
    return Card(
        "Water runs here",
        numbers=(("Ground behind", area),),
        caution="Keep chips, logs and mounds out of its way: they float, or they dam it.",
        parts=(
            Part("What.", "The way that water takes over the ground after rain. A wider line carries more."),
            Part("How sure.", strokes=(("dashes", "Worked out from the heights; dig or walk it in rain to be sure"),)),
        ),
    )


def _add_seen(view: View, desk: Desk) -> None:
    for feature in desk.analysis.site.of_kind(Kind.OBSERVATION):
        seen = str(feature.attributes.get("seen", feature.name)).lower()
        mark = "hole" if "hole" in seen else "seen-dry" if "dry" in seen else "seen-wet"
        thing = f"feature-{feature.number}"
        view.marks.append({"mark": mark, "at": desk.frame.place(feature.geometry.centroid), "thing": thing})
    drawn = {mark["mark"] for mark in view.marks}
    if {"seen-wet", "seen-dry"} <= drawn:
        view.add_legend("seen-both", "Seen wet, dry")
    elif "seen-wet" in drawn:
        view.add_legend("seen-wet", "Seen wet")
    elif "seen-dry" in drawn:
        view.add_legend("seen-dry", "Stayed dry")


def _add_hollow(view: View, desk: Desk, place: SoggyPlace, water: BaseGeometry) -> None:
    units = desk.units
    called = capital(name_of_hollow(desk.analysis.site, place.middle))
    if place.depth is None:
        called = called.replace("Hollow", "Soaked ground")
    where = from_standpoint(desk.analysis.site, place.middle, units)
    facts = [f"about {say_area(place.area, units)}"]
    if place.depth is not None:
        facts.append(f"{say_depth(place.depth, units)} deep after {_rain(desk)} of rain")
        facts.append(say_chance(place.probability))
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
    reach = max(east - west, north - south)
    view.places.append(Place(thing, middle, reach, "hollows", f"{called},", f"{where}: {', '.join(facts)}. {seen}"))
    view.marks.append(
        {"mark": "touch" if place.depth is not None else "soaked", "area": desk.frame.areas(outline), "thing": thing}
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
    grounds = desk.analysis.sureness.grounds
    if place.depth is not None:
        strokes.append(("dashes", f"{capital(say_chance(place.probability))}, over {grounds} equally likely grounds"))
    parts = [Part("Why wet.", why + "."), Part("How sure.", strokes=tuple(strokes))]
    error = desk.analysis.site.ground.vertical_error
    parts.append(
        Part("Heights.", f"{desk.analysis.site.ground.source}: within {say_length(error, units)}, give or take.")
    )
    if place.hours_to_drain is not None and place.hours_to_drain > 72.0:
        parts.append(Part("Mosquitoes.", "Water that stands over three days breeds them; it is the warm puddles that count."))
    return tuple(parts)


def _add_crossings(view: View, desk: Desk) -> None:
    crossings = sorted(desk.analysis.drainage.crossings, key=lambda crossing: -crossing.upslope_area)
    for is_inflow in (True, False):
        chosen: list[Crossing] = []
        for crossing in crossings:
            is_small = crossing.upslope_area < LEAST_SHARE * crossings[0].upslope_area
            is_near = any(crossing.place.distance(other.place) < MERGED for other in chosen)
            if crossing.is_inflow is is_inflow and not is_small and not is_near:
                chosen.append(crossing)
        for number, crossing in enumerate(chosen[:MOST_CROSSINGS]):
            thing = f"{'in' if is_inflow else 'out'}-{number}"
            view.places.append(_crossing_place(desk, crossing, thing))
            view.cards[thing] = _crossing_card(desk, crossing)


def _crossing_place(desk: Desk, crossing: Crossing, thing: str) -> Place:
    area = say_area(crossing.upslope_area, desk.units)
    passage = _passage(desk, crossing.place)
    where = from_standpoint(desk.analysis.site, crossing.place, desk.units)
    if crossing.is_inflow:
        guess = " The heights end there: more may come." if crossing.from_outside_heights else ""
        rest = f"{passage or where}, off about {area} next door.{guess}"
        return Place(thing, crossing.place, 0.0, "in", "Water comes in", rest)
    return Place(thing, crossing.place, 0.0, "out", "Water leaves", f"{passage or where}, from about {area} in all.")


def _passage(desk: Desk, place: Point) -> str:
    for kind, words in ((Kind.CULVERT, "by the culvert"), (Kind.DITCH, "by the ditch"), (Kind.HEDGE, "through the hedge")):
        for feature in desk.analysis.site.of_kind(kind):
            if shapely.distance(feature.geometry, place) < 4.0:
                return words
    return ""


def _crossing_card(desk: Desk, crossing: Crossing) -> Card:
    where = from_standpoint(desk.analysis.site, crossing.place, desk.units)
    storm: dict[str, Any] = {}
    for one in desk.analysis.drainage.storms:
        storm = one.arrives
    stroke = (
        ("dots", "The heights end before the water's source does")
        if crossing.from_outside_heights
        else ("dashes", "Worked out from the heights")
    )
    parts = [Part("How sure.", strokes=(stroke,))]
    if crossing.is_inflow and storm:
        ranked = [name for name, amount in sorted(storm.items(), key=lambda item: -item[1]) if amount > 0.0]
        parts.insert(0, Part("Where from.", f"Most water here comes off: {', '.join(ranked)}."))
    return Card(
        "Water comes in" if crossing.is_inflow else "Water leaves",
        where,
        (("Ground behind", say_area(crossing.upslope_area, desk.units)),),
        None,
        "Do not send water back or turn it onto other ground." if crossing.is_inflow else LEAVES_CAUTION,
        tuple(parts),
    )
