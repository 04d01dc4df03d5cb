"""The user's own levels as ground: where they speak, the surface through them, and how far it can be believed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, frozen
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.levels import FEWEST_POINTS, Level, Levels
from sitepipe.reading.masks import cells_in
from sitepipe.reading.plate import (
    MOST_CELLS,
    MOST_TRIAL_CELLS,
    Fit,
    Mesh,
    fit_stiffness,
    one_thread,
    plate_error,
    plate_surface,
)
from sitepipe.reading.sampling import bilinear
from sitepipe.site import Feature, Kind

NARROWEST = 1.0
"""Levels within a strip narrower than this are points on a line. [m]"""
FAR_OFF = 6.0
"""A level that misses the others by so many times what is usual is misread, or stands on something; own choice."""
GAP_OF_SPACING = 4.0
"""A triangle of levels with a side beyond so many times their spacing is not surveyed ground; own choice."""
ON_DITCH = 0.5
"""Levels this near a drawn ditch were taken in it; own choice. [m]"""
LOW, NEIGHBOURS, FEWEST_OF_DITCH = 0.15, 8, 3
"""Levels on three lines running that lie this far below the plane through their eight neighbours, each by its own, are
the bottom of a ditch; own choice. [m]"""
CROSSED = 0.7
"""A line runs through the cells whose middle lies so many cells from it: half a diagonal."""
RIM = 2
"""Cells of the plate beyond the surveyed area, so that its border bends freely."""

CREASES = (Kind.DITCH, Kind.CULVERT)
JUMPS = (Kind.KERB, Kind.WALL)


@dataclass(frozen=True, slots=True)
class Survey:
    """Levels on the plane.

    Parameters
    ----------
    name : str
        Of the file.
    points : tuple of Level
    area : polygon
        Where they speak: the triangles between neighbouring levels.
    spacing : float
        Median distance from a level to its nearest neighbour. [m]
    creases, jumps : tuple of geometry
        Break lines: ditches, and kerbs and wall feet.
    bottoms : tuple of LineString
        Lines of lowest ground, from level to level with their heights.
    """

    name: str
    points: tuple[Level, ...]
    area: Polygon | MultiPolygon
    spacing: float
    creases: tuple[BaseGeometry, ...]
    jumps: tuple[BaseGeometry, ...]
    bottoms: tuple[LineString, ...]

    @property
    def open_points(self) -> tuple[Level, ...]:
        """The levels that lie on no line of lowest ground."""
        along = {place[:2] for bottom in self.bottoms for place in bottom.coords}
        return tuple(point for point in self.points if (point.x, point.y) not in along)


@dataclass(frozen=True, slots=True)
class SurveyedGround:
    """The surface through the levels on a grid, NaN beyond the surveyed area, and what it misses levels by. [m]."""

    elevation: FloatArray
    error: FloatArray
    fit: Fit


def prepare_survey(levels: Levels, features: Iterable[Feature], widest_gap: float | None) -> Survey:
    """Find where the levels speak.

    Raises
    ------
    InputError
        If there are fewer than six levels, or they lie on one line.
    """
    points = levels.points
    if len(points) < FEWEST_POINTS:
        raise InputError(
            f"{levels.name} places {len(points) or 'no'} {'level' if len(points) == 1 else 'levels'}; a surface whose "
            f"error is known needs at least {FEWEST_POINTS}. Take more levels, best on a "
            "grid of 5 m and closer in the hollows"
        )
    places = np.array([(point.x, point.y) for point in points])
    spread = np.linalg.svd(places - places.mean(axis=0), compute_uv=False)
    across = float(spread[1]) / np.sqrt(len(points))
    if across < NARROWEST / 4.0 or shapely.MultiPoint(places).minimum_rotated_rectangle.area == 0.0:
        raise InputError(
            f"{levels.name}: all {len(points)} levels lie on one line, within {max(across, 0.0) * 2.0:.2f} m. "
            "Take levels to both sides as well"
        )
    apart = np.hypot(places[:, None, 0] - places[None, :, 0], places[:, None, 1] - places[None, :, 1])
    np.fill_diagonal(apart, np.inf)
    spacing = float(np.median(apart.min(axis=1)))
    drawn = list(features)
    ditches = [feature.geometry for feature in drawn if feature.kind is Kind.DITCH]
    return Survey(
        name=levels.name,
        points=points,
        area=surveyed_area(places, widest_gap or GAP_OF_SPACING * spacing),
        spacing=spacing,
        creases=tuple(_line(feature.geometry) for feature in drawn if feature.kind in CREASES),
        jumps=tuple(_line(feature.geometry) for feature in drawn if feature.kind in JUMPS),
        bottoms=_bottoms(points, apart, GAP_OF_SPACING * spacing, ditches),
    )


def _bottoms(
    points: tuple[Level, ...], apart: FloatArray, widest: float, drawn: Sequence[BaseGeometry]
) -> tuple[LineString, ...]:
    """Find lines of lowest ground: levels on a drawn ditch, and three or more in a row that lie low among others."""
    rows = list(_rows_on(points, drawn))
    taken = {number for row in rows for number in row}
    row: list[int] = []
    for number in np.nonzero(_lies_low(points, apart))[0].tolist():
        if number in taken:
            continue
        if row and (number != row[-1] + 1 or apart[row[-1], number] > widest):
            rows.append(row)
            row = []
        row.append(number)
    rows.append(row)
    rows = [row for row in rows if len(row) >= FEWEST_OF_DITCH or (len(row) > 1 and row[0] in taken)]
    if len(points) - sum(map(len, rows)) < FEWEST_POINTS:
        return ()
    return tuple(LineString([(points[one].x, points[one].y, points[one].height) for one in row]) for row in rows)


def _rows_on(points: tuple[Level, ...], drawn: Sequence[BaseGeometry]) -> Iterator[list[int]]:
    places = shapely.points([(point.x, point.y) for point in points])
    free = np.ones(len(points), dtype=np.bool_)
    for line in drawn:
        on = np.nonzero(free & shapely.dwithin(places, line, ON_DITCH))[0]
        free[on] = False
        if line.geom_type == "LineString":
            yield on[np.argsort(shapely.line_locate_point(line, places[on]), kind="stable")].tolist()


def _lies_low(points: tuple[Level, ...], apart: FloatArray) -> BoolArray:
    """Mark levels that lie clearly below the plane through their neighbours."""
    x, y, height, error = _arrays(points)
    low = np.zeros(len(points), dtype=np.bool_)
    for number, near in enumerate(np.argsort(apart, axis=1, kind="stable")[:, :NEIGHBOURS]):
        terms = np.column_stack([np.ones(near.size), x[near] - x[number], y[near] - y[number]])
        plane = np.linalg.lstsq(terms, height[near], rcond=None)[0][0]
        low[number] = height[number] < plane - max(LOW, 4.0 * float(error[number]))
    return low


def surveyed_area(places: FloatArray, widest_gap: float) -> Polygon | MultiPolygon:
    """Return the union of the triangles between neighbouring levels whose sides are no longer than a gap. [m]."""
    triangles = shapely.get_parts(shapely.delaunay_triangles(shapely.MultiPoint(places)))
    corners = np.array([shapely.get_coordinates(triangle)[:4] for triangle in triangles])
    sides = np.hypot(*(np.diff(corners, axis=1).transpose(2, 0, 1)))
    kept = triangles[sides.max(axis=1) <= widest_gap * (1.0 + 1e-9)]
    area = shapely.union_all(kept if kept.size else triangles)
    if not isinstance(area, (Polygon, MultiPolygon)):
        raise InputError("levels.csv: the levels enclose no ground. Take levels to both sides")
    return area


def misread(survey: Survey, fit: Fit) -> Iterator[tuple[Level, float]]:
    """Yield levels that miss the surface through the others far more than these do, and by how much. [m].

    Of neighbours that seem wrong the worst is: it bends the surface at which the others are judged.
    """
    points = survey.open_points
    usual = 1.4826 * float(np.median(np.abs(fit.left_out - np.median(fit.left_out))))
    is_far = np.abs(fit.left_out) > np.maximum(FAR_OFF * usual, [4.0 * point.error for point in points])
    for number in np.nonzero(is_far & (np.abs(fit.left_out) > LOW))[0]:
        point = points[number]
        near = [np.hypot(point.x - one.x, point.y - one.y) <= 2.5 * survey.spacing for one in points]
        if np.abs(fit.left_out[near]).max() <= abs(fit.left_out[number]):
            yield point, float(fit.left_out[number])


def surface_on(survey: Survey, grid: Grid) -> SurveyedGround:
    """Bend the plate through the levels and read it, with its error, on the cells of the surveyed area."""
    trial_cell = max(float(np.sqrt(survey.area.area / (0.7 * MOST_TRIAL_CELLS))), min(grid.cell, survey.spacing / 4.0))
    trial, fit, deviation = _judged(survey, trial_cell)
    fine_cell = max(grid.cell, float(np.sqrt(survey.area.area / (0.8 * MOST_CELLS))))
    fine = _mesh(survey, fine_cell, grid if fine_cell == grid.cell else None)
    with one_thread():
        surface = plate_surface(fine, *_levels_on(survey, fine), fit.stiffness)
    inside = cells_in(survey.area, grid)
    # To a micrometre: the same bytes whatever library adds up the sums.
    elevation = np.round(_read(surface, fine, grid, inside), 6)
    return SurveyedGround(elevation, np.round(_read(deviation, trial, grid, inside), 4), fit)


def _refuse_lonely(survey: Survey, mesh: Mesh) -> None:
    """Refuse a level so far from all others that the plate does not reach it."""
    rows, columns = mesh.active.shape
    for level in survey.points:
        row = int(np.clip(round((mesh.north - level.y) / mesh.cell - 0.5), 0, rows - 1))
        column = int(np.clip(round((level.x - mesh.west) / mesh.cell - 0.5), 0, columns - 1))
        if not mesh.active[row, column]:
            apart = survey.area.distance(shapely.Point(level.x, level.y))
            raise InputError(
                f"{survey.name}: {level.point!r} stands alone, {apart:.1f} m from the ground between the other levels. "
                "Take levels between, or set survey.widest_gap"
            )


@lru_cache(maxsize=4)
def _judged(survey: Survey, cell: float) -> tuple[Mesh, Fit, FloatArray]:
    """Find the stiffness and the error of a survey; once, however often the window grows."""
    mesh = _mesh(survey, cell)
    _refuse_lonely(survey, mesh)
    x, y, height, error = _arrays(survey.open_points)
    everywhere = _levels_on(survey, mesh)
    with one_thread():
        fit = fit_stiffness(mesh, x, y, height - height.mean(), error)
        deviation = plate_error(mesh, everywhere[0], everywhere[1], everywhere[3], fit.stiffness, fit.scale)
    return mesh, fit, frozen(deviation)


def _arrays(points: tuple[Level, ...]) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    columns = np.array([(point.x, point.y, point.height, point.error) for point in points]).T
    return columns[0], columns[1], columns[2], columns[3]


def _levels_on(survey: Survey, mesh: Mesh) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return x, y, height and error of the levels; of a line of lowest ground, at every cell that it crosses."""
    columns = _arrays(survey.open_points)
    x, y = np.meshgrid(
        mesh.west + (np.arange(mesh.active.shape[1]) + 0.5) * mesh.cell,
        mesh.north - (np.arange(mesh.active.shape[0]) + 0.5) * mesh.cell,
    )
    least = min(point.error for point in survey.points)
    for bottom in survey.bottoms:
        crossed = mesh.active & shapely.dwithin(shapely.points(x, y), bottom, CROSSED * mesh.cell)
        corners = np.asarray(bottom.coords)
        reached = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners[:, :2], axis=0).T)))
        along = shapely.line_locate_point(shapely.force_2d(bottom), shapely.points(x[crossed], y[crossed]))
        height = np.interp(along, reached, corners[:, 2])
        new = (x[crossed], y[crossed], height, np.full(height.size, least))
        columns = tuple(np.concatenate(pair) for pair in zip(columns, new, strict=True))  # type: ignore[assignment]
    return columns


def _read(values: FloatArray, mesh: Mesh, grid: Grid, inside: BoolArray) -> FloatArray:
    rows, columns = np.nonzero(inside)
    x, y = grid.x[columns], grid.y[rows]
    found = np.full(grid.shape, np.nan)
    found[inside] = bilinear(values, (x - mesh.west) / mesh.cell, (mesh.north - y) / mesh.cell)
    return found


def _mesh(survey: Survey, cell: float, grid: Grid | None = None) -> Mesh:
    west, south, east, north = survey.area.bounds
    origin_x, origin_y = (grid.west, grid.north) if grid is not None else (west, north)
    left = int(np.floor((west - origin_x) / cell)) - RIM
    right = int(np.ceil((east - origin_x) / cell)) + RIM
    top = int(np.floor((origin_y - north) / cell)) - RIM
    bottom = int(np.ceil((origin_y - south) / cell)) + RIM
    frame = Grid(origin_x + left * cell, origin_y - top * cell, cell, bottom - top, right - left, "mesh")
    active = cells_in(survey.area.buffer(1.5 * cell), frame)
    crease = np.zeros(frame.shape, dtype=np.bool_)
    x, y = np.meshgrid(frame.x, frame.y)
    # The slope breaks at a ditch, and on both sides of one whose bottom is known.
    for line, reach in (*((one, 0.5) for one in survey.creases), *((one, CROSSED + 1.0) for one in survey.bottoms)):
        crease |= shapely.dwithin(shapely.points(x, y), line, reach * cell)
    cut_east = np.zeros((frame.rows, frame.columns - 1), dtype=np.bool_)
    cut_south = np.zeros((frame.rows - 1, frame.columns), dtype=np.bool_)
    if survey.jumps:
        lines = shapely.union_all(list(survey.jumps))
        shapely.prepare(lines)
        cut_east = _crossed(x[:, :-1], y[:, :-1], x[:, 1:], y[:, 1:], lines)
        cut_south = _crossed(x[:-1], y[:-1], x[1:], y[1:], lines)
    return Mesh(frame.west, frame.north, cell, active, crease, cut_east, cut_south)


def _crossed(x0: FloatArray, y0: FloatArray, x1: FloatArray, y1: FloatArray, lines: BaseGeometry) -> BoolArray:
    steps = shapely.linestrings(np.stack([np.stack([x0, y0], axis=-1), np.stack([x1, y1], axis=-1)], axis=-2))
    crossed: BoolArray = shapely.intersects(lines, steps)
    return crossed


def _line(geometry: BaseGeometry) -> BaseGeometry:
    return geometry.boundary if geometry.geom_type in {"Polygon", "MultiPolygon"} else geometry
