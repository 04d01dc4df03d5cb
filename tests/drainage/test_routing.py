"""Routes: directions, level ground, order, accumulation."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.arrays import IntArray
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.descent import LEAVES, LEVEL, NOWHERE, steepest_receivers
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.network import Network, route
from sitepipe.drainage.routing import accumulated
from tests.drainage.grounds import (
    BASINS,
    heights_of,
    holed_heights,
    neighbours,
    rolling,
    small_heights,
    unlike_heights,
)
from tests.sites import plane, valley


@given(holed_heights())
def test_every_known_cell_reaches_an_outlet_and_none_is_lost(heights: IntArray) -> None:
    network = route(heights)
    known = int((heights != UNKNOWN).sum())
    assert network.outflow_cells == known
    assert sorted(network.order.tolist()) == np.flatnonzero(heights != UNKNOWN).tolist()
    place = {cell: k for k, cell in enumerate(network.order.tolist())}
    for cell, to in enumerate(network.receiver.ravel().tolist()):
        if to >= 0:
            assert place[to] < place[cell]


@given(holed_heights())
def test_water_leaves_only_at_the_edge_or_beside_unknown_ground(heights: IntArray) -> None:
    receiver = route(heights).receiver
    padded = np.pad(heights, 1, constant_values=UNKNOWN)
    rows, columns = heights.shape
    for row, column in np.argwhere(receiver == LEAVES):
        assert (padded[row : row + 3, column : column + 3] == UNKNOWN).any()
    assert ((receiver == NOWHERE) == (heights == UNKNOWN)).all()
    assert rows * columns == receiver.size


@given(holed_heights())
def test_water_never_climbs_the_flood_and_takes_the_steepest_descent(heights: IntArray) -> None:
    network = route(heights)
    level, receiver = network.level, network.receiver
    rows, columns = heights.shape
    for row in range(rows):
        for column in range(columns):
            to = int(receiver[row, column])
            if to == NOWHERE:
                continue
            slopes = {
                down * columns + right: (int(level[row, column]) - int(level[down, right]))
                / np.hypot(down - row, right - column)
                for down in range(max(row - 1, 0), min(row + 2, rows))
                for right in range(max(column - 1, 0), min(column + 2, columns))
                if (down, right) != (row, column) and level[down, right] != UNKNOWN
            }
            steepest = max(slopes.values(), default=0.0)
            if steepest > 0.0:
                assert slopes[to] == steepest
            elif to >= 0:
                assert slopes[to] == 0.0


@given(unlike_heights(most=12), st.integers(0, 3), st.booleans())
def test_turned_ground_drains_the_same_way(heights: IntArray, turns: int, is_mirrored: bool) -> None:
    """No two heights are alike, so the catchments turn with the ground, cell by cell, but for filled hollows."""

    def moved(array: IntArray) -> IntArray:
        turned = np.rot90(array, turns)
        return np.ascontiguousarray(turned[:, ::-1] if is_mirrored else turned)

    own, other = route(heights), route(moved(heights))
    outside = own.hollow == 0
    assert (moved(own.level) == other.level).all()
    assert other.outflow_cells == own.outflow_cells
    ends = np.sort(own.cells[own.receiver == LEAVES])
    assert (ends == np.sort(other.cells[other.receiver == LEAVES])).all()
    assert (moved(own.cells)[moved(outside)] == other.cells[moved(outside)]).all()


@given(small_heights(), st.integers(-500, 500), st.integers(1, 20))
def test_lifted_and_stretched_ground_drains_the_same(heights: IntArray, lift: int, stretch: int) -> None:
    moved = (heights * stretch + lift).astype(np.int32)
    assert (route(moved).receiver == route(heights).receiver).all()


def test_of_equal_sides_the_one_with_lower_ground_is_taken() -> None:
    """Under the water of a hollow the deeper side is no steeper, but its ground is lower."""
    level = np.array([[9, 9, 9], [5, 7, 5], [9, 9, 9]], dtype=np.int32)
    for deeper, wanted in ((3, 3), (5, 5)):
        ground = level.copy()
        ground.ravel()[deeper] = 1
        assert steepest_receivers(level, ground)[1, 1] == wanted


def test_of_equal_sides_the_one_with_the_lower_outlook_is_taken() -> None:
    level = np.full((3, 5), 90, dtype=np.int32)
    level[1] = (10, 50, 70, 50, 20)
    assert steepest_receivers(level, level)[1, 2] == 6
    mirrored = np.ascontiguousarray(level[:, ::-1])
    assert steepest_receivers(mirrored, mirrored)[1, 2] == 8


def hops(cells: set[int], starts: set[int], shape: tuple[int, int]) -> dict[int, int]:
    """Fewest steps from any of the starts to each of the cells, through the cells alone."""
    found = dict.fromkeys(starts, 0)
    ring, steps = starts, 0
    while ring:
        steps += 1
        ring = {other for cell in ring for other, _ in neighbours(cell, shape)} & cells - set(found)
        found |= dict.fromkeys(ring, steps)
    return found


@given(holed_heights(most=9))
def test_hollows_are_the_pieces_of_ground_under_the_flood(heights: IntArray) -> None:
    """An independent library: scipy's labels of what is filled above its ground, corners joined."""
    from scipy.ndimage import label

    network = route(heights)
    pieces, count = label((network.level > heights) & (heights != UNKNOWN), structure=np.ones((3, 3)))
    assert network.spill.size == count + 1
    assert network.spill[0] == -1
    pairs = set(zip(pieces.ravel().tolist(), network.hollow.ravel().tolist(), strict=True)) | {(0, 0)}
    assert len(pairs) == count + 1
    assert {one for one, _ in pairs} == {two for _, two in pairs} == set(range(count + 1))


@given(holed_heights(most=9))
def test_water_leaves_a_hollow_over_one_cell_by_the_fewest_steps(heights: IntArray) -> None:
    network = route(heights)
    to = network.receiver.ravel().tolist()
    for number in range(1, network.spill.size):
        own = set(np.flatnonzero(network.hollow.ravel() == number).tolist())
        (last,) = {cell for cell in own if to[cell] not in own}
        spill = int(network.spill[number])
        assert to[last] == spill
        assert network.level.ravel()[spill] == network.level.ravel()[last] == heights.ravel()[spill]
        steps = hops(own, {last}, (heights.shape[0], heights.shape[1]))
        assert all(steps[to[cell]] == steps[cell] - 1 for cell in own - {last})


@given(holed_heights(most=9, tallest=1))
def test_level_ground_without_hollows_is_left_by_the_fewest_steps(heights: IntArray) -> None:
    """On steps of two heights, filled: the way over level ground is as short as any to a cell that drains."""
    ground = filled(heights)
    network = route(ground)
    assert network.spill.tolist() == [-1]
    to = steepest_receivers(ground, ground).ravel()
    shape = (heights.shape[0], heights.shape[1])
    for height in (0, 1):
        here = ground.ravel() == height
        drains = set(np.flatnonzero(here & (to != LEVEL)).tolist())
        level = set(np.flatnonzero(here & (to == LEVEL)).tolist())
        steps = hops(level, drains, shape)
        for cell in level:
            receiver = int(network.receiver.ravel()[cell])
            assert steps[receiver] == steps[cell] - 1


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_terrace_with_one_gap_drains_straight_along_the_axis_of_the_gap(turns: int) -> None:
    """From the cell in the gap sides are entered before corners, whatever way the gap lies."""
    ground = np.full((8, 9), 9, dtype=np.int32)
    ground[2:-1, 1:-1] = ground[1, 4] = 5
    ground[0, 4] = 4
    on_axis = np.zeros((8, 9), dtype=np.bool_)
    on_axis[:-1, 4] = True
    turned, axis = np.ascontiguousarray(np.rot90(ground, turns)), np.rot90(on_axis, turns)
    inner = axis & (turned == 5)
    assert axis.ravel()[route(turned).receiver[inner]].all()


def test_a_hollow_has_one_way_out() -> None:
    network = route(heights_of(rolling(80, 80)))
    assert network.spill.size > 5
    for number in range(1, network.spill.size):
        cells = np.flatnonzero(network.hollow.ravel() == number)
        to = network.receiver.ravel()[cells]
        leaving = to[network.hollow.ravel()[to] != number]
        assert leaving.tolist() == [network.spill[number]]
        assert network.heights.ravel()[network.spill[number]] == network.level.ravel()[cells[0]]


def test_all_water_of_a_valley_leaves_at_its_foot() -> None:
    ground = valley(40, 31, 1.0)
    network = route(heights_of(ground))
    foot = network.cells[-1, 15]
    assert network.receiver[-1, 15] == LEAVES
    assert foot > 0.9 * ground.size


def test_a_plane_drains_in_straight_columns() -> None:
    network = route(heights_of(plane(6, 4, 1.0, north=0.02)))
    assert network.cells.tolist() == [[row + 1] * 4 for row in range(6)]


def test_two_basins_leave_by_their_outlet() -> None:
    network = route(heights_of(BASINS))
    assert network.receiver[2, 8] == LEAVES
    assert network.cells[2, 8] == 45


def test_water_in_a_circle_is_seen() -> None:
    order, cells = accumulated(np.array([[1, 0, -1]], dtype=np.int32))
    assert order.size == 1
    assert cells[0, 2] == 1


def _is_network(network: Network) -> bool:
    return network.outflow_cells == int((network.heights != UNKNOWN).sum())


def test_water_reaches_a_hole_in_the_heights_and_leaves_there() -> None:
    ground = plane(7, 7, 1.0) + 1.0
    ground[3, 3] = np.nan
    ground[2:5, 2:5] -= 0.5
    network = route(heights_of(ground))
    assert _is_network(network)
    assert (network.depth[2:5, 2:5][np.isfinite(ground[2:5, 2:5])] == 0.0).all()
    assert (network.receiver[2:5, 2:5] == LEAVES).sum() == 8
