"""Marks are described once: page and sheets draw every one of them from the same table."""

from __future__ import annotations

from io import BytesIO

import numpy as np
import pytest
import shapely
from reportlab.pdfgen.canvas import Canvas

from sitepipe.mapping.marks import MARKS, TILES, Drawn, Figure, plain, sample_of
from sitepipe.mapping.palette import COLOURS
from sitepipe.writing.sheets.legend import CLASSES, MOST, draw_legend, height_of_legend, shown_classes
from sitepipe.writing.sheets.marks import draw_marks, outline_of
from sitepipe.writing.sheets.paper import MapBox, Scale
from sitepipe.writing.sheets.pen import Line, Pen
from sitepipe.writing.sheets.strokes import (
    Spot,
    around,
    figure_places,
    scallops,
    set_down,
    spots_along,
    steps,
)

BOX = MapBox(0.0, 0.0, 200.0, 200.0, Scale(96.0 / 0.0254 / 2.0, "", 0.0, "", ""), 50.0, 50.0)
"""Two px to the metre."""


class NotedPen(Pen):
    """A pen that remembers what it drew."""

    def __init__(self) -> None:
        super().__init__(Canvas(BytesIO()), 500.0)
        self.strokes: list[tuple[list[Line], float, float]] = []
        self.fills: list[float] = []

    def stroke(self, lines, width, grey=0.08, dashes=(), is_closed=False, is_round=False) -> None:  # type: ignore[no-untyped-def]
        self.strokes.append((list(lines), width, grey))
        super().stroke(lines, width, grey, dashes, is_closed, is_round)

    def fill(self, areas, grey) -> None:  # type: ignore[no-untyped-def]
        self.fills.append(grey)
        super().fill(areas, grey)


def test_every_role_and_pattern_of_a_mark_is_known() -> None:
    for name, mark in MARKS.items():
        roles = {mark.line, mark.fill, mark.letter_role, *(figure.role for figure in mark.figures)} - {""}
        assert roles <= set(COLOURS), name
        assert not mark.pattern or mark.pattern in TILES, name
    assert {tile.role for tile in TILES.values()} <= set(COLOURS)


@pytest.mark.parametrize("mark", [name for name, mark in MARKS.items() if mark.line or mark.fill or mark.letter])
def test_every_mark_leaves_ink_on_paper(mark: str) -> None:
    pen = NotedPen()
    thing = Drawn(
        mark, area=[[[10.0, 10.0, 90.0, 10.0, 90.0, 60.0, 10.0, 60.0]]], axis=[20.0, 35.0, 80.0, 35.0], half=9.0
    )
    line = Drawn(mark, line=[[10.0, 80.0, 90.0, 80.0]], half=1.0)
    draw_marks(pen, [thing, line, Drawn(mark, at=[50.0, 90.0], half=1.0)], BOX)
    assert pen.fills or any(lines for lines, _, _ in pen.strokes)


def test_marks_are_drawn_in_the_order_of_their_table_whatever_comes_first() -> None:
    ring = [10.0, 10.0, 90.0, 10.0, 90.0, 60.0]
    pen = NotedPen()
    draw_marks(pen, [Drawn("stands-8", area=[[ring]]), Drawn("tree", at=[50.0, 50.0], half=3.0)], BOX)
    assert pen.fills == [COLOURS["tree"].grey, COLOURS["stands-8"].grey]


def test_where_paths_meet_no_edge_lies_over_a_fill() -> None:
    pen = NotedPen()
    drawn = []
    pen.stroke = lambda *_, **__: drawn.append("line")  # type: ignore[method-assign]
    pen.fill = lambda *_: drawn.append("fill")  # type: ignore[method-assign]
    paths = [Drawn("path", line=[line], half=1.0) for line in ([0.0, 0.0, 50.0, 50.0], [0.0, 50.0, 50.0, 0.0])]
    draw_marks(pen, paths, BOX)
    first_fill = drawn.index("fill")
    assert drawn[:first_fill] == ["line"] * 4, "edges of both, lines of both"
    assert drawn.count("fill") == 2


def test_a_crown_is_as_wide_as_it_is_on_the_ground_and_never_a_speck() -> None:
    (wide,), _ = outline_of(Drawn("tree", at=[50.0, 50.0], half=20.0), BOX)
    assert shapely.Polygon(wide).area == pytest.approx(np.pi * 40.0**2, rel=0.06)
    (small,), _ = outline_of(Drawn("tree", at=[50.0, 50.0], half=0.2), BOX)
    assert shapely.Polygon(small).area == pytest.approx(np.pi * 6.0**2, rel=0.25)


def test_the_ticks_of_a_mound_lie_inside_it_and_all_around() -> None:
    pen = NotedPen()
    crest = shapely.LineString([(30.0, 50.0), (70.0, 50.0)])
    foot = crest.buffer(5.0)
    ring = np.array(foot.exterior.coords)[:-1].ravel().tolist()
    draw_marks(pen, [Drawn("mound", area=[[ring]], axis=[30.0, 50.0, 70.0, 50.0], half=5.0)], BOX)
    ticks = shapely.multilinestrings([shapely.linestrings(tick) for tick in pen.strokes[-1][0]])
    on_paper = shapely.Polygon(BOX.points(ring))
    assert on_paper.covers(ticks)
    assert len(ticks.geoms) == pytest.approx(on_paper.exterior.length / 6.5, rel=0.1)


def test_a_line_that_widens_is_drawn_with_its_own_widths() -> None:
    pen = NotedPen()
    flow = Drawn("runs", line=[[0.0, 0.0, 40.0, 0.0, 80.0, 0.0]], widths=(1.2, 1.6, 2.4))
    draw_marks(pen, [flow], BOX)
    assert [width for lines, width, grey in pen.strokes if grey < 0.5 and len(lines) == 1][:2] == [1.6, 2.4]


def test_a_record_says_only_what_is_not_its_default() -> None:
    assert plain(Drawn("tap", at=[1.0, 2.0])) == {"mark": "tap", "at": [1.0, 2.0]}
    assert plain(MARKS["touch"]) == {}
    assert plain(MARKS["trellis"])["figures"][0]["each"] == 13.0


def test_the_legend_holds_at_most_twelve_classes_in_four_columns() -> None:
    every = shown_classes(mark for mark, _ in CLASSES)
    assert len(every) == MOST == 12
    assert height_of_legend(every) == 3 * 22.0
    assert shown_classes(["mound", "touch"]) == [("mound", "Mound, wanted")]


def test_a_sample_of_every_class_stays_in_its_box() -> None:
    for mark, said in CLASSES:
        pen = NotedPen()
        draw_legend(pen, [(mark, said)], 100.0, 100.0)
        reach = [point for lines, _, _ in pen.strokes for line in lines for point in line]
        if MARKS[mark].pattern:
            continue  # tiles overlap the box and are clipped to it
        assert all(96.0 <= x <= 136.0 and 94.0 <= y <= 122.0 for x, y in reach), mark
    assert [sample.mark for sample in sample_of("seen-both")] == ["seen-wet", "seen-dry"]


def test_spots_lie_at_the_distances_asked_for() -> None:
    corner = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)]
    spots = spots_along(corner, [0.0, 5.0, 15.0, 25.0])
    assert [(spot.x, spot.y) for spot in spots] == [(0.0, 0.0), (5.0, 0.0), (10.0, 5.0)]
    assert (spots[2].dx, spots[2].dy) == (0.0, 1.0)


@pytest.mark.parametrize(
    ("start", "end", "step", "count"), [(0.0, 10.0, 3.0, 4), (0.0, -1.0, 1.0, 0), (0.0, 5.0, 0.0, 0)]
)
def test_steps_stop_at_the_end(start: float, end: float, step: float, count: int) -> None:
    assert len(steps(start, end, step)) == count


def test_figures_stand_as_far_apart_as_they_are_told() -> None:
    stroke = ([0.0, 0.0, 1.0, 0.0],)
    assert figure_places(Figure(stroke, "ink", 1.0), 30.0, 0.0) == [0.0, 30.0], "only the ends"
    assert figure_places(Figure(stroke, "ink", 1.0, each=10.0), 32.0, 0.0) == pytest.approx([0.0, 32 / 3, 64 / 3, 32.0])
    assert figure_places(Figure(stroke, "ink", 1.0, each=10.0), 40.0, 20.0) == [0.0, 20.0, 40.0], "real posts"
    arrows = Figure(stroke, "ink", 1.0, each=62.0, first=62.0, has_end=True)
    assert figure_places(arrows, 140.0, 0.0) == [62.0, 140.0], "none within 24 px of the last"


def test_a_figure_is_turned_as_its_line_runs() -> None:
    head = Figure(([-7.0, 4.0, 0.0, 0.0, -7.0, -4.0],), "ink", 1.0)
    ((left, tip, right),) = set_down(head, Spot(10.0, 0.0, 0.0, 1.0), 1.0)
    assert tip == (10.0, 0.0)
    assert (left, right) == ((6.0, -7.0), (14.0, -7.0))


@pytest.mark.parametrize("turn", [1, -1])
def test_scallops_bulge_outwards_whichever_way_the_ring_runs(turn: int) -> None:
    ring = around([(0.0, 0.0)], 20.0)[::turn]
    reach = [(x * x + y * y) ** 0.5 for x, y in scallops(ring, 8.0)]
    assert min(reach) > 19.5
    assert max(reach) > 21.0


def test_a_band_is_as_wide_as_it_was_asked_for() -> None:
    outline = around([(0.0, 0.0), (50.0, 0.0), (100.0, 0.0)], 4.0)
    assert max(abs(y) for _, y in outline) == pytest.approx(4.0)
    assert (min(x for x, _ in outline), max(x for x, _ in outline)) == pytest.approx((-4.0, 104.0), abs=0.4)
