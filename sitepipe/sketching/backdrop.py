"""Backdrop: the site's own ground to draw on, or a plain grid where there are no heights yet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from shapely import LineString

from sitepipe.mapping.contours import lines_at
from sitepipe.mapping.levels import choose_interval
from sitepipe.mapping.picture import data_uri, grey_png
from sitepipe.mapping.relief import DrawnGround, draw_ground, relief_picture
from sitepipe.saying import say_length
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sketching.page import Backdrop
from sitepipe.units import Units

PLAIN_SIZE = {Units.IMPERIAL: 91.44, Units.METRIC: 100.0}
"""Side of the plain grid. [m]"""
LEAST_LEVEL_LINE = 4.0
"""Shorter level lines say nothing. [m]"""

Line = tuple[tuple[float, float], ...]


def plain_backdrop(units: Units) -> Backdrop:
    """Return squares to draw on where there are no heights: north is up, zero is the south-west corner."""
    side = PLAIN_SIZE[units]
    square = "10 ft, the strong lines 100 ft" if units is Units.IMPERIAL else "1 m, the strong lines 10 m"
    return Backdrop((0.0, 0.0, side, side), None, None, (), (), f"There are no heights yet: the squares are {square}.")


def backdrop_of(site: Site, flow: tuple[LineString, ...], settings: Settings, origin: tuple[float, float]) -> Backdrop:
    """Draw a site's ground: relief, level lines and the ways that water takes.

    Parameters
    ----------
    site : Site
    flow : tuple of line
        Ways that water takes, downstream. [m]
    settings : Settings
    origin : (x, y)
        Site coordinates of the page's zero. [m]
    """
    around = replace(site, parcel=shapely.box(*_shown(site)))
    ground = draw_ground(around)
    tone, opacity = relief_picture(ground)
    rows, columns = ground.heights.shape
    west, north = ground.west - origin[0], ground.north - origin[1]
    picture_bounds = (west, north - rows * ground.cell, west + columns * ground.cell, north)
    interval = _interval(ground, settings.units)
    # Paper is light; half of the tone's range keeps the lines that are drawn on it readable.
    picture = grey_png((190 + (tone.astype(np.uint16) * 65) // 255).astype(np.uint8), opacity)
    west, south, east, north = around.parcel.bounds
    return Backdrop(
        bounds=(west - origin[0], south - origin[1], east - origin[0], north - origin[1]),
        picture=data_uri(picture),
        picture_bounds=picture_bounds,
        levels=_levels(ground, interval, origin),
        flow=tuple(_line(line, origin) for line in flow),
        says=f"Level lines every {say_length(interval, settings.units)}; blue lines are ways that water takes.",
    )


def _shown(site: Site) -> tuple[float, float, float, float]:
    west, south, east, north = site.parcel.buffer(15.0).bounds
    full = site.grid.bounds
    return max(west, full[0]), max(south, full[1]), min(east, full[2]), min(north, full[3])


def _interval(ground: DrawnGround, units: Units) -> float:
    known = ground.heights[np.isfinite(ground.heights)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    return choose_interval(low, high, units)


def _levels(ground: DrawnGround, interval: float, origin: tuple[float, float]) -> tuple[Line, ...]:
    known = ground.heights[np.isfinite(ground.heights)]
    if not known.size:
        return ()
    first, last = int(known.min() // interval), int(known.max() // interval) + 1
    return tuple(
        _line(line.simplify(0.1), origin)
        for step in range(first, last + 1)
        for line in lines_at(ground.x, ground.y, ground.heights, step * interval + 1e-6)
        if line.length >= LEAST_LEVEL_LINE
    )


def _line(line: LineString, origin: tuple[float, float]) -> Line:
    return tuple((round(x - origin[0], 2), round(y - origin[1], 2)) for x, y in line.coords)
