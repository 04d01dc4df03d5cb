"""Where written points lie: by a drawn name, coordinates, two tapes, an offset, or a walk by compass."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError, did_you_mean
from sitepipe.reading.tables import Row
from sitepipe.reading.tapes import Place, offset_place, refuse_weak, trilaterate, walked_place
from sitepipe.site import Feature

ToPlane = Callable[[float, float], Place]
PLACING = (
    "x", "y", "longitude", "latitude", "from 1", "tape 1", "from 2", "tape 2", "side",
    "line from", "line to", "along", "offset", "walk from", "bearing", "walk length",
)  # fmt: skip
"""Columns that say where a point lies."""
TAPED = ("tape 1", "tape 2", "along", "offset", "walk length")
"""Those of them that hold lengths."""
FURTHEST = 2_000.0
"""What lies further than this from the parcel was placed wrongly. [m]"""
SAME_PLACE = 0.05
"""Two readings closer than this are taken of one place. [m]"""
OTHER_PLACE = 1.0
"""A name whose places lie further apart names two things; own choice. [m]"""


@dataclass(frozen=True, slots=True)
class Positions:
    """How written positions become places on the site's plane.

    Parameters
    ----------
    features : tuple of Feature
        On the plane.
    parcel : polygon
    from_grid : callable
        (x, y) as written, in metres where the column states a unit -> place.
    from_earth : callable or None
        (longitude, latitude) -> place; None on a local plane.
    grid_unit : float
        Metres per unit of bare coordinates.
    """

    features: tuple[Feature, ...]
    parcel: BaseGeometry
    from_grid: ToPlane
    from_earth: ToPlane | None
    grid_unit: float

    @property
    def bare(self) -> tuple[str, ...]:
        """Columns whose bare numbers have a unit that nobody stated: not those of a known coordinate system."""
        return TAPED if self.from_earth is not None else ("x", "y", *TAPED)

    def place(self, row: Row, bare: float, known: Mapping[str, frozenset[Place]]) -> Place | None:
        """Return where a row says that its point lies, None where it does not say.

        Parameters
        ----------
        bare : float
            Metres per unit of bare lengths.
        known : mapping
            Places by name in lower case, to measure from.

        Raises
        ------
        InputError
            If it says half of it, something that cannot be, or a place far from the parcel.
        """
        place = self._written(row, bare, known)
        if place is None:
            return None
        if not all(np.isfinite(value) for value in place):
            raise InputError(
                f"{row.where} lies where the site's coordinate system does not reach. Check its coordinates"
            )
        apart = self.parcel.distance(shapely.Point(place))
        if apart > FURTHEST:
            raise InputError(
                f"{row.where} lies {apart / 1000.0:,.1f} km from the parcel (x {place[0]:.1f}, y {place[1]:.1f}). "
                "Check its coordinates and their unit"
            )
        return place

    def _written(self, row: Row, bare: float, known: Mapping[str, frozenset[Place]]) -> Place | None:
        cells = row.cells

        def length(column: str) -> float:
            return row.length(column, bare) or 0.0

        def fixed(column: str) -> Place:
            return find_place(
                row.text(column), known, f"{row.where}: {column}", "Draw it as a feature of kind 'fixed point'"
            )

        if "x" in cells or "y" in cells:
            row.need(("x", "y"), "A place")
            return self.from_grid(row.length("x", self.grid_unit) or 0.0, row.length("y", self.grid_unit) or 0.0)
        if "longitude" in cells or "latitude" in cells:
            row.need(("longitude", "latitude"), "A place")
            if self.from_earth is None:
                raise InputError(
                    f"{row.where} has degrees, and the site is a plane of its own. Write x and y in metres"
                )
            return self.from_earth(row.number("longitude"), row.number("latitude"))
        try:
            if "tape 1" in cells or "tape 2" in cells:
                row.need(("from 1", "tape 1", "from 2", "tape 2", "side"), "A place")
                side = row.text("side").lower()
                taped = trilaterate(fixed("from 1"), fixed("from 2"), length("tape 1"), length("tape 2"), side)
                refuse_weak(taped)
                return taped.x, taped.y
            if "bearing" in cells or "walk length" in cells:
                row.need(("walk from", "bearing", "walk length"), "A place")
                return walked_place(fixed("walk from"), row.number("bearing"), length("walk length"))
            if "along" in cells or "offset" in cells:
                row.need(("line from", "line to", "along", "offset"), "A place")
                return offset_place(fixed("line from"), fixed("line to"), length("along"), length("offset"))
        except ValueError as error:
            raise InputError(f"{row.where}: {error}") from error
        return None


def drawn_places(features: Iterable[Feature]) -> dict[str, frozenset[Place]]:
    """Return where everything drawn lies (an area in its middle), by name in lower case."""
    places: dict[str, frozenset[Place]] = {}
    for feature in features:
        middle = feature.geometry.centroid
        name = feature.name.strip().lower()
        places[name] = places.get(name, frozenset()) | {(float(middle.x), float(middle.y))}
    return places


def refuse_elsewhere(row: Row, name: str, place: Place, known: Mapping[str, frozenset[Place]]) -> None:
    """Raise where a name is already known somewhere else."""
    apart = [float(np.hypot(place[0] - x, place[1] - y)) for x, y in known.get(name.lower(), ())]
    if apart and min(apart) > OTHER_PLACE:
        raise InputError(
            f"{row.where}: {name!r} lies {min(apart):.1f} m from where it is drawn or a line above puts it. Correct "
            "its place, or give each its own name"
        )


def find_place(name: str, known: Mapping[str, frozenset[Place]], where: str, remedy: str) -> Place:
    """Return the one place of a name.

    Raises
    ------
    InputError
        If nothing has that name, or things in several places do.
    """
    places = known.get(name.strip().lower(), frozenset())
    if not places:
        raise InputError(
            f"{where} is {name[:60]!r}, which is not drawn{did_you_mean(name, known)}. {remedy} with that name"
        )
    if len(places) > 1:
        raise InputError(f"{where} is {name[:60]!r}, and {len(places)} things are drawn with that name. Name each once")
    return next(iter(places))
