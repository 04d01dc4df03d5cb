"""The chart of the crests over the years."""

from __future__ import annotations

from io import BytesIO

import pytest
from reportlab.pdfgen.canvas import Canvas

from sitepipe.units import Units
from sitepipe.writing.sheets.crest_chart import HEIGHT, crest_series, draw_crests
from sitepipe.writing.sheets.pen import Pen
from tests.works.jobs.test_materials_and_years import mound, planned


def test_every_mound_has_its_course_from_the_height_it_is_built_to() -> None:
    mounds = tuple(mound(n) for n in range(1, 4))
    years = planned(mounds).years
    series = crest_series(mounds, years)
    assert [number for number, _, _ in series] == [1, 2, 3]
    for one, (_, course, finished) in zip(mounds, series, strict=True):
        assert course[0][1] == pytest.approx(one.height.built)
        assert course[1][1] < course[0][1]
        assert course[-1][0] == years[-1].year
        assert course[-1][1] == pytest.approx(finished, abs=0.06)


def test_a_mound_that_is_not_built_is_not_drawn() -> None:
    assert crest_series((mound(1),), ()) == ()


@pytest.mark.parametrize("units", list(Units))
def test_the_chart_stays_within_its_block_and_names_every_mound(units: Units) -> None:
    mounds = tuple(mound(n) for n in range(1, 9))
    series = crest_series(mounds, planned(mounds).years)

    class Watched(Pen):
        said: list[tuple[float, str]]

        def write(self, place: tuple[float, float], text: str, *_: object, **__: object) -> None:
            self.said.append((place[1], text))

        def stroke(self, lines: object, *_: object, **__: object) -> None:
            for line in lines:  # type: ignore[attr-defined]
                assert all(100.0 <= y <= 100.0 + HEIGHT for _, y in line)

    pen = Watched(Canvas(BytesIO()), 800.0)
    pen.said = []
    draw_crests(pen, series, units, 40.0, 100.0, 720.0)
    said = [text for _, text in pen.said]
    assert {"1", "8", "ground", "year 1"} <= set(said)
    assert all(100.0 - 14.0 <= y <= 100.0 + HEIGHT for y, _ in pen.said)
