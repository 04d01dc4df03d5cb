"""What may be planted, and how many."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field

from sitepipe.settings.section import Length, Section, Temperature


class PlantingSettings(Section):
    """What to plant: the list, the site's cold, and how plants are set out.

    ``most_plants`` is for one bed of proposed plants; the grower's own list knows no such limit. ``bed_area`` [m2] is
    what is set out of a large piece of wet ground, beside the path. ``juglone_reach`` is how far from a walnut or
    hickory nothing sensitive grows: 50 to 60 ft (Ohio State, in the trade notes). ``boundary_room`` is kept free along
    the boundary, so that what grows can be reached and stays on this side (common practice, no source).
    """

    palette: Path | None = None
    replaces_palette: bool = False
    coldest_night: Temperature | None = None
    wanted: tuple[Literal["edible", "nursery stock", "habitat", "ground cover"], ...] = (
        "edible",
        "nursery stock",
        "habitat",
    )
    choices: Annotated[int, Field(ge=1, le=20)] = 6
    most_plants: Annotated[int, Field(ge=1, le=5000)] = 150
    bed_area: Annotated[float, Field(ge=1.0, le=10_000.0)] = 100.0
    edge_setback: Annotated[Length, Field(ge=0.0, le=2.0)] = 0.15
    boundary_room: Annotated[Length, Field(ge=0.0, le=10.0)] = 1.0
    juglone_reach: Annotated[Length, Field(ge=0.0, le=50.0)] = 18.0
    prices: dict[str, Annotated[float, Field(ge=0.0, le=10000.0)]] = Field(default_factory=dict)
    seen: dict[str, Annotated[float, Field(ge=0.0, le=100.0)]] = Field(default_factory=dict)
