"""A drawn layer as it stands in its file: shapes, properties and coordinate system, nothing interpreted yet."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError


@dataclass(frozen=True, slots=True)
class Limits:
    """How much a layer may hold: features, vertices, and bytes once unpacked."""

    features: int
    vertices: int
    unpacked: int


HAND_DRAWN = Limits(5_000, 200_000, 64 * 2**20)
"""A hand-drawn parcel has hundreds; more is a traced picture or an attack."""
DISTRICT = Limits(500_000, 50_000_000, 8 * 2**30)
"""A layer of parcels, or of the houses of a district."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """One feature as it stands in the file.

    Parameters
    ----------
    number : int
        Its place in the file, from 1.
    geometry : shapely geometry
        Two-dimensional, in the file's coordinates; an empty one where there is a fault.
    properties : mapping
    folder : str
        The folder or table that holds it, empty where there is none.
    fault : str
        Why its shape cannot be used, empty where it can.
    """

    number: int
    geometry: BaseGeometry
    properties: Mapping[str, Any]
    folder: str = ""
    fault: str = ""


@dataclass(frozen=True, slots=True)
class DrawnLayer:
    """Everything in a file, and the coordinate system that it states (None where it states none).

    ``is_on_parcel`` says that its coordinates are metres east and north of the parcel's south-west corner, ``numbers``
    which numbers of works were handed out already.
    """

    name: str
    features: tuple[Drawn, ...]
    crs: CRS | None
    is_on_parcel: bool = False
    numbers: Mapping[str, int] = field(default_factory=dict)

    def place(self, drawn: Drawn) -> str:
        """Return how to name a feature in a message."""
        return f"{self.name}, feature {drawn.number}"

    @property
    def is_in_degrees(self) -> bool:
        """Whether every coordinate could be a longitude and a latitude."""
        west, south, east, north = shapely.total_bounds([drawn.geometry for drawn in self.features])
        return bool(west >= -180.0 and east <= 180.0 and south >= -90.0 and north <= 90.0)


def drawn_as(
    number: int,
    shape: Callable[[str], BaseGeometry | None],
    properties: Mapping[str, Any],
    layer: str,
    folder: str = "",
) -> Drawn:
    """Return a feature with the shape that is made for its place in a message, or with the fault of that shape."""
    where = f"{layer}, feature {number}"
    try:
        return Drawn(number, flat(shape(where), where), properties, folder)
    except InputError as error:
        return Drawn(number, Polygon(), properties, folder, str(error))


def flat(geometry: BaseGeometry | None, where: str) -> BaseGeometry:
    """Return a geometry without heights and measures; raise if it is empty or holds what is no number."""
    if geometry is None or geometry.is_empty:
        raise InputError(f"{where} has no geometry. Draw it again, or delete it")
    plain = shapely.force_2d(geometry)
    if not all(math.isfinite(value) for value in plain.bounds) or not _all_finite(plain):
        raise InputError(f"{where} has a coordinate that is no number. Draw it again")
    return plain


def _all_finite(geometry: BaseGeometry) -> bool:
    return bool(np.isfinite(shapely.get_coordinates(geometry)).all())
