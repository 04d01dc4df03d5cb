"""The sheets after the map: stakes, what it takes, the years, the jobs, every caution. Lengths in px."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from sitepipe.analysis import Analysis
from sitepipe.answers import ground_water, stock
from sitepipe.answers.cautions import cautions_of
from sitepipe.answers.hazards import near_stake, near_work
from sitepipe.answers.jobs import say_job
from sitepipe.answers.names import capital, ended, joined, tame
from sitepipe.answers.stakes import SIDES, WEAK_ANGLE, all_stakes, tapes
from sitepipe.answers.works import MATERIAL_NOTES
from sitepipe.mapping.north import north_said
from sitepipe.saying import say_length, say_volume, say_work
from sitepipe.units import Units
from sitepipe.writing.sheets.crest_chart import HEIGHT, Series, crest_series, draw_crests
from sitepipe.writing.sheets.fonts import BOLD, REGULAR, width_of, wrapped
from sitepipe.writing.sheets.paper import MAP_WIDTH, Paper
from sitepipe.writing.sheets.pen import Pen
from sitepipe.writing.sheets.table import Column, draw_table, height_of_row, height_of_table

TITLE, HEADING, TEXT, LINE = 19.0, 17.0, 14.0, 18.0
TOP, HEADING_ROW = 74.0, 38.0
_ADRIFT = (
    "Some stakes have nothing to be taped from. Draw two fixed points, such as a gate post and the corner of a house, "
    "and run again; until then set things out by eye from the map."
)
_NEXT_BEST = {f"hoop house {rank}" for rank in range(2, 11)}
"""Places that the map does not draw; the spreadsheet has their stakes."""


@dataclass(slots=True)
class Pieces:
    """What one sheet holds: (height, how to draw it from a top edge)."""

    paper: Paper
    sheets: list[list[Block]] = field(default_factory=lambda: [[]])

    def add(self, *blocks: Block) -> None:
        """Set blocks down together, on a new sheet where they do not fit on this one."""
        taken = sum(block.height for block in self.sheets[-1])
        needed = sum(block.height for block in blocks)
        if self.sheets[-1] and taken + needed > self.room:
            self.sheets.append([])
        self.sheets[-1].extend(blocks)

    @property
    def room(self) -> float:
        """How much one sheet holds."""
        return self.paper.bottom - TOP


@dataclass(frozen=True, slots=True)
class Block:
    """A heading, a paragraph, rows of a table that stay together, or the chart of the crests."""

    height: float
    heading: str = ""
    lead: str = ""
    lines: tuple[str, ...] = ()
    columns: tuple[Column, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    crests: tuple[Series, ...] = ()


def arrange(analysis: Analysis, paper: Paper) -> list[list[Block]]:
    """Return the blocks of every sheet after the map."""
    pieces = Pieces(paper)
    _add_stakes(pieces, analysis)
    _add_quantities(pieces, analysis)
    _add_years(pieces, analysis)
    _add_jobs(pieces, analysis)
    _add_cautions(pieces, analysis)
    return [sheet for sheet in pieces.sheets if sheet]


def draw_list_sheet(pen: Pen, analysis: Analysis, blocks: Sequence[Block], paper: Paper, numbered: str) -> None:
    """Draw one sheet of blocks under its title."""
    pen.write((paper.left, 50.0), f"{tame(analysis.site.name)}: how we build it", TITLE, BOLD)
    pen.write((paper.right, 50.0), numbered, TEXT, anchor="end")
    top = TOP
    for block in blocks:
        draw_block(pen, block, paper.left, top)
        draw_crests(pen, block.crests, analysis.settings.units, paper.left, top, MAP_WIDTH)
        top += block.height


def draw_block(pen: Pen, block: Block, left: float, top: float) -> None:
    """Draw a heading, a table or a paragraph from a top edge."""
    if block.heading:
        pen.write((left, top + 24.0), block.heading, HEADING, BOLD)
    elif block.columns:
        draw_table(pen, block.columns, block.rows, left, top)
    else:
        for k, line in enumerate(block.lines):
            foot = top + 15.0 + k * LINE
            start = left
            if k == 0 and block.lead:
                pen.write((left, foot), block.lead, TEXT, BOLD)
                start += width_of(f"{block.lead} ", TEXT, BOLD)
            pen.write((start, foot), line, TEXT, REGULAR)


def _heading(text: str) -> Block:
    return Block(HEADING_ROW, heading=text)


def paragraph(text: str, lead: str = "") -> Block:
    """Return a paragraph broken into lines; the first is shorter by its bold lead."""
    if not lead:
        lines = wrapped(text, TEXT, MAP_WIDTH)
    else:
        words = text.split(" ")
        taken = width_of(f"{lead} ", TEXT, BOLD)
        first = ""
        while words and taken + width_of(f"{first} {words[0]}".strip(), TEXT) <= MAP_WIDTH:
            first = f"{first} {words.pop(0)}".strip()
        lines = [first, *wrapped(" ".join(words), TEXT, MAP_WIDTH)]
    return Block(LINE * len(lines) + 6.0, lead=lead, lines=tuple(lines))


def _add_table(pieces: Pieces, heading: str, columns: Sequence[Column], rows: Sequence[tuple[str, ...]]) -> None:
    """Set a table down, its head repeated on every sheet that it runs onto."""
    left = list(rows)
    while left:
        room = (
            pieces.room - sum(block.height for block in pieces.sheets[-1]) - HEADING_ROW - height_of_table(columns, [])
        )
        part = _fitting(columns, left, room)
        if not part and pieces.sheets[-1]:
            pieces.sheets.append([])
            continue
        part = part or left[:1]
        said = heading if len(left) == len(rows) else f"{heading}, continued"
        table = Block(height_of_table(columns, part) + 4.0, columns=tuple(columns), rows=tuple(part))
        pieces.add(_heading(said), table)
        left = left[len(part) :]


def _fitting(columns: Sequence[Column], rows: Sequence[tuple[str, ...]], room: float) -> list[tuple[str, ...]]:
    """Return the rows that fit, none if fewer than three would stand alone."""
    taken = height_of_table(columns, rows[:1]) - height_of_row(columns, rows[0]) + 4.0
    part: list[tuple[str, ...]] = []
    for row in rows:
        taken += height_of_row(columns, row)
        if taken > room:
            break
        part.append(row)
    return part if len(part) >= min(3, len(rows)) else []


def _add_stakes(pieces: Pieces, analysis: Analysis) -> None:
    units = analysis.settings.units
    rows = []
    is_any_weak = is_any_adrift = False
    for what, stake in all_stakes(analysis):
        if what in _NEXT_BEST:
            continue
        if not all(name and math.isfinite(distance) for name, distance in stake.from_points):
            is_any_adrift = True
            continue
        is_weak = stake.angle < WEAK_ANGLE
        is_any_weak = is_any_weak or is_weak
        rows.append((f"{stake.label}{' *' if is_weak else ''}", what, *tapes(stake, units)))
    columns = (
        Column("stake", 0.07, is_bold=True),
        Column("of", 0.13),
        Column("first tape", 0.29),
        Column("second tape", 0.29),
        Column("side", 0.06),
        Column("finished height", 0.16),
    )
    _add_table(pieces, "Stakes", columns, rows)
    near = [f"{s.label}: {said}" for _, s in all_stakes(analysis) if (said := near_stake(analysis, s.label))]
    if near:
        told = f"{'; '.join(near)}. Have lines marked first, and dig by hand."
        pieces.add(paragraph(told, "Stakes near what they can hurt."))
    if rows:
        mark = tame(analysis.plan.bench_mark)
        said = (
            f"Heights are against the bench mark{f', {mark}' if mark else ''}. "
            f"Two people hold the tapes level. {SIDES} "
            "A mound's foot lies half its base from the line between its stakes A and B, all round."
        )
        weak = (
            " * The tapes meet at a flat angle: measure this one twice, and from a third point." if is_any_weak else ""
        )
        pieces.add(paragraph(said + weak))
    if is_any_adrift:
        pieces.add(paragraph(_ADRIFT, "No tapes."))


def _add_quantities(pieces: Pieces, analysis: Analysis) -> None:
    units = analysis.settings.units
    rows = [
        (
            tame(q.material),
            say_volume(q.volume, units),
            _carried(q.loads, q.barrows),
            _carried(q.first_loads, q.first_barrows),
            _carried(q.loads - q.first_loads, q.barrows - q.first_barrows),
            stock.say_to_find(q, analysis.settings) or "none",
        )
        for q in analysis.plan.quantities
    ]
    columns = (
        Column("material", 0.22, is_bold=True),
        Column("in all", 0.13),
        Column("loads / barrows", 0.18),
        Column("first year", 0.15),
        Column("later", 0.15),
        Column("to find or buy", 0.17),
    )
    _add_table(pieces, "What it takes", columns, rows)
    for quantity in analysis.plan.quantities:
        if note := MATERIAL_NOTES.get(quantity.material):
            pieces.add(paragraph(note, f"{capital(tame(quantity.material))}."))
    told = (stock.short, stock.waits, stock.articles, stock.left_over)
    for said in (sentence for tell in told for sentence in tell(analysis)):
        pieces.add(paragraph(said))


def _add_years(pieces: Pieces, analysis: Analysis) -> None:
    units = analysis.settings.units
    rows = [
        (
            str(y.year),
            stock.works_named(stock.without_paths(y.works)) if y.works else "none",
            _mounds(y.tops_up),
            say_work(y.hours) if y.hours else "none",
            say_volume(y.volume, units),
            joined([f"{say_volume(volume, units)} of {tame(name)}" for name, volume in y.materials]) or "none",
        )
        for y in analysis.plan.years
    ]
    columns = (
        Column("year", 0.10, is_bold=True),
        Column("builds", 0.20),
        Column("tops up", 0.20),
        Column("work", 0.10),
        Column("fill", 0.10),
        Column("of it", 0.30),
    )
    _add_table(pieces, "Year by year", columns, rows)
    crests = crest_series(analysis.plan.mounds, analysis.plan.years)
    if crests:
        said = "How high each mound's crest stands, from the day it is built: it settles, rots and is topped up."
        pieces.add(paragraph(said), Block(HEIGHT, crests=crests))


def _carried(loads: float, barrows: int) -> str:
    return f"{loads:.1f}".removesuffix(".0") + f" / {barrows:,}" if barrows else "none"


def _mounds(numbers: Sequence[int]) -> str:
    if not numbers:
        return "none"
    return f"mound{'s' if len(numbers) > 1 else ''} {joined([str(number) for number in numbers])}"


def _add_jobs(pieces: Pieces, analysis: Analysis) -> None:
    jobs = analysis.plan.jobs
    for index, job in enumerate(jobs):
        words = say_job(job, analysis)
        tools = f" Tools: {joined(words.tools)}." if words.tools else ""
        people = f" {job.people}\u00a0{'person' if job.people == 1 else 'people'}, {say_work(job.people_hours)} in all."
        quantity = f" How much: {ended(words.quantity)}" if words.quantity else ""
        near = [capital(said) for thing in job.things for said in near_work(analysis, thing)]
        caution = f" Caution: {' '.join([words.caution, *near])}"
        block = paragraph(f"{words.detail}{quantity}{tools}{people}{caution}", f"{job.number}. {words.title}.")
        is_first = index == 0 or job.year != jobs[index - 1].year
        pieces.add(*((_heading(f"Jobs of year {job.year}"), block) if is_first else (block,)))


def _add_cautions(pieces: Pieces, analysis: Analysis) -> None:
    for index, caution in enumerate(cautions_of(analysis)):
        block = paragraph(caution.text, f"{caution.title}.")
        pieces.add(*((_heading("Before you start"), block) if index == 0 else (block,)))
    ground, units = analysis.site.ground, analysis.settings.units
    said = (
        f"Heights: {tame(ground.source)}, good to {say_length(ground.vertical_error, units)}. "
        f"{'Lengths in feet and inches' if units is Units.IMPERIAL else 'Lengths in metres'}. "
        f"{ground_water.basis(analysis)} {north_said(analysis.site)}"
    )
    pieces.add(paragraph(said))
