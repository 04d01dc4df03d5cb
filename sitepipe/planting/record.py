"""What the planting stage hands on."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import MultiPolygon, Point, Polygon


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
    spacing: float
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
    choices: tuple[PlantChoice, ...]
    positions: tuple[tuple[str, Point], ...]
    note: str
    ground: Polygon | MultiPolygon | None = None
    room_for: int = 0
    left: float = 0.0


@dataclass(frozen=True, slots=True)
class Planting:
    """Every place with its ranked plants."""

    beds: tuple[BedPlan, ...] = ()
    cautions: tuple[str, ...] = ()
    prevalence: str = ""
    notes: tuple[str, ...] = ()
