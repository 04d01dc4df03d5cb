"""The sunlight stage: a site in, hours and energy of sun on every cell out."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any

import numpy as np
import shapely

from sitepipe.arrays import Float32Array, FloatArray, frozen
from sitepipe.errors import InputError
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.finish import finish
from sitepipe.sunlight.losses import Window, losses
from sitepipe.sunlight.obstacles import Standing, standing, works_standing
from sitepipe.sunlight.prisms import Sight, prisms_of
from sitepipe.sunlight.record import Sunlight
from sitepipe.sunlight.season import growing_season
from sitepipe.sunlight.tables import SunTables, sun_tables

MOST_DISBELIEF = 0.3
"""Most that the rise of bare ground is disbelieved, however poor the heights. [m]  Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What the light meets at a site.

    Parameters
    ----------
    ground : (rows, columns) float array
        Unknown ground is taken to be as high as the nearest that is known. [m]
    stands : Standing
    tables : SunTables
    disbelief : float
        Rise of bare ground that is not believed to cast shade. [m]
    beds : dict
        Places of beds that were asked for, and the hours that they have; for ``shade`` to ask once.
    sights : list
        What stands as it lies across the directions of the tables, once it was asked for; for ``place``.
    """

    ground: FloatArray
    stands: Standing
    tables: SunTables
    disbelief: float
    beds: dict[tuple[bytes, bytes], tuple[Any, FloatArray]] = field(default_factory=dict, compare=False)
    sights: list[Sight] = field(default_factory=list, compare=False)

    @property
    def raised(self) -> Float32Array:
        """Height above the ground of what only a surface model shows; minus the disbelief where nothing is. [m]."""
        return frozen(np.where(self.stands.shown > 0.0, self.stands.shown, np.float32(-self.disbelief)))


def trace_sunlight(site: Site, settings: Settings) -> Sunlight:
    """Trace sun and shade over the parcel and ``sun.margin`` around it; cells farther away are NaN but cast shade.

    Hours are those on the ground: none in a building, a wall or what only a surface model shows, and under a crown what
    it lets through.

    Raises
    ------
    InputError
        If no height within the parcel's window is known.
    """
    scene = site_scene(site, settings)
    window = parcel_window(site, settings.sun.margin)
    ground = (scene.ground, scene.raised)
    found = bare = losses(*ground, scene.stands.prisms, site.grid.cell, window, scene.tables)
    for passes, shapes in works_standing(site, settings):
        # Film and leaves let a share through: of what they alone would take as a wall, the rest is lost.
        prisms = scene.stands.prisms + prisms_of(shapes, site.grid)
        walled = losses(*ground, prisms, site.grid.cell, window, scene.tables)
        stops = np.float32(1.0 - passes)
        lost, sky = stops * (walled.lost - bare.lost), stops * (walled.sky - bare.sky)
        found = replace(found, lost=found.lost + lost, sky=found.sky + sky)
    covered = scene.stands.shown[window.rows, window.columns] > 0.0
    found.lost[covered] = scene.tables.full
    found.sky[covered] = 1.0, 0.0, 0.0
    known = np.isfinite(site.elevation[window.rows, window.columns])
    if not known.any():
        raise InputError("no height is known in or near the parcel; bring heights that cover it")
    east, north = _gradient(scene.ground, site.grid.cell, window)
    monthly, season, insolation, sky_view = finish(
        scene.tables.full, found.lost, found.sky, known, east, north, scene.tables.sky_energy
    )
    whole_months = np.full((12, *site.grid.shape), np.nan, dtype=np.float32)
    whole_months[:, window.rows, window.columns] = monthly
    dates = growing_season(site.latitude, settings.season)
    leanest = _leanest(site, monthly, dates.months, window)
    whole = partial(_whole, site.grid.shape, window)
    return Sunlight(
        sun_hours=whole(season),
        insolation=whole(insolation),
        sky_view=whole(sky_view),
        monthly_hours=frozen(whole_months),
        season=(dates.start, dates.end),
        season_months=dates.months,
        leanest_month=leanest,
        leanest_hours=frozen(whole_months[leanest - 1].astype(np.float64)),
        doubtful=whole(np.where(known, np.maximum(found.doubt, 0.0) / 2.0, np.nan)),
        open_hours=tuple(float(hours) for hours in scene.tables.full[:12]),
        is_season_guessed=dates.is_guessed,
        are_leaves_guessed=dates.are_leaves_guessed,
        disbelief=scene.disbelief,
    )


def site_scene(site: Site, settings: Settings) -> Scene:
    """Return what the light meets at a site: ground, what stands on it, and the sun's tables."""
    ground = filled(site.elevation)
    disbelief = settings.sun.ground_disbelief
    if disbelief is None:
        disbelief = min(2.0 * site.ground.vertical_error, MOST_DISBELIEF)
    tables = sun_tables(site.latitude, site.longitude, float(np.median(ground)), settings.season, settings.sun)
    return Scene(
        ground=ground,
        stands=standing(site),
        tables=tables,
        disbelief=disbelief,
    )


def parcel_window(site: Site, margin: float) -> Window:
    """Return the rows and columns that hold the parcel and a margin around it, in m."""
    west, south, east, north = site.parcel.bounds
    top, left = site.grid.cell_at(west - margin, north + margin)
    bottom, right = site.grid.cell_at(east + margin, south - margin)
    rows = slice(max(top, 0), min(bottom + 1, site.grid.rows))
    columns = slice(max(left, 0), min(right + 1, site.grid.columns))
    if rows.start >= rows.stop or columns.start >= columns.stop:
        raise InputError("the parcel lies outside the heights; bring heights that cover it")
    return Window(rows, columns)


def filled(elevation: FloatArray) -> FloatArray:
    """Return the heights with each unknown cell as high as the nearest known one."""
    unknown = ~np.isfinite(elevation)
    if not unknown.any():
        return elevation
    if unknown.all():
        raise InputError("no height is known anywhere; bring heights that cover the parcel")
    from scipy.ndimage import distance_transform_edt

    nearest = distance_transform_edt(unknown, return_distances=False, return_indices=True)
    return frozen(np.asarray(elevation[tuple(nearest)], dtype=np.float64))


def _whole(shape: tuple[int, int], window: Window, values: FloatArray) -> FloatArray:
    """Lay a window's values out on the whole grid."""
    whole = np.full(shape, np.nan)
    whole[window.rows, window.columns] = values
    return frozen(whole)


def _gradient(ground: FloatArray, cell: float, window: Window) -> tuple[FloatArray, FloatArray]:
    """Rise per run towards east and north. [1]."""
    rows = slice(max(window.rows.start - 1, 0), window.rows.stop + 1)
    columns = slice(max(window.columns.start - 1, 0), window.columns.stop + 1)
    part = ground[rows, columns]
    if min(part.shape) < 2:
        return np.zeros(window.shape), np.zeros(window.shape)
    south, east = np.gradient(part, cell)[:2]
    inner = (
        slice(window.rows.start - rows.start, window.rows.start - rows.start + window.shape[0]),
        slice(window.columns.start - columns.start, window.columns.start - columns.start + window.shape[1]),
    )
    return np.asarray(east[inner]), np.asarray(-south[inner])


def _leanest(site: Site, monthly: Float32Array, months: tuple[int, ...], window: Window) -> int:
    """Return the month of the season in which the parcel gets least sun."""
    x, y = np.meshgrid(site.grid.x[window.columns], site.grid.y[window.rows])
    shapely.prepare(site.parcel)
    chosen = shapely.contains_xy(site.parcel, x, y) & np.isfinite(monthly[0])
    if not chosen.any():
        chosen = np.isfinite(monthly[0])
    means = [float(monthly[month - 1][chosen].mean(dtype=np.float64)) for month in months]
    return months[int(np.argmin(means))]
