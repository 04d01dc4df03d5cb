"""What a planned thing takes from beds: bed-hours lost by month, for both directions of a row."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.affinity import rotate

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sunlight.place import hours_at, places_at
from sitepipe.sunlight.prisms import Prisms, Shape, prisms_of
from sitepipe.sunlight.stage import Scene, site_scene

THIN = 0.005
"""Half the thickness of a row that is given as a line. [m]"""

LEAST_ACROSS = 6
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
    rows = [standing_row(site, shape, height) for shape in (row, turned)]
    lost = np.zeros((2, 12))
    for bed in beds:
        x, y = _places(bed, places)
        lost += (1.0 - passes) * hours_lost_at(site, scene, rows, x, y).mean(axis=1)
    return tuple((month + 1, float(lost[0, month]), float(lost[1, month])) for month in range(12))


def hours_lost_at(site: Site, scene: Scene, rows: Sequence[Prisms], x: FloatArray, y: FloatArray) -> FloatArray:
    """Hours of sun that each of some opaque rows, by itself, takes from each place beside all that stands there.

    Returns
    -------
    (rows, places, 12) float array
        [h/day]
    """
    key = x.tobytes(), y.tobytes()
    if key not in scene.beds:
        seen = places_at(site, scene, x, y, scene.tables.azimuth)
        scene.beds[key] = seen, hours_at(site, scene, seen)[:, :12]
    seen, before = scene.beds[key]
    return np.array([before - hours_at(site, scene, seen, row)[:, :12] for row in rows])


def standing_row(site: Site, row: LineString | Polygon, height: float) -> Prisms:
    """Return a row or a house as it stands on a site."""
    outline = row if isinstance(row, Polygon) else row.buffer(THIN, cap_style="flat")
    return prisms_of([Shape(outline, height)], site.grid)


def _places(bed: Polygon | MultiPolygon, count: int) -> tuple[FloatArray, FloatArray]:
    """Return evenly spread places of a bed, enough across a narrow one for the strip that a row beside it shades."""
    west, south, east, north = bed.bounds
    spacing = float(np.sqrt(max(bed.area, 1e-6) / count))
    columns, rows = (max(LEAST_ACROSS, round(side / spacing)) for side in (east - west, north - south))
    x, y = np.meshgrid(
        west + (np.arange(columns) + 0.5) * (east - west) / columns,
        south + (np.arange(rows) + 0.5) * (north - south) / rows,
    )
    inside = shapely.contains_xy(bed, x, y)
    if not inside.any():
        middle = bed.representative_point()
        return np.array([middle.x]), np.array([middle.y])
    return x[inside], y[inside]
