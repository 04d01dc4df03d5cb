"""The sheet of one day: boxes to tick, what to bring, where not to walk. Lengths in px."""

from __future__ import annotations

from io import BytesIO

from reportlab.pdfgen.canvas import Canvas

from sitepipe.analysis import Analysis
from sitepipe.answers.hazards import near_work
from sitepipe.answers.names import capital, joined, tame
from sitepipe.answers.today import before_the_first_spade, keep_off, title, tools_of
from sitepipe.mapping.words import from_standpoint
from sitepipe.units import say_work
from sitepipe.works.jobs.ready import Day, Share
from sitepipe.writing.sheets.fonts import BOLD
from sitepipe.writing.sheets.lists import HEADING, TITLE, TOP, Block, draw_block, paragraph
from sitepipe.writing.sheets.paper import POINT, paper_of
from sitepipe.writing.sheets.pen import Pen
from sitepipe.writing.sheets.table import HEAD_ROW, Column, draw_table, height_of_row

BOX = 12.0
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
    bring = [("", capital(tool)) for tool in tools_of(day)]
    room = paper.bottom - TOP - sum(block.height for block in below) - _height(_TOOLS, bring) - 2.0 * HEAD_ROW
    rows: list[tuple[str, ...]] = []
    for share in day.shares:
        row = _row(share, analysis)
        if _height(_JOBS, [*rows, row]) > room:
            break
        rows.append(row)
    top = _draw_ticked(pen, _JOBS, rows, paper.left, TOP)
    top = _draw_ticked(pen, _TOOLS, bring, paper.left, top + HEAD_ROW)
    _draw_below(pen, below, paper.left, top + HEAD_ROW)
    canvas.showPage()
    canvas.save()
    return written.getvalue()


def _row(share: Share, analysis: Analysis) -> tuple[str, ...]:
    job, units = share.job, analysis.settings.units
    where = f", {from_standpoint(analysis.site, job.place, units)}" if job.place is not None else ""
    near = [f"! {capital(text)}" for work in job.works for text in near_work(analysis, work)]
    what = " ".join([f"{tame(job.title)}{where}.", *near])
    people = f"{job.people}\u00a0{'person' if job.people == 1 else 'people'}, {say_work(share.people_hours)} in all"
    begun = "" if share.is_finished else ", to be gone on with"
    return (
        "",
        str(job.number),
        what,
        capital(job.quantity),
        f"{joined([tame(tool) for tool in job.tools])}; {people}{begun}",
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


def _draw_below(pen: Pen, blocks: list[Block], left: float, top: float) -> None:
    for block in blocks:
        draw_block(pen, block, left, top)
        top += block.height
