"""The sun as one place sees it: the horizon around it, the sun's arcs, hours by month; and a lattice of such places."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from functools import reduce
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from sitepipe.arrays import ByteArray, FloatArray, LongArray, frozen
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.accumulate import lose_at, outlook
from sitepipe.sunlight.losses import MOST_THREADS, cores, light_of, sight_of
from sitepipe.sunlight.position import solar_midnight, sun_position
from sitepipe.sunlight.prisms import OPAQUE, Prisms, beside
from sitepipe.sunlight.rays import height_at, ray_horizons
from sitepipe.sunlight.season import REFERENCE_YEAR
from sitepipe.sunlight.stage import Scene, site_scene
from sitepipe.sunlight.tables import BINS, LANES

ARC_DAYS = (("June solstice", 6, 21), ("equinox", 3, 20), ("December solstice", 12, 21))
LATTICE_STEP = 5.0
"""Between azimuths of the lattice. [deg]"""
PLACES_A_THREAD = 8
"""Fewer are not worth a second thread."""
LATTICE_PLACES = 700
"""Most places of a lattice: about 200 kB of text."""


def sun_arcs(latitude: float, longitude: float, step_minutes: float = 15.0) -> list[dict[str, Any]]:
    """Return the sun's arcs at the solstices and the equinox; the same for every place of a site.

    Returns
    -------
    list of dict
        ``name``; ``hour`` of apparent solar time (12 when the sun is highest), ``azimuth`` and ``elevation`` [deg] for
        each step while the sun is up, apparent. Empty lists in a polar night.
    """
    arcs = []
    for name, month, day in ARC_DAYS:
        midnight = solar_midnight(date(REFERENCE_YEAR, month, day), longitude)
        seconds = midnight + np.arange(0.0, 86400.0 + 1.0, step_minutes * 60.0)
        sun = sun_position(seconds, latitude, longitude)
        up = sun.apparent_elevation > 0.0
        hour = (seconds - midnight) / 3600.0 + float(sun.equation_of_time[seconds.size // 2]) / 60.0
        arcs.append(
            {
                "name": name,
                "hour": _rounded(hour[up], 2),
                "azimuth": _rounded(sun.azimuth[up], 1),
                "elevation": _rounded(sun.apparent_elevation[up], 1),
            }
        )
    return arcs


@dataclass(frozen=True, slots=True)
class Lattice:
    """Horizons of a lattice of places in the parcel; for any place there take the nearest of the lattice.

    Parameters
    ----------
    west, north, spacing : float
        Grid coordinates of the first place, and the way to the next. [m]
    index : (rows, columns) uint16 array
        Which place stands there, 65535 for none; the north row first.
    solid : (places, 72) uint8 array
        Elevation of ground, buildings and walls, from north clockwise. [half degrees]
    crowns : (places, 72) uint8 array
        The same for the highest crown, 180 under one; no places where no crown stands anywhere.
    gap : (places, 72) uint8 array
        Up to where light passes below the crowns; no places where all crowns reach the ground.
    """

    west: float
    north: float
    spacing: float
    index: np.ndarray[tuple[int, int], np.dtype[np.uint16]]
    solid: ByteArray
    crowns: ByteArray
    gap: ByteArray


def horizon_lattice(site: Site, settings: Settings, most_places: int = LATTICE_PLACES) -> Lattice:
    """Return the horizons of a lattice of places in the parcel, small enough to travel inside the page."""
    scene = site_scene(site, settings)
    west, south, east, north = site.parcel.bounds
    spacing = _spacing(site, most_places)
    columns, rows = max(1, round((east - west) / spacing)), max(1, round((north - south) / spacing))
    x = (west + east - (columns - 1) * spacing) / 2.0 + np.arange(columns) * spacing
    y = (south + north + (rows - 1) * spacing) / 2.0 - np.arange(rows) * spacing
    xx, yy = np.meshgrid(x, y)
    shapely.prepare(site.parcel)
    inside = shapely.contains_xy(site.parcel.buffer(spacing / 2.0), xx, yy)
    grid_west, grid_south, grid_east, grid_north = site.grid.bounds
    inside &= (xx > grid_west) & (xx < grid_east) & (yy > grid_south) & (yy < grid_north)
    index = np.full(inside.shape, 65535, dtype="<u2")
    index[inside] = np.arange(int(inside.sum()))
    solid, upper, lower = edges_at(site, scene, xx[inside], yy[inside], np.arange(0.0, 360.0, LATTICE_STEP))
    is_crown = scene.stands.prisms.kind != OPAQUE
    has_gap = bool((scene.stands.prisms.base[is_crown] > 0.0).any())
    below = np.where(upper > solid, np.maximum(lower, solid), solid)
    return Lattice(
        west=float(x[0]),
        north=float(y[0]),
        spacing=spacing,
        index=index,
        solid=_half_degrees(solid),
        crowns=_half_degrees(upper[: upper.shape[0] * is_crown.any()]),
        gap=_half_degrees(below[: below.shape[0] * has_gap]),
    )


@dataclass(frozen=True, slots=True)
class Places:
    """Places on a scene, with the horizons that the ground gives them.

    Parameters
    ----------
    x, y : (places,) float array
        East and north of the grid's north-west corner. [m]
    eye : (places,) float array
        Height of the ground there. [m]
    hard : (directions, places) int array
        Bin of the ground's horizon.
    """

    x: FloatArray
    y: FloatArray
    eye: FloatArray
    hard: LongArray


def places_at(site: Site, scene: Scene, x: FloatArray, y: FloatArray, azimuth: FloatArray) -> Places:
    """Look round from places, on as many threads as there are."""
    east, north = np.asarray(x, dtype=np.float64) - site.grid.west, np.asarray(y, dtype=np.float64) - site.grid.north
    column, row = east / site.grid.cell - 0.5, -north / site.grid.cell - 0.5
    tangent, azimuth = np.zeros((column.size, azimuth.size)), frozen(np.array(azimuth, dtype=np.float64))
    raised = scene.raised

    def look(part: slice) -> None:
        ray_horizons(scene.ground, raised, site.grid.cell, column[part], row[part], azimuth, tangent[part])

    if column.size < PLACES_A_THREAD:
        look(slice(None))
    else:
        cuts = [int(cut) for cut in np.linspace(0, column.size, min(cores(), MOST_THREADS) + 1)]
        with ThreadPoolExecutor(len(cuts) - 1) as pool:
            list(pool.map(lambda ends: look(slice(*ends)), pairwise(cuts)))
    hard = np.rint(tangent / np.sqrt(1.0 + tangent * tangent) * (BINS - 1)).astype(np.int64)
    eye = np.array([height_at(scene.ground, *place) for place in zip(row, column, strict=True)])
    return Places(east, north, eye, np.ascontiguousarray(hard.T))


def edges_at(site: Site, scene: Scene, x: FloatArray, y: FloatArray, azimuth: FloatArray) -> FloatArray:
    """Return what each place sees in each direction: opaque edge, highest and lowest edge of the crowns.

    Returns
    -------
    (3, places, directions) float array
        Over the level horizon; where no crown is seen, 0 and 90. [deg]
    """
    seen = places_at(site, scene, x, y, azimuth)
    edges = np.stack([seen.hard, np.zeros_like(seen.hard), np.full_like(seen.hard, BINS - 1)])
    sight = scene.stands.prisms.toward(azimuth, np.zeros_like(azimuth), float(np.ptp(scene.ground)))
    outlook(edges, seen.x, seen.y, seen.eye, scene.ground, site.grid.cell, sight)
    return np.degrees(np.arcsin(edges / (BINS - 1.0))).transpose(0, 2, 1)


def hours_at(site: Site, scene: Scene, seen: Places, *more: Prisms) -> FloatArray:
    """Return what the sun leaves each place: hours by month and of the season, and the season's beam.

    Parameters
    ----------
    seen : Places
        With the directions of the scene's tables.
    more : Prisms
        That stand besides.

    Returns
    -------
    (places, LANES) float array
        In the order of the tables' lanes.
    """
    lost = np.zeros((seen.x.size, LANES), dtype=np.float32)
    if not scene.sights:
        scene.sights.append(sight_of(scene.stands.prisms, scene.ground, scene.tables))
    sight = reduce(beside, (sight_of(each, scene.ground, scene.tables) for each in more), scene.sights[0])
    light = light_of(scene.tables)
    lose_at(lost, seen.x, seen.y, seen.eye, seen.hard, scene.ground, site.grid.cell, sight, light)
    return np.maximum(scene.tables.full - lost, 0.0)


def _half_degrees(degrees: FloatArray) -> ByteArray:
    return np.rint(degrees * 2.0).astype(np.uint8)


def _rounded(values: FloatArray, digits: int) -> list[float]:
    return [round(float(value), digits) for value in values]


def _spacing(site: Site, most_places: int) -> float:
    """Return the finest of some plain spacings that keeps the lattice small, in m."""
    for spacing in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0, 50.0):
        if (site.parcel.area + site.parcel.length * spacing / 2.0) / spacing**2 <= most_places:
            return spacing
    return float(np.sqrt(site.parcel.area / most_places) * 2.0)
