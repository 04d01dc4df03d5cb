"""The ground alone, before anything is drawn: for the page to draw on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from shapely import box

from sitepipe.errors import SettingsError
from sitepipe.reading.coordinates import is_local, move_points
from sitepipe.reading.drawn import Drawn, DrawnLayer
from sitepipe.reading.ground import open_heights
from sitepipe.reading.place import EARTH
from sitepipe.reading.site import read_site
from sitepipe.reading.source import HeightFile, Source
from sitepipe.settings import Settings
from sitepipe.site import Site

MOST_CELLS_A_SIDE = 800
"""A picture to draw on needs no more."""
LARGEST_SIDE = 2000.0
"""Of larger ground only the middle is shown. [m]"""


def read_bare_ground(source: Source) -> Site:
    """Read the heights of a site as if their outline were the parcel.

    Raises
    ------
    SettingsError
        If there are no heights.
    InputError
        If they cannot be read.
    """
    file, settings = source.heights, source.settings
    if file is None:
        raise SettingsError("site.toml: elevation is missing. Name the file of heights: elevation = 'elevation.tif'")
    place = _middle(file, settings)
    settings = settings.model_copy(update={"longitude": place[0], "latitude": place[1]})
    ground = open_heights(file, place, settings.ground.cell, settings)
    west, south, east, north = ground.reach
    x, y = (west + east) / 2.0, (south + north) / 2.0
    half_x, half_y = (min(side, LARGEST_SIDE) / 2.0 for side in (east - west, north - south))
    cell = max(ground.frame.cell, 2.0 * max(half_x, half_y) / MOST_CELLS_A_SIDE)
    outline = box(x - half_x, y - half_y, x + half_x, y + half_y)
    layer = DrawnLayer(file.name, (Drawn(1, outline, {"kind": "parcel"}),), ground.frame.plane)
    coarse = settings.ground.model_copy(update={"margin": 0.0, "cell": cell})
    settings = settings.model_copy(update={"ground": coarse})
    site = read_site(replace(source, settings=settings, layer=layer, levels=None, holes=None))
    return replace(site, features=())


def _middle(file: HeightFile, settings: Settings) -> tuple[float, float]:
    """Return (longitude, latitude). [deg]."""
    x, y = file.middle
    if file.system is None or is_local(file.system):
        return settings.longitude or 0.0, settings.latitude or 45.0
    longitude, latitude = move_points(np.array([x]), np.array([y]), file.system, EARTH)
    return float(longitude[0]), float(latitude[0])
