"""The season, and how sun and shade are worked out."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Field, field_validator, model_validator

from sitepipe.settings.section import Length, MonthDay, Section, Share


class SeasonSettings(Section):
    """The growing season and the months in leaf; from the latitude where they are not given."""

    start: MonthDay | None = None
    end: MonthDay | None = None
    leaf_on: MonthDay | None = None
    leaf_off: MonthDay | None = None

    @model_validator(mode="after")
    def _leaves_must_last(self) -> Self:
        if self.leaf_on is not None and self.leaf_on == self.leaf_off:
            month, day = self.leaf_on
            raise ValueError(f"leaf_on and leaf_off are both {month:02d}-{day:02d}; they must differ")
        return self


class SunSettings(Section):
    """How sun and shade are computed.

    Shares of light through crowns: a sugar maple took about 80 % of the light in leaf and 40 % bare (Heisler 1986,
    Urban Ecology 9:337, abstract); evergreens: common practice, no source. Breaks of light in hours: sources differ, so
    they are a setting. ground_disbelief is the rise of bare ground that casts no shade; twice the error of the heights
    where it is not given.
    """

    azimuths: Annotated[int, Field(ge=24, le=1440)] = 144
    margin: Annotated[Length, Field(ge=0.0, le=1000.0)] = 10.0
    ground_disbelief: Annotated[Length, Field(ge=0.0, le=5.0)] | None = None
    turbidity: Annotated[float, Field(ge=1.0, le=8.0)] = 3.0
    light_breaks: tuple[float, float, float] = (8.0, 6.0, 4.0)
    light_through_leaf: Share = 0.2
    light_through_bare: Share = 0.6
    light_through_evergreen: Share = 0.15

    @field_validator("light_breaks")
    @classmethod
    def _fall(cls, breaks: tuple[float, float, float]) -> tuple[float, float, float]:
        if not 24.0 >= breaks[0] > breaks[1] > breaks[2] > 0.0:
            raise ValueError(f"{breaks} must be hours that fall, such as 8, 6, 4")
        return breaks
