"""The sheet of a day, read back by a reader that did not write it."""

from __future__ import annotations

from datetime import date
from io import BytesIO

import pypdfium2

from sitepipe.answers.jobs import say_job
from sitepipe.works.jobs.ready import jobs_of_day
from sitepipe.writing.sheets.today import draw_today
from tests.mapping.drawn_analysis import make_analysis

DRAWN = make_analysis()


def test_a_day_is_one_sheet_with_every_job_and_tool_of_it() -> None:
    day = jobs_of_day(DRAWN.plan.jobs, date(2027, 4, 10), (4, 5.0), (), ())
    plan = pypdfium2.PdfDocument(BytesIO(draw_today(DRAWN, day)))
    assert len(plan) == 1
    text = " ".join(plan[0].get_textpage().get_text_bounded().split())
    assert "Saturday 10 April 2027, four people, 5 hours" in text.replace("\u00a0", " ")
    for share in day.shares:
        said = say_job(share.job, DRAWN)
        assert said.title in text
        assert all(tool.capitalize() in text for tool in said.tools)
    assert draw_today(DRAWN, day) == draw_today(DRAWN, day)


def test_more_jobs_than_a_sheet_holds_stay_on_one_sheet() -> None:
    jobs = tuple(DRAWN.plan.jobs[0:1]) * 60
    day = jobs_of_day(jobs, date(2027, 4, 10), (90, 9.0), (), ())
    assert len(pypdfium2.PdfDocument(BytesIO(draw_today(DRAWN, day)))) == 1
