"""The sheet of one day: boxes to tick, what to bring, where not to walk, and where it is. Lengths in px."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from sitepipe.analysis import Analysis
from sitepipe.answers.hazards import near_work
from sitepipe.answers.jobs import say_job
from sitepipe.answers.names import capital, joined, tame
from sitepipe.answers.today import before_the_first_spade, keep_off, title, tools_of
from sitepipe.answers.where import from_standpoint
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.relief import draw_ground
from sitepipe.mapping.today import today_view
from sitepipe.mapping.view import Desk
from sitepipe.saying import say_work
from sitepipe.works.jobs.ready import Day, Share
from sitepipe.writing.sheets.fonts import BOLD
from sitepipe.writing.sheets.lists import HEADING, TITLE, TOP, Block, draw_block, paragraph
from sitepipe.writing.sheets.map_sheet import MapSheet, box_of, draw_map, marks_on_paper
from sitepipe.writing.sheets.paper import MAP_WIDTH, POINT, Paper, choose_scale, paper_of
from sitepipe.writing.sheets.pen import Pen
from sitepipe.writing.sheets.scale_bar import draw_bar
from sitepipe.writing.sheets.table import HEAD_ROW, Column, draw_table, height_of_row

BOX, SCALE_BAR = 12.0, 34.0
LEAST_MAP = 240.0
"""A lower map is left out."""
_JOBS = (
    Column("", 0.05),
    Column("", 0.05, is_bold=True),
    Column("what and where", 0.38),
    Column("how much", 0.24),
    Column("tools, time", 0.28),
)
_TOOLS = (Column("", 0.05), Column("bring", 0.95))


def draw_today(analysis: Analysis, day: Day) -> bytes:
    """Draw one sheet; jobs for which it has no room are left to another day.

    Returns
    -------
    bytes
        A PDF; the same analysis and day give the same bytes.
    """
    paper = paper_of(analysis.settings)
    written = BytesIO()
    canvas = Canvas(
        written, pagesize=(paper.width * POINT, paper.height * POINT), invariant=1, pageCompression=1, lang="en"
    )
    canvas.setTitle(f"{tame(analysis.site.name)}: {title(day)}")
    canvas.setCreator("sitepipe")
    canvas.setAuthor("")
    pen = Pen(canvas, paper.height)
    pen.write((paper.left, 50.0), title(day), TITLE, BOLD)
    pen.write((paper.right, 50.0), tame(analysis.site.name), HEADING, anchor="end")
    below = [
        paragraph(" ".join(keep_off(analysis)) or "Nothing here is soft.", "Keep off."),
        paragraph(before_the_first_spade(day), "Before the first spade."),
    ]
    bring: list[tuple[str, ...]] = [("", capital(tool)) for tool in tools_of(day, analysis)]
    room = paper.bottom - TOP - sum(block.height for block in below) - _height(_TOOLS, bring) - 2.0 * HEAD_ROW
    rows: list[tuple[str, ...]] = []
    for share in day.shares:
        row = _row(share, analysis)
        if _height(_JOBS, [*rows, row]) > room:
            break
        rows.append(row)
    top = _draw_ticked(pen, _JOBS, rows, paper.left, TOP)
    top = _draw_ticked(pen, _TOOLS, bring, paper.left, top + HEAD_ROW)
    top = _draw_below(pen, below, paper.left, top + HEAD_ROW)
    _draw_where(pen, _map(analysis, day), paper, top)
    canvas.showPage()
    canvas.save()
    return written.getvalue()


def _row(share: Share, analysis: Analysis) -> tuple[str, ...]:
    job, units = share.job, analysis.settings.units
    where = f", {from_standpoint(analysis.site, job.place, units)}" if job.place is not None else ""
    words = say_job(job, analysis)
    near = [f"! {capital(text)}" for thing in job.things for text in near_work(analysis, thing)]
    what = " ".join([f"{words.title}{where}.", *near])
    people = f"{job.people}\u00a0{'person' if job.people == 1 else 'people'}, {say_work(share.people_hours)} in all"
    begun = "" if share.is_finished else ", to be gone on with"
    return (
        "",
        str(job.number),
        what,
        capital(words.quantity),
        f"{joined(words.tools)}; {people}{begun}",
    )


def _height(columns: tuple[Column, ...], rows: list[tuple[str, ...]]) -> float:
    return HEAD_ROW + sum(height_of_row(columns, row) for row in rows) if rows else 0.0


def _draw_ticked(pen: Pen, columns: tuple[Column, ...], rows: list[tuple[str, ...]], left: float, top: float) -> float:
    """Draw a table with a box to tick before each row; return where it ends."""
    y = top + HEAD_ROW
    for row in rows:
        corners = [(left, y + 5.0), (left + BOX, y + 5.0), (left + BOX, y + 5.0 + BOX), (left, y + 5.0 + BOX)]
        pen.stroke([corners], 1.2, is_closed=True)
        y += height_of_row(columns, row)
    return draw_table(pen, columns, rows, left, top)


def _draw_below(pen: Pen, blocks: list[Block], left: float, top: float) -> float:
    for block in blocks:
        draw_block(pen, block, left, top)
        top += block.height
    return top


def _map(analysis: Analysis, day: Day) -> MapSheet:
    """Return what the page draws for its jobs, with a number for each job of the day alone."""
    desk = Desk(analysis, frame_of(analysis.site), draw_ground(analysis.site))
    view = today_view(desk)
    of_day = {share.job.number for share in day.shares}
    places = [
        replace(place, anchor=place.anchor if number in of_day else None)
        for number, place in enumerate(view.places, start=1)
    ]
    return MapSheet(analysis, desk, marks_on_paper(desk, view.marks), places, "")


def _draw_where(pen: Pen, sheet: MapSheet, paper: Paper, top: float) -> None:
    """Draw the map in what room is left, if that is enough to find a place by."""
    height, frame = paper.bottom - top - SCALE_BAR, sheet.desk.frame
    if height < LEAST_MAP:
        return
    scale = choose_scale(frame.width, frame.height, (MAP_WIDTH, height), sheet.desk.units)
    box = replace(box_of(sheet, paper, height, scale), top=top)
    draw_map(pen, sheet, box)
    draw_bar(pen, scale, paper.left, box.bottom + 10.0)
