"""The sheets of beds: every plant listed, at a true scale, within the paper."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pypdfium2
import pytest

from sitepipe.writing.sheets.bed_sheet import _COLUMNS, BAR, TOP, arrange_beds, letters_of
from sitepipe.writing.sheets.paper import A4, LETTER, MAP_WIDTH, Paper
from sitepipe.writing.sheets.plan import draw_plan
from sitepipe.writing.sheets.table import height_of_table
from tests.mapping.test_plants import planted_analysis


@pytest.mark.parametrize("paper", [LETTER, A4])
def test_every_bed_has_one_figure_that_fits_and_the_legend_counts_all_plants(paper: Paper) -> None:
    analysis = planted_analysis()
    zone = analysis.planting.beds[0].of
    sheets = arrange_beds(analysis, paper, {f"zone-{zone.number}": 7})
    figures = [figure for sheet in sheets for row in sheet.rows for figure in row]
    assert [figure.title for figure in figures] == ["Mound 1", "7, wet planting"]
    assert all(sum(figure.width for figure in row) <= MAP_WIDTH + 27 for sheet in sheets for row in sheet.rows)
    counted = {row[1]: int(row[2]) for sheet in sheets for row in sheet.legend}
    assert counted == {"elder": 3, "field mint": 40}


def test_a_hundred_kinds_take_as_many_sheets_as_they_need_and_nothing_leaves_the_paper() -> None:
    analysis = planted_analysis()
    bed = analysis.planting.beds[0]
    names = [f"kind {k}" for k in range(100)]
    kinds = tuple(
        replace(bed.choices[0], common=name, count=1, caution="poisonous: " + "mind it " * 12) for name in names
    )
    many = replace(bed, choices=kinds, positions=tuple((name, bed.positions[0][1]) for name in names))
    sheets = arrange_beds(replace(analysis, planting=replace(analysis.planting, beds=(many,))), LETTER, {})
    assert [row[1] for sheet in sheets for row in sheet.legend] == names
    for sheet in sheets:
        tall = height_of_table(_COLUMNS, sheet.legend) + sum(max(f.height for f in row) for row in sheet.rows)
        assert TOP + BAR + tall <= LETTER.bottom
        assert all(figure.width <= MAP_WIDTH + 27 for row in sheet.rows for figure in row)


def test_letters_are_all_different_however_many_kinds_there_are() -> None:
    analysis = planted_analysis()
    bed = analysis.planting.beds[0]
    many = type(bed)(bed.of, (), tuple((f"kind {k}", bed.positions[0][1]) for k in range(130)))
    letters = letters_of([many])
    assert len(set(letters.values())) == 130


def test_the_printed_sheets_name_each_plant_and_what_the_rest_would_hold() -> None:
    plan = pypdfium2.PdfDocument(BytesIO(draw_plan(planted_analysis())))
    text = " ".join(page.get_textpage().get_text_bounded() for page in plan)
    assert "what grows where" in text
    assert "field mint" in text
    assert "room for about 70 more beside it" in text
