"""The sheet knows every mark of the page."""

from __future__ import annotations

import re
from importlib import resources

import pytest

from sitepipe.mapping.palette import MARKS
from sitepipe.writing.sheets.legend import CLASSES, MOST, height_of_legend, shown_classes
from sitepipe.writing.sheets.marks import _HANDS, LEFT_OUT
from sitepipe.writing.sheets.patterns import _PATTERNS
from sitepipe.writing.sheets.strokes import arrow_head, band, circle, length_of, scallops, spots_along, steps


def test_every_mark_that_the_page_draws_is_drawn_or_left_out_on_purpose() -> None:
    script = (resources.files("sitepipe.mapping") / "assets" / "marks.js").read_text(encoding="utf-8")
    (table,) = re.findall(r"^const MARKS = \{(.*?)\};", script, re.DOTALL | re.MULTILINE)
    drawn = {quoted or plain for quoted, plain in re.findall(r"(?:'([\w-]+)'|\b(\w+)): draw", table)}
    assert len(drawn) > 30
    assert drawn - set(_HANDS) == drawn & LEFT_OUT
    assert not LEFT_OUT & set(_HANDS)


def test_every_pattern_of_a_drawn_mark_has_its_strokes() -> None:
    wanted = {style.pattern for name, style in MARKS.items() if name in _HANDS and style.pattern}
    assert wanted - {"bows"} <= set(_PATTERNS)


def test_the_legend_holds_at_most_twelve_classes_in_four_columns() -> None:
    every = shown_classes(mark for mark, _ in CLASSES)
    assert len(every) == MOST == 12
    assert height_of_legend(every) == 3 * 22.0
    assert shown_classes(["mound", "touch"]) == [("mound", "Mound")]


def test_spots_lie_at_the_distances_asked_for() -> None:
    corner = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]
    spots = list(spots_along(corner, [0.0, 5.0, 15.0, 25.0]))
    assert [(spot.x, spot.y) for spot in spots] == [(0.0, 0.0), (5.0, 0.0), (10.0, 5.0)]
    assert (spots[2].dx, spots[2].dy) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("start", "end", "step", "count"), [(0.0, 10.0, 3.0, 4), (0.0, -1.0, 1.0, 0), (0.0, 5.0, 0.0, 0)]
)
def test_steps_stop_at_the_end(start: float, end: float, step: float, count: int) -> None:
    assert len(steps(start, end, step)) == count


@pytest.mark.parametrize("turn", [1, -1])
def test_scallops_bulge_outwards_whichever_way_the_ring_runs(turn: int) -> None:
    ring = circle((0.0, 0.0), 20.0)[::turn]
    reach = [(x * x + y * y) ** 0.5 for x, y in scallops(ring, 8.0)]
    assert min(reach) > 19.5
    assert max(reach) > 21.0


def test_a_band_is_as_wide_as_it_was_asked_for() -> None:
    outline = band([(0.0, 0.0), (50.0, 0.0), (100.0, 0.0)], 4.0)
    assert max(abs(y) for _, y in outline) == pytest.approx(4.0)
    assert (min(x for x, _ in outline), max(x for x, _ in outline)) == pytest.approx((-4.0, 104.0), abs=0.4)


def test_an_arrow_head_points_where_the_line_runs() -> None:
    (spot,) = spots_along([(0.0, 0.0), (10.0, 0.0)], [10.0])
    left, tip, right = arrow_head(spot, 8.0)
    assert tip == (10.0, 0.0)
    assert left[0] == right[0] < 10.0
    assert left[1] == -right[1]
    assert length_of([left, tip, right]) == pytest.approx(16.0)
