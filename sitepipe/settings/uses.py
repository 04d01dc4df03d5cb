"""What makes ground good for a use, and what must be kept clear."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Self

from pydantic import Field, model_validator

from sitepipe.settings.section import Length, Section, Share


class Criterion(Section):
    """One thing that a use asks of the ground: a smooth step from ``none_at`` (not at all) to ``full_at`` (wholly).

    ``least`` is what remains at ``none_at``: 0 where the use is out of the question there. Weight 0 drops it.
    """

    weight: float = Field(ge=0.0, le=100.0)
    none_at: float = Field(ge=-1e6, le=1e6)
    full_at: float = Field(ge=-1e6, le=1e6)
    least: Share = 0.0

    @model_validator(mode="after")
    def _must_step(self) -> Self:
        if self.none_at == self.full_at:
            raise ValueError(f"none_at and full_at are both {self.full_at}; they must differ")
        return self


class UseSettings(Section):
    """What one use asks of the ground. A file may change any one number of a criterion."""

    @model_validator(mode="before")
    @classmethod
    def _over_the_defaults(cls, values: object) -> object:
        if not isinstance(values, Mapping):
            return values
        filled = dict(values)
        for name, field in cls.model_fields.items():
            own = filled.get(name)
            if isinstance(own, Mapping) and isinstance(field.default, Criterion):
                filled[name] = field.default.model_dump() | dict(own)
        return filled

    @model_validator(mode="after")
    def _must_weigh(self) -> Self:
        weights = [getattr(self, name).weight for name in type(self).model_fields]
        if sum(weights) <= 0.0:
            raise ValueError("the weights sum to 0; at least one must be above 0")
        return self


class MoundUse(UseSettings):
    """Where a raised mound belongs: sunny, gentle, wet enough to need one, off the water's way."""

    sun_hours: Criterion = Criterion(weight=4.0, none_at=2.0, full_at=6.0)
    """Season mean [h/day]; full sun is 6 hours and more, part sun 4 (extension services)."""
    standing_water_m: Criterion = Criterion(weight=2.0, none_at=0.30, full_at=0.05)
    """Water after the larger storm [m]: a mound in a pool displaces it. Common practice, no source."""
    slope_percent: Criterion = Criterion(weight=1.0, none_at=20.0, full_at=8.0, least=0.1)
    """Rise per 100 of run [%]. Common practice, no source."""
    water_behind_m2: Criterion = Criterion(weight=1.5, none_at=5000.0, full_at=500.0, least=0.05)
    """Ground that drains past within half the least width [m2]: a mound must not dam. Common practice, no source."""
    water_table_m: Criterion = Criterion(weight=1.5, none_at=1.2, full_at=0.6, least=0.3)
    """Wet-season depth to water [m]: vegetables want .45 to .9, fruit trees to 1.2; deeper needs no mound."""
    wetness: Criterion = Criterion(weight=2.0, none_at=0.95, full_at=0.70, least=0.05)
    """The wettest ground [1] is left to plants that like it. Common practice, no source."""
    wet_enough: Criterion = Criterion(weight=1.0, none_at=0.05, full_at=0.30, least=0.3)
    """The driest ground [1] in view needs no mound; it stays firm to walk on. Common practice, no source."""
    haul_m: Criterion = Criterion(weight=0.5, none_at=200.0, full_at=40.0, least=0.3)
    """Way with a barrow from gate or road, as the crow flies [m]. Common practice, no source."""


class WetPlantingUse(UseSettings):
    """Where wet-tolerant plants belong: soaked or shallowly flooded, with some light."""

    wetness: Criterion = Criterion(weight=3.0, none_at=0.4, full_at=0.8)
    """[1]"""
    depth_to_water_index_m: Criterion = Criterion(weight=1.0, none_at=1.5, full_at=0.3, least=0.2)
    """The index of depth to water [m]; .3 is the 12 in of wetland hydrology."""
    standing_water_m: Criterion = Criterion(weight=1.0, none_at=0.5, full_at=0.15)
    """[m]; few marsh plants start in more. Value from memory."""
    sun_hours: Criterion = Criterion(weight=1.0, none_at=0.0, full_at=3.0, least=0.3)
    """[h/day]; alder, willow and ferns bear part shade (2 to 4 hours)."""
    slope_percent: Criterion = Criterion(weight=0.5, none_at=30.0, full_at=12.0, least=0.2)
    """[%]; common practice, no source."""


class PathUse(UseSettings):
    """Where a chip path belongs: firm, gentle, not the way that water takes."""

    wetness: Criterion = Criterion(weight=3.0, none_at=0.9, full_at=0.45, least=0.02)
    """[1]; common practice, no source."""
    standing_water_m: Criterion = Criterion(weight=2.0, none_at=0.10, full_at=0.02)
    """[m]; chips float."""
    slope_percent: Criterion = Criterion(weight=2.0, none_at=15.0, full_at=5.0, least=0.05)
    """[%]; 5 is the 1 in 20 of an accessible route (2010 ADA standards, value from memory)."""
    water_behind_m2: Criterion = Criterion(weight=1.0, none_at=5000.0, full_at=500.0, least=0.2)
    """[m2]; a path as the lowest line becomes the ditch."""


class KeepClearSettings(Section):
    """Distances kept from things that digging or filling can hurt; local codes and licensed practice come first."""

    house: Annotated[Length, Field(ge=0.0, le=50.0)] = 3.048
    """The ground falls 6 in within 10 ft of a wall (IRC R401.3), so nothing is raised there. [m]"""
    septic: Annotated[Length, Field(ge=0.0, le=100.0)] = 3.048
    """Edible crops stay 10 ft off the field, 20 is safer (extension services). [m]"""
    well: Annotated[Length, Field(ge=0.0, le=200.0)] = 15.24
    """Compost and manure stay 50 to 100 ft off; value from memory, the local code rules. [m]"""
    buried_line: Annotated[Length, Field(ge=0.0, le=20.0)] = 0.9
    """Dig by hand 24 in either side of the marks, and a drawn line lies within 1 ft. [m]"""
    sight_leg: Annotated[Length, Field(ge=0.0, le=30.0)] = 4.572
    """Leg of the clear triangle at a driveway: 10 to 15 ft in eight ordinances. [m]"""
    boundary: Annotated[Length, Field(ge=0.0, le=30.0)] = 1.0
    """Common practice, no source; the local code rules. [m]"""
    trunk: Annotated[Length, Field(ge=0.0, le=30.0)] = 2.0
    """Soil over roots smothers them. Common practice, no source. [m]"""
    hedge: Annotated[Length, Field(ge=0.0, le=10.0)] = 0.6
    """Room to cut it. Common practice, no source. [m]"""
    road: Annotated[Length, Field(ge=0.0, le=100.0)] = 6.0
    """Lead of 157 to 176 mg/kg was found 6 m from busy roads, falling to 60 m; salt spray reaches 9 m. [m]"""
    water: Annotated[Length, Field(ge=0.0, le=100.0)] = 1.5
    """From open water and ditches. Common practice, no source; wetland buffers are often wider. [m]"""
    culvert: Annotated[Length, Field(ge=0.0, le=20.0)] = 2.0
    """A mouth stays open. Common practice, no source. [m]"""
    undrawn: Annotated[Length, Field(ge=0.5, le=30.0)] = 1.0
    """Height from which what only the surface model shows is no place to build; lower is grass, rushes and scrub that
    can be cut. Our own choice. [m]"""
    storing_depth: Annotated[Length, Field(ge=0.0, le=5.0)] = 0.15
    """A hollow at least so deep stores the storm; filling it floods somebody else. [m]"""
    storing_m3: float = Field(default=2.0, ge=0.0, le=1e6)
    """And at least so much of it. Common practice, no source. [m3]"""


class ScoringSettings(Section):
    """What each use asks for, and how zones are cut."""

    mound: MoundUse = MoundUse()
    wet_planting: WetPlantingUse = WetPlantingUse()
    path: PathUse = PathUse()
    least_score: Share = 0.35
    """Ground that suits no use better is left as it is. [1]"""
    least_area_m2: float = Field(default=25.0, ge=0.0, le=1e6)
    """Smallest zone: room for one mound and its path. Common practice, no source. [m2]"""
    least_width: Annotated[Length, Field(gt=0.0, le=100.0)] = 2.0
    """One mound's base is at least 2 m; narrower zones hold none (practitioners). [m]"""
