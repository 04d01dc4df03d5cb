"""The edge of the heights, and what depends on it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from sitepipe.arrays import BoolArray, IntArray
from sitepipe.drainage.edges import ask_about_edges, depends_on, edge_cells, feeds, longest_ways
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.network import Network, route
from sitepipe.drainage.record import OpenEdge
from sitepipe.grid import Grid
from tests.drainage.grounds import heights_of, holed_heights, neighbours
from tests.sites import PLANE_METRES, plane

WEST, SOUTH = 500.0, 700.0


def ways_down(network: Network) -> list[list[int]]:
    """Cells that the water of each cell passes, itself first."""
    to = network.receiver.ravel().tolist()
    ways = []
    for cell in range(len(to)):
        way = [cell]
        while to[way[-1]] >= 0:
            way.append(to[way[-1]])
        ways.append(way)
    return ways


def some_cells(heights: IntArray, seed: int) -> BoolArray:
    return np.asarray((np.random.default_rng(seed).random(heights.shape) < 0.15) & (heights != UNKNOWN))


@given(holed_heights())
def test_a_known_cell_lies_at_the_edge_unless_eight_known_ones_are_around_it(heights: IntArray) -> None:
    known = heights != UNKNOWN
    shape = (heights.shape[0], heights.shape[1])
    wanted = [
        bool(known.ravel()[cell]) and sum(known.ravel()[other] for other, _ in neighbours(cell, shape)) < 8
        for cell in range(heights.size)
    ]
    assert edge_cells(known).ravel().tolist() == wanted


@given(holed_heights(), st.integers(0, 2**32 - 1))
def test_what_water_passes_and_what_passes_it_is_found_by_walking_down(heights: IntArray, seed: int) -> None:
    network = route(heights)
    chosen = some_cells(heights, seed)
    ways = ways_down(network)
    passed = {cell for start in np.flatnonzero(chosen).tolist() for cell in ways[start]}
    before = {way[0] for way in ways if any(chosen.ravel()[cell] for cell in way)}
    assert set(np.flatnonzero(depends_on(network.receiver, network.order, chosen)).tolist()) == passed
    assert set(np.flatnonzero(feeds(network.receiver, network.order, chosen)).tolist()) == before


@given(holed_heights())
@example(np.array([[9, 9], [0, 9]], dtype=np.int32))
def test_the_longest_way_to_a_cell_is_the_longest_of_all_walks(heights: IntArray) -> None:
    """Brute force; a step to a side is a cell long, one to a corner the diagonal of a cell."""
    network = route(heights)
    columns = heights.shape[1]
    longest = np.zeros(heights.size)
    for way in ways_down(network):
        length = 0.0
        for one, two in pairwise(way):
            length += 2.5 * float(np.hypot(one // columns - two // columns, one % columns - two % columns))
            longest[two] = max(longest[two], length)
    assert longest_ways(network.receiver, network.order, 2.5).ravel() == pytest.approx(longest, rel=1e-12)


def asked(
    heights: IntArray, parcel: BoolArray, dependent: BoolArray | None = None, cell: float = 1.0
) -> tuple[OpenEdge, ...]:
    network = route(heights)
    known = heights != UNKNOWN
    grid = Grid(WEST, SOUTH + heights.shape[0] * cell, cell, heights.shape[0], heights.shape[1], PLANE_METRES)
    if dependent is None:
        dependent = depends_on(network.receiver, network.order, edge_cells(known) & (network.receiver >= 0))
    return ask_about_edges(network.receiver, network.order, known, parcel, dependent, grid)


@pytest.mark.parametrize(("turns", "side", "place"), [(0, 0.0, (20.5, 59.5)), (1, 270.0, (0.5, 20.5))])
@pytest.mark.parametrize("cell", [1.0, 2.0])
def test_a_slope_from_one_edge_is_asked_about_at_the_middle_of_that_edge(
    turns: int, side: float, place: tuple[float, float], cell: float
) -> None:
    """A plane of 41 x 60 cells; the parcel lies 30 cells from its upper edge and is 10 x 21 cells large."""
    heights = heights_of(plane(60, 41, 1.0, north=0.05))
    parcel = np.zeros((60, 41), dtype=np.bool_)
    parcel[30:40, 10:31] = True
    turned = np.ascontiguousarray(np.rot90(heights, turns))
    (question,) = asked(turned, np.ascontiguousarray(np.rot90(parcel, turns)), cell=cell)
    assert question.side == side
    assert question.area == pytest.approx(210.0 * cell * cell)
    # No ground here is free of what lies beyond, so the gap to the parcel is all there is to go by.
    assert question.wider == 30.0 * cell
    assert (question.place.x, question.place.y) == (WEST + place[0] * cell, SOUTH + place[1] * cell)


@pytest.mark.parametrize(("turns", "side"), [(2, 180.0), (3, 90.0)])
def test_the_lower_and_the_right_edge_are_called_south_and_east(turns: int, side: float) -> None:
    heights = np.ascontiguousarray(np.rot90(heights_of(plane(40, 40, 1.0, north=0.05)), turns))
    parcel = np.zeros((40, 40), dtype=np.bool_)
    parcel[18:22, 18:22] = True
    (question,) = asked(heights, parcel)
    assert question.side == side


def test_ground_beside_the_edge_is_asked_for_at_least_ten_cells() -> None:
    heights = heights_of(plane(40, 40, 1.0, north=0.05))
    parcel = np.zeros((40, 40), dtype=np.bool_)
    parcel[2:6, 10:30] = True
    (question,) = asked(heights, parcel)
    assert question.wider == 10.0


def test_a_slope_as_long_as_the_country_shows_is_asked_for() -> None:
    """East of column 20 a second slope, 50 m long from its own summit, tells how long slopes are here."""
    ground = plane(60, 41, 1.0, north=0.05)
    ground[:, 20] = 110.0
    ground[5:, 21:] = ground[:-5, 21:]
    heights = heights_of(ground)
    parcel = np.zeros((60, 41), dtype=np.bool_)
    parcel[2:6, 5:15] = True
    dependent = np.zeros((60, 41), dtype=np.bool_)
    dependent[:, :20] = True
    (question,) = asked(heights, parcel, dependent)
    network = route(heights)
    longest = longest_ways(network.receiver, network.order, 1.0)[:, 20:].max()
    assert longest > 50.0
    assert question.wider == pytest.approx(longest, abs=5.0)


@pytest.mark.parametrize(("cells", "questions"), [(4, 0), (5, 1)])
def test_less_than_half_a_hundredth_of_the_parcel_is_not_worth_a_question(cells: int, questions: int) -> None:
    """A parcel of 1000 cells: 5 of them are half a hundredth."""
    heights = heights_of(plane(40, 40, 1.0, north=0.05))
    parcel = np.zeros((40, 40), dtype=np.bool_)
    parcel[10:35, :] = True
    dependent = np.zeros((40, 40), dtype=np.bool_)
    dependent[12, :cells] = True
    assert len(asked(heights, parcel, dependent)) == questions


def test_a_parcel_without_ground_or_without_an_edge_above_asks_nothing() -> None:
    heights = heights_of(plane(40, 40, 1.0, north=0.05))
    assert asked(heights, np.zeros((40, 40), dtype=np.bool_)) == ()
    summit = heights_of(100.0 - np.hypot(*(np.mgrid[0:21, 0:21] - 10.0)))
    parcel = np.zeros((21, 21), dtype=np.bool_)
    parcel[10, 10] = True
    assert asked(summit, parcel, parcel) == ()
