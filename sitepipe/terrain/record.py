"""What the terrain stage hands on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from sitepipe.arrays import FloatArray
from sitepipe.layer import Layer


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
    broad_elevation: FloatArray
    broad_slope: FloatArray
    broad_scale: float
    slope_floor: float
