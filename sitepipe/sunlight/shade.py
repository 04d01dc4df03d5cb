"""What a planned thing takes from beds: bed-hours lost by month, for both directions of a row."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.affinity import rotate

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.place import edges_at, hours_under
from sitepipe.sunlight.rays import height_at
from sitepipe.sunlight.stage import Scene, site_scene

PLACES_PER_BED = 60
"""About how many places stand for a bed."""


def bed_hours_lost(
    site: Site,
    settings: Settings,
    row: LineString | Polygon,
    height: float,
    beds: Sequence[Polygon | MultiPolygon],
    passes: float = 0.0,
    scene: Scene | None = None,
    places: int = PLACES_PER_BED,
) -> tuple[tuple[int, float, float], ...]:
    """Return what a row takes from beds as it lies, and what it would take if turned by a right angle.

    Everything else on the site keeps casting its shade: an hour that a house takes already is not lost again.

    Parameters
    ----------
    row : line or polygon
        A trellis as its line, a hoop house or mound as its outline, in grid coordinates. [m]
    height : float
        Above the ground under it. [m]
    beds : sequence of polygons
        [m]
    passes : float
        Share of the light that the row lets through: 0 for a wall of leaves; film and net let more. [1]
    scene : Scene, optional
        From ``stage.site_scene(site, settings)``; give it where many rows are tried on one site.
    places : int
        About how many places stand for a bed.

    Returns
    -------
    tuple of (month, lost by this row, lost by the other direction)
        January (1) to December (12). Bed-hours a day: over all beds, the mean hours a day that a bed loses. [h/day]

    Raises
    ------
    InputError
        If there is no bed, the height is not positive, or a bed lies outside the heights.

    Examples
    --------
    ``bed_hours_lost(site, settings, LineString([(10, 20), (30, 20)]), 2.0, [box(10, 20.5, 30, 21.7)])[5]`` is
    ``(6, lost in June by the row from west to east, lost in June by one from south to north)``.
    """
    if not beds:
        raise InputError("no bed was given to cast shade on; give at least one outline")
    if not height > 0.0:
        raise InputError(f"the row is {height:g} m high; it must be higher than 0")
    scene = scene or site_scene(site, settings)
    turned = rotate(row, 90.0, origin="centroid")
    lost = np.zeros((2, 12))
    for bed in beds:
        x, y = _places(bed, places)
        edges = edges_at(site, scene, x, y, scene.tables.azimuth)
        before = hours_under(scene, edges)[:, :12]
        for k, shape in enumerate((row, turned)):
            with_row = edges.copy()
            with_row[0] = np.maximum(with_row[0], row_edges(site, scene, shape, height, x, y))
            after = hours_under(scene, with_row)[:, :12]
            lost[k] += (1.0 - passes) * (before - after).mean(axis=0)
    return tuple((month + 1, float(lost[0, month]), float(lost[1, month])) for month in range(12))


def row_edges(
    site: Site, scene: Scene, row: LineString | Polygon, height: float, x: FloatArray, y: FloatArray
) -> FloatArray:
    """Return the edge that a row makes for each place and azimuth of the tables, exactly along its line.

    Returns
    -------
    (places, azimuths) float array
        Tangent of its height; 0 where it is not in the way, 1e9 for a place inside it. [1]
    """
    line = shapely.get_coordinates(row.exterior if isinstance(row, Polygon) else row)
    azimuth = np.radians(scene.tables.azimuth)
    east, north = np.sin(azimuth), np.cos(azimuth)
    eye = np.array([_ground(site, scene, *place) for place in zip(x, y, strict=True)])
    edges = np.zeros((x.size, azimuth.size))
    for (x0, y0), (x1, y1) in pairwise(line):
        top = height + np.array([_ground(site, scene, x0, y0), _ground(site, scene, x1, y1)])
        along_x, along_y = x1 - x0, y1 - y0
        across = east * along_y - north * along_x
        with np.errstate(divide="ignore", invalid="ignore"):
            to_x, to_y = (x0 - x)[:, None], (y0 - y)[:, None]
            distance = (to_x * along_y - to_y * along_x) / across
            share = (to_x * north - to_y * east) / across
            rise = top[0] + (top[1] - top[0]) * share - eye[:, None]
            tangent = np.where((distance > 1e-6) & (share >= 0.0) & (share <= 1.0), rise / distance, 0.0)
        np.maximum(edges, np.nan_to_num(tangent, nan=0.0, posinf=1e9), out=edges)
    if isinstance(row, Polygon):
        edges[shapely.contains_xy(row, x, y)] = 1e9
    return edges


def _ground(site: Site, scene: Scene, x: float, y: float) -> float:
    return height_at(
        scene.ground, (site.grid.north - y) / site.grid.cell - 0.5, (x - site.grid.west) / site.grid.cell - 0.5
    )


def _places(bed: Polygon | MultiPolygon, count: int) -> tuple[FloatArray, FloatArray]:
    """Return evenly spread places of a bed."""
    west, south, east, north = bed.bounds
    spacing = float(np.sqrt(max(bed.area, 1e-6) / count))
    columns, rows = max(2, round((east - west) / spacing)), max(2, round((north - south) / spacing))
    x, y = np.meshgrid(
        west + (np.arange(columns) + 0.5) * (east - west) / columns,
        south + (np.arange(rows) + 0.5) * (north - south) / rows,
    )
    inside = shapely.contains_xy(bed, x, y)
    if not inside.any():
        middle = bed.representative_point()
        return np.array([middle.x]), np.array([middle.y])
    return x[inside], y[inside]
