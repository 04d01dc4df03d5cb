"""What the planting stage hands on."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import Point


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


@dataclass(frozen=True, slots=True)
class BedPlan:
    """Plants set out in one place. ``where`` is such as ``zone 3`` or ``mound 2``."""

    where: str
    choices: tuple[PlantChoice, ...]
    positions: tuple[tuple[str, Point], ...]
    note: str


@dataclass(frozen=True, slots=True)
class Planting:
    """Every place with its ranked plants."""

    beds: tuple[BedPlan, ...] = ()
    cautions: tuple[str, ...] = ()
    prevalence: str = ""
    notes: tuple[str, ...] = ()
