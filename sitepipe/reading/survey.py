"""The user's own levels as ground: where they speak, the surface through them, and how far it can be believed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, frozen
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.bottoms import CROSSED, LOW, ON_DITCH, dug, find_bottoms, heights_along, is_shown
from sitepipe.reading.levels import FEWEST_POINTS, Level, Levels, columns_of
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
BESIDE = 2.5
"""Levels within so many times their spacing are neighbours; own choice."""
GAP_OF_SPACING = 4.0
"""A triangle of levels with a side beyond so many times their spacing is not surveyed ground; own choice."""
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
        return self.without_ditches(self.bottoms).points

    def without_ditches(self, bottoms: Sequence[LineString]) -> Survey:
        """Return the survey without some of its lines of lowest ground, their levels and what is drawn along them."""
        along = {place[:2] for bottom in bottoms for place in bottom.coords}
        beds = shapely.union_all([bottom.buffer(ON_DITCH) for bottom in bottoms])
        return replace(
            self,
            points=tuple(point for point in self.points if (point.x, point.y) not in along),
            creases=tuple(line for line in self.creases if not line.intersects(beds)),
            bottoms=tuple(bottom for bottom in self.bottoms if bottom not in bottoms),
        )


@dataclass(frozen=True, slots=True)
class Misread:
    """A level that misses the surface through the others, by how much [m], and whether it was left out of it."""

    level: Level
    apart: float
    is_left_out: bool


@dataclass(frozen=True, slots=True)
class SurveyedGround:
    """The surface through the levels on a grid, NaN beyond the surveyed area, and what it misses levels by. [m].

    ``survey`` is the one that was made use of: without levels that are misread. ``shown`` are those of its lines of
    lowest ground beside which the other heights know the sides.
    """

    elevation: FloatArray
    error: FloatArray
    survey: Survey
    fit: Fit
    misread: tuple[Misread, ...]
    shown: tuple[LineString, ...]


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
        bottoms=find_bottoms(points, apart, GAP_OF_SPACING * spacing, ditches),
    )


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


def surface_on(survey: Survey, grid: Grid, around: FloatArray) -> SurveyedGround:
    """Bend the plate through the levels and read it, with its error, on the cells of the surveyed area.

    Parameters
    ----------
    around : (rows, columns) float array
        Other heights of the same ground, at any level, NaN where there are none. They say whether a level that misses
        the others is misread, and how a ditch is shaped beside its levels. [m]
    """
    trial_cell = max(float(np.sqrt(survey.area.area / (0.7 * MOST_TRIAL_CELLS))), min(grid.cell, survey.spacing / 4.0))
    x, y, height, _ = columns_of(survey.open_points)
    apart = height - bilinear(around, (x - grid.west) / grid.cell, (grid.north - y) / grid.cell)
    has_others = bool(np.isfinite(apart).any())
    shift = float(np.nanmedian(apart)) if has_others else 0.0
    judged = _judged(survey, trial_cell, tuple((apart - shift).tolist()))
    used, fit = judged.survey, judged.fit
    inside = cells_in(survey.area, grid)
    shown: tuple[LineString, ...] = ()
    others = around + shift
    noise = 2.0 * 1.4826 * float(np.nanmedian(np.abs(apart - shift))) if has_others else 0.0
    if used.bottoms and has_others:
        level = _surface(used.without_ditches(used.bottoms), fit, grid, inside)
        shown = tuple(one for one in used.bottoms if is_shown(one, level, others, noise, grid))
    surface = _surface(used.without_ditches(shown), fit, grid, inside)
    for bottom in shown:
        surface = dug(surface, bottom, others, noise, grid, survey.spacing)
    # To a micrometre: the same bytes whatever library adds up the sums.
    deviation = np.round(_read(judged.deviation, judged.mesh, grid, inside), 4)
    return SurveyedGround(np.round(surface, 6), deviation, used, fit, judged.misread, shown)


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


def _surface(survey: Survey, fit: Fit, grid: Grid, inside: BoolArray) -> FloatArray:
    cell = max(grid.cell, float(np.sqrt(survey.area.area / (0.8 * MOST_CELLS))))
    mesh = _mesh(survey, cell, grid if cell == grid.cell else None)
    with one_thread():
        surface = plate_surface(mesh, *_levels_on(survey, mesh), fit.stiffness)
    return _read(surface, mesh, grid, inside)


@dataclass(frozen=True, slots=True)
class _Judged:
    """A survey without what is misread, its fit on a mesh, and the error of each cell. [m]."""

    survey: Survey
    mesh: Mesh
    fit: Fit
    deviation: FloatArray
    misread: tuple[Misread, ...]


@lru_cache(maxsize=4)
def _judged(survey: Survey, cell: float, misses_of_others: tuple[float, ...]) -> _Judged:
    """Find the stiffness and the error of a survey; once, however often the window grows."""
    mesh = _mesh(survey, cell)
    _refuse_lonely(survey, mesh)
    misread: list[Misread] = []
    used, misses = survey, dict(zip(survey.open_points, misses_of_others, strict=True))
    with one_thread():
        fit = _fit(used, mesh)
        while len(used.open_points) > FEWEST_POINTS:
            named = {one.level for one in misread}
            worst = next((far for far in _far_off(used, fit) if far[0] not in named), None)
            if worst is None:
                break
            level, apart = worst
            rest = replace(used, points=tuple(one for one in used.points if one is not level))
            fit_of_rest = _fit(rest, mesh)
            is_seen = abs(misses[level]) < 0.5 * abs(apart)
            is_left_out = not is_seen and not _has_company(level, apart, rest, fit_of_rest)
            misread.append(Misread(level, apart, is_left_out))
            if is_left_out:
                used, fit = rest, fit_of_rest
        x, y, _, error = _levels_on(used, mesh)
        deviation = plate_error(mesh, x, y, error, fit.stiffness, fit.scale)
    return _Judged(used, mesh, fit, frozen(deviation), tuple(misread))


def _fit(survey: Survey, mesh: Mesh) -> Fit:
    x, y, height, error = columns_of(survey.open_points)
    return fit_stiffness(mesh, x, y, height - height.mean(), error)


def _far_off(survey: Survey, fit: Fit) -> list[tuple[Level, float]]:
    """Return open levels that miss the surface through the others far more than is usual, by how much [m], worst first.

    Of neighbours that seem wrong the worst is: it bends the surface at which the others are judged.
    """
    points, ratio = survey.open_points, np.abs(fit.left_out / fit.expected)
    least = np.maximum(LOW, [4.0 * point.error for point in points])
    far = np.nonzero((ratio > FAR_OFF * _usual(fit)) & (np.abs(fit.left_out) > least))[0]
    return [
        (points[number], float(fit.left_out[number]))
        for number in far[np.argsort(-ratio[far], kind="stable")].tolist()
        if np.abs(fit.left_out[_are_near(points[number], survey)]).max() <= abs(fit.left_out[number])
    ]


def _has_company(level: Level, apart: float, rest: Survey, fit: Fit) -> bool:
    """Tell whether levels beside one that is left out now stand out to the same side: a bump or a bank, and no slip."""
    missed = np.sign(apart) * fit.left_out
    also = (missed / fit.expected > 0.5 * FAR_OFF * _usual(fit)) & (missed > 0.25 * abs(apart))
    return bool((also & _are_near(level, rest)).any())


def _usual(fit: Fit) -> float:
    """Return the usual miss, as a multiple of what was expected of each level."""
    ratio = fit.left_out / fit.expected
    return 1.4826 * float(np.median(np.abs(ratio - np.median(ratio))))


def _are_near(level: Level, survey: Survey) -> BoolArray:
    x, y, _, _ = columns_of(survey.open_points)
    near: BoolArray = np.hypot(x - level.x, y - level.y) <= BESIDE * survey.spacing
    return near


def _levels_on(survey: Survey, mesh: Mesh) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return x, y, height and error of the levels; of a line of lowest ground, at every cell that it crosses."""
    columns = columns_of(survey.open_points)
    x, y = np.meshgrid(
        mesh.west + (np.arange(mesh.active.shape[1]) + 0.5) * mesh.cell,
        mesh.north - (np.arange(mesh.active.shape[0]) + 0.5) * mesh.cell,
    )
    least = min(point.error for point in survey.points)
    for bottom in survey.bottoms:
        crossed = mesh.active & shapely.dwithin(shapely.points(x, y), bottom, CROSSED * mesh.cell)
        height, _ = heights_along(bottom, shapely.points(x[crossed], y[crossed]))
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
