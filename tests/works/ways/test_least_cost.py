"""The cheapest way over the ground."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from skimage.graph import MCP_Geometric

from sitepipe.arrays import FloatArray, LongArray
from sitepipe.works.ways.least_cost import QUEEN_MOVES, SIXTEEN_MOVES, SOURCE, UNREACHED, least_cost, way_back

LEVEL = np.zeros((1, 1))


def walk(pace: FloatArray, start: tuple[int, int], moves: LongArray = SIXTEEN_MOVES) -> tuple[FloatArray, FloatArray]:
    source = np.array([start[0] * pace.shape[1] + start[1]])
    cost, length, _ = least_cost(pace, np.zeros_like(pace), 0.0, moves, source)
    return cost, length


def test_on_even_ground_the_way_is_as_long_as_the_straight_line_along_the_moves() -> None:
    cost, length = walk(np.ones((21, 21)), (10, 10))
    assert cost[10, 20] == 10.0
    assert cost[0, 0] == np.sqrt(200.0) * 1.0 or np.isclose(cost[0, 0], np.sqrt(200.0))
    assert np.isclose(cost[0, 5], 5.0 * np.sqrt(5.0))
    assert np.allclose(cost, length)


def test_no_way_over_sixteen_moves_is_more_than_three_hundredths_too_long() -> None:
    cost, _ = walk(np.ones((61, 61)), (30, 30))
    row, column = np.mgrid[0:61, 0:61] - 30
    straight = np.hypot(row, column)
    away = straight > 0
    assert (cost[away] / straight[away]).max() <= 1.0275 + 1e-9
    assert (cost[away] / straight[away]).min() >= 1.0 - 1e-12


def test_a_wall_with_one_gap_is_passed_at_the_gap() -> None:
    pace = np.ones((9, 9))
    pace[4, :] = np.inf
    pace[4, 8] = 1.0
    cost, length = walk(pace, (0, 0), QUEEN_MOVES)
    assert np.isinf(cost[4, 3])
    # (0, 0) to the gap (4, 8): four diagonal steps and four straight ones; back to (8, 0) the same again
    assert np.isclose(length[8, 0], 2.0 * (4.0 * np.sqrt(2.0) + 4.0))


def test_a_walled_maze_is_walked_from_end_to_end() -> None:
    rows = (
        "S.........",
        "#########.",
        "..........",
        ".#########",
        "..........",
        "#########.",
        ".........E",
    )
    pace = np.array([[np.inf if sign == "#" else 1.0 for sign in row] for row in rows])
    cost, length, came_from = least_cost(pace, np.zeros_like(pace), 0.0, QUEEN_MOVES, np.array([0]))
    # three corridors of 8 or 9 steps; each turn around a wall's end is two steps of one row each, by hand:
    # 9 east, 2 south, 9 west, 2 south, 9 east, 2 south, without corners cut, for walls stop every diagonal
    assert cost[6, 9] <= 33.0
    assert np.isclose(cost[6, 9], length[6, 9])
    way = way_back(came_from, 69)
    assert way[0] == 0
    assert way[-1] == 69
    assert all(np.isfinite(pace.flat[cell]) for cell in way)
    assert {19, 30, 59} <= set(way)


def test_a_step_squeezes_through_no_two_blocked_corners() -> None:
    pace = np.array([[1.0, np.inf], [np.inf, 1.0]])
    cost, _ = walk(pace, (0, 0))
    assert np.isinf(cost[1, 1])


def test_a_knight_leaps_over_nothing() -> None:
    pace = np.ones((3, 5))
    pace[:, 2] = np.inf
    cost, _ = walk(pace, (1, 0))
    assert np.isinf(cost[:, 3:]).all()


def test_what_is_not_reached_says_so() -> None:
    pace = np.array([[1.0, np.inf, 1.0]])
    _, _, came_from = least_cost(pace, np.zeros_like(pace), 0.0, QUEEN_MOVES, np.array([0]))
    assert came_from.tolist() == [[SOURCE, UNREACHED, UNREACHED]]


def test_a_step_at_the_steepest_grade_costs_twice_the_level_one() -> None:
    height = np.array([[0.0, 0.05, 0.05]])
    cost, _, _ = least_cost(np.ones((1, 3)), height, 0.05, QUEEN_MOVES, np.array([0]))
    assert np.allclose(cost, [[0.0, 2.0, 3.0]])


def test_steeper_than_the_steepest_costs_by_the_fourth_power() -> None:
    cost, _, _ = least_cost(np.ones((1, 2)), np.array([[0.0, 0.1]]), 0.05, QUEEN_MOVES, np.array([0]))
    assert np.isclose(cost[0, 1], 1.0 + 2.0**4)


def test_a_long_gentle_way_beats_a_short_steep_one() -> None:
    y, x = np.mgrid[0:41, 0:41].astype(float)
    height = 4.0 * np.exp(-(((y - 20) / 6) ** 2 + ((x - 20) / 6) ** 2))
    _, length, came_from = least_cost(np.ones((41, 41)), height, 0.05, SIXTEEN_MOVES, np.array([20 * 41]))
    way = way_back(came_from, 20 * 41 + 40)
    assert length[20, 40] > 42.0
    assert max(height.flat[cell] for cell in way) < 1.0


@settings(max_examples=40, deadline=None)
@given(arrays(np.float64, (7, 9), elements=st.floats(0.1, 9.0)))
def test_costs_agree_with_an_independent_library(pace: FloatArray) -> None:
    """scikit-image, graph.MCP_Geometric: the mean pace of both cells times the step's length, eight neighbours."""
    cost, _ = walk(pace, (3, 4), QUEEN_MOVES)
    peer, _ = MCP_Geometric(pace).find_costs([(3, 4)])
    assert np.allclose(cost, peer, rtol=1e-12)


@settings(max_examples=30, deadline=None)
@given(arrays(np.float64, (6, 8), elements=st.floats(0.2, 5.0)), st.integers(0, 47), st.integers(0, 47))
def test_there_and_back_cost_the_same(pace: FloatArray, one: int, other: int) -> None:
    height = np.cumsum(pace, axis=0) / 50.0
    there, _, _ = least_cost(pace, height, 0.08, SIXTEEN_MOVES, np.array([one]))
    back, _, _ = least_cost(pace, height, 0.08, SIXTEEN_MOVES, np.array([other]))
    assert np.isclose(there.flat[other], back.flat[one])


@settings(max_examples=30, deadline=None)
@given(arrays(np.float64, (6, 8), elements=st.floats(0.2, 5.0)))
def test_a_mirrored_ground_has_mirrored_costs(pace: FloatArray) -> None:
    cost, _ = walk(pace, (2, 3))
    mirrored, _ = walk(np.ascontiguousarray(pace[:, ::-1]), (2, 4))
    assert np.allclose(cost, mirrored[:, ::-1])


def test_several_sources_serve_each_cell_from_the_nearest() -> None:
    cost, _, _ = least_cost(np.ones((1, 9)), np.zeros((1, 9)), 0.0, QUEEN_MOVES, np.array([0, 8]))
    assert cost.tolist() == [[0.0, 1.0, 2.0, 3.0, 4.0, 3.0, 2.0, 1.0, 0.0]]


def touched(here: tuple[int, int], there: tuple[int, int]) -> list[tuple[int, int]]:
    """List the cells that a step counts: both ends, and the two that a knight's move passes between."""
    down, right = there[0] - here[0], there[1] - here[1]
    if abs(down) == 2:
        return [here, there, (here[0] + down // 2, here[1]), (here[0] + down // 2, there[1])]
    if abs(right) == 2:
        return [here, there, (here[0], here[1] + right // 2), (there[0], here[1] + right // 2)]
    return [here, there]


def step_weight(
    pace: FloatArray, height: FloatArray, steepest: float, here: tuple[int, int], there: tuple[int, int]
) -> tuple[float, float]:
    """Return a step's cost and its length, word for word as the kernel's docstring has them."""
    cells = touched(here, there)
    if len(cells) == 2 and np.isinf(pace[here[0], there[1]]) and np.isinf(pace[there[0], here[1]]):
        return math.inf, 0.0
    step = math.sqrt((there[0] - here[0]) ** 2 + (there[1] - here[1]) ** 2)
    mean = sum(float(pace[cell]) for cell in cells) / len(cells)
    grade = abs(float(height[there] - height[here])) / step / steepest if steepest else 0.0
    if math.isnan(grade):
        grade = 0.0
    return mean * step * (1.0 + (grade**2 if grade < 1.0 else grade**4)), step


def plainly(
    pace: FloatArray, height: FloatArray, steepest: float, moves: LongArray, sources: list[int]
) -> tuple[FloatArray, FloatArray, LongArray]:
    """Settle the cheapest cell of all that are open, the first of equals, until none is left: no heap."""
    shape, count = pace.shape, pace.size
    cost, length, came_from = np.full(count, np.inf), np.full(count, np.inf), np.full(count, UNREACHED)
    for source in sources:
        if np.isfinite(pace.flat[source]):
            cost[source], length[source], came_from[source] = 0.0, 0.0, SOURCE
    is_open = np.isfinite(cost)
    while is_open.any():
        here = int(np.flatnonzero(is_open)[np.argmin(cost[is_open])])
        is_open[here] = False
        row, column = divmod(here, shape[1])
        for down, right in moves.tolist():
            there = (row + down, column + right)
            if not (0 <= there[0] < shape[0] and 0 <= there[1] < shape[1]):
                continue
            weight, step = step_weight(pace, height, steepest, (row, column), there)
            flat = there[0] * shape[1] + there[1]
            if cost[here] + weight < cost[flat]:
                cost[flat], length[flat], came_from[flat] = cost[here] + weight, length[here] + step, here
                is_open[flat] = True
    return cost.reshape(shape), length.reshape(shape), came_from.reshape(shape)


awkward_shapes = st.sampled_from([(1, 1), (1, 9), (9, 1), (2, 2), (2, 7), (3, 3), (7, 6), (6, 8)])
both_moves = pytest.mark.parametrize("moves", [QUEEN_MOVES, SIXTEEN_MOVES], ids=["queen", "sixteen"])


@both_moves
@settings(max_examples=60)
@given(st.data())
def test_every_cost_is_what_a_plain_search_finds_over_slopes_and_around_what_is_blocked(
    moves: LongArray, data: st.DataObject
) -> None:
    shape = data.draw(awkward_shapes)
    pace = data.draw(arrays(np.float64, shape, elements=st.sampled_from([0.5, 1.0, 1.7, 4.0, np.inf])))
    height = data.draw(arrays(np.float64, shape, elements=st.sampled_from([0.0, 0.02, 0.09, 0.3, np.nan])))
    sources = data.draw(st.lists(st.integers(0, pace.size - 1), min_size=1, max_size=4))
    steepest = data.draw(st.sampled_from([0.0, 0.05]))
    cost, length, came_from = least_cost(pace, height, steepest, moves, np.array(sources))
    expected, _, _ = plainly(pace, height, steepest, moves, sources)
    np.testing.assert_allclose(cost, expected, rtol=1e-12)
    for cell in np.flatnonzero(came_from >= 0).tolist():
        here, there = divmod(int(came_from.flat[cell]), shape[1]), divmod(cell, shape[1])
        weight, step = step_weight(pace, height, steepest, here, there)
        assert np.isclose(cost[there], cost[here] + weight)
        assert np.isclose(length[there], length[here] + step)


@both_moves
def test_a_wide_field_of_uneven_ground_costs_what_another_library_says(moves: LongArray) -> None:
    """scipy.sparse.csgraph.dijkstra on the same steps: many cells open at once, often found cheaper again."""
    chance = np.random.default_rng(12)
    shape = (24, 27)
    for _ in range(3):
        pace = np.exp(chance.normal(0.0, 1.5, shape))
        pace[chance.random(shape) < 0.1] = np.inf
        pace[0, 0] = 1.0
        height = chance.choice([0.0, 0.01, 0.07], shape)
        steps = []
        for row, column, down, right in product(range(shape[0]), range(shape[1]), *[range(-2, 3)] * 2):
            there = (row + down, column + right)
            if (down, right) in map(tuple, moves) and 0 <= there[0] < shape[0] and 0 <= there[1] < shape[1]:
                weight, _ = step_weight(pace, height, 0.05, (row, column), there)
                if np.isfinite(weight):
                    steps.append((weight, row * shape[1] + column, there[0] * shape[1] + there[1]))
        weights, here, there_flat = map(np.array, zip(*steps, strict=True))
        peer = dijkstra(
            csr_array((weights, (here.astype(int), there_flat.astype(int))), (pace.size, pace.size)), indices=[0]
        )
        cost, _, _ = least_cost(pace, height, 0.05, moves, np.array([0]))
        np.testing.assert_allclose(cost.ravel(), peer[0], rtol=1e-12)


@both_moves
@settings(max_examples=60)
@given(st.data())
def test_of_equal_ways_the_one_over_earlier_cells_is_taken(moves: LongArray, data: st.DataObject) -> None:
    shape = data.draw(awkward_shapes)
    pace = data.draw(arrays(np.float64, shape, elements=st.sampled_from([1.0, 1.0, 2.0, np.inf])))
    sources = data.draw(st.lists(st.integers(0, pace.size - 1), min_size=1, max_size=pace.size))
    found = least_cost(pace, np.zeros(shape), 0.0, moves, np.array(sources))
    for ours, plain in zip(found, plainly(pace, np.zeros(shape), 0.0, moves, sources), strict=True):
        np.testing.assert_array_equal(ours, plain)


@settings(max_examples=40)
@given(arrays(np.float64, (6, 7), elements=st.sampled_from([0.5, 1.0, 2.0, np.inf])), st.sets(st.integers(0, 41)))
def test_the_search_stops_at_the_first_target_with_all_that_is_cheaper_settled(
    pace: FloatArray, targets: set[int]
) -> None:
    pace[0, 0] = 1.0
    level, source = np.zeros_like(pace), np.array([0])
    whole, _, _ = least_cost(pace, level, 0.0, SIXTEEN_MOVES, source)
    part, _, _ = least_cost(pace, level, 0.0, SIXTEEN_MOVES, source, np.array(sorted(targets), np.int64))
    nearest = min((float(whole.flat[target]) for target in targets), default=np.inf)
    assert (part[whole <= nearest] == whole[whole <= nearest]).all()
    assert (part >= whole).all()


def test_nothing_is_settled_beyond_the_first_target() -> None:
    cost, _, _ = least_cost(
        np.ones((1, 9)), np.zeros((1, 9)), 0.0, QUEEN_MOVES, np.array([0]), targets=np.array([6, 3])
    )
    assert cost.tolist() == [[0.0, 1.0, 2.0, 3.0, *[np.inf] * 5]]
