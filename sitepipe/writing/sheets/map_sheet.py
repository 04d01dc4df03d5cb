"""The first sheet: what we build, on the ground, at a true scale. Lengths in px."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import shapely

from sitepipe.analysis import Analysis
from sitepipe.answers.names import joined, tame, without_controls
from sitepipe.mapping.build import build_view
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.levels import banks, level_lines
from sitepipe.mapping.marks import MARKS, Drawn
from sitepipe.mapping.relief import draw_ground
from sitepipe.mapping.standing import standing_things
from sitepipe.mapping.view import Desk, rings_of
from sitepipe.mapping.water import water_view
from sitepipe.saying import say_length, say_volume
from sitepipe.site import Site
from sitepipe.writing.sheets.fonts import BOLD, width_of
from sitepipe.writing.sheets.ground import draw_banks, draw_relief, number_levels
from sitepipe.writing.sheets.labels import Room, place_names, place_rings
from sitepipe.writing.sheets.legend import draw_legend, height_of_legend, shown_classes
from sitepipe.writing.sheets.lists import Block, draw_block, paragraph
from sitepipe.writing.sheets.marks import draw_marks, outline_of
from sitepipe.writing.sheets.north import draw_north
from sitepipe.writing.sheets.paper import MAP_WIDTH, MapBox, Paper, Scale, choose_scale
from sitepipe.writing.sheets.pen import Pen
from sitepipe.writing.sheets.scale_bar import draw_bar
from sitepipe.writing.sheets.strokes import around, length_of, spots_along, steps
from sitepipe.writing.sheets.table import Column, draw_table, height_of_table

TITLE, TEXT = 19.0, 14.0
HEAD = 62.0
"""Where the map begins below the upper edge of the sheet."""
LEAST_MAP = 420.0
MOST_FLOW_LINES = 12
MOST_ROWS, MOST_WIDE_ROWS = 16, 5
EDGE = 4.0
"""Ground shown around the parcel, at least. [m]"""
BESIDE = 12.0
"""What stands within this of the parcel draws the map towards it. [m]"""

_NOT_COVERED = (
    "path",
    *(f"{name}{state}" for name in ("trellis", "hoop-house", "mound") for state in ("", "-proposed", "-stands")),
    "buried",
    "building",
    "runs",
    "stands-8",
    "gate",
    "boundary",
    "keep-clear",
)
_LEFT_OUT = ("touch", "stake", "water")
NEAREST = 6.0
"""Marks that the page draws only from nearer than this wait for the sheets of beds. [px/m]"""
_NARROW = (
    Column("", 0.03, is_bold=True),
    Column("build", 0.12),
    Column("settles to", 0.12),
    Column("base", 0.12),
    Column("fill", 0.10),
)


@dataclass(frozen=True, slots=True)
class MapSheet:
    """Everything that the first sheet draws, and the room that it takes."""

    analysis: Analysis
    desk: Desk
    marks: list[Drawn]
    places: list[Any]
    caution: str


def prepare(analysis: Analysis) -> MapSheet:
    """Gather what the page draws too, so that paper and page agree."""
    desk = Desk(analysis, frame_of(analysis.site), draw_ground(analysis.site))
    build = build_view(desk)
    marks = marks_on_paper(desk, (*water_view(desk).marks, *build.marks))
    return MapSheet(analysis, desk, marks, build.places, build.caution)


def marks_on_paper(desk: Desk, marks: Iterable[Drawn]) -> list[Drawn]:
    """Return what stands on the ground and the marks that a sheet has room for."""
    return [
        mark
        for mark in (*standing_things(desk.analysis.site, desk.frame), *marks)
        if MARKS[mark.mark].near <= NEAREST and mark.rank < MOST_FLOW_LINES and mark.mark not in _LEFT_OUT
    ]


def draw_map_sheet(pen: Pen, sheet: MapSheet, paper: Paper, numbered: str) -> Scale:
    """Draw the sheet; return its scale."""
    analysis, units = sheet.analysis, sheet.analysis.settings.units
    classes = shown_classes(mark.mark for mark in sheet.marks)
    columns, rows = _mound_table(analysis)
    notes = [*_numbers_said(sheet), paragraph(_caution(sheet), "Caution.")]
    tables = _in_two(rows) if len(columns) == len(_NARROW) else [rows]
    below = 44.0 + height_of_legend(classes) + height_of_table(columns, tables[0]) + 8.0
    below += sum(note.height for note in notes)
    height = max(LEAST_MAP, paper.bottom - HEAD - below)
    frame = sheet.desk.frame
    edge = min(EDGE, 0.08 * max(frame.width, frame.height))
    scale = choose_scale(frame.width + 2 * edge, frame.height + 2 * edge, (MAP_WIDTH, height), units)
    box = box_of(sheet, paper, height, scale)
    _draw_head(pen, analysis, paper, numbered)
    draw_map(pen, sheet, box)
    top = box.bottom + 14.0
    draw_bar(pen, scale, paper.left, top)
    top += 30.0
    draw_legend(pen, classes, paper.left, top)
    top += height_of_legend(classes) + 2.0
    width = MAP_WIDTH / len(tables) - (12.0 if len(tables) > 1 else 0.0)
    for k, part in reversed(list(enumerate(tables))):
        end = draw_table(pen, columns, part, paper.left + k * MAP_WIDTH / 2.0, top, width)
    top = end
    for note in notes:
        draw_block(pen, note, paper.left, top)
        top += note.height
    return scale


def box_of(sheet: MapSheet, paper: Paper, height: float, scale: Scale) -> MapBox:
    """Set the parcel in the middle, moved towards what stands beside it as far as it stays on the map."""
    site, frame = sheet.analysis.site, sheet.desk.frame
    near = site.parcel.buffer(BESIDE).envelope
    shown = shapely.union_all([site.parcel, *(f.geometry.intersection(near) for f in site.features)])
    west, south, east, north = shown.bounds
    room_x, room_y = MAP_WIDTH / scale.px_per_metre, height / scale.px_per_metre

    def middle(low: float, high: float, size: float, room: float) -> float:
        spare = (room - size) / 2.0 - 2.0
        return size / 2.0 + min(max((low + high) / 2.0 - size / 2.0, -spare), spare) if spare > 0.0 else size / 2.0

    across = middle(west - frame.west, east - frame.west, frame.width, room_x)
    down = middle(south - frame.south, north - frame.south, frame.height, room_y)
    return MapBox(paper.left, HEAD, MAP_WIDTH, height, scale, across, down)


def _draw_head(pen: Pen, analysis: Analysis, paper: Paper, numbered: str) -> None:
    title = f"{tame(analysis.site.name)}: what we build"
    right = f"{tame(analysis.site.ground.source)} · {numbered}"
    room = MAP_WIDTH - width_of(title, TITLE, BOLD) - 24.0
    if width_of(right, TEXT) > room:
        right = numbered
    pen.write((paper.left, 50.0), title, TITLE, BOLD)
    pen.write((paper.right, 50.0), right, TEXT, anchor="end")


def draw_map(pen: Pen, sheet: MapSheet, box: MapBox) -> None:
    """Draw the ground, what stands on it, the marks and the numbers of the places."""
    site, desk = sheet.analysis.site, sheet.desk
    frame_ring = [(box.left, box.top), (box.right, box.top), (box.right, box.bottom), (box.left, box.bottom)]
    levels, _ = level_lines(site, desk.ground, desk.frame, desk.units)
    room = Room(box)
    with pen.inside([frame_ring]):
        draw_relief(pen, desk.ground, desk.frame, box)
        draw_marks(pen, levels, box)
        draw_banks(pen, banks(site, desk.ground, desk.frame), box)
        draw_marks(pen, sheet.marks, box)
    _draw_north(pen, box, room, site)
    for mark in sheet.marks:
        if mark.mark in _NOT_COVERED:
            rings, lines = outline_of(mark, box)
            lines += [[*ring, ring[0]] for ring in rings]
            room.note((s.x, s.y) for line in lines for s in spots_along(line, steps(0.0, length_of(line), 6.0)))
        if mark.mark == "tree":
            size = 0.8 * mark.half * box.scale.px_per_metre
            room.note(place for middle in box.points(mark.at) for place in around([middle], size))
        if MARKS[mark.mark].letter:
            for x, y in box.points(mark.at):
                room.take((x - 9.0, y - 9.0, x + 9.0, y + 9.0))
    numbers = [
        (number, box.to(place.anchor.x - desk.frame.west, place.anchor.y - desk.frame.south), place.reach)
        for place, number in zip(sheet.places, rings_of(sheet.places), strict=True)
        if place.anchor is not None
    ]
    size = box.scale.px_per_metre
    place_rings(pen, [(number, anchor, reach * size) for number, anchor, reach in numbers], room)
    place_names(pen, sheet.marks, room)
    number_levels(pen, levels, box, room)
    pen.stroke([frame_ring], 1.2, is_closed=True)


def _draw_north(pen: Pen, box: MapBox, room: Room, site: Site) -> None:
    x, y = box.right - 28.0, box.top + 14.0
    room.take((x - 16.0, box.top, x + 16.0, y + 64.0))
    draw_north(pen, (x, y), site)


def _mound_table(analysis: Analysis) -> tuple[list[Column], list[list[str]]]:
    """Return the table of mounds by the rings on the map: heights, width, fill, and the crops while there are few."""
    units, mounds = analysis.settings.units, analysis.plan.mounds[:MOST_ROWS]
    is_named = any(mound.name for mound in mounds)
    has_crops = is_named or len(mounds) <= MOST_WIDE_ROWS
    columns = [*_NARROW]
    columns += [Column("for", 0.50)] if has_crops else []
    rows = []
    for mound in mounds:
        row = [
            str(mound.number),
            say_length(mound.height.built, units),
            say_length(mound.height.finished, units),
            say_length(mound.base_width, units),
            say_volume(mound.volume, units),
        ]
        if has_crops:
            name = f"{tame(mound.name)}: " if mound.name else ""
            row.append(f"{name}{without_controls(mound.crops)}")
        rows.append(row)
    return columns, rows


def _in_two(rows: list[list[str]]) -> list[list[list[str]]]:
    """Return the halves of a long narrow table, to stand side by side."""
    half = -(-len(rows) // 2)
    return [rows[:half], rows[half:]] if rows else [[]]


def _numbers_said(sheet: MapSheet) -> list[Block]:
    """Return what the numbers are that the table of mounds does not name."""
    said: dict[str, list[str]] = {}
    for place, number in zip(sheet.places, rings_of(sheet.places), strict=True):
        if place.group != "mounds" and place.anchor is not None:
            said.setdefault(place.bold.rstrip(",").lower(), []).append(str(number))
    if not said:
        return []
    return [paragraph(f"{'; '.join(f'{joined(numbers)} {thing}' for thing, numbers in said.items())}.", "Numbers.")]


def _caution(sheet: MapSheet) -> str:
    ground = sheet.analysis.site.ground
    units = sheet.analysis.settings.units
    basis = "worked out, not read" if sheet.analysis.water_table.is_estimated else "read in auger holes"
    return (
        f"{sheet.caution} Heights are within {say_length(ground.vertical_error, units)}; "
        f"the depth to water is {basis}. Stakes, quantities and every caution are on the next sheets."
    )
