"""The tree of hollows."""

from __future__ import annotations

import numpy as np
from hypothesis import given

from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.hollows import Hollows, nest_hollows
from sitepipe.drainage.network import Network, route
from tests.drainage.grounds import holed_heights, neighbours, unlike_heights
from tests.drainage.test_ponds import Basin, basins_by_definition


def nested(heights: IntArray) -> tuple[Network, Hollows, list[set[int]]]:
    """Network, tree, and the cells of each node with all that is nested in it."""
    network = route(heights)
    hollows = nest_hollows(heights, network.hollow, network.spill)
    cells: list[set[int]] = [set() for _ in range(hollows.count)]
    for cell, node in zip(hollows.cells.tolist(), hollows.node.tolist(), strict=True):
        holder = node
        while holder >= 0:
            cells[holder].add(cell)
            holder = int(hollows.parent[holder])
    return network, hollows, cells


@given(unlike_heights(most=13))
def test_the_tree_holds_the_basins_of_the_definition(heights: IntArray) -> None:
    """Brute force under slowly rising water; a node is a basin just before it meets another or runs over."""
    _, hollows, cells = nested(heights)
    wanted = {basin.cells: basin for basin in basins_by_definition(heights)}
    number = {frozenset(own): node for node, own in enumerate(cells)}
    assert set(number) == set(wanted)
    assert len(number) == hollows.count
    for own, node in number.items():
        basin: Basin = wanted[own]
        assert (hollows.spill[node], hollows.pit[node]) == (basin.spill, basin.pit)
        assert heights.ravel()[hollows.pit_cell[node]] == basin.pit
        assert heights.ravel()[hollows.spill_cell[node]] == basin.spill
        inner = sorted(number[one.cells] for one in basin.within)
        assert sorted(np.flatnonzero(hollows.parent == node).tolist()) == inner


@given(holed_heights(most=10))
def test_every_node_is_what_its_cells_say_on_ground_full_of_ties(heights: IntArray) -> None:
    network, hollows, cells = nested(heights)
    ground = heights.ravel()
    filled = np.flatnonzero((network.level > heights).ravel() & (ground != UNKNOWN))
    assert sorted(hollows.cells.tolist()) == filled.tolist()
    assert (np.diff(ground[hollows.cells]) >= 0).all()
    for node, own in enumerate(cells):
        heights_of_own = [int(ground[cell]) for cell in own]
        assert hollows.size[node] == len(own)
        assert hollows.capacity[node] == sum(int(hollows.spill[node]) - height for height in heights_of_own) > 0
        assert hollows.pit[node] == min(heights_of_own) == ground[hollows.pit_cell[node]]
        assert int(hollows.pit_cell[node]) in own
        assert {int(one) for one in network.hollow.ravel()[sorted(own)]} == {int(hollows.outermost[node])}
        parent, sibling, link = (int(one[node]) for one in (hollows.parent, hollows.sibling, hollows.link))
        if parent < 0:
            assert (sibling, link) == (-1, -1)
            assert hollows.spill_cell[node] == network.spill[hollows.outermost[node]]
        else:
            assert parent > node
            assert hollows.parent[sibling] == parent
            assert hollows.sibling[sibling] == node != sibling
            assert int(hollows.pit_cell[link]) in cells[sibling]
            assert hollows.spill[node] == hollows.spill[sibling] <= hollows.spill[parent]
            assert int(hollows.spill_cell[node]) in cells[parent]
            assert np.count_nonzero(hollows.parent == parent) == 2
        assert ground[hollows.spill_cell[node]] == hollows.spill[node]


@given(holed_heights(most=10))
def test_water_on_a_cell_runs_down_to_the_pit_of_its_leaf(heights: IntArray) -> None:
    """Step by step to a steepest lower neighbour, as far as there is one; ties may lead to either."""
    _, hollows, cells = nested(heights)
    shape = (heights.shape[0], heights.shape[1])
    ground = heights.ravel().tolist()
    leaf = dict(zip(hollows.cells.tolist(), hollows.leaf.tolist(), strict=True))
    node = dict(zip(hollows.cells.tolist(), hollows.node.tolist(), strict=True))
    for cell, pit in leaf.items():
        assert not (hollows.parent == pit).any()
        assert int(hollows.pit_cell[pit]) in cells[node[cell]]
        slopes = {
            other: (ground[cell] - ground[other]) / away**0.5
            for other, away in neighbours(cell, shape)
            if other in leaf and ground[other] < ground[cell]
        }
        if slopes:
            steepest = max(slopes.values())
            assert pit in {leaf[other] for other, slope in slopes.items() if slope == steepest}
        elif ground[cell] == hollows.pit[pit]:
            assert cell in cells[pit]
