"""How large drawn things are where the drawing does not say."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from sitepipe.settings.section import Length, Section


class DrawnSettings(Section):
    """Sizes of what was drawn without them: common practice, no source, unless another is named.

    A surface model that shows something there is believed before a height of this table.
    """

    building_height: Annotated[Length, Field(gt=0.0, le=150.0)] = 5.0
    tree_height: Annotated[Length, Field(gt=0.0, le=120.0)] = 8.0
    hedge_height: Annotated[Length, Field(gt=0.0, le=30.0)] = 2.0
    wall_height: Annotated[Length, Field(gt=0.0, le=30.0)] = 1.8
    kerb_height: Annotated[Length, Field(gt=0.0, le=1.0)] = 0.12
    crown_per_height: Annotated[float, Field(gt=0.0, le=3.0)] = 0.6
    """Width of a crown for each metre of the tree. [1]"""
    trunk_width: Annotated[Length, Field(gt=0.0, le=10.0)] = 1.0
    """Ground that the trunk and the swell of its roots take. [m]"""
    hedge_width: Annotated[Length, Field(gt=0.0, le=20.0)] = 1.0
    wall_width: Annotated[Length, Field(gt=0.0, le=5.0)] = 0.2
    road_width: Annotated[Length, Field(gt=0.0, le=50.0)] = 3.0
    """One lane. [m]"""
    gate_width: Annotated[Length, Field(gt=0.0, le=20.0)] = 3.0
    """Of a gate drawn as a point. [m]"""
    line_width: Annotated[Length, Field(gt=0.0, le=5.0)] = 0.5
    """Of anything else that is drawn as a line or a point, such as a ditch: as exact as a hand draws. [m]"""
    years_ahead: Annotated[float, Field(ge=0.0, le=100.0)] = 0.0
    """Trees are as high as they will be then. [years]"""
    tree_growth_per_year: Annotated[Length, Field(ge=0.0, le=3.0)] = 0.3
