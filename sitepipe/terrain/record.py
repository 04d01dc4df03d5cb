"""What the terrain stage hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from sitepipe.arrays import FloatArray
from sitepipe.fields import Goes, Key, Layer, Metres


@dataclass(frozen=True, slots=True)
class Terrain:
    """The shape of the ground.

    Parameters
    ----------
    slope, aspect : (rows, columns) float array
        Of the ground as read. [deg]
    broad_elevation, broad_slope : (rows, columns) float array
        The ground smoothed to ``broad_scale``, and its slope as rise per run. [m], [1]
    broad_scale : float
        Scale at which slope noise stays well under the slope there is. [m]
    slope_floor : float
        Least rise per run that the heights can tell from level. [1]
    """

    slope: Annotated[FloatArray, Layer("Slope", "deg", "Steepness of the ground.", "Horn (1981)")]
    aspect: Annotated[
        FloatArray, Layer("Aspect", "deg", "Direction that the ground falls to, clockwise from north.", "Horn (1981)")
    ]
    broad_elevation: Annotated[FloatArray, Goes.INTERNAL]
    broad_slope: Annotated[FloatArray, Goes.INTERNAL]
    broad_scale: Annotated[Metres, Key("scale_of_wetness")]
    slope_floor: Annotated[float, Key("least_slope_told_from_level")]
