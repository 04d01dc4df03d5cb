"""Where does water stand? Shores of three chances, what runs, what comes in and leaves."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from sitepipe.answers.names import capital, count
from sitepipe.answers.water import asked, standing_area
from sitepipe.answers.where import from_standpoint
from sitepipe.drainage.record import FlowLine
from sitepipe.mapping.contours import area_between
from sitepipe.mapping.crossings import LEAVES_CAUTION, add_crossings
from sitepipe.mapping.frame import lines_of, polygons_of, smooth, smooth_area
from sitepipe.mapping.hollows import add_hollow, rain_said
from sitepipe.mapping.marks import Drawn, flow_width
from sitepipe.mapping.parts import HOLLOW_CAUTION
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.saying import say_area
from sitepipe.site import Observation, Seen
from sitepipe.terrain.smoothing import smoothed

CLASSES = ((0.8, "stands-8", "8 or more"), (0.5, "stands-5", "5 to 8"), (0.2, "stands-2", "2 to 5"))
LEAST_SHORE, LEAST_SHORE_SHARE = 2.0, 1.0 / 2500.0
"""Smaller pieces of a chance class are noise: least area [m2], and least share of the parcel."""
SEEN_ROOM = 0.027
"""Half a lettered square on a phone that shows the whole parcel, as a share of the map's width."""
LEAST_LINE = 4.0
"""A shorter piece of a flow line is not drawn. [m]"""


def shores(desk: Desk) -> dict[str, BaseGeometry]:
    """Return the area of each chance class and all wetter ones, smooth to the eye, clipped to the parcel."""
    site, grid = desk.analysis.site, desk.analysis.site.grid
    chance = smoothed(desk.analysis.ponding_uncertainty.ponding_probability, max(0.6, 0.35 / grid.cell))
    least = max(LEAST_SHORE, 3.0 * grid.cell_area, LEAST_SHORE_SHARE * site.parcel.area)
    areas = {}
    for low, mark, _ in CLASSES:
        area = area_between(grid.x, grid.y, chance, low, least=least)
        areas[mark] = smooth_area(area, 0.12 * grid.cell).intersection(site.parcel)
    return areas


ASKED_WITHIN = 15.0
"""A question farther from the parcel is for the printed answer, not for a helper in the field. [m]"""
MOST_QUESTIONS = 3


def water_view(desk: Desk) -> View:
    """Draw the water and say where it stands."""
    view = View("Water", "Where does water stand?", _answer(desk), "Chances in 10 that this very spot is under water")
    areas = shores(desk)
    _add_shores(view, desk, areas)
    _add_flow(view, desk, areas["stands-5"])
    _add_seen(view, desk, areas["stands-2"])
    for place in desk.analysis.wetness.soggy_places:
        add_hollow(view, desk, place, areas["stands-2"])
    view.add_legend_of_drawn([("soaked", "Soft, soaked")])
    add_crossings(view, desk)
    _add_questions(view, desk)
    if not view.places:
        view.caption = "No hollow here holds water"
    view.caution = LEAVES_CAUTION if any(not c.is_inflow for c in desk.analysis.drainage.crossings) else HOLLOW_CAUTION
    return view


def _add_questions(view: View, desk: Desk) -> None:
    """Give a number to the places that only somebody on the ground can clear up, such as a bank with no drawn pipe."""
    site = desk.analysis.site
    near = [one for one in desk.analysis.drainage.questions if site.parcel.distance(one.place) <= ASKED_WITHIN]
    for number, question in enumerate(near[:MOST_QUESTIONS]):
        thing, text, spot = f"question-{number}", asked(question, desk.analysis), question.place
        view.places.append(Place(thing, spot, 0.0, "questions", "A question:", text))
        parts = (Part("Look there.", text), Part("How sure.", strokes=(("dots", "Only somebody there can tell"),)))
        view.cards[thing] = Card("A question", from_standpoint(site, spot, desk.units), parts=parts)


def _answer(desk: Desk) -> str:
    places = desk.analysis.wetness.soggy_places
    standing = [place for place in places if place.depth is not None]
    soaked = len(places) - len(standing)
    rain = rain_said(desk)
    if not places:
        return f"Nowhere for long, as far as the heights can tell, after {rain} of rain."
    if not standing:
        return f"Nowhere for long; {count(soaked, 'place')} {'stays' if soaked == 1 else 'stay'} soaked."
    area = say_area(standing_area(desk.analysis), desk.units)
    said = capital(f"in {count(len(standing), 'hollow')}: about {area} after {rain} of rain.")
    times = [place.hours_to_drain for place in standing]
    if len(standing) > 1 and all(time is not None for time in times):
        longest = max(standing, key=lambda place: (place.hours_to_drain or 0.0, -place.rank))
        said += f" Hollow\u00a0{longest.rank} holds it longest."
    return said


def _add_shores(view: View, desk: Desk, areas: dict[str, BaseGeometry]) -> None:
    drier = [mark for _, mark, _ in CLASSES]
    for k in range(len(CLASSES) - 1, -1, -1):
        mark = drier[k]
        band = areas[mark].difference(areas[drier[k - 1]]) if k else areas[mark]
        shore = [desk.frame.line(LineString(p.exterior.coords)) for p in polygons_of(areas[mark])]
        if shore:
            view.marks.append(Drawn(mark, area=desk.frame.areas(band), line=shore))
    for _, mark, said in CLASSES:
        view.add_legend(mark, said)


def _add_flow(view: View, desk: Desk, ponds: BaseGeometry) -> None:
    site = desk.analysis.site
    near = site.parcel.buffer(12.0)
    lines = sorted(desk.analysis.drainage.flow_lines, key=lambda flow: -max(flow.upslope_area))
    for rank, flow in enumerate(lines):
        for piece, areas in _smooth_pieces(flow, near, ponds, site.grid.cell):
            view.marks.append(
                Drawn(
                    "runs-guessed" if flow.is_guessed else "runs",
                    line=[desk.frame.line(piece)],
                    widths=() if flow.is_guessed else tuple(round(flow_width(area), 1) for area in areas),
                    rank=rank,
                    thing=f"flow-{rank}",
                )
            )
            view.cards.setdefault(f"flow-{rank}", _flow_card(desk, flow))
    view.add_legend_of_drawn([("runs", "Water runs"), ("runs-guessed", "Runs, guessed")])


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


_SEEN: dict[Seen | None, str] = {
    Seen.HOLE: "hole",
    Seen.DRY: "seen-dry",
    Seen.WET: "seen-wet",
    Seen.RUSHES: "seen-wet",
}


def _add_seen(view: View, desk: Desk, ponds: BaseGeometry) -> None:
    """Draw what was seen: beside the water that it speaks of, on a line to its spot, so that it does not cover it."""
    seen = [feature for feature in desk.analysis.site.drawn(Observation) if feature.seen in _SEEN]
    if not seen:
        # Hundreds of shores take long to widen.
        return
    room = SEEN_ROOM * desk.frame.width
    taken = ponds.buffer(room)
    for feature in seen:
        thing = f"feature-{feature.number}"
        spot = feature.geometry.centroid
        beside = shapely.shortest_line(taken.boundary, spot).interpolate(0.0) if taken.covers(spot) else spot
        if beside is not spot:
            view.marks.append(Drawn("seen-at", line=[desk.frame.line(LineString([spot, beside]))]))
        view.marks.append(Drawn(_SEEN[feature.seen], at=desk.frame.place(beside), thing=thing))
        taken = taken.union(beside.buffer(2.0 * room))
    if {"seen-wet", "seen-dry"} <= {drawn.mark for drawn in view.marks}:
        view.add_legend("seen-both", "Seen wet, dry")
    else:
        view.add_legend_of_drawn([("seen-wet", "Seen wet"), ("seen-dry", "Stayed dry")])
