"""What the heights are, how they were surveyed, and how the shape of the ground is read."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from sitepipe.settings.section import Length, Section


class GroundSettings(Section):
    """The heights: unit, error, and the cell to work at.

    ``margin`` is the ground read around the parcel at first; it grows until the parcel's catchment is inside, the
    heights end, or the window has ``widest_window`` cells (4 million take some 15 s; own choice).
    """

    unit: Literal["m", "ft", "us-ft"] | None = None
    cell: Annotated[Length, Field(ge=0.05, le=100.0)] | None = None
    error: Annotated[Length, Field(gt=0.0, le=20.0)] | None = None
    error_correlation: Annotated[Length, Field(gt=0.0, le=1000.0)] | None = None
    margin: Annotated[Length, Field(ge=0.0, le=5000.0)] = 30.0
    widest_window: Annotated[int, Field(ge=1_000, le=16_000_000)] = 4_000_000


class SurveySettings(Section):
    """Levels that the user took: unit of bare numbers, how well a loop must close, and how far the survey speaks.

    ``misclosure_per_root_km``: 12 mm is third order, 8 mm second order (class II; from memory). ``sight`` is taken
    for a sight where no distances were written. ``collar`` is the width over which the survey's shift fades out
    in the ground around; ``widest_gap`` the longest side of a triangle of levels that still counts as surveyed (from
    the spacing of the levels where it is not given).
    """

    unit: Literal["m", "ft", "us-ft"] | None = None
    misclosure_per_root_km: Annotated[Length, Field(gt=0.0, le=0.1)] = 0.012
    least_misclosure: Annotated[Length, Field(ge=0.0, le=0.1)] = 0.005
    reading_error: Annotated[Length, Field(gt=0.0, le=0.1)] = 0.003
    sight: Annotated[Length, Field(ge=1.0, le=100.0)] = 20.0
    collar: Annotated[Length, Field(ge=0.0, le=200.0)] = 5.0
    widest_gap: Annotated[Length, Field(ge=0.5, le=500.0)] | None = None


class TerrainSettings(Section):
    """The scale at which slope and wetness index are taken."""

    slope_noise_share: float = Field(default=1.0 / 3.0, gt=0.0, le=1.0)
    """Slope noise over the slope there is, at most; at a third the noise adds 5 % to a slope. [1]"""
    gentle_share: float = Field(default=0.25, gt=0.0, le=1.0)
    """Slope of the gentle ground, where water lies, over the typical slope: it must stand out as well.
    Chosen on invented ground: twice the sound spacing and the spacing itself ranked wetness worse. [1]"""
    broadest: Annotated[Length, Field(gt=0.0, le=1000.0)] = 50.0
    """No wider scale, however level the ground: hollows of a garden's size would be averaged away. [m]"""
