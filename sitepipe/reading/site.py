"""read_site: from a site folder to a Site on one metric north-up grid."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
from pyproj import CRS
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import frozen
from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.accuracy import height_error_of_raster
from sitepipe.reading.coordinates import move_geometry
from sitepipe.reading.drawing import Drawing, read_drawing
from sitepipe.reading.files import LARGEST_RASTER, LARGEST_VECTOR, find_file
from sitepipe.reading.frame import Bounds, grid_for
from sitepipe.reading.ground import OpenGround, describe_heights, open_raster
from sitepipe.reading.growth import Reach, first_window, grow
from sitepipe.reading.heights import CleanHeights, clean_heights, doubts, refuse_empty
from sitepipe.reading.layers import read_layer
from sitepipe.reading.masks import cells_in
from sitepipe.reading.place import check_meeting, middle_on_earth, system_of_drawing
from sitepipe.settings import Settings
from sitepipe.site import Feature, Ground, Site

CatchmentTest = Callable[[Site], Reach]
"""Tells through which sides of a window water reaches the parcel; ``sitepipe.window.reached_sides`` is the one."""

FEWEST_CELLS = 9.0
"""A parcel of fewer cells has no shape."""


def read_site(folder: Path, settings: Settings, reached: CatchmentTest | None = None) -> Site:
    """Read a site folder.

    Parameters
    ----------
    folder : Path
        Holds the files that the settings name.
    settings : Settings
    reached : callable or None
        Asked after each reading through which sides of the window water reaches the parcel; the window grows
        there until there are none, the heights end, or it has ``ground.widest_window`` cells. Without it the
        window is the parcel and ``ground.margin``.

    Raises
    ------
    InputError
        If a file is missing, unreadable, or does not say what it must.
    SettingsError
        If a setting is missing that the files leave open.
    """
    if settings.parcel is None:
        raise SettingsError("site.toml: parcel is missing. Name the hand-drawn layer: parcel = 'parcel.geojson'")
    if settings.elevation is None:
        raise SettingsError("site.toml: elevation is missing. Name the file of heights: elevation = 'elevation.tif'")
    layer = read_layer(find_file(folder, settings.parcel, "parcel", LARGEST_VECTOR))
    drawing = read_drawing(layer, settings.units)
    raster, crs = describe_heights(find_file(folder, settings.elevation, "elevation", LARGEST_RASTER))
    drawing_crs = system_of_drawing(layer, raster.name, crs)
    longitude, latitude = middle_on_earth(drawing.parcel, drawing_crs, layer, raster.name, settings)
    source = open_raster(raster, crs, longitude, latitude, settings)
    plane = source.frame.plane
    parcel, features = _on_plane(drawing, drawing_crs, plane)
    beyond = check_meeting(parcel, drawing.parcel, layer, drawing_crs, plane, source.reach, source.name)
    _refuse_tiny(parcel, source, layer.name)

    def read(bounds: Bounds) -> Site:
        return _read_window(bounds, source, parcel, features, (longitude, latitude), settings)

    window = first_window(parcel, (feature.geometry for feature in features), settings.ground.margin)
    grown = grow(read, window, source.reach, settings.ground.widest_window, reached)
    site = grown.site
    return replace(
        site,
        open_edge=any(grown.open_sides),
        assumptions=(
            *drawing.assumptions,
            *source.assumptions,
            *site.assumptions,
            _said_of_error(site.ground),
            grown.assumption,
        ),
        warnings=(*source.warnings, *beyond, *site.warnings, *grown.warnings),
    )


def _read_window(
    bounds: Bounds,
    source: OpenGround,
    parcel: Polygon | MultiPolygon,
    features: tuple[Feature, ...],
    place: tuple[float, float],
    settings: Settings,
) -> Site:
    grid = grid_for(source.frame, bounds, source.reach)
    clean: CleanHeights = clean_heights(source.read(grid), source.name, source.unit.metres)
    in_parcel = cells_in(parcel, grid)
    refuse_empty(clean.elevation, in_parcel, source.name)
    accuracy = height_error_of_raster(source.frame.source_cell, clean.step, settings.ground)
    return Site(
        name=settings.name,
        grid=grid,
        elevation=frozen(clean.elevation),
        obstacle_height=frozen(np.zeros(grid.shape)),
        height_error=frozen(np.where(np.isfinite(clean.elevation), accuracy.error, np.nan)),
        parcel=parcel,
        features=features,
        ground=Ground(
            source=f"{source.name}, {source.frame.source_cell:.3g} m cells",
            source_cell=source.frame.source_cell,
            vertical_error=accuracy.error,
            error_correlation=accuracy.correlation,
            error_source=accuracy.source,
        ),
        longitude=place[0],
        latitude=place[1],
        warnings=(*clean.warnings, *doubts(clean, in_parcel, grid, source.name)),
    )


def _on_plane(
    drawing: Drawing, crs: CRS | None, plane: CRS | None
) -> tuple[Polygon | MultiPolygon, tuple[Feature, ...]]:
    def moved(geometry: BaseGeometry) -> BaseGeometry:
        return geometry if crs is None or plane is None else move_geometry(geometry, crs, plane)

    parcel = moved(drawing.parcel)
    if not isinstance(parcel, (Polygon, MultiPolygon)):
        raise InputError("the parcel is no polygon on the site's plane. Draw it again")
    return parcel, tuple(replace(feature, geometry=moved(feature.geometry)) for feature in drawing.features)


def _refuse_tiny(parcel: Polygon | MultiPolygon, source: OpenGround, name: str) -> None:
    cell = source.frame.cell
    if parcel.area < FEWEST_CELLS * cell * cell:
        raise InputError(
            f"{name}: the parcel has {parcel.area:,.0f} m2, fewer than {FEWEST_CELLS:.0f} cells of {source.name} "
            f"({cell:.3g} m). Bring heights with cells of {max(parcel.area, 1.0) ** 0.5 / 20.0:.2g} m or less"
        )


def _said_of_error(ground: Ground) -> str:
    return (
        f"A height is good to {ground.vertical_error:.3g} m (standard deviation: {ground.error_source}); "
        "errors go together "
        f"over {ground.error_correlation:.3g} m."
    )
