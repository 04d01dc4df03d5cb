"""What stands on the ground and takes the light: as drawn, as planned, and as a surface model shows it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, Float32Array, FloatArray
from sitepipe.grid import Grid
from sitepipe.site import Feature, Foliage, Kind, Leafy, Origin, Site

STANDS_FROM = 0.5
"""Height from which a surface model's difference counts as a thing that stands. [m]  Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Obstacle:
    """One thing that stands on the ground.

    Parameters
    ----------
    geometry : shapely geometry
        Its outline seen from above; a line has ``width``. [m]
    top : float or None
        Above the ground under it; None takes it from the surface model. [m]
    base : float
        Where its crown begins; light passes below. Opaque things reach the ground. [m]
    foliage : Foliage
    width : float
        Of a line, or across a point. [m]
    growth : float
        What is added to what the surface model shows. [m]
    """

    geometry: BaseGeometry
    top: float | None
    base: float = 0.0
    foliage: Foliage = Foliage.OPAQUE
    width: float = 0.0
    growth: float = 0.0


@dataclass(frozen=True, slots=True)
class Crowns:
    """Crowns of one kind of foliage; ``top`` is 0 where there are none. Heights above the ground. [m]."""

    foliage: Foliage
    top: Float32Array
    base: Float32Array


@dataclass(frozen=True, slots=True)
class Standing:
    """Everything that stands on a grid.

    Parameters
    ----------
    opaque : (rows, columns) float32 array
        Height above the ground of what stops light, 0 where nothing does. [m]
    crowns : tuple of Crowns
        At most one for each kind of foliage.
    """

    opaque: Float32Array
    crowns: tuple[Crowns, ...]


def drawn_obstacles(site: Site) -> tuple[Obstacle, ...]:
    """Return what the user drew that stands."""
    return tuple(_obstacle(feature) for feature in site.of_kind(Kind.BUILDING, Kind.WALL, Kind.HEDGE, Kind.TREE))


def _obstacle(feature: Feature) -> Obstacle:
    top = None if feature.height_by is Origin.SURFACE else feature.top
    growth = feature.top - feature.height
    if isinstance(feature, Leafy):
        return Obstacle(feature.geometry, top, feature.trunk_height, feature.foliage, feature.width, growth)
    return Obstacle(feature.geometry, top, width=feature.width)


def standing(site: Site, obstacles: Iterable[Obstacle]) -> Standing:
    """Lay obstacles out on the site's grid, with what its surface model shows besides.

    A cell stands if its middle lies in the outline; lines and thin shapes fill every cell that they pass, so that no
    light slips through between two cells. What the surface model shows outside everything drawn stops the light.
    """
    shape = site.grid.shape
    surface = np.nan_to_num(site.obstacle_height, nan=0.0)
    opaque = np.zeros(shape, dtype=np.float32)
    tops = {kind: np.zeros(shape, dtype=np.float32) for kind in (Foliage.DECIDUOUS, Foliage.EVERGREEN)}
    bases = {kind: np.zeros(shape, dtype=np.float32) for kind in (Foliage.DECIDUOUS, Foliage.EVERGREEN)}
    is_drawn = np.zeros(shape, dtype=bool)
    for obstacle in obstacles:
        rows, columns, covered = footprint(site.grid, obstacle)
        height = _height_over(obstacle, surface[rows, columns], covered)
        is_drawn[rows, columns] |= covered
        if obstacle.foliage is Foliage.OPAQUE:
            opaque[rows, columns] = np.maximum(opaque[rows, columns], height)
            continue
        top, base = tops[obstacle.foliage][rows, columns], bases[obstacle.foliage][rows, columns]
        base[...] = np.where(
            height > 0.0, np.where(top > 0.0, np.minimum(base, obstacle.base), np.float32(obstacle.base)), base
        )
        np.maximum(top, height, out=top)
    seen = (surface > STANDS_FROM) & ~is_drawn
    opaque[seen] = np.maximum(opaque[seen], surface[seen].astype(np.float32))
    return Standing(opaque, tuple(Crowns(kind, tops[kind], bases[kind]) for kind in tops if tops[kind].any()))


def footprint(grid: Grid, obstacle: Obstacle) -> tuple[slice, slice, BoolArray]:
    """Return (row slice, column slice, covered cells in that window) of one obstacle."""
    outline = obstacle.geometry
    lines = outline
    if outline.geom_type in {"LineString", "MultiLineString", "Point", "MultiPoint", "LinearRing"}:
        outline = outline.buffer(max(obstacle.width, 1e-3) / 2.0)
    else:
        lines = outline.boundary
    west, south, east, north = outline.bounds
    top, left = grid.cell_at(west, north)
    bottom, right = grid.cell_at(east, south)
    rows = slice(min(max(top, 0), grid.rows), min(max(bottom + 1, 0), grid.rows))
    columns = slice(min(max(left, 0), grid.columns), min(max(right + 1, 0), grid.columns))
    if rows.start >= rows.stop or columns.start >= columns.stop:
        return (
            rows,
            columns,
            np.zeros((max(rows.stop - rows.start, 0), max(columns.stop - columns.start, 0)), dtype=bool),
        )
    x, y = np.meshgrid(grid.x[columns], grid.y[rows])
    shapely.prepare(outline)
    covered = np.asarray(shapely.contains_xy(outline, x, y), dtype=bool)
    is_thin = outline.area < 0.75 * grid.cell * outline.length
    if is_thin:
        for row, column in _cells_along(grid, lines):
            if rows.start <= row < rows.stop and columns.start <= column < columns.stop:
                covered[row - rows.start, column - columns.start] = True
    return rows, columns, covered


def _cells_along(grid: Grid, geometry: BaseGeometry) -> Iterable[tuple[int, int]]:
    """Yield the cells that lines pass, each sharing a side with the one before."""
    for part in shapely.get_parts(geometry):
        if part.geom_type == "Point":
            yield grid.cell_at(part.x, part.y)
            continue
        count = max(2, int(np.ceil(part.length / (grid.cell / 8.0))) + 1)
        places = shapely.get_coordinates(shapely.line_interpolate_point(part, np.linspace(0.0, part.length, count)))
        before: tuple[int, int] | None = None
        for x, y in places:
            here = grid.cell_at(float(x), float(y))
            if before is not None and here[0] != before[0] and here[1] != before[1]:
                yield here[0], before[1]
            if here != before:
                yield here
            before = here


def _height_over(obstacle: Obstacle, surface: FloatArray, covered: BoolArray) -> Float32Array:
    if obstacle.top is not None:
        return np.where(covered, np.float32(obstacle.top), np.float32(0.0))
    return np.where(covered & (surface > STANDS_FROM), surface + obstacle.growth, 0.0).astype(np.float32)
