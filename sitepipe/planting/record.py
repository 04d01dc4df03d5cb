"""What the planting stage hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from shapely import MultiPolygon, Point, Polygon

from sitepipe.fields import Goes, Key, Metres, Shape, SquareMetres


@dataclass(frozen=True, slots=True)
class PlantChoice:
    """A plant proposed for one place, with why and what is unknown."""

    latin: str
    common: str
    fit: float
    verdict: str
    why: str
    unknown: str
    uses: tuple[str, ...]
    caution: str
    count: int
    spacing: Metres
    form: str = ""


@dataclass(frozen=True, slots=True)
class BedPlan:
    """Plants set out in one place. ``where`` is such as ``zone 3`` or ``mound 2``.

    Parameters
    ----------
    positions : tuple of (common name, place)
        One for each plant that ``choices`` counts. [m]
    ground : polygon or None
        What they take; of a large zone only a bed beside the path. [m]
    room_for : int
        How many more the rest of the zone would hold, at the same mixture; two figures.
    left : float
        Area of that rest. [m2]
    """

    where: str
    choices: Annotated[tuple[PlantChoice, ...], Key("plants")]
    positions: Annotated[tuple[tuple[str, Point], ...], Goes.INTERNAL]
    note: str
    ground: Annotated[Polygon | MultiPolygon | None, Shape("beds")] = None
    room_for: Annotated[int, Key("room_for_more.count")] = 0
    left: Annotated[SquareMetres, Key("room_for_more.area")] = 0.0

    @property
    def set_out_area(self) -> SquareMetres | None:
        """Ground that its plants take, None where none is set out. [m2]."""
        return None if self.ground is None else float(self.ground.area)


@dataclass(frozen=True, slots=True)
class Planting:
    """Every place with its ranked plants."""

    beds: tuple[BedPlan, ...] = ()
    cautions: Annotated[tuple[str, ...], Goes.SAID] = ()
    prevalence: str = ""
    notes: tuple[str, ...] = ()
