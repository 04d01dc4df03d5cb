"""``plan.pdf``: the sheets put together."""

from __future__ import annotations

from io import BytesIO

from reportlab import rl_config
from reportlab.pdfgen.canvas import Canvas

from sitepipe.analysis import Analysis
from sitepipe.answers.names import say_day, tame
from sitepipe.mapping.view import rings_of
from sitepipe.writing.sheets.bed_sheet import arrange_beds, draw_bed_sheet
from sitepipe.writing.sheets.lists import arrange, draw_list_sheet
from sitepipe.writing.sheets.map_sheet import draw_map_sheet, prepare
from sitepipe.writing.sheets.paper import POINT, paper_of
from sitepipe.writing.sheets.pen import Pen

rl_config.useA85 = 0  # Streams stay binary: a fifth smaller, and quicker, since the encoder is plain Python.


def draw_plan(analysis: Analysis) -> bytes:
    """Draw the sheets of a plan.

    Returns
    -------
    bytes
        A PDF; the same analysis gives the same bytes.
    """
    paper = paper_of(analysis.settings)
    first = prepare(analysis)
    numbers = {place.thing: ring for place, ring in zip(first.places, rings_of(first.places), strict=True)}
    beds, lists = arrange_beds(analysis, paper, numbers), arrange(analysis, paper)
    count = 1 + len(beds) + len(lists)
    made = f"{say_day(analysis.made_on)} · " if analysis.made_on else ""
    written = BytesIO()
    canvas = Canvas(
        written, pagesize=(paper.width * POINT, paper.height * POINT), invariant=1, pageCompression=1, lang="en"
    )
    canvas.setTitle(f"{tame(analysis.site.name)}: what we build")
    canvas.setCreator("sitepipe")
    canvas.setAuthor("")
    canvas.setSubject("Print at full size")
    pen = Pen(canvas, paper.height)
    draw_map_sheet(pen, first, paper, f"{made}sheet 1 of {count}")
    canvas.showPage()
    for number, bed_sheet in enumerate(beds, start=2):
        draw_bed_sheet(pen, analysis, bed_sheet, paper, f"{made}sheet {number} of {count}")
        canvas.showPage()
    for number, blocks in enumerate(lists, start=2 + len(beds)):
        draw_list_sheet(pen, analysis, blocks, paper, f"{made}sheet {number} of {count}")
        canvas.showPage()
    canvas.save()
    return written.getvalue()
