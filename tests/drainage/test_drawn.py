"""Roofs, kerbs, ditches and culverts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from shapely import LineString, Point, box

from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.drainage.cells import cells_along
from sitepipe.drainage.descent import LEAVES
from sitepipe.drainage.drawn import (
    _straight,
    _tight,
    _widened,
    _with_mouths,
    building_cells,
    cut_drain,
    find_drawn_things,
    road_cells,
    water_cells,
)
from sitepipe.drainage.heights import UNKNOWN, whole_heights
from sitepipe.drainage.network import route
from sitepipe.drainage.record import Bank, ClimbingCulvert
from sitepipe.drainage.stage import trace_drainage
from sitepipe.grid import Grid
from sitepipe.settings import DrainageSettings, Settings
from sitepipe.site import Feature, Kind, Ref, Site
from tests.drainage.grounds import holed_heights
from tests.sites import draw_thing, make_site, plane


def embankment(rows: int = 40, columns: int = 31) -> FloatArray:
    """Build a valley that falls south, dammed by a level bank 4 m wide and 1 m high across it."""
    y, x = np.mgrid[rows - 1 : -1 : -1, 0:columns].astype(np.float64)
    ground = 100.0 + 0.02 * y + 0.03 * np.abs(x - 15.0)
    bank = (y >= 10) & (y <= 13)
    ground[bank] = np.maximum(ground[bank], 101.2)
    return np.asarray(ground)


def culvert(*corners: tuple[float, float], name: str = "Culvert") -> Feature:
    return draw_thing(7, Kind.CULVERT, name, LineString(corners))


def routed(site: Site) -> FloatArray:
    bare, _ = whole_heights(site.elevation)
    return find_drawn_things(bare, site, DrainageSettings()).applied_to(bare) / 10_000


def test_a_bank_dams_water_and_the_run_asks_for_a_pipe_at_its_place() -> None:
    drainage = trace_drainage(make_site(embankment()), Settings())
    assert drainage.ponds[0].depth > 0.4
    (bank,) = [question for question in drainage.questions if isinstance(question, Bank)]
    assert 10.0 <= bank.place.y <= 14.0


def test_a_bank_of_a_drawn_road_is_named() -> None:
    road = draw_thing(3, Kind.ROAD, "Mill Lane", box(0, 10, 31, 14))
    drainage = trace_drainage(make_site(embankment(), features=(road,)), Settings())
    assert [bank.road for bank in drainage.questions if isinstance(bank, Bank)] == [Ref(Kind.ROAD, 3)]


def test_a_drawn_culvert_lets_the_water_through_and_ends_the_question() -> None:
    pipe = culvert((15.5, 15.5), (15.5, 8.5))
    drainage = trace_drainage(make_site(embankment(), features=(pipe,)), Settings())
    assert np.nanmax(drainage.ponding_depth) < 0.02
    assert not any(isinstance(question, Bank) for question in drainage.questions)
    below = drainage.upslope_area[-5, 15]
    assert below > 0.8 * 31 * 26


def test_a_drain_changes_no_height_beside_its_line() -> None:
    site = make_site(embankment(), features=(culvert((15.5, 15.5), (15.5, 8.5)),))
    changed = routed(site) != np.rint(site.elevation * 10_000) / 10_000
    assert changed.any()
    assert set(np.nonzero(changed)[1].tolist()) == {15}
    assert (routed(site) <= site.elevation + 1e-4).all()


def test_the_mouth_of_a_drain_is_found_where_the_drawing_stops_short() -> None:
    """Both ends are drawn on the bank itself; the bottom lies within a metre and a half."""
    pipe = culvert((15.5, 13.2), (15.5, 10.2))
    drainage = trace_drainage(make_site(embankment(), features=(pipe,)), Settings())
    assert np.nanmax(drainage.ponding_depth) < 0.05


def test_a_culvert_drawn_uphill_is_pointed_out_and_still_drains() -> None:
    pipe = culvert((15.5, 8.5), (15.5, 15.5), name="Old pipe")
    drainage = trace_drainage(make_site(embankment(), features=(pipe,), height_error=0.01), Settings())
    (question,) = [question for question in drainage.questions if isinstance(question, ClimbingCulvert)]
    assert question.climb == pytest.approx(0.14, abs=0.005)
    assert np.nanmax(drainage.ponding_depth) < 0.02


def test_a_ditch_through_a_bank_lets_the_water_through() -> None:
    ditch = draw_thing(1, Kind.DITCH, "Ditch", LineString([(15.5, 16.5), (15.5, 6.5)]))
    drainage = trace_drainage(make_site(embankment(), features=(ditch,)), Settings())
    assert np.nanmax(drainage.ponding_depth) < 0.02


def test_a_drain_cuts_humps_and_leaves_dips() -> None:
    ground = np.array([[40, 60, 30, 70, 20, 50, 35]], dtype=np.int32)
    cut_drain(ground, np.arange(7, dtype=np.int32))
    assert ground.tolist() == [[40, 40, 30, 35, 20, 35, 35]]


def test_a_kerb_holds_what_is_lower_and_turns_it_along_itself() -> None:
    """A kerb across a slope sends the water to its end; drawn on a slant, nothing slips through at its corners."""
    kerb = draw_thing(1, Kind.KERB, "Kerb", LineString([(2.5, 12.5), (17.5, 9.5)]), height=0.5)
    site = make_site(plane(25, 20, 1.0, north=0.01), features=(kerb,))
    free = route(whole_heights(site.elevation)[0])
    held = trace_drainage(site, Settings())
    behind_free = free.cells[20, 4:16]
    behind_held = held.upslope_area[20, 4:16]
    assert (behind_free == 21).all()
    assert behind_held.max() <= 10.0
    assert held.outflow_cells == 500


def test_a_roof_sheds_water_on_all_sides_and_keeps_none() -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(8, 8, 18, 16), height=4.0)
    ground = plane(25, 25, 1.0, north=0.02)
    ground[12, 12] -= 1.0
    site = make_site(ground, features=(house,))
    drainage = trace_drainage(site, Settings())
    roof = np.zeros((25, 25), dtype=np.bool_)
    roof[9:17, 8:18] = True
    assert (drainage.ponding_depth[roof] == 0.0).all()
    outside = drainage.receiver.ravel()[np.flatnonzero(roof)]
    leaving = outside[~roof.ravel()[outside]]
    rows, columns = np.divmod(leaving, 25)
    assert {8, 17} <= set(rows.tolist())
    assert {7, 18} <= set(columns.tolist())
    assert (drainage.upslope_area[roof] <= 30.0).all()
    assert (drainage.heights[~roof] == whole_heights(ground)[0][~roof]).all()


def test_without_drawn_things_the_heights_are_the_ground() -> None:
    site = make_site(embankment())
    assert (routed(site) == np.rint(site.elevation * 10_000) / 10_000).all()


@given(holed_heights(most=9))
def test_a_drain_runs_down_from_its_higher_end_by_the_least_that_must_be_dug(heights: IntArray) -> None:
    """By the definition, along all cells in reading order; unknown cells are passed over."""
    before = heights.ravel().tolist()
    way = [cell for cell, height in enumerate(before) if height != UNKNOWN]
    if before[way[0]] < before[way[-1]]:
        way.reverse()
    wanted = list(before)
    for k, cell in enumerate(way):
        lowest = min(before[passed] for passed in way[: k + 1])
        wanted[cell] = min(before[cell], max(lowest, before[way[-1]]))
    cut_drain(heights, np.arange(heights.size, dtype=np.int32))
    assert heights.ravel().tolist() == wanted


def test_a_drain_over_unknown_ground_alone_changes_nothing() -> None:
    heights = np.full((1, 3), UNKNOWN, dtype=np.int32)
    cut_drain(heights, np.arange(3, dtype=np.int32))
    assert (heights == UNKNOWN).all()


@given(holed_heights(most=9), st.floats(0.0, 4.0), st.data())
def test_a_mouth_is_the_lowest_ground_within_reach_and_the_nearest_of_equals(
    heights: IntArray, reach: float, data: st.DataObject
) -> None:
    """Brute force over all cells; a short drain is not led on by more than half its own length."""
    row = data.draw(st.integers(0, heights.shape[0] - 1))
    columns = heights.shape[1]
    cells = np.arange(row * columns, (row + 1) * columns, dtype=np.int32)
    path = _with_mouths(heights, cells, reach)
    allowed = min(reach, columns / 2.0)
    for end, mouth in ((cells[0], path[0]), (cells[-1], path[-1])):
        ranked = [
            (int(heights.ravel()[cell]), away, cell)
            for cell in range(heights.size)
            if (away := (cell // columns - end // columns) ** 2 + (cell % columns - end % columns) ** 2) <= allowed**2
        ]
        assert int(mouth) == min(ranked)[2]
    rows, across = np.divmod(path, columns)
    assert np.maximum(np.abs(np.diff(rows)), np.abs(np.diff(across))).max(initial=0) <= 1


@given(st.integers(0, 9), st.integers(0, 9), st.integers(0, 9), st.integers(0, 9))
def test_a_straight_way_keeps_to_its_line(row: int, column: int, to_row: int, to_column: int) -> None:
    way = _straight(row, column, to_row, to_column, 10)
    rows, columns = np.divmod(way, 10)
    steps = max(abs(to_row - row), abs(to_column - column))
    assert (way[0], way[-1], way.size) == (row * 10 + column, to_row * 10 + to_column, steps + 1)
    along = np.linspace(0.0, 1.0, steps + 1)
    assert np.abs(rows - (row + along * (to_row - row))).max() <= 0.5 + 1e-9
    assert np.abs(columns - (column + along * (to_column - column))).max() <= 0.5 + 1e-9


@given(hnp.arrays(np.bool_, hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=8)))
def test_a_mask_is_widened_as_scipy_widens_it(mask: BoolArray) -> None:
    """An independent library: scipy's dilation by a square of nine cells."""
    from scipy.ndimage import binary_dilation

    assert (_widened(mask) == binary_dilation(mask, structure=np.ones((3, 3), dtype=np.bool_))).all()


@given(st.floats(0.1, 19.9), st.floats(0.1, 14.9), st.floats(0.1, 19.9), st.floats(0.1, 14.9))
def test_the_cells_of_a_kerb_hang_together_by_their_sides(x0: float, y0: float, x1: float, y1: float) -> None:
    """An independent library: scipy's labels without corners; each diagonal step takes one cell more, no other does."""
    from scipy.ndimage import label

    (cells,) = cells_along(Grid(0.0, 15.0, 1.0, 15, 20, "LOCAL"), LineString([(x0, y0), (x1, y1)]))
    tight = _tight(cells, 20)
    mask = np.zeros(300, dtype=np.bool_)
    mask[tight] = True
    assert label(mask.reshape(15, 20))[1] == 1
    assert mask[cells].all()
    rows, columns = np.divmod(cells, 20)
    slanted = (np.diff(rows) != 0) & (np.diff(columns) != 0)
    assert tight.size == cells.size + np.count_nonzero(slanted)
    assert tight.tolist() == sorted(tight.tolist())


@pytest.mark.parametrize(("height", "rise"), [(0.3, 0.3), (None, 0.12)])
def test_a_kerb_stands_on_the_ground_by_its_height(height: float | None, rise: float) -> None:
    """A kerb drawn without a height is 12 cm high: common practice."""
    kerb = draw_thing(1, Kind.KERB, "Kerb", LineString([(0.5, 2.5), (9.5, 2.5)]), height=height)
    ground = plane(6, 10, 1.0, east=0.01)
    ground[3, 4] = np.nan
    site = make_site(ground, features=(kerb,))
    bare, known = whole_heights(site.elevation)
    raised = find_drawn_things(bare, site, DrainageSettings()).applied_to(bare)
    wanted = np.zeros((6, 10))
    wanted[3] = round(rise * 10_000)
    assert (raised[known] - bare[known] == wanted[known]).all()
    assert raised[3, 4] == UNKNOWN


@pytest.mark.parametrize(("height", "rise"), [(0.5, 0.5), (None, 5.0)])
def test_a_roof_is_level_above_all_it_covers_or_touches(height: float | None, rise: float) -> None:
    """Its highest neighbour lies at its north-east corner; a boulder two cells away is none of its business."""
    house = draw_thing(1, Kind.BUILDING, "House", box(3, 3, 6, 5), height=height)
    ground = plane(9, 9, 1.0, north=0.1, east=0.1)
    ground[1, 1] = 200.0
    ground[5, 4] = np.nan
    site = make_site(ground, features=(house,))
    bare, known = whole_heights(site.elevation)
    raised = find_drawn_things(bare, site, DrainageSettings()).applied_to(bare)
    roof = np.zeros((9, 9), dtype=np.bool_)
    roof[4:6, 3:6] = True
    assert set(raised[roof & known].tolist()) == {bare[3, 6] + round(rise * 10_000)}
    assert (raised[~roof] == bare[~roof]).all()
    assert raised[5, 4] == UNKNOWN


def test_a_roof_over_unknown_ground_or_off_the_heights_raises_nothing() -> None:
    houses = (
        draw_thing(1, Kind.BUILDING, "House", box(3, 3, 6, 5)),
        draw_thing(2, Kind.BUILDING, "Barn", box(30, 3, 36, 5)),
    )
    ground = plane(9, 9, 1.0)
    ground[2:7, 1:8] = np.nan
    site = make_site(ground, features=houses)
    bare, _ = whole_heights(site.elevation)
    assert (find_drawn_things(bare, site, DrainageSettings()).applied_to(bare) == bare).all()


@pytest.mark.parametrize(("width", "columns"), [(4.0, 4), (2.0, 2), (6.0, 6)])
def test_a_road_drawn_as_a_line_is_as_wide_as_it_says(width: float, columns: int) -> None:
    road = draw_thing(1, Kind.ROAD, "Lane", LineString([(10.0, 5.0), (10.0, 15.0)]), width=width)
    cells = road_cells(make_site(plane(20, 20, 1.0), features=(road,)))
    assert cells[10].sum() == columns
    assert cells[5:15, 10 - columns // 2 : 10 + columns // 2].all()


def test_water_is_an_area_a_line_or_a_spring_wherever_it_lies_on_the_heights() -> None:
    water = (
        draw_thing(1, Kind.WATER, "Pool", box(2, 2, 5, 4)),
        draw_thing(2, Kind.WATER, "Brook", LineString([(-3.0, 10.5), (4.5, 10.5)])),
        draw_thing(3, Kind.WATER, "Spring", Point(15.2, 0.4)),
        draw_thing(4, Kind.WATER, "Spring beyond", Point(25.2, 0.4)),
        draw_thing(5, Kind.BUILDING, "House", box(8, 8, 10, 10)),
    )
    site = make_site(plane(20, 20, 1.0), features=water)
    wanted = np.zeros((20, 20), dtype=np.bool_)
    wanted[16:18, 2:5] = True
    wanted[9, :5] = True
    wanted[19, 15] = True
    assert (water_cells(site) == wanted).all()
    house = np.zeros((20, 20), dtype=np.bool_)
    house[10:12, 8:10] = True
    assert (building_cells(site) == house).all()


@pytest.mark.parametrize(
    ("error", "climb", "is_asked"),
    [(0.0, 0.03, False), (0.0, 0.0301, True), (0.1, 0.15, False), (0.1, 0.151, True)],
)
def test_a_culvert_is_questioned_if_it_climbs_by_more_than_the_heights_may_err(
    error: float, climb: float, is_asked: bool
) -> None:
    """By more than three centimetres and one and a half times the error of the heights."""
    ground = np.full((5, 12), 10.0)
    ground[:, 6:] += climb
    pipe = culvert((2.5, 2.5), (9.5, 2.5), name="Pipe")
    site = make_site(ground, features=(pipe,), height_error=error)
    bare, _ = whole_heights(site.elevation)
    questions = find_drawn_things(bare, site, DrainageSettings.model_validate({"drain_reach": "0 m"})).questions
    assert [(one.place.x, one.place.y) for one in questions] == ([(9.5, 2.5)] if is_asked else [])


def test_ditches_and_pipes_into_unknown_ground_are_not_questioned() -> None:
    ground = np.full((5, 12), 10.0)
    ground[:, 6:] += 1.0
    ditch = draw_thing(1, Kind.DITCH, "Ditch", LineString([(2.5, 2.5), (9.5, 2.5)]))
    pipe = culvert((2.5, 2.5), (11.5, 2.5))
    ground[:, 11] = np.nan
    site = make_site(ground, features=(ditch, pipe), height_error=0.0)
    bare, _ = whole_heights(site.elevation)
    assert find_drawn_things(bare, site, DrainageSettings.model_validate({"drain_reach": "0 m"})).questions == ()


def test_a_ditch_drawn_as_an_area_cuts_nothing() -> None:
    ditch = draw_thing(1, Kind.DITCH, "Ditch", box(14, 8, 17, 16))
    site = make_site(embankment(), features=(ditch,))
    assert (routed(site) == np.rint(site.elevation * 10_000) / 10_000).all()


@pytest.mark.parametrize("kind", [Kind.WALL, Kind.HEDGE, Kind.TREE])
def test_things_that_stand_turn_no_water(kind: Kind) -> None:
    thing = draw_thing(1, kind, "Thing", box(8, 8, 18, 16), height=4.0)
    site = make_site(plane(25, 25, 1.0, north=0.02), features=(thing,))
    assert (trace_drainage(site, Settings()).receiver == route(whole_heights(site.elevation)[0]).receiver).all()
    assert LEAVES == -1
