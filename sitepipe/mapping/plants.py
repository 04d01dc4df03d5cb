"""Single plants in their places, seen from near, and the bed that they fill."""

from __future__ import annotations

import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.answers.names import plants_of
from sitepipe.mapping.frame import Frame, polygons_of
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.view import Desk, View
from sitepipe.planting.record import BedPlan, PlantChoice
from sitepipe.scoring.record import Zone
from sitepipe.site import Found, Ref

_WOODY, _LEAST_RING = ("tree", "shrub", "vine"), 0.6
"""Forms drawn as a ring, as wide as the room that one plant gets, unless that is less [m]; others as a tuft."""
MOST_DRAWN = 8000
"""Plants in all beds that the page draws: more would be half of all that it may hold."""
SLIVER = 0.15
"""Half the width of a strip that comes only of smoothing. [m]"""


def drawn_beds(desk: Desk) -> list[BedPlan]:
    """Return the beds that are set out, as far as a page has room for their plants."""
    left, drawn = MOST_DRAWN, []
    for bed in desk.analysis.planting.beds:
        left -= len(bed.positions)
        if bed.positions and left >= 0:
            drawn.append(bed)
    return drawn


def add_plants(view: View, desk: Desk) -> bool:
    """Draw the plants of every bed that is set out; return whether there are any."""
    marks = [mark for bed in drawn_beds(desk) for mark in plant_marks(bed, desk.frame)]
    view.marks.extend(marks)
    return bool(marks)


def is_ring(choice: PlantChoice) -> bool:
    """Tell whether a kind is drawn as a ring rather than a tuft."""
    return choice.form in _WOODY and choice.spacing >= _LEAST_RING


def kinds_set(bed: BedPlan) -> list[PlantChoice]:
    """Return the kinds of a bed that have places."""
    placed = {name for name, _ in bed.positions}
    return [choice for choice in bed.choices if choice.common in placed]


def plant_marks(bed: BedPlan, frame: Frame) -> list[Drawn]:
    """Return one mark for each of ``kinds_set``: its places, and half the room of one plant. [m]."""
    return [
        Drawn(
            "plant-ring" if is_ring(choice) else "plant-tuft",
            at=[v for name, place in bed.positions if name == choice.common for v in frame.place(place)],
            half=round(choice.spacing / 2.0, 2),
            name=plants_of(choice.count, choice.common),
            thing=f"{bed.of.kind}-{bed.of.number}",
        )
        for choice in kinds_set(bed)
    ]


def bed_marks(desk: Desk, zone: Zone, outline: BaseGeometry) -> list[Drawn]:
    """Return what is seen of a zone's bed from near: the ground, where it is cut off, and how many more have room.

    Parameters
    ----------
    outline : polygon
        The zone as it is drawn: smoothed, so the bed follows it where both end. [m]
    """
    bed = next((bed for bed in drawn_beds(desk) if bed.of == Ref(Found.ZONE, zone.number)), None)
    if bed is None or bed.ground is None:
        return []
    if not bed.room_for:
        return [Drawn("set-out", area=desk.frame.areas(outline))]
    rest = zone.outline.difference(bed.ground)
    drawn = outline.difference(rest).buffer(-SLIVER).buffer(SLIVER)
    pieces = [piece for piece in polygons_of(drawn) if piece.intersection(bed.ground).area > 0.5 * piece.area]
    largest = max(polygons_of(rest), key=lambda piece: piece.area)
    cut = bed.ground.boundary.intersection(outline.buffer(-3.0 * SLIVER))
    return [
        Drawn("set-out", area=desk.frame.areas(shapely.union_all(pieces))),
        Drawn("cut-off", line=desk.frame.lines(cut)),
        Drawn("room", at=desk.frame.place(shapely.point_on_surface(largest)), name=f"room for {bed.room_for:,} more"),
    ]
