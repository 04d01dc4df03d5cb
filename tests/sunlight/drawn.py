"""Sites with things that stand, and the slow, plain way to count their sun."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from scipy.ndimage import gaussian_filter
from shapely import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Feature, Kind, Site
from sitepipe.sunlight.place import edges_at
from sitepipe.sunlight.season import growing_season
from sitepipe.sunlight.stage import site_scene
from sitepipe.sunlight.tables import SunPath, year_of_sun
from tests.sites import draw_thing, make_site, plane


def thing(
    kind: Kind, geometry: BaseGeometry, height: float | None = None, width: float | None = None, **attributes: Any
) -> Feature:
    """Draw one thing."""
    return draw_thing(1, kind, str(kind), geometry, height, width, attributes)


def sun_settings(**sun: Any) -> Settings:
    """Read settings as from a file, believing every rise of the ground unless told otherwise."""
    values: Mapping[str, Any] = {"ground_disbelief": "0 m", "margin": "500 m"} | sun
    return make_settings({"sun": values}, "site.toml")


def rolling(size: int, relief: float, smooth: float, seed: int) -> FloatArray:
    """Smooth random ground whose heights have a standard deviation of ``relief`` m."""
    noise = gaussian_filter(np.random.default_rng(seed).normal(size=(size, size)), smooth)
    return np.asarray(100.0 + noise / noise.std() * relief, dtype=np.float64)


def garden(with_trees: bool, latitude: float = 43.0) -> Site:
    """Draw 80 m x 80 m with a house, two walls and, if asked, six trees and a hedge on rolling ground."""
    size, cell = 160, 0.5
    wide = size * cell
    things = [
        thing(Kind.BUILDING, box(0.45 * wide, 0.3 * wide, 0.45 * wide + 12.0, 0.3 * wide + 9.0), 6.0),
        thing(Kind.WALL, LineString([(0.2 * wide, 0.2 * wide), (0.8 * wide, 0.25 * wide)]), 1.8),
        thing(Kind.WALL, LineString([(0.2 * wide, 0.6 * wide), (0.25 * wide, 0.95 * wide)]), 2.0),
    ]
    if with_trees:
        random = np.random.default_rng(3)
        for _ in range(6):
            x, y, height, crown = random.uniform([8.0, 8.0, 4.0, 3.0], [72.0, 72.0, 12.0, 8.0])
            things.append(thing(Kind.TREE, Point(x, y), height, crown))
        hedge = LineString([(0.1 * wide, 0.9 * wide), (0.9 * wide, 0.88 * wide)])
        things.append(thing(Kind.HEDGE, hedge, 2.5, 1.2))
    ground = plane(size, size, cell, 0.01, 0.02) + rolling(size, 0.4, 20.0, 3) - 100.0
    return make_site(ground, cell, tuple(things), latitude=latitude)


def minute_sum(site: Site, settings: Settings, x: FloatArray, y: FloatArray, directions: int = 1440) -> FloatArray:
    """Season's hours a day, minute by minute over horizons a quarter degree apart, one ray each."""
    scene = site_scene(site, settings)
    solid, upper, lower = edges_at(site, scene, x, y, np.arange(directions) * 360.0 / directions)
    path = year_of_sun(site.latitude, site.longitude, float(np.median(scene.ground)), 1.0)
    season = growing_season(site.latitude, settings.season)
    chosen = season.days[path.day]
    height = path.elevation[chosen]
    toward = np.rint(path.azimuth[chosen] / 360.0 * directions).astype(int) % directions
    leaf, bare = settings.sun.light_through_leaf, settings.sun.light_through_bare
    through = np.where(season.days_in_leaf, leaf, bare)[path.day[chosen]]
    hours = np.zeros(x.size)
    for place in range(x.size):
        is_lit = height > solid[place, toward]
        in_crown = (height <= upper[place, toward]) & (height > lower[place, toward])
        hours[place] = (is_lit * np.where(in_crown, through, 1.0)).sum() / 60.0 / season.days.sum()
    return hours


def plain_horizon(ground: FloatArray, cell: float, row: int, column: int, azimuth: float) -> float:
    """Follow one ray in steps of a fiftieth of a cell over bilinear ground. Slow, and shares no code. [deg]."""
    rows, columns = ground.shape
    east, south = np.sin(np.radians(azimuth)), -np.cos(np.radians(azimuth))
    length = np.arange(0.5, 1.5 * max(rows, columns), 0.02)
    y, x = row + south * length, column + east * length
    on = (y >= 0) & (x >= 0) & (y <= rows - 1) & (x <= columns - 1)
    y, x, length = y[on], x[on], length[on]
    if not length.size:
        return 0.0
    i, j = np.minimum(y.astype(int), rows - 2), np.minimum(x.astype(int), columns - 2)
    v, u = y - i, x - j
    height = (ground[i, j] * (1 - u) + ground[i, j + 1] * u) * (1 - v)
    height += (ground[i + 1, j] * (1 - u) + ground[i + 1, j + 1] * u) * v
    return float(np.degrees(np.arctan(max(0.0, ((height - ground[row, column]) / (length * cell)).max()))))


def is_inside(shape: tuple[int, int], margin: int) -> BoolArray:
    """Cells at least so many cells from the border."""
    inside = np.zeros(shape, dtype=bool)
    inside[margin:-margin, margin:-margin] = True
    return inside


__all__ = ["SunPath", "garden", "is_inside", "minute_sum", "plain_horizon", "rolling", "sun_settings", "thing"]
