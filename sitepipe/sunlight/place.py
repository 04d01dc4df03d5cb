"""The sun as one place sees it: the horizon around it, the sun's arcs, hours by month; and a lattice of such places."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from typing import Any

import numpy as np
import shapely

from sitepipe.arrays import Float32Array, FloatArray, LongArray
from sitepipe.errors import InputError
from sitepipe.settings import Settings
from sitepipe.site import Foliage, Site
from sitepipe.sunlight.losses import MOST_THREADS, cores
from sitepipe.sunlight.obstacles import Obstacle
from sitepipe.sunlight.position import solar_midnight, sun_position
from sitepipe.sunlight.rays import ray_horizons
from sitepipe.sunlight.season import REFERENCE_YEAR
from sitepipe.sunlight.stage import Scene, site_scene
from sitepipe.sunlight.tables import BINS, SEASON

ARC_DAYS = (("June solstice", 6, 21), ("equinox", 3, 20), ("December solstice", 12, 21))
LATTICE_STEP = 5.0
"""Between azimuths of the lattice. [deg]"""
PLACES_A_THREAD = 8
"""Fewer are not worth a second thread."""
LATTICE_PLACES = 700
"""Most places of a lattice: about 200 kB of text."""


@dataclass(frozen=True, slots=True)
class Horizon:
    """What one place sees, and what that leaves of the sun.

    Parameters
    ----------
    azimuth : (directions,) float array
        Clockwise from north. [deg]
    solid : (directions,) float array
        Height of ground, buildings and walls over the level horizon. [deg]
    crowns : (directions,) float array
        Height of the highest crown, 0 where none is in sight, 90 under one. [deg]
    gap : (directions,) float array
        Height up to which light passes below the crowns; equal to ``solid`` where none does. [deg]
    hours : (12,) float array
        Of sun on a mean day of each month. [h/day]
    season_hours : float
        [h/day]
    """

    azimuth: FloatArray
    solid: FloatArray
    crowns: FloatArray
    gap: FloatArray
    hours: FloatArray
    season_hours: float


def horizon_at(
    site: Site, x: float, y: float, settings: Settings, extra_obstacles: Sequence[Obstacle] = (), step: float = 2.0
) -> Horizon:
    """Return the horizon around a place, and its hours of sun.

    Parameters
    ----------
    x, y : float
        In grid coordinates. [m]
    extra_obstacles : sequence of Obstacle
        What is planned and not yet built.
    step : float
        Between directions of the horizon; hours are computed finer. [deg]

    Raises
    ------
    InputError
        If the place lies outside the heights.
    """
    row, column = site.grid.cell_at(x, y)
    if not site.grid.holds(row, column):
        raise InputError(f"the place {x:.1f}, {y:.1f} lies outside the heights; ask for one inside {site.grid.bounds}")
    scene = site_scene(site, settings, extra_obstacles)
    azimuth = np.arange(0.0, 360.0, step)
    places = np.array([x]), np.array([y])
    shown = edges_at(site, scene, *places, azimuth)[:, 0]
    hours = hours_at(site, scene, *places)[0]
    degrees = np.degrees(np.arctan(shown))
    upper = degrees[1::2].max(axis=0) if degrees.shape[0] > 1 else np.zeros_like(azimuth)
    lower = np.where(shown[1::2] > shown[:1], degrees[2::2], 90.0)
    gap = lower.min(axis=0) if lower.size else degrees[0]
    return Horizon(
        azimuth=azimuth,
        solid=degrees[0],
        crowns=upper,
        gap=np.where(upper > degrees[0], np.maximum(gap, degrees[0]), degrees[0]),
        hours=hours[:12],
        season_hours=float(hours[SEASON]),
    )


def sun_path(
    site: Site, x: float, y: float, settings: Settings, extra_obstacles: Sequence[Obstacle] = ()
) -> dict[str, Any]:
    """Return what a picture of the sun's path at a place needs, as plain numbers.

    Returns
    -------
    dict
        ``azimuth_deg``, ``solid_deg``, ``crowns_deg``, ``gap_deg``: the horizon every five degrees from north;
        ``arcs``: see ``sun_arcs``; ``hours_by_month``: twelve numbers, h/day; ``season_hours``: h/day.
    """
    horizon = horizon_at(site, x, y, settings, extra_obstacles, LATTICE_STEP)
    return {
        "azimuth_deg": horizon.azimuth.tolist(),
        "solid_deg": _rounded(horizon.solid, 1),
        "crowns_deg": _rounded(horizon.crowns, 1),
        "gap_deg": _rounded(horizon.gap, 1),
        "arcs": sun_arcs(site.latitude, site.longitude),
        "hours_by_month": _rounded(horizon.hours, 2),
        "season_hours": round(horizon.season_hours, 2),
    }


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


def horizon_lattice(
    site: Site, settings: Settings, extra_obstacles: Sequence[Obstacle] = (), most_places: int = LATTICE_PLACES
) -> dict[str, Any]:
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
    scene = site_scene(site, settings, extra_obstacles)
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
    edges = edges_at(site, scene, *places, azimuth)
    upper = edges[1::2].max(axis=0) if scene.stands.crowns else np.zeros_like(edges[0])
    has_gap = any(bool((crowns.base > 0.0).any()) for crowns in scene.stands.crowns)
    lower = np.where(edges[1::2] > edges[:1], edges[2::2], 1e9).min(axis=0) if has_gap else edges[0]
    return {
        "west_m": float(x[0]),
        "north_m": float(y[0]),
        "spacing_m": spacing,
        "rows": int(inside.shape[0]),
        "columns": int(inside.shape[1]),
        "index": base64.b64encode(index.tobytes()).decode("ascii"),
        "places": int(inside.sum()),
        "azimuth_step_deg": LATTICE_STEP,
        "solid": _half_degrees(edges[0]),
        "crowns": _half_degrees(upper) if scene.stands.crowns else "",
        "gap": _half_degrees(np.where(upper > edges[0], np.maximum(lower, edges[0]), edges[0])) if has_gap else "",
    }


def edges_at(site: Site, scene: Scene, x: FloatArray, y: FloatArray, azimuth: FloatArray) -> FloatArray:
    """Return what each place sees in each direction: opaque edge, then upper and lower edge of each kind of crown.

    Returns
    -------
    (1 + 2 kinds, places, directions) float array
        Tangents; a lower edge is never below the opaque one. Kinds as in ``scene.stands.crowns``. [1]
    """
    crowns = scene.stands.crowns
    shape = (0, *site.grid.shape)
    tops = np.stack([kind.top for kind in crowns]) if crowns else np.zeros(shape, dtype=np.float32)
    bases = np.stack([kind.base for kind in crowns]) if crowns else np.zeros(shape, dtype=np.float32)
    column = (np.asarray(x, dtype=np.float64) - site.grid.west) / site.grid.cell - 0.5
    row = (site.grid.north - np.asarray(y, dtype=np.float64)) / site.grid.cell - 0.5

    def seen(part: slice) -> FloatArray:
        edges = np.zeros((1 + 2 * len(crowns), column[part].size, azimuth.size))
        ray_horizons(scene.ground, scene.raised, tops, bases, site.grid.cell, column[part], row[part], azimuth, edges)
        return edges

    if column.size < PLACES_A_THREAD:
        return seen(slice(None))
    cuts = [int(cut) for cut in np.linspace(0, column.size, min(cores(), MOST_THREADS) + 1)]
    with ThreadPoolExecutor(len(cuts) - 1) as pool:
        return np.concatenate(list(pool.map(lambda ends: seen(slice(*ends)), pairwise(cuts))), axis=1)


def hours_at(site: Site, scene: Scene, x: FloatArray, y: FloatArray) -> FloatArray:
    """Return what the sun leaves each place: hours by month and of the season, and the season's beam.

    Returns
    -------
    (places, LANES) float array
        In the order of the tables' lanes.
    """
    return hours_under(scene, edges_at(site, scene, x, y, scene.tables.azimuth))


def hours_under(scene: Scene, edges: FloatArray) -> FloatArray:
    """Return what the sun's tables leave under given edges, one for each azimuth of the tables; see ``edges_at``."""
    tables = scene.tables
    bins = _bins(edges)
    every = np.arange(tables.azimuth.size)
    by_kind = {Foliage.DECIDUOUS: tables.deciduous, Foliage.EVERGREEN: tables.evergreen}
    left = np.tile(tables.full, (edges.shape[1], 1))
    for place in range(edges.shape[1]):
        hard = bins[0, place]
        left[place] -= tables.opaque[every, hard].sum(axis=0, dtype=np.float64)
        dark = None
        for k, crowns in reversed(list(enumerate(scene.stands.crowns))):
            upper = np.maximum(bins[1 + 2 * k, place], hard)
            lower = np.minimum(np.maximum(bins[2 + 2 * k, place], hard), upper)
            left[place] -= _band(by_kind[crowns.foliage], every, upper, lower)
            if dark is not None:
                both_lower = np.maximum(lower, dark[1])
                both_upper = np.maximum(np.minimum(upper, dark[0]), both_lower)
                left[place] += _band(by_kind[crowns.foliage], every, both_upper, both_lower)
            dark = upper, lower
    return np.maximum(left, 0.0)


def _band(table: Float32Array, every: LongArray, upper: LongArray, lower: LongArray) -> FloatArray:
    return np.asarray((table[every, upper] - table[every, lower]).sum(axis=0, dtype=np.float64))


def _bins(tangent: FloatArray) -> LongArray:
    return np.rint(tangent / np.sqrt(1.0 + tangent * tangent) * (BINS - 1)).astype(np.int64)


def _half_degrees(tangent: FloatArray) -> str:
    return base64.b64encode(np.rint(np.degrees(np.arctan(tangent)) * 2.0).astype(np.uint8).tobytes()).decode("ascii")


def _rounded(values: FloatArray, digits: int) -> list[float]:
    return [round(float(value), digits) for value in values]


def _spacing(site: Site, most_places: int) -> float:
    """Return the finest of some plain spacings that keeps the lattice small, in m."""
    for spacing in (1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 7.5, 10.0, 15.0, 20.0, 30.0, 50.0):
        if (site.parcel.area + site.parcel.length * spacing / 2.0) / spacing**2 <= most_places:
            return spacing
    return float(np.sqrt(site.parcel.area / most_places) * 2.0)
