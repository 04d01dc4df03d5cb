"""The sheets of beds: every plant in its place at a true scale, with a legend by plant. Lengths in px."""

from __future__ import annotations

import math
import string
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TypeAlias

import shapely

from sitepipe.analysis import Analysis
from sitepipe.answers.names import capital, joined, tame
from sitepipe.answers.plants import bed_named, caution_of
from sitepipe.answers.where import from_standpoint
from sitepipe.mapping.frame import Frame
from sitepipe.mapping.plants import is_ring, kinds_set, plant_marks
from sitepipe.planting.record import BedPlan
from sitepipe.saying import say_length
from sitepipe.site import Found, Kind, Work
from sitepipe.writing.sheets.fonts import BOLD, ITALIC, width_of, wrapped
from sitepipe.writing.sheets.marks import draw_marks
from sitepipe.writing.sheets.north import draw_north
from sitepipe.writing.sheets.paper import MAP_WIDTH, MapBox, Paper, Scale, choose_scale
from sitepipe.writing.sheets.pen import WHITE, Pen, Point
from sitepipe.writing.sheets.scale_bar import draw_bar
from sitepipe.writing.sheets.table import LINE, Column, draw_table, height_of_table

TITLE, TEXT = 19.0, 14.0
TOP, BAR, GAP = 74.0, 34.0, 26.0
NARROWEST = 250.0
"""Room for the words over a figure."""
SMALLER = 1.7
"""Two rows of beds share a sheet where that draws them no smaller than this."""
TALLEST, HALF_SHEET, WIDEST = 520.0, 350.0, MAP_WIDTH - 8.0
"""Room for the largest figure."""
LETTERS = string.ascii_lowercase + string.ascii_uppercase
_COLUMNS = (
    Column("", 0.05, is_bold=True),
    Column("plant", 0.26),
    Column("in all", 0.09),
    Column("apart", 0.12),
    Column("drawn", 0.08),
    Column("mind", 0.4),
)


Legend: TypeAlias = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Figure:
    """One bed, and what stands above it."""

    bed: BedPlan
    title: str
    counts: tuple[str, ...]
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class BedSheet:
    """Figures in rows, at one scale; the first sheets carry the legend as well."""

    scale: Scale
    rows: tuple[tuple[Figure, ...], ...]
    legend: Legend = ()


def arrange_beds(analysis: Analysis, paper: Paper, numbers: Mapping[str, int]) -> list[BedSheet]:
    """Return the sheets: what is built first, then zones, each group at the largest scale at which its largest fits.

    Parameters
    ----------
    numbers : mapping of thing to number
        What the first sheet numbers, such as ``zone-8``: a bed is called by the same number.
    """
    beds = [bed for bed in analysis.planting.beds if bed.positions and bed.ground is not None]
    letters = letters_of(beds)
    legend = _legend(analysis, beds, letters)
    sheets: list[BedSheet] = []
    for kinds in ((Work.MOUND, Kind.BED, Work.TRELLIS, Work.ARCH), (Found.ZONE,)):
        group = [bed for bed in beds if bed.of.kind in kinds]
        if not group:
            continue
        sizes = [_size(bed) for bed in group]
        largest = max(width for width, _ in sizes), max(height for _, height in sizes)
        scale = choose_scale(*largest, (WIDEST, TALLEST), analysis.settings.units)
        in_pairs = choose_scale(*largest, (WIDEST, HALF_SHEET), analysis.settings.units)
        if len(group) > 1 and in_pairs.ratio <= SMALLER * scale.ratio:
            scale = in_pairs
        titles = [_title(bed, analysis, numbers) for bed in group]
        figures = [_figure(bed, t, s, scale, letters) for bed, t, s in zip(group, titles, sizes, strict=True)]
        room = paper.bottom - TOP - BAR
        *full, head = [()] if sheets else _pages(legend, room)
        sheets += [BedSheet(scale, (), part) for part in full]
        taken = height_of_table(_COLUMNS, head) + GAP if head else 0.0
        page: list[tuple[Figure, ...]] = []
        for row in _rows(figures):
            tall = max(figure.height for figure in row)
            if taken + tall > room and (page or head):
                sheets.append(BedSheet(scale, tuple(page), head))
                page, taken, head = [], 0.0, ()
            page.append(row)
            taken += tall
        sheets.append(BedSheet(scale, tuple(page), head))
    return sheets


def _pages(legend: Legend, room: float) -> list[Legend]:
    """Break a legend into as many parts as it takes sheets."""
    parts: list[Legend] = [()]
    for row in legend:
        if parts[-1] and height_of_table(_COLUMNS, (*parts[-1], row)) > room:
            parts.append(())
        parts[-1] = (*parts[-1], row)
    return parts


def letters_of(beds: Sequence[BedPlan]) -> dict[str, str]:
    """Return a letter for each kind, in the order in which they come; after 52 with a number."""
    names = dict.fromkeys(name for bed in beds for name, _ in bed.positions)
    return {
        name: LETTERS[k % len(LETTERS)] + (str(k // len(LETTERS) + 1) if k >= len(LETTERS) else "")
        for k, name in enumerate(names)
    }


def draw_bed_sheet(pen: Pen, analysis: Analysis, sheet: BedSheet, paper: Paper, numbered: str) -> None:
    """Draw one sheet of beds under its title."""
    pen.write((paper.left, 50.0), f"{tame(analysis.site.name)}: what grows where", TITLE, BOLD)
    pen.write((paper.right - 44.0, 50.0), numbered, TEXT, anchor="end")
    draw_north(pen, (paper.right - 14.0, 16.0), analysis.site, 30.0)
    letters = letters_of([bed for bed in analysis.planting.beds if bed.positions and bed.ground is not None])
    draw_bar(pen, sheet.scale, paper.left, TOP)
    top = TOP + BAR
    if sheet.legend:
        top = draw_table(pen, _COLUMNS, sheet.legend, paper.left, top) + GAP - 4.0
    for row in sheet.rows:
        left = paper.left
        for figure in row:
            _draw_figure(pen, figure, letters, (left, top), sheet.scale)
            left += figure.width
        top += max(figure.height for figure in row)


def _legend(analysis: Analysis, beds: Sequence[BedPlan], letters: dict[str, str]) -> Legend:
    units = analysis.settings.units
    rows = []
    for name, letter in letters.items():
        choices = [choice for bed in beds for choice in bed.choices if choice.common == name and choice.count]
        drawn = "ring" if is_ring(choices[0]) else "tuft"
        apart = say_length(choices[0].spacing, units)
        count, mind = f"{sum(choice.count for choice in choices):,}", caution_of(choices[0], units)
        rows.append((letter, tame(name), count, apart, drawn, mind))
    return tuple(rows)


def _size(bed: BedPlan) -> tuple[float, float]:
    west, south, east, north = _reach(bed)
    return east - west, north - south


def _reach(bed: BedPlan) -> tuple[float, float, float, float]:
    """Return the box around a bed and the rings that reach beyond its edge. [m]."""
    room = {choice.common: choice.spacing / 2.0 for choice in bed.choices if is_ring(choice)}
    rings = [place.buffer(room[name]) for name, place in bed.positions if name in room]
    west, south, east, north = shapely.union_all([bed.ground, *rings]).bounds
    return west, south, east, north


def _title(bed: BedPlan, analysis: Analysis, numbers: Mapping[str, int]) -> str:
    """Call a bed as the map does; a zone without a number there, by its way from the gate."""
    if bed.of.kind is not Found.ZONE:
        return capital(bed_named(bed, analysis))
    number = numbers.get(f"{bed.of.kind}-{bed.of.number}")
    if number is not None:
        return f"{number}, wet planting"
    middle = shapely.point_on_surface(bed.ground)
    return f"Wet planting, {from_standpoint(analysis.site, middle, analysis.settings.units)}"


def _figure(bed: BedPlan, title: str, size: tuple[float, float], scale: Scale, letters: dict[str, str]) -> Figure:
    counts = [f"{choice.count} {letters[choice.common]}" for choice in bed.choices if choice.count]
    said = joined(counts) + (f"; room for about {bed.room_for:,} more beside it" if bed.room_for else "")
    wide = max(size[0] * scale.px_per_metre, NARROWEST, width_of(title, TEXT, BOLD))
    lines = tuple(wrapped(said, TEXT, wide))
    return Figure(bed, title, lines, wide + GAP, _words(lines) + size[1] * scale.px_per_metre + GAP)


def _words(lines: Sequence[str]) -> float:
    """Return the height of a title and the lines below it."""
    return LINE * (1 + len(lines)) + 8.0


def _rows(figures: Sequence[Figure]) -> list[tuple[Figure, ...]]:
    """Set figures side by side while they fit."""
    rows: list[list[Figure]] = []
    for figure in figures:
        taken = sum(one.width for one in rows[-1]) if rows else 0.0
        if rows and taken + figure.width <= MAP_WIDTH + GAP:
            rows[-1].append(figure)
        else:
            rows.append([figure])
    return [tuple(row) for row in rows]


def _draw_figure(pen: Pen, figure: Figure, letters: dict[str, str], corner: Point, scale: Scale) -> None:
    bed = figure.bed
    if bed.ground is None:
        return
    left, top = corner
    pen.write((left, top + 14.0), figure.title, TEXT, BOLD)
    for k, line in enumerate(figure.counts):
        pen.write((left, top + 32.0 + k * LINE), line, TEXT)
    west, south, east, north = _reach(bed)
    size = scale.px_per_metre
    middle = (east + west) / 2.0, (north + south) / 2.0
    box = MapBox(left, top + _words(figure.counts), (east - west) * size, (north - south) * size, scale, *middle)
    pieces = getattr(bed.ground, "geoms", (bed.ground,))
    rings = [[box.to(x, y) for x, y in ring.coords[:-1]] for p in pieces for ring in (p.exterior, *p.interiors)]
    pen.stroke(rings, 1.4, is_closed=True)
    plants = plant_marks(bed, Frame(0.0, 0.0, 0.0, 0.0))
    draw_marks(pen, plants, box)
    for choice, kind in zip(kinds_set(bed), plants, strict=True):
        _write_letter(pen, box.points(kind.at), letters[choice.common], is_ring(choice))


def _write_letter(pen: Pen, places: Sequence[Point], letter: str, is_above: bool) -> None:
    """Write the letter of a kind once, on the plant nearest the middle of all."""
    middle = sum(x for x, _ in places) / len(places), sum(y for _, y in places) / len(places)
    x, y = min(places, key=lambda place: math.dist(place, middle))
    foot = y - (6.0 if is_above else -4.0)
    pen.circle((x, foot - 4.6), 8.0, WHITE)
    pen.write((x, foot), letter, TEXT, ITALIC, "middle")
