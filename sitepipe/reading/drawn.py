"""A drawn layer as it stands in its file: shapes, properties and coordinate system, nothing interpreted yet."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError

MOST_FEATURES = 5_000
MOST_VERTICES = 200_000
"""A hand-drawn parcel has hundreds; more is a traced picture or an attack."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """One feature as it stands in the file.

    Parameters
    ----------
    number : int
        Its place in the file, from 1.
    geometry : shapely geometry
        Two-dimensional, in the file's coordinates.
    properties : mapping
    folder : str
        The folder or table that holds it, empty where there is none.
    """

    number: int
    geometry: BaseGeometry
    properties: Mapping[str, Any]
    folder: str = ""


@dataclass(frozen=True, slots=True)
class DrawnLayer:
    """Everything in a file, and the coordinate system that it states (None where it states none)."""

    name: str
    features: tuple[Drawn, ...]
    crs: CRS | None

    def place(self, drawn: Drawn) -> str:
        """Return how to name a feature in a message."""
        return f"{self.name}, feature {drawn.number}"

    @property
    def is_in_degrees(self) -> bool:
        """Whether every coordinate could be a longitude and a latitude."""
        west, south, east, north = shapely.total_bounds([drawn.geometry for drawn in self.features])
        return bool(west >= -180.0 and east <= 180.0 and south >= -90.0 and north <= 90.0)


def flat(geometry: BaseGeometry, where: str) -> BaseGeometry:
    """Return a geometry without heights and measures; raise if it is empty or holds what is no number."""
    if geometry is None or geometry.is_empty:
        raise InputError(f"{where} has no geometry. Draw it again, or delete it")
    plain = shapely.force_2d(geometry)
    if not all(math.isfinite(value) for value in plain.bounds) or not _all_finite(plain):
        raise InputError(f"{where} has a coordinate that is no number. Draw it again")
    return plain


def _all_finite(geometry: BaseGeometry) -> bool:
    return bool(np.isfinite(shapely.get_coordinates(geometry)).all())
