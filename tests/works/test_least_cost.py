"""The cheapest way over the ground."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from skimage.graph import MCP_Geometric

from sitepipe.arrays import FloatArray, LongArray
from sitepipe.works.least_cost import QUEEN_MOVES, SIXTEEN_MOVES, SOURCE, UNREACHED, least_cost, way_back

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
