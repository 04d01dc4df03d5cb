"""The line of a path: what it costs, where it is straightened and rounded, and what it cuts."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
import scipy.ndimage
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import LineString, Point

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.works.ways.least_cost import SIXTEEN_MOVES, least_cost, way_back
from sitepipe.works.ways.lines import (
    LEVEL_ACROSS,
    WORTH_SMOOTH,
    bench_cut,
    grade_depth,
    laid_line,
    line_cost,
    profile,
    rounded,
    steepest_over,
    straightened,
)
from sitepipe.works.ways.walking import WalkingGround


def test_a_straight_piece_costs_its_length_times_the_pace() -> None:
    pace, height = np.full((9, 9), 1.5), np.zeros((9, 9))
    cost = line_cost(pace, height, 0.1, np.array([[0.0, 0.0], [6.0, 8.0]]))
    assert cost == pytest.approx(15.0)


def test_a_line_over_a_blocked_cell_costs_without_end() -> None:
    pace = np.ones((3, 9))
    pace[1, 4] = np.inf
    assert line_cost(pace, np.zeros((3, 9)), 0.1, np.array([[1.0, 0.0], [1.0, 8.0]])) == np.inf


def test_needless_corners_are_left_out() -> None:
    stairs = np.array([[float(k // 2), float((k + 1) // 2)] for k in range(17)])
    kept = straightened(np.ones((12, 12)), np.zeros((12, 12)), 0.1, stairs, 1.02)
    assert len(kept) == 2
    assert kept[0].tolist() == stairs[0].tolist()
    assert kept[-1].tolist() == stairs[-1].tolist()


def test_rounding_keeps_the_ends_and_cuts_the_corners() -> None:
    line = rounded(np.array([[0.0, 0.0], [0.0, 8.0], [8.0, 8.0]]))
    assert line[0].tolist() == [0.0, 0.0]
    assert line[-1].tolist() == [8.0, 8.0]
    assert LineString(line).length < 16.0
    assert Point(0.0, 8.0).distance(LineString(line)) > 0.5


def test_a_bench_cut_is_half_a_wedge() -> None:
    """Worked by hand: 1 m wide across a fall of 1 in 5, 10 m long: 10 x 1 x .2 / 8 = .25 m3."""
    assert bench_cut(1.0, np.full(11, 0.2), np.linspace(0.0, 10.0, 11)) == pytest.approx(0.25)
    assert bench_cut(1.0, np.full(11, 0.02), np.linspace(0.0, 10.0, 11)) == 0.0


def test_a_bump_is_cut_down_to_the_grade_asked() -> None:
    """Worked by hand: a step of .5 m at 10 m on level ground, grade 1 in 20: a wedge 10 m long, half of .5 m high."""
    stations = np.linspace(0.0, 40.0, 801)
    height = np.where(stations > 10.0, 0.5, 0.0)
    assert np.trapezoid(grade_depth(height, stations, 0.05), stations) == pytest.approx(2.5, rel=0.01)
    assert grade_depth(0.04 * stations, stations, 0.05) == pytest.approx(np.zeros(801), abs=1e-9)


def test_the_steepest_piece_is_found_over_the_span_of_a_wheel() -> None:
    stations = np.linspace(0.0, 20.0, 41)
    assert steepest_over(0.03 * stations, stations) == pytest.approx(0.03)
    assert steepest_over(np.where(stations > 10.0, 0.2, 0.0), stations) == pytest.approx(0.1)


def walked(pace: FloatArray, height: FloatArray, cell: float = 1.0) -> WalkingGround:
    """Ground to walk on; heights in m."""
    rows, columns = pace.shape
    dry, nothing = np.zeros(pace.shape), np.zeros(pace.shape, np.bool_)
    return WalkingGround(Grid(0.0, rows * cell, cell, rows, columns, "EPSG:32633"), pace, height, nothing, nothing, dry)


def sampled_cost(pace: FloatArray, height: FloatArray, steepest: float, places: FloatArray) -> float:
    """Sum pace, length and slope over quarter cells; heights between centres by scipy.ndimage.map_coordinates."""
    total = 0.0
    for start, end in pairwise(places):
        length = float(np.hypot(*(end - start)))
        count = math.ceil(4.0 * length)
        if count == 0:
            continue
        middles = start + (np.arange(count)[:, None] + 0.5) / count * (end - start)
        cells = np.floor(middles + 0.5).astype(int)
        if (cells < 0).any() or (cells >= pace.shape).any():
            return math.inf
        joints = start + np.arange(count + 1)[:, None] / count * (end - start)
        grade = np.diff(scipy.ndimage.map_coordinates(height, joints.T, order=1, mode="nearest")) / (length / count)
        steep = np.abs(grade) / steepest if steepest else np.zeros(count)
        factor = 1.0 + np.where(steep < 1.0, steep**2, steep**4)
        total += float(np.sum(pace[cells[:, 0], cells[:, 1]] * factor)) * length / count
    return total


@pytest.mark.parametrize("shape", [(1, 1), (1, 6), (6, 1), (2, 3), (5, 7)])
@pytest.mark.parametrize("steepest", [0.0, 0.08])
def test_a_line_costs_what_its_quarter_cells_add_up_to(shape: tuple[int, int], steepest: float) -> None:
    chance = np.random.default_rng(sum(shape))
    for _ in range(60):
        pace = chance.uniform(0.6, 2.5, shape)
        pace[chance.random(shape) < 0.04] = np.inf
        height = chance.choice([0.0, 0.05, 0.2, 0.9], shape)
        # Whole and quarter places, on the cells and up to half a cell beyond them: edges, corners and ties.
        count = chance.integers(1, 4)
        rows, columns = (chance.integers(-2, 4 * side - 1, count) / 4.0 for side in shape)
        places = np.column_stack([rows, columns])
        cost = line_cost(pace, height, steepest, places)
        assert cost == pytest.approx(sampled_cost(pace, height, steepest, places), rel=1e-9)


def test_a_line_that_leaves_the_cells_on_any_side_costs_without_end() -> None:
    pace, level = np.ones((3, 4)), np.zeros((3, 4))
    for end in ([-1.0, 1.0], [3.0, 1.0], [1.0, -1.0], [1.0, 4.0]):
        assert line_cost(pace, level, 0.0, np.array([[1.0, 1.0], end])) == np.inf


def test_unknown_heights_count_as_level() -> None:
    places = np.array([[0.0, 0.0], [2.0, 3.0]])
    level = line_cost(np.ones((3, 4)), np.zeros((3, 4)), 0.05, places)
    assert line_cost(np.ones((3, 4)), np.full((3, 4), np.nan), 0.05, places) == level == pytest.approx(np.sqrt(13.0))


def test_unknown_heights_beside_the_last_cells_do_not_spoil_them() -> None:
    height = np.array([[np.nan, np.nan, np.nan], [0.0, 0.1, 0.2], [0.0, 0.1, 0.2]])
    along_the_edge = np.array([[2.0, 0.0], [2.0, 2.0]])
    height[1] = np.nan
    assert line_cost(np.ones((3, 3)), height, 0.1, along_the_edge) == pytest.approx(2.0 * 2.0)


@settings(max_examples=60)
@given(
    arrays(np.float64, (5, 6), elements=st.sampled_from([1.0, 1.5, 3.0])),
    st.sampled_from([1.003, 1.07, 1.31]),
    st.data(),
)
def test_a_straight_piece_replaces_the_longest_way_that_it_is_worth(
    pace: FloatArray, worth: float, data: st.DataObject
) -> None:
    """Brute force: every piece of the result is worth it, and no longer one from the same vertex is."""
    level = np.zeros_like(pace)
    count = data.draw(st.integers(1, 6))
    places = np.array([(data.draw(st.integers(0, 4)), data.draw(st.integers(0, 5))) for _ in range(count)], float)
    kept = straightened(pace, level, 0.0, places, worth)

    def is_worth(at: int, k: int) -> bool:
        way = sum(line_cost(pace, level, 0.0, places[j : j + 2]) for j in range(at, k))
        return line_cost(pace, level, 0.0, places[[at, k]]) <= worth * way

    at, expected = 0, [places[0].tolist()]
    while at < count - 1:
        at = max((k for k in range(at + 2, count) if is_worth(at, k)), default=at + 1)
        expected.append(places[at].tolist())
    assert kept.tolist() == expected


def test_a_vertex_that_costs_nothing_to_leave_out_is_left_out() -> None:
    row = np.array([[0.0, float(k)] for k in range(6)])
    assert straightened(np.ones((1, 6)), np.zeros((1, 6)), 0.0, row, 1.0).tolist() == [[0.0, 0.0], [0.0, 5.0]]


def test_rounding_puts_two_vertices_for_each_corner_a_quarter_along_each_side() -> None:
    """Chaikin (1974): worked by hand on a line of three sides, 4, 8 and 4 long; a straight line stays as it is."""
    line = np.array([[0.0, 0.0], [0.0, 4.0], [8.0, 4.0], [8.0, 0.0]])
    once = [[0.0, 0.0], [0.0, 3.0], [2.0, 4.0], [6.0, 4.0], [8.0, 3.0], [8.0, 0.0]]
    assert rounded(line, times=1).tolist() == once
    assert rounded(line).tolist() == rounded(rounded(line, times=1), times=1).tolist()
    assert len(rounded(line)) == 10
    assert rounded(line[:2]).tolist() == line[:2].tolist()
    corner = rounded(line[:3], times=1)
    assert corner.tolist() == [[0.0, 0.0], [0.0, 3.0], [2.0, 4.0], [8.0, 4.0]]


@settings(max_examples=60)
@given(arrays(np.float64, (7, 8), elements=st.sampled_from([1.0, 1.2, 6.0, np.inf])))
def test_what_is_laid_joins_the_same_ends_over_free_cells_at_little_more_cost(pace: FloatArray) -> None:
    pace[0, 0] = 1.0
    cost, _, came_from = least_cost(pace, np.zeros_like(pace), 0.0, SIXTEEN_MOVES, np.array([0]))
    goal = int(np.argmax(np.where(np.isfinite(cost), cost, -1.0)))
    cells, ground = way_back(came_from, goal), walked(pace, np.zeros_like(pace))
    own = line_cost(pace, ground.height, 0.0, np.array([divmod(cell, 8) for cell in cells], float))
    line, said = laid_line(cells, ground, 0.0)
    assert said == line_cost(pace, ground.height, 0.0, line)
    assert said <= WORTH_SMOOTH * own
    assert line[0].tolist() == [0.0, 0.0]
    assert line[-1].tolist() == list(divmod(goal, 8))


def test_a_straight_line_that_costs_a_twentieth_more_is_still_laid() -> None:
    """Worked by hand: 3 m at 17 are 51; around, 2 half metres at 17, 2 half and 3 whole ones at 7.9 are 48.6."""
    pace = np.array([[17.0] * 4, [7.9] * 4])
    line, cost = laid_line([0, 4, 5, 6, 7, 3], walked(pace, np.zeros((2, 4))), 0.0)
    assert line.tolist() == [[0.0, 0.0], [0.0, 3.0]]
    assert cost == 51.0
    pace[0, 1] = 17.1
    line, cost = laid_line([0, 4, 5, 6, 7, 3], walked(pace, np.zeros((2, 4))), 0.0)
    assert len(line) > 2
    assert cost < 51.0


def test_the_way_round_something_turns_in_curves_and_not_in_corners() -> None:
    """A wall across the field, passed at its end: no turn of more than 25 degrees from piece to piece."""
    pace = np.ones((30, 30))
    pace[14, :20] = np.inf
    _, _, came_from = least_cost(pace, np.zeros_like(pace), 0.0, SIXTEEN_MOVES, np.array([5]))
    line, _ = laid_line(way_back(came_from, 29 * 30 + 5), walked(pace, np.zeros_like(pace)), 0.0)
    pieces = np.diff(line, axis=0)
    turns = np.abs(np.diff(np.unwrap(np.arctan2(pieces[:, 1], pieces[:, 0]))))
    assert np.degrees(turns.max()) < 25.0


def test_a_line_is_laid_on_cells_of_any_size_by_their_slope() -> None:
    """A ramp of 1 in 10 at the steepest grade costs twice its length, whatever the cell."""
    for cell in (0.5, 2.0):
        height = np.tile(0.1 * cell * np.arange(9.0), (3, 1))
        _, cost = laid_line(list(range(9, 18)), walked(np.ones((3, 9)), height, cell), 0.1)
        assert cost == pytest.approx(16.0)


@pytest.mark.parametrize("cell", [0.5, 2.0])
@pytest.mark.parametrize(("down", "right"), [(0.0, 1.0), (1.0, 0.0), (-1.0, 0.0), (0.6, 0.8), (0.8, -0.6)])
def test_a_profile_on_a_plane_has_its_heights_and_its_slope_across(cell: float, down: float, right: float) -> None:
    south, east = 0.03, -0.05  # rise per run
    row, column = np.mgrid[0:30, 0:30]
    height = (south * row + east * column) * cell
    start = np.array([15.0, 15.0]) - 5.0 * np.array([down, right])
    places = start + np.array([0.0, 4.0, 10.0])[:, None] * np.array([down, right])
    stations, profiled, across = profile(walked(np.ones((30, 30)), height, cell), places, 1.0)
    assert stations == pytest.approx(np.linspace(0.0, 10.0 * cell, math.ceil(10.0 * cell) + 1))
    along = south * down + east * right
    assert profiled == pytest.approx((south * start[0] + east * start[1]) * cell + along * stations)
    # To the left of the way that goes down, right lie the cells at (-right, down): a turn, rows counted downwards.
    assert across == pytest.approx(np.full(stations.size, -south * right + east * down))


def test_a_profile_of_a_line_shorter_than_the_spacing_has_both_ends() -> None:
    ground = walked(np.ones((3, 3)), np.full((3, 3), 2.0))
    stations, height, across = profile(ground, np.array([[1.0, 0.5], [1.0, 1.0]]), 5.0)
    assert stations.tolist() == [0.0, 0.5]
    assert height.tolist() == [2.0, 2.0]
    assert across.tolist() == [0.0, 0.0]
    stations, height, across = profile(ground, np.array([[1.0, 1.0]]), 5.0)
    assert (stations.tolist(), height.tolist(), across.tolist()) == ([0.0, 0.0], [2.0, 2.0], [0.0, 0.0])


@given(st.floats(0.5, 2.0), st.floats(0.03, 0.5))
def test_a_bench_is_cut_as_a_wedge_half_as_wide_as_the_path(width: float, slope: float) -> None:
    """Second way: the ground above the level of the path's middle, summed over a thousand strips of its section."""
    strips = (np.arange(1000) + 0.5) / 1000.0 * width - 0.5 * width
    section = float(np.maximum(slope * strips, 0.0).mean()) * width
    stations = np.array([0.0, 1.0, 4.0])
    assert bench_cut(width, np.full(3, slope), stations) == pytest.approx(4.0 * section, rel=1e-3)
    assert bench_cut(width, np.full(3, -slope), stations) == pytest.approx(4.0 * section, rel=1e-3)


def test_nothing_is_cut_up_to_the_cross_slope_that_asks_for_none_nor_where_it_is_unknown() -> None:
    stations = np.array([0.0, 1.0, 2.0])
    assert bench_cut(1.0, np.full(3, LEVEL_ACROSS), stations) == 0.0
    assert bench_cut(1.0, np.full(3, LEVEL_ACROSS * 1.001), stations) > 0.0
    assert bench_cut(1.0, np.array([0.2, np.nan, np.nan]), stations) == pytest.approx(0.5 * 0.2 / 8.0)


@given(arrays(np.float64, 8, elements=st.floats(0.0, 3.0)), st.floats(0.02, 0.5))
def test_what_is_cut_to_a_grade_leaves_the_highest_line_that_keeps_it(height: FloatArray, steepest: float) -> None:
    """Second way: lower each station to what its neighbours allow, over and over, until nothing moves."""
    stations = np.array([0.0, 0.5, 1.0, 2.0, 3.0, 3.5, 5.0, 6.0])
    finished = height.copy()
    for _ in range(8):
        for k, other in [*((k, k - 1) for k in range(1, 8)), *((k, k + 1) for k in range(6, -1, -1))]:
            finished[k] = min(finished[k], finished[other] + steepest * abs(stations[k] - stations[other]))
    assert grade_depth(height, stations, steepest) == pytest.approx(height - finished, abs=1e-9)


def test_the_steepest_piece_of_a_short_path_is_the_whole_of_it() -> None:
    assert steepest_over(np.array([0.0, 0.06, 0.09]), np.array([0.0, 0.5, 1.5])) == pytest.approx(0.06)
    assert steepest_over(np.array([2.0, 2.0]), np.array([0.0, 0.0])) == 0.0


def test_the_steepest_piece_may_be_the_last_and_may_fall() -> None:
    stations = np.linspace(0.0, 6.0, 13)
    assert steepest_over(np.where(stations > 5.0, -0.3, 0.0), stations) == pytest.approx(0.15)
    assert steepest_over(np.maximum(stations - 4.0, 0.0) * 0.1, stations) == pytest.approx(0.1)
    assert steepest_over(np.maximum(stations - 5.0, 0.0) * 0.1, stations, span=0.5) == pytest.approx(0.1)
