"""The window that is read: the parcel and a margin that grows where water comes in from beyond it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError
from sitepipe.reading.frame import MOST_CELLS, Bounds
from sitepipe.saying import say_distance
from sitepipe.site import OpenSides, Site
from sitepipe.units import Units

Sides = tuple[bool, bool, bool, bool]
"""(west, south, east, north)."""

NAMES, DEGREES = ("west", "south", "east", "north"), (270.0, 180.0, 90.0, 0.0)
NEARBY = 100.0
"""Buildings, trees and roads this near the parcel shade it or turn its water, and lie in the first window. [m]"""
LEAST_GROWTH = 20.0
"""[m]."""
FURTHEST_BELOW = 150.0
"""No further than this is the parcel's own water followed downhill in search of a bank; own choice. [m]"""


@dataclass(frozen=True, slots=True)
class Reach:
    """What a reading shows of its own window.

    Parameters
    ----------
    comes : sides
        Through which water may reach the parcel from beyond.
    leaves : sides
        Through which the parcel's water leaves while it is not yet clearly below the parcel: a bank further down
        could pond it back.
    """

    comes: Sides
    leaves: Sides


@dataclass(frozen=True, slots=True)
class Growth:
    """The last reading, the sides through which more water comes, and what to say of the window."""

    site: Site
    open_sides: OpenSides | None
    warnings: tuple[str, ...] = ()


def first_window(parcel: BaseGeometry, others: Iterable[BaseGeometry], margin: float) -> Bounds:
    """Return the box of the parcel and its margin, widened to what was drawn nearby."""
    west, south, east, north = parcel.bounds
    nearby = shapely.box(west - NEARBY, south - NEARBY, east + NEARBY, north + NEARBY)
    for other in others:
        near = other.intersection(nearby)
        if not near.is_empty:
            bounds = near.bounds
            west, south = min(west, bounds[0]), min(south, bounds[1])
            east, north = max(east, bounds[2]), max(north, bounds[3])
    return west - margin, south - margin, east + margin, north + margin


def grow(
    read: Callable[[Bounds], Site],
    window: Bounds,
    reach: Bounds,
    most_cells: int,
    reached: Callable[[Site], Reach] | None,
) -> Growth:
    """Read the window, and again a larger one, until no water reaches the parcel through its sides.

    Each side through which water comes moves outwards by half of what the window measures across it. A side
    through which the parcel's water leaves does too, but not beyond ``FURTHEST_BELOW``.

    Parameters
    ----------
    read : callable
        Reads the part of a box that the heights cover.
    window, reach : (west, south, east, north)
        The first box, and how far the heights go. [m]
    most_cells : int
        A window of more cells is not tried.
    reached : callable or None
        None reads once and calls no side open.
    """
    site = read(window)
    while reached is not None:
        found = reached(site)
        wanted = _wanted(found, site, reach)
        if not any(wanted):
            return Growth(site, _open(found.comes))
        larger = _moved_out(site.grid.bounds, wanted)
        cells = (larger[2] - larger[0]) * (larger[3] - larger[1]) / site.grid.cell_area
        if cells > min(most_cells, MOST_CELLS):
            return Growth(site, _open(found.comes, most_cells))
        try:
            site = read(larger)
        except InputError as error:
            told = f"The window could not grow further: {error}."
            return Growth(site, _open(found.comes), (told,))
    return Growth(site, None)


def _open(sides: Sides, most_cells: int | None = None) -> OpenSides | None:
    degrees = tuple(degrees for degrees, is_open in zip(DEGREES, sides, strict=True) if is_open)
    return OpenSides(degrees, most_cells) if degrees else None


def _wanted(found: Reach, site: Site, reach: Bounds) -> Sides:
    can_grow = _can_grow(site, reach)
    is_near = [margin < FURTHEST_BELOW for margin in _margins(site)]
    wanted = [
        can and (comes or (leaves and near))
        for can, comes, leaves, near in zip(can_grow, found.comes, found.leaves, is_near, strict=True)
    ]
    return wanted[0], wanted[1], wanted[2], wanted[3]


def _can_grow(site: Site, reach: Bounds) -> Sides:
    west, south, east, north = site.grid.bounds
    cell = site.grid.cell
    return west - reach[0] >= cell, south - reach[1] >= cell, reach[2] - east >= cell, reach[3] - north >= cell


def _moved_out(bounds: Bounds, wanted: tuple[bool, ...]) -> Bounds:
    west, south, east, north = bounds
    across, along = max((east - west) / 2.0, LEAST_GROWTH), max((north - south) / 2.0, LEAST_GROWTH)
    return (
        west - across * wanted[0],
        south - along * wanted[1],
        east + across * wanted[2],
        north + along * wanted[3],
    )


def _margins(site: Site) -> tuple[float, float, float, float]:
    west, south, east, north = site.grid.bounds
    inner = site.parcel.bounds
    return inner[0] - west, inner[1] - south, east - inner[2], north - inner[3]


def said_of_window(site: Site, units: Units) -> str:
    """Say how far around the parcel was read."""
    margins = _margins(site)
    around = ", ".join(
        f"{say_distance(max(margin, 0.0), units)} {name}" for margin, name in zip(margins, NAMES, strict=True)
    )
    return f"Read: the parcel and a margin of {around}."
