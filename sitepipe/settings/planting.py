"""What may be planted, and how many."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from sitepipe.settings.section import Length, Section, Temperature


class PlantingSettings(Section):
    """What to plant: the list, the site's cold, and how plants are set out."""

    NOT_ABOVE = (("kinds_in_a_bed", "choices"),)

    palette: Path | None = None
    replaces_palette: bool = False
    coldest_night: Temperature | None = None
    wanted: tuple[Literal["edible", "nursery stock", "habitat", "ground cover"], ...] = (
        "edible",
        "nursery stock",
        "habitat",
    )
    choices: Annotated[int, Field(ge=1, le=20)] = 6
    kinds_in_a_bed: Annotated[int, Field(ge=1, le=5)] = 3
    most_plants: Annotated[int, Field(ge=1, le=5000)] = 150
    edge_setback: Annotated[Length, Field(ge=0.0, le=2.0)] = 0.15
    triangular: bool = False
    prices: dict[str, Annotated[float, Field(ge=0.0, le=10000.0)]] = Field(default_factory=dict)
    seen: dict[str, Annotated[float, Field(ge=0.0, le=100.0)]] = Field(default_factory=dict)
