"""How much ground must be read: through which sides of a window water reaches the parcel."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, IntArray
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.descent import steepest_receivers
from sitepipe.drainage.heights import PER_METRE, whole_heights
from sitepipe.drainage.routing import accumulated, route_level_ground
from sitepipe.reading.growth import Reach, Sides
from sitepipe.reading.masks import cells_in
from sitepipe.site import Site

CLEARLY_BELOW = 0.5
"""Water that has fallen this far below the parcel's lowest ground is not ponded back onto it; own choice. [m]"""


def reached_sides(site: Site) -> Reach:
    """Tell through which sides of the window water reaches the parcel, and through which it leaves too early.

    Water comes through a side where a cell on it drains to the parcel, to a hollow that the parcel shares, or
    lies in the parcel itself: what lies beyond may drain there too. The drawn culverts and ditches are left out;
    they only move water between places that are both inside.
    """
    heights, known = whole_heights(site.elevation)
    level = filled(heights)
    receiver = steepest_receivers(level, heights)
    hollow, _ = route_level_ground(level, heights, receiver)
    order, _ = accumulated(receiver)
    inside = cells_in(site.parcel, site.grid) & known
    shared = np.unique(hollow[inside & (hollow > 0)])
    comes = drains_to(receiver, order, inside | np.isin(hollow, shared))
    lowest = int(level[inside].min()) if inside.any() else 0
    early = drains_from(receiver, order, inside) & (level > lowest - CLEARLY_BELOW * PER_METRE)
    return Reach(comes=_sides(comes), leaves=_sides(early))


@kernel
def drains_to(receiver: IntArray, order: IntArray, target: BoolArray) -> BoolArray:
    """Mark the target cells and every cell that drains through one.

    Parameters
    ----------
    receiver : (rows, columns) int32 array
        Flat index that a cell drains to, negative where the water leaves.
    order : (cells,) int32 array
        Every cell after the cell that it drains to.

    Examples
    --------
    >>> to = np.array([[1, 2, -1]], dtype=np.int32)
    >>> drains_to(to, np.array([2, 1, 0], dtype=np.int32), np.array([[False, True, False]])).tolist()
    [[True, True, False]]
    """
    marked = target.copy()
    flat, to = marked.ravel(), receiver.ravel()
    for cell in order:
        if to[cell] >= 0 and flat[to[cell]]:
            flat[cell] = True
    return marked


@kernel
def drains_from(receiver: IntArray, order: IntArray, start: BoolArray) -> BoolArray:
    """Mark the start cells and every cell that their water passes.

    Examples
    --------
    >>> to = np.array([[1, 2, -1]], dtype=np.int32)
    >>> drains_from(to, np.array([2, 1, 0], dtype=np.int32), np.array([[False, True, False]])).tolist()
    [[False, True, True]]
    """
    marked = start.copy()
    flat, to = marked.ravel(), receiver.ravel()
    for cell in order[::-1]:
        if to[cell] >= 0 and flat[cell]:
            flat[to[cell]] = True
    return marked


def _sides(marked: BoolArray) -> Sides:
    return bool(marked[:, 0].any()), bool(marked[-1].any()), bool(marked[:, -1].any()), bool(marked[0].any())
