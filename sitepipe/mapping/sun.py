"""Where does the sun reach? Hours in the leanest month of the season, and how sure the edges are."""

from __future__ import annotations

import calendar
import math

import numpy as np
import shapely
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.answers.names import capital
from sitepipe.answers.where import called, from_standpoint
from sitepipe.arrays import FloatArray
from sitepipe.mapping.contours import area_between, lines_at
from sitepipe.mapping.frame import polygons_of, smooth, smooth_area
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.relief import sample
from sitepipe.mapping.view import Card, Desk, Part, Place, View
from sitepipe.reading.masks import cells_in
from sitepipe.saying import say_area, say_hours
from sitepipe.site import STANDING, Kind, Site
from sitepipe.terrain.smoothing import smoothed
from sitepipe.units import compass_word

MARKS = ("sun-8", "sun-6", "sun-4", "sun-0")
"""Of the four classes of light, from most sun to least; the hours between them are ``sun.light_breaks``."""
DOUBTFUL = 0.45
"""An edge is broken where guessed tree heights move the hours by more than this. [h/day]"""
LEAST_SHADE = 12.0
"""A smaller shaded place gets no number. [m2]"""
MOST_SHADES = 3


def sun_view(desk: Desk) -> View:
    """Draw the hours of sun and say where they are enough."""
    sun, site = desk.analysis.sunlight, desk.analysis.site
    month = calendar.month_name[sun.leanest_month]
    grid = site.grid
    hours = smoothed(sun.leanest_hours, max(0.5, 0.4 / grid.cell))
    view = View("Sun", "Where does the sun reach?", _answer(desk, month), f"Hours of direct sun a day in {month}")
    view.quiet_ground = True
    for low, high, mark, said in _classes(desk):
        area = _clipped(desk, hours, low, high)
        if not area.is_empty:
            view.marks.append(Drawn(mark, area=desk.frame.areas(area)))
            view.add_legend(mark, said)
    _add_edges(view, desk, hours)
    _add_mounds(view, desk)
    _add_hoop_house(view, desk)
    _add_shades(view, desk, hours)
    return view


def _classes(desk: Desk) -> list[tuple[float, float, str, str]]:
    """Return (least hours, most hours, mark, words) of each class of light."""
    most, full, part = desk.analysis.settings.sun.light_breaks
    return [
        (most, math.inf, MARKS[0], f"{most:g} or more"),
        (full, most, MARKS[1], f"{full:g} to {most:g}"),
        (part, full, MARKS[2], f"{part:g} to {full:g}"),
        (-1.0, part, MARKS[3], f"Under {part:g}"),
    ]


def hours_at(desk: Desk, geometry: BaseGeometry, hours: FloatArray) -> float:
    """Mean of a layer over a shape, or at its middle where it is smaller than a cell. [h/day]."""
    grid = desk.analysis.site.grid
    inside = cells_in(geometry, grid) & np.isfinite(hours)
    if inside.any():
        return float(hours[inside].mean())
    middle = geometry.centroid
    return float(sample(hours, grid, np.array([middle.x]), np.array([middle.y]))[0, 0])


def _answer(desk: Desk, month: str) -> str:
    site, grid = desk.analysis.site, desk.analysis.site.grid
    hours = desk.analysis.sunlight.leanest_hours
    inside = cells_in(site.parcel, grid) & np.isfinite(hours)
    if not inside.any():
        return "Not known: there are no heights in the parcel."
    full = desk.analysis.settings.sun.light_breaks[1]
    said = f"{full:g}\u00a0hours"
    share = float((hours[inside] >= full).mean())
    tenths = round(10.0 * share)
    if tenths >= 10:
        return f"Everywhere: all of it gets {said} or more, even in {month}."
    if tenths <= 0:
        return f"Nowhere gets {said} in {month}; choose for shade."
    where = "Nearly everywhere" if tenths >= 8 else "Over half of it" if tenths >= 6 else "In places"
    verb = "part in 10 gets" if tenths == 1 else "parts in 10 get"
    return f"{where}: {tenths}\u00a0{verb} {said} or more, even in {month}."


def _clipped(desk: Desk, hours: FloatArray, low: float, high: float) -> BaseGeometry:
    grid = desk.analysis.site.grid
    area = area_between(grid.x, grid.y, hours, low, high, least=1.5)
    return area.intersection(desk.analysis.site.parcel).simplify(0.08)


def _add_edges(view: View, desk: Desk, hours: FloatArray) -> None:
    grid = desk.analysis.site.grid
    doubt = desk.analysis.sunlight.doubtful
    breaks = desk.analysis.settings.sun.light_breaks
    for level in breaks:
        for line in lines_at(grid.x, grid.y, hours, level):
            if line.length < 4.0:
                continue
            shown = smooth(line, 0.08, rounds=1).simplify(0.06).intersection(desk.analysis.site.parcel)
            for piece, is_guessed in _split_by_doubt(shown, doubt, desk):
                mark = f"edge{'' if level < breaks[0] else '-8'}{'-guessed' if is_guessed else ''}"
                view.marks.append(Drawn(mark, line=[desk.frame.line(piece)]))
    view.add_legend_of_drawn([("edge", "Measured"), ("edge-guessed", "Trees guessed")])


def _split_by_doubt(shown: BaseGeometry, doubt: FloatArray, desk: Desk) -> list[tuple[LineString, bool]]:
    grid = desk.analysis.site.grid
    pieces: list[tuple[LineString, bool]] = []
    parts = shown.geoms if hasattr(shown, "geoms") else (shown,)
    for part in parts:
        if part.geom_type != "LineString" or part.length < 1.0:
            continue
        points = shapely.get_coordinates(part)
        rows = np.clip(((grid.north - points[:, 1]) / grid.cell).astype(int), 0, grid.rows - 1)
        columns = np.clip(((points[:, 0] - grid.west) / grid.cell).astype(int), 0, grid.columns - 1)
        guessed = np.nan_to_num(doubt[rows, columns]) > DOUBTFUL
        start = 0
        for k in range(1, len(points)):
            if guessed[k] != guessed[start] or k == len(points) - 1:
                pieces.append((LineString(points[start : k + 1]), bool(guessed[start])))
                start = k
    return pieces


def _add_mounds(view: View, desk: Desk) -> None:
    mounds = desk.analysis.plan.mounds
    if not mounds:
        return
    land = shapely.union_all([mound.outline for mound in mounds])
    middle = land.convex_hull.centroid
    nearest = min(mounds, key=lambda mound: float(mound.outline.distance(middle)))
    _add_place(view, desk, "sun-mounds", "The mounds:", land, "mounds", nearest.outline.centroid)


def _add_hoop_house(view: View, desk: Desk) -> None:
    for house in desk.analysis.plan.hoop_houses:
        _add_place(view, desk, "sun-hoop-house", "The hoop house:", house.outline, "house")


def _add_shades(view: View, desk: Desk, hours: FloatArray) -> None:
    shade = _clipped(desk, hours, -1.0, desk.analysis.settings.sun.light_breaks[1])
    buildings = shapely.union_all([f.geometry for f in desk.analysis.site.of_kind(Kind.BUILDING)])
    open_shade = smooth_area(shade.difference(buildings), 0.1)
    pieces = sorted(polygons_of(open_shade), key=lambda piece: -piece.area)
    for number, piece in enumerate([p for p in pieces if p.area >= LEAST_SHADE][:MOST_SHADES]):
        thing = f"shade-{number}"
        middle = shapely.polylabel(piece, 0.5) if hasattr(shapely, "polylabel") else piece.representative_point()
        name = _name_of_shade(desk.analysis.site, middle)
        _add_place(view, desk, thing, f"{name}:", piece, "shades", middle)


def _name_of_shade(site: Site, middle: Point) -> str:
    nearest, best = None, 25.0
    for feature in site.of_kind(*STANDING):
        distance = float(shapely.distance(feature.outline, middle))
        if distance < best:
            nearest, best = feature, distance
    if nearest is None:
        return "In the open"
    name = called(nearest.name, nearest.kind)
    plain = name[:1].lower() + name[1:] if len(name) <= 24 else nearest.kind.value
    foot = shapely.shortest_line(nearest.geometry, middle)
    start = Point(foot.coords[0])
    if best == 0.0:
        return f"Under the {plain}"
    bearing = math.degrees(math.atan2(middle.x - start.x, middle.y - start.y))
    return capital(f"{compass_word(bearing)} of the {plain}")


def _add_place(
    view: View, desk: Desk, thing: str, bold: str, area: BaseGeometry, group: str, middle: Point | None = None
) -> None:
    sun = desk.analysis.sunlight
    lean = hours_at(desk, area, sun.leanest_hours)
    season = hours_at(desk, area, sun.sun_hours)
    middle = middle or area.centroid
    anchor = middle if isinstance(middle, Point) else area.centroid
    reach = _reach(area)
    verdict = _verdict(lean, desk.analysis.settings.sun.light_breaks)
    view.places.append(Place(thing, anchor, reach, group, bold, f"{say_hours(lean)}. {verdict}"))
    by_month = tuple(
        (calendar.month_name[month], say_hours(hours_at(desk, area, sun.monthly_hours[month - 1])))
        for month in sun.season_months
    )
    doubt = hours_at(desk, area, sun.doubtful)
    sureness = (
        ("dashes", f"Guessed tree heights move this by {say_hours(doubt)}")
        if doubt > DOUBTFUL
        else ("solid", "Does not hang on guessed tree heights")
    )
    month = calendar.month_name[sun.leanest_month]
    view.cards[thing] = Card(
        bold.rstrip(":"),
        from_standpoint(desk.analysis.site, anchor, desk.units),
        ((month, say_hours(lean)), ("Season, mean", say_hours(season)), ("Covers", say_area(area.area, desk.units))),
        {"kind": "sun", "at": desk.frame.place(anchor)},
        "",
        (
            Part("What fits.", verdict),
            Part("How sure.", strokes=(sureness, ("dashes", "Clear sky; trees as drawn"))),
            Part("By month.", table=(("month", "direct sun a day"), *by_month)),
        ),
    )


def _reach(area: BaseGeometry) -> float:
    west, south, east, north = area.bounds
    shape = area if isinstance(area, Polygon) else area.convex_hull
    return max(east - west, north - south) if shape.area > 30.0 else 0.0


def _verdict(hours: float, breaks: tuple[float, float, float]) -> str:
    """Say what the light suits: full sun from 6 h, part sun from 4 h, shade below (published breaks)."""
    most, full, part = breaks
    if hours >= most:
        return "Enough for any fruit."
    if hours >= full:
        return "Full sun, just: most fruit and vegetables."
    if hours >= part:
        return "Part sun: leaf crops, currants, herbs."
    return "Shade: ferns and woodland herbs; no tomatoes."
