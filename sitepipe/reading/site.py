"""read_site: from heights, a drawing and tables to a Site on one metric north-up grid."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import shapely
from pyproj import CRS
from shapely import MultiPolygon, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import frozen
from sitepipe.errors import InputError, SettingsError
from sitepipe.grid import Grid
from sitepipe.reading.accuracy import Accuracy, height_error_of_source
from sitepipe.reading.changes import read_change
from sitepipe.reading.coordinates import move_geometry, move_points
from sitepipe.reading.datum import said_of_shift
from sitepipe.reading.drawing import read_drawing, read_works_layer
from sitepipe.reading.drawn import DrawnLayer
from sitepipe.reading.features import measured, said_of_heights
from sitepipe.reading.frame import Bounds, grid_for
from sitepipe.reading.ground import (
    OpenGround,
    cell_of_survey,
    open_heights,
    open_survey_alone,
    positions_grid,
    read_surface,
)
from sitepipe.reading.growth import Reach, first_window, grow, said_of_window
from sitepipe.reading.heights import CleanHeights, clean_heights, doubts, refuse_empty
from sitepipe.reading.holes import read_holes
from sitepipe.reading.levels import Levels, read_levels
from sitepipe.reading.masks import cells_in
from sitepipe.reading.notes import Notes
from sitepipe.reading.obstacles import Obstacles, obstacles_of
from sitepipe.reading.own_plants import read_own_plants
from sitepipe.reading.place import EARTH, check_meeting, middle_on_earth, plane_of_drawing_alone, system_of_drawing
from sitepipe.reading.positions import FURTHEST, Positions
from sitepipe.reading.source import Source, nothing_to_stand_on
from sitepipe.reading.stock import read_stock
from sitepipe.reading.survey import Survey, prepare_survey
from sitepipe.reading.surveyed import Surveyed, lay_survey
from sitepipe.reading.vertical import called
from sitepipe.reading.works import Stated, moved, settle_works
from sitepipe.saying import say_area
from sitepipe.settings import DrainageSettings, Settings
from sitepipe.site import AugerReading, DrawnWork, Feature, Ground, Kind, Site
from sitepipe.units import METRES_PER, Units

CatchmentTest = Callable[[Site, DrainageSettings], Reach]
"""Tells through which sides of a window water reaches the parcel; ``sitepipe.window.reached_sides`` is the one."""

FEWEST_CELLS = 9.0
"""A parcel of fewer cells has no shape."""
_ENDS_WITH_LEVELS = (
    "More water may come from outside: the heights end where the levels do. Bring public heights to lay around."
)


@dataclass(frozen=True, slots=True)
class _Opened:
    """Everything that is needed to read any window of the site, and what was found on the way."""

    source: Source
    ground: OpenGround
    parcel: Polygon | MultiPolygon
    features: tuple[Feature, ...]
    works: tuple[DrawnWork, ...]
    place: tuple[float, float]
    positions: Positions
    survey: Survey | None
    notes: Notes

    @property
    def stands_alone(self) -> bool:
        """Whether the survey is all there is."""
        return self.source.heights is None


def read_site(source: Source, reached: CatchmentTest | None = None) -> Site:
    """Read a site.

    Parameters
    ----------
    source : Source
        Such as ``open_folder`` makes of a site folder.
    reached : callable or None
        Asked after each reading through which sides of the window water reaches the parcel; the window grows
        there until there are none, the heights end, or it has ``ground.widest_window`` cells. Without it the
        window is the parcel and ``ground.margin``.

    Raises
    ------
    InputError
        If a file is unreadable, or does not say what it must.
    SettingsError
        If a setting is missing that the files leave open.
    """
    settings = source.settings
    if source.layer is None:
        raise SettingsError("site.toml: parcel is missing. Name the hand-drawn layer: parcel = 'parcel.geojson'")
    opened = _open(source, source.layer)
    holes, holes_said = _holes(opened)
    stock, stock_said = (None, ()) if source.stock is None else read_stock(source.stock, settings)

    def read(bounds: Bounds) -> Site:
        return _read_window(bounds, opened)

    window = first_window(opened.parcel, _others(opened), settings.ground.margin)
    test = None if reached is None else lambda seen: reached(seen, settings.drainage)
    grown = grow(read, window, opened.ground.reach, settings.ground.widest_window, test)
    site, end = _with_obstacles(grown.site, opened)
    features = measured(site.features, site.obstacle_height, site.grid)
    notes = (
        Notes(stock_said)
        + opened.notes
        + Notes(site.assumptions, site.warnings)
        + Notes(end.assumptions, end.warnings)
        + Notes((*said_of_heights(features, settings.drawn.years_ahead), *holes_said))
        + Notes((said_of_window(site, settings.units),), grown.warnings)
    )
    if opened.stands_alone:
        notes += Notes(warnings=(_ENDS_WITH_LEVELS,))
    on_ground = tuple(hole for hole in holes if _is_known(site, hole.x, hole.y))
    off = dict.fromkeys(hole.place for hole in holes if hole not in on_ground)
    notes += Notes(
        warnings=tuple(f"{place} lies off the heights that are worked on: its readings are not used." for place in off)
    )
    return replace(
        site,
        features=features,
        open_edge=grown.open_sides is not None or opened.stands_alone,
        open_sides=grown.open_sides,
        auger_readings=on_ground,
        plant_list=source.palette,
        own_plants=() if source.plants in (None, source.palette) else read_own_plants(source.plants),
        stock=stock,
        assumptions=notes.assumptions,
        warnings=notes.warnings,
    )


def _open(source: Source, layer: DrawnLayer) -> _Opened:
    """Bring heights, drawing and levels onto one plane."""
    settings, file = source.settings, source.heights
    drawing = read_drawing(layer, settings)
    crs = None if file is None else file.system
    if file is None:
        drawing_crs, place, plane = plane_of_drawing_alone(layer, drawing.parcel, settings)
        ground = None
    else:
        drawing_crs = system_of_drawing(layer, file.name, crs)
        place = middle_on_earth(drawing.parcel, drawing_crs, layer, file.name, settings)
        ground = open_heights(file, place, settings.ground.cell, settings)
        plane = ground.frame.plane
    bare = METRES_PER[settings.survey.unit or "m"] if plane is None and file is None else 1.0
    # A plane that states its unit, as the page to draw on writes it, is not measured in that of the levels.
    unit = bare if layer.crs is None else 1.0
    move = _mover(drawing_crs, plane, unit)
    parcel = _parcel(move(drawing.parcel))
    beds, kept, kept_notes = _read_kept(source, len(layer.features) + 1, drawing_crs, plane, unit, parcel)
    features = (*(replace(feature, geometry=move(feature.geometry)) for feature in drawing.features), *beds)
    positions = _positions(features, parcel, crs, plane, bare)
    levels = Levels() if source.levels is None else read_levels(source.levels, positions, settings)
    survey = None if source.levels is None else prepare_survey(levels, features, settings.survey.widest_gap)
    if ground is None or file is None:
        if survey is None:
            raise nothing_to_stand_on()
        ground = open_survey_alone(survey, plane, settings.ground.cell)
    elif survey is not None and settings.ground.cell is None and cell_of_survey(survey) < ground.frame.cell:
        ground = open_heights(file, place, cell_of_survey(survey), settings)
    beyond = check_meeting(parcel, drawing.parcel, layer, drawing_crs, plane, ground.reach, ground.name)
    _refuse_tiny(parcel, ground, layer.name, settings.units)
    _refuse_sharing_nowhere(plane, settings)
    _refuse_drains_off_heights(features, ground, layer)
    numbers = {} if source.works is None else source.works.numbers
    dates = (ground.date,) if ground.date else ()
    works, works_notes = settle_works((*moved(drawing.works, move), *kept), numbers, parcel, dates, settings)
    notes = Notes(drawing.assumptions, drawing.warnings) + kept_notes + works_notes
    if plane is None:
        notes += Notes((f"{layer.name} is drawn in {called(unit)} on a plane of its own.",))
    notes += ground.notes + said_of_shift(layer.name, drawing_crs, ground.name, crs)
    notes += Notes(warnings=(*beyond, *_said_of_far(features, parcel, layer))) + levels.notes
    return _Opened(source, ground, parcel, features, works, place, positions, survey, notes)


def _read_window(bounds: Bounds, opened: _Opened) -> Site:
    source, settings, survey = opened.ground, opened.source.settings, opened.survey
    grid = grid_for(source.frame, bounds, source.reach)
    read = source.read(grid)
    in_parcel = cells_in(opened.parcel, grid)
    clean = clean_heights(read.elevation, source.name, source.unit.metres)
    accuracy = height_error_of_source(source.frame.source_cell, source.is_measured, clean.step, settings.ground)
    surveyed = Surveyed(clean.elevation, np.full(grid.shape, accuracy.error), accuracy, source.what)
    if survey is not None:
        surveyed = lay_survey(clean, accuracy, survey, source, grid, settings)
    refuse_empty(surveyed.elevation, in_parcel, source.name)
    known = np.isfinite(surveyed.elevation)
    looked_at = CleanHeights(surveyed.elevation, 0.0 if survey is not None else clean.step, ())
    obstacles = Obstacles(np.zeros(grid.shape), (), ())
    if read.top is not None:
        obstacles = obstacles_of(read.top, surveyed.elevation, source.name, is_same_survey=True)
    notes = (
        Notes(warnings=(*clean.warnings, *doubts(looked_at, in_parcel, grid, source.name, settings.units)))
        + surveyed.notes
    )
    return Site(
        name=settings.name,
        grid=grid,
        elevation=frozen(surveyed.elevation),
        obstacle_height=frozen(obstacles.height),
        height_error=frozen(np.where(known, surveyed.error, np.nan)),
        parcel=opened.parcel,
        features=opened.features,
        works=opened.works,
        numbers={} if opened.source.works is None else opened.source.works.numbers,
        change=None if opened.source.changes is None else read_change(opened.source.changes),
        ground=_ground(surveyed.what, surveyed.accuracy, opened, grid),
        longitude=opened.place[0],
        latitude=opened.place[1],
        assumptions=(*notes.assumptions, *obstacles.assumptions),
        warnings=(*notes.warnings, *obstacles.warnings),
    )


def _with_obstacles(site: Site, opened: _Opened) -> tuple[Site, Obstacles]:
    """Lay the surface model over the last window; it is read once."""
    file = opened.source.surface
    if file is None:
        return site, Obstacles(site.obstacle_height, (), ())
    top = read_surface(file, opened.ground, opened.place, site.grid, opened.source.settings)
    obstacles = obstacles_of(clean_heights(top, file.name, 1.0).elevation, site.elevation, file.name)
    return replace(site, obstacle_height=frozen(obstacles.height)), obstacles


def _is_known(site: Site, x: float, y: float) -> bool:
    row, column = site.grid.cell_at(x, y)
    return site.grid.holds(row, column) and bool(np.isfinite(site.elevation[row, column]))


def _holes(opened: _Opened) -> tuple[tuple[AugerReading, ...], tuple[str, ...]]:
    path = opened.source.holes
    return ((), ()) if path is None else read_holes(path, opened.positions, opened.source.settings)


def _positions(
    features: tuple[Feature, ...], parcel: BaseGeometry, crs: CRS | None, plane: CRS | None, unit: float
) -> Positions:
    from_grid, grid_unit = positions_grid(crs, plane, unit)

    def from_earth(longitude: float, latitude: float) -> tuple[float, float]:
        x, y = move_points(np.array([longitude]), np.array([latitude]), EARTH, plane or EARTH)
        return float(x[0]), float(y[0])

    return Positions(features, parcel, from_grid, None if plane is None else from_earth, grid_unit)


def _others(opened: _Opened) -> list[BaseGeometry]:
    drawn = [feature.geometry for feature in opened.features if feature.kind is not Kind.PARCEL]
    return drawn if opened.survey is None else [*drawn, opened.survey.area]


def _ground(what: str, accuracy: Accuracy, opened: _Opened, grid: Grid) -> Ground:
    source, survey = opened.ground, opened.survey
    cell = source.frame.source_cell
    if survey is not None and 2.0 * survey.area.intersection(opened.parcel).area > opened.parcel.area:
        cell = min(cell, cell_of_survey(survey))
    surface = opened.source.surface.date if opened.source.surface is not None else ""
    return Ground(
        source=what,
        source_cell=cell,
        vertical_error=accuracy.error,
        error_correlation=accuracy.correlation,
        error_source=accuracy.source,
        unit=called(source.unit.metres),
        unit_source=source.unit.source,
        dates=tuple(sorted({day for day in (source.date, surface) if day})),
        tiles=source.tiles(grid),
    )


def _read_kept(
    source: Source,
    first: int,
    drawing_crs: CRS | None,
    plane: CRS | None,
    unit: float,
    parcel: Polygon | MultiPolygon,
) -> tuple[tuple[Feature, ...], Stated, Notes]:
    """Read the file of works onto the site's plane: beds, numbered from ``first`` on, all other works, and notes."""
    layer = source.works
    if layer is None or not layer.features:
        return (), (), Notes()
    beds, works, notes = read_works_layer(layer, source.settings, first)
    if layer.is_on_parcel:
        west, south, _, _ = parcel.bounds
        move: Callable[[BaseGeometry], BaseGeometry] = partial(affinity.translate, xoff=west, yoff=south)
    elif source.heights is not None:
        move = _mover(system_of_drawing(layer, source.heights.name, source.heights.system), plane, unit)
    else:
        move = _mover(drawing_crs, plane, unit)
    return tuple(replace(bed, geometry=move(bed.geometry)) for bed in beds), moved(works, move), notes


def _mover(crs: CRS | None, plane: CRS | None, unit: float) -> Callable[[BaseGeometry], BaseGeometry]:
    """Return what brings a drawn shape onto the site's plane."""

    def move(geometry: BaseGeometry) -> BaseGeometry:
        if crs is not None and plane is not None:
            return move_geometry(geometry, crs, plane)
        return geometry if unit == 1.0 else shapely.transform(geometry, lambda points: points * unit)

    return move


def _parcel(outline: BaseGeometry) -> Polygon | MultiPolygon:
    if not isinstance(outline, (Polygon, MultiPolygon)):
        raise InputError("the parcel is no polygon on the site's plane. Draw it again")
    return outline


def _refuse_tiny(parcel: Polygon | MultiPolygon, source: OpenGround, name: str, units: Units) -> None:
    cell = source.frame.cell
    if parcel.area < FEWEST_CELLS * cell * cell:
        raise InputError(
            f"{name}: the parcel has {say_area(parcel.area, units)}, fewer than {FEWEST_CELLS:.0f} cells of "
            f"{source.name} ({cell:.3g} m). Bring heights with cells of {max(parcel.area, 1.0) ** 0.5 / 20.0:.2g} m or "
            "less"
        )


def _refuse_sharing_nowhere(plane: CRS | None, settings: Settings) -> None:
    shared = {"exports.location": settings.exports.location, "page.share_location": settings.page.share_location}
    for key, is_wanted in shared.items():
        if is_wanted and plane is None:
            raise SettingsError(
                f"site.toml: {key} is true, but the heights lie on a plane of their own whose place on the earth is "
                f"not known. Bring heights with a coordinate system, or leave {key} out"
            )


def _refuse_drains_off_heights(features: tuple[Feature, ...], ground: OpenGround, layer: DrawnLayer) -> None:
    """Raise where a drain lies wholly off the heights: it is drawn to let water through, and would do nothing."""
    extent = shapely.box(*ground.reach)
    for feature in features:
        if feature.kind in (Kind.CULVERT, Kind.DITCH) and not feature.geometry.intersects(extent):
            apart = feature.geometry.distance(extent)
            raise InputError(
                f"{layer.name}, feature {feature.number} ({feature.kind}) lies {apart:,.0f} m off the heights of "
                f"{ground.name}. Draw it where it is, or delete it"
            )


def _said_of_far(features: tuple[Feature, ...], parcel: BaseGeometry, layer: DrawnLayer) -> tuple[str, ...]:
    far = [feature for feature in features if feature.geometry.distance(parcel) > FURTHEST]
    if not far:
        return ()
    apart = far[0].geometry.distance(parcel) / 1000.0
    where = f"{layer.name}, feature {far[0].number} ({far[0].kind})"
    return (f"{where} lies {apart:,.0f} km from the parcel. Check its coordinates.",)
