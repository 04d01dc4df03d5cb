"""Where water comes in and leaves, as numbered places and cards."""

from __future__ import annotations

import dataclasses

import shapely
from shapely import Point

from sitepipe.answers.where import from_standpoint
from sitepipe.drainage.record import Crossing
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.saying import say_area
from sitepipe.site import Kind

MOST_CROSSINGS = 2
LEAST_SHARE, MERGED = 0.1, 6.0
"""A crossing with less ground behind it than this share of the largest, or so near a larger one [m], gets no number."""
LEAVES_CAUTION = (
    "Water that leaves is someone else's next. Do not lower, widen or block its way out without asking "
    "the road's owner, the neighbour or the town."
)


def add_crossings(view: View, desk: Desk) -> None:
    """Add the crossings with the most ground behind them, inwards first."""
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
            view.places.append(dataclasses.replace(_crossing_place(desk, crossing, thing), weight=2 + 6 * number))
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
    for kind, words in (
        (Kind.CULVERT, "by the culvert"),
        (Kind.DITCH, "by the ditch"),
        (Kind.HEDGE, "through the hedge"),
    ):
        for feature in desk.analysis.site.of_kind(kind):
            if shapely.distance(feature.geometry, place) < 4.0:
                return words
    return ""


def _crossing_card(desk: Desk, crossing: Crossing) -> Card:
    where = from_standpoint(desk.analysis.site, crossing.place, desk.units)
    storm: dict[str, float] = {}
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
