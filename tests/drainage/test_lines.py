"""Flow lines and crossings, step by step."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box

from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.lines import eased_once, find_crossings, flow_line_along, place_on_boundary, traced_lines
from sitepipe.drainage.network import route
from sitepipe.grid import Grid
from tests.drainage.grounds import holed_heights


@given(holed_heights(most=10), st.integers(1, 6), st.integers(0, 2**32 - 1))
def test_lines_run_from_every_head_to_a_shore_an_end_or_a_larger_line(heights: IntArray, least: int, seed: int) -> None:
    """Brute force: of the cells that gathered enough, the largest that runs into a cell goes on through it."""
    network = route(heights)
    is_open = (np.random.default_rng(seed).random(heights.size) < 0.8) & (heights.ravel() != UNKNOWN)
    to, behind = network.receiver.ravel().tolist(), network.cells.ravel().tolist()
    enough = [cell for cell in range(heights.size) if is_open[cell] and behind[cell] >= least]
    main = {
        below: max((cell for cell in enough if to[cell] == below), key=lambda cell: (behind[cell], -cell))
        for below in {to[cell] for cell in enough}
        if below >= 0 and is_open[below]
    }
    wanted = []
    for head in (cell for cell in enough if cell not in main):
        line = [head]
        while to[line[-1]] >= 0:
            below = to[line[-1]]
            line.append(below)
            if main.get(below) != line[-2]:
                break
        wanted.append(line)
    large = np.flatnonzero(is_open & (network.cells.ravel() >= 1)).astype(np.int32)
    places, ends = traced_lines(network.receiver.ravel(), large, network.cells.ravel(), is_open, least)
    assert ends[0] == 0
    assert [places[ends[k] : ends[k + 1]].tolist() for k in range(ends.size - 1)] == wanted


def test_an_eased_line_keeps_its_ends_and_stays_straight_where_it_is() -> None:
    assert eased_once(np.array([0.0, 1.0, 2.0, 3.0])).tolist() == [0.0, 1.0, 2.0, 3.0]
    assert eased_once(np.array([0.0, 4.0, 0.0])).tolist() == [0.0, 2.0, 0.0]
    assert eased_once(np.array([0.0, 4.0])).tolist() == [0.0, 4.0]


@pytest.mark.parametrize(("cells", "kept"), [(5, [0.5, 2.5, 4.5]), (6, [0.5, 2.5, 4.5, 5.5])])
def test_a_line_has_every_other_cell_and_its_last_and_never_jumps_to_what_it_joins(
    cells: int, kept: list[float]
) -> None:
    """Its last cell has a thousand behind it, for it lies on the larger line; the arrow swells by one cell only."""
    behind = np.array([[4, 5, 6, 7, 8, 9]], dtype=np.int32).ravel()
    behind[cells - 1] = 1000
    line = flow_line_along(np.arange(cells, dtype=np.int32), behind, False, Grid(0.0, 2.0, 1.0, 2, 6, "LOCAL"))
    assert [x for x, _ in line.line.coords] == kept
    assert {y for _, y in line.line.coords} == {1.5}
    assert line.upslope_area[-1] == behind[cells - 2] + 1.0
    assert line.upslope_area[0] == 4.0


def test_water_crosses_where_its_step_meets_the_boundary_or_half_way() -> None:
    outline = box(0.0, 0.0, 10.0, 10.0)
    assert place_on_boundary((9.5, 5.5), (10.5, 5.5), outline).equals(Point(10.0, 5.5))
    assert place_on_boundary((7.0, 5.0), (8.0, 6.0), outline).equals(Point(7.5, 5.5))


def test_a_straight_stream_crosses_once_in_and_once_out_and_a_trickle_not_at_all() -> None:
    """A row of twenty cells runs east through a parcel of twelve; beside it a ditch with a fiftieth less one cell."""
    receiver = np.array([[*range(1, 20), -1], [*range(21, 40), -1]], dtype=np.int32)
    behind = np.array([[*range(60, 80)], [1] * 20], dtype=np.int32)
    parcel = np.zeros((2, 20), dtype=np.bool_)
    parcel[:, 3:15] = True
    grid = Grid(0.0, 4.0, 2.0, 2, 20, "LOCAL")
    dependent = np.zeros((2, 20), dtype=np.bool_)
    dependent[:, :3] = True
    outward, inward = find_crossings(receiver, behind, parcel, box(6.0, 0.0, 30.0, 4.0), dependent, grid)
    assert (outward.place.x, outward.is_inflow, outward.upslope_area) == (30.0, False, 74 * 4.0)
    assert (inward.place.x, inward.is_inflow, inward.upslope_area) == (6.0, True, 62 * 4.0)
    assert (inward.from_outside_heights, outward.from_outside_heights) == (True, False)


def test_water_that_leaves_the_heights_within_the_parcel_leaves_it_there() -> None:
    receiver = np.array([[1, 2, -1]], dtype=np.int32)
    behind = np.array([[1, 2, 3]], dtype=np.int32)
    whole = np.ones((1, 3), dtype=np.bool_)
    grid = Grid(0.0, 1.0, 1.0, 1, 3, "LOCAL")
    (end,) = find_crossings(receiver, behind, whole, box(0, 0, 3, 1), ~whole, grid)
    assert (end.place.x, end.place.y, end.is_inflow, end.upslope_area) == (2.5, 0.5, False, 3.0)
    assert find_crossings(receiver, behind, ~whole, box(5, 5, 6, 6), ~whole, grid) == ()


@pytest.mark.parametrize(("beyond", "count"), [(3, 0), (8, 0), (9, 2)])
def test_water_back_on_its_side_within_a_few_steps_has_not_crossed(beyond: int, count: int) -> None:
    """The stream leaves the parcel for some cells and comes back: eight are a few."""
    columns = 30
    receiver = np.array([[*range(1, columns), -1]], dtype=np.int32)
    behind = np.arange(1000, 1000 + columns, dtype=np.int32)[None]
    parcel = np.ones((1, columns), dtype=np.bool_)
    parcel[0, 5 : 5 + beyond] = False
    grid = Grid(0.0, 1.0, 1.0, 1, columns, "LOCAL")
    found = find_crossings(receiver, behind, parcel, box(0, 0, columns, 1), ~parcel & parcel, grid)
    assert len([crossing for crossing in found if crossing.place.x < columns - 1]) == count


@pytest.mark.parametrize(("row", "count"), [(20, 2), (8, 2), (0, 0)])
@pytest.mark.parametrize("wide", [3, 8])
def test_a_stream_through_a_narrow_parcel_has_crossed_it_and_one_over_its_end_has_not(
    row: int, count: int, wide: int
) -> None:
    """A strip of forty metres by three or eight; the stream runs straight across, a step for each metre."""
    rows, columns = 40, 30
    receiver = np.full((rows, columns), -1, dtype=np.int32)
    receiver[row, :-1] = row * columns + np.arange(1, columns)
    behind = np.ones((rows, columns), dtype=np.int32)
    behind[row] = 1000 + np.arange(columns)
    parcel = np.zeros((rows, columns), dtype=np.bool_)
    parcel[:, 10 : 10 + wide] = True
    grid = Grid(0.0, float(rows), 1.0, rows, columns, "LOCAL")
    found = find_crossings(receiver, behind, parcel, box(10, 0, 10 + wide, rows), ~parcel & parcel, grid)
    through = [crossing for crossing in found if crossing.upslope_area > 500.0]
    assert [crossing.is_inflow for crossing in sorted(through, key=lambda one: one.place.x)] == [True, False][:count]
