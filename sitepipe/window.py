"""How much ground must be read: through which sides of a window water reaches the parcel."""

from __future__ import annotations

import numpy as np

from sitepipe.arrays import BoolArray
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.drawn import routed_ground
from sitepipe.drainage.edges import depends_on, feeds
from sitepipe.drainage.heights import PER_METRE
from sitepipe.drainage.network import route
from sitepipe.reading.growth import Reach, Sides
from sitepipe.settings import DrainageSettings
from sitepipe.site import Site

CLEARLY_BELOW = 0.5
"""Water that has fallen this far below the parcel's lowest ground is not ponded back onto it; own choice. [m]"""


def reached_sides(site: Site, settings: DrainageSettings) -> Reach:
    """Tell through which sides of the window water reaches the parcel, and through which it leaves too early.

    Water comes through a side where a cell on it drains to the parcel, to a hollow that the parcel shares, or
    lies in the parcel itself: what lies beyond may drain there too. The drawn culverts and ditches are left out;
    they only move water between places that are both inside.
    """
    heights, known, _ = routed_ground(site.elevation, site, settings)
    network = route(heights)
    inside = cells_inside(site.grid, site.parcel) & known
    shared = np.unique(network.hollow[inside & (network.hollow > 0)])
    comes = feeds(network.receiver, network.order, inside | np.isin(network.hollow, shared))
    lowest = int(network.level[inside].min()) if inside.any() else 0
    early = depends_on(network.receiver, network.order, inside) & (network.level > lowest - CLEARLY_BELOW * PER_METRE)
    return Reach(comes=_sides(comes), leaves=_sides(early))


def _sides(marked: BoolArray) -> Sides:
    return bool(marked[:, 0].any()), bool(marked[-1].any()), bool(marked[:, -1].any()), bool(marked[0].any())
