"""The sun as one place sees it: the horizon around it, the sun's arcs, hours by month; and a lattice of such places."""

from __future__ import annotations

import base64
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from sitepipe.arrays import FloatArray, LongArray, frozen
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.accumulate import lose_at, outlook
from sitepipe.sunlight.losses import MOST_THREADS, cores, light_of, sight_of
from sitepipe.sunlight.position import solar_midnight, sun_position
from sitepipe.sunlight.prisms import OPAQUE, Prisms
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
        ``name``, ``month``, ``day``; ``hour`` of apparent solar time (12 when the sun is highest), ``azimuth_deg`` and
        ``elevation_deg`` for each step while the sun is up, apparent; ``clock_minus_sun_h``: what to add to the hour
        for mean solar time at the place. Empty lists in a polar night.
    """
    arcs = []
    for name, month, day in ARC_DAYS:
        midnight = solar_midnight(date(REFERENCE_YEAR, month, day), longitude)
        seconds = midnight + np.arange(0.0, 86400.0 + 1.0, step_minutes * 60.0)
        sun = sun_position(seconds, latitude, longitude)
        up = sun.apparent_elevation > 0.0
        ahead = float(sun.equation_of_time[seconds.size // 2]) / 60.0
        hour = (seconds - midnight) / 3600.0 + ahead
        arcs.append(
            {
                "name": name,
                "month": month,
                "day": day,
                "hour": _rounded(hour[up], 2),
                "azimuth_deg": _rounded(sun.azimuth[up], 1),
                "elevation_deg": _rounded(sun.apparent_elevation[up], 1),
                "clock_minus_sun_h": round(-ahead, 3),
            }
        )
    return arcs


def horizon_lattice(site: Site, settings: Settings, most_places: int = LATTICE_PLACES) -> dict[str, Any]:
    """Return the horizons of a lattice of places in the parcel, small enough to travel inside the page.

    For a tapped place take the nearest place of the lattice. All text is standard base64 of unsigned bytes.

    Returns
    -------
    dict
        ``west_m``, ``north_m``: grid coordinates of the lattice's first place; ``spacing_m``; ``rows``, ``columns``;
        ``index``: base64 of rows x columns 16-bit little-endian numbers, north row first: which place stands there,
        65535 for none; ``places``: how many; ``azimuth_step_deg``: 5, the first azimuth is 0 (north), clockwise;
        ``solid``: base64, places x 72 bytes, half degrees of elevation of ground, buildings and walls; ``crowns``: the
        same for the highest crown, 180 under one, empty text if no crown stands anywhere; ``gap``: the same for the
        elevation up to which light passes below the crowns, empty if all crowns reach the ground.
    """
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
    azimuth = np.arange(0.0, 360.0, LATTICE_STEP)
    places = xx[inside], yy[inside]
    solid, upper, lower = edges_at(site, scene, *places, azimuth)
    is_crown = scene.stands.prisms.kind != OPAQUE
    has_gap = bool((scene.stands.prisms.base[is_crown] > 0.0).any())
    return {
        "west_m": float(x[0]),
        "north_m": float(y[0]),
        "spacing_m": spacing,
        "rows": int(inside.shape[0]),
        "columns": int(inside.shape[1]),
        "index": base64.b64encode(index.tobytes()).decode("ascii"),
        "places": int(inside.sum()),
        "azimuth_step_deg": LATTICE_STEP,
        "solid": _half_degrees(solid),
        "crowns": _half_degrees(upper) if is_crown.any() else "",
        "gap": _half_degrees(np.where(upper > solid, np.maximum(lower, solid), solid)) if has_gap else "",
    }


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
    sight = sight_of(sum(more, scene.stands.prisms), scene.ground, scene.tables)
    light = light_of(scene.tables)
    lose_at(lost, seen.x, seen.y, seen.eye, seen.hard, scene.ground, site.grid.cell, sight, light)
    return np.maximum(scene.tables.full - lost, 0.0)


def _half_degrees(degrees: FloatArray) -> str:
    return base64.b64encode(np.rint(degrees * 2.0).astype(np.uint8).tobytes()).decode("ascii")


def _rounded(values: FloatArray, digits: int) -> list[float]:
    return [round(float(value), digits) for value in values]


def _spacing(site: Site, most_places: int) -> float:
    """Return the finest of some plain spacings that keeps the lattice small, in m."""
    for spacing in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0, 50.0):
        if (site.parcel.area + site.parcel.length * spacing / 2.0) / spacing**2 <= most_places:
            return spacing
    return float(np.sqrt(site.parcel.area / most_places) * 2.0)
