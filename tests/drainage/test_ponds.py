"""Ponds: which hollows are named, and what is said of them."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point

from sitepipe.arrays import BoolArray, IntArray
from sitepipe.drainage.hollows import Hollows, nest_hollows
from sitepipe.drainage.network import Network, route
from sitepipe.drainage.ponds import NamedPonds, name_ponds
from sitepipe.grid import Grid
from tests.drainage.grounds import holed_heights, neighbours, unlike_heights


def named(
    heights: IntArray,
    depth: float = 0.0,
    area: float = 0.0,
    apart: float = 0.0,
    cell: float = 1.0,
    parcel: BoolArray | None = None,
) -> tuple[Network, Hollows, NamedPonds]:
    network = route(heights)
    hollows = nest_hollows(heights, network.hollow, network.spill)
    grid = Grid(0.0, heights.shape[0] * cell, cell, heights.shape[0], heights.shape[1], "LOCAL")
    if parcel is None:
        parcel = np.ones(heights.shape, dtype=np.bool_)
    return network, hollows, name_ponds(network, hollows, grid, parcel, depth, area, apart)


@dataclass
class Basin:
    """A hollow by its definition: the cells that hang together below the level at which it meets more."""

    cells: frozenset[int]
    spill: int
    pit: int
    within: list[Basin] = field(default_factory=list)

    @property
    def depth(self) -> int:
        return self.spill - self.pit


def basins_by_definition(heights: IntArray) -> list[Basin]:
    """Raise the water on ground of unlike heights step by step; list every basin just before it meets another."""
    shape = (heights.shape[0], heights.shape[1])
    ground = heights.ravel().tolist()
    found: list[Basin] = []
    growing: list[tuple[set[int], list[Basin]]] = []
    dry: set[int] = set()
    for cell in sorted(range(len(ground)), key=ground.__getitem__):
        around = {other for other, _ in neighbours(cell, shape)}
        met = [pool for pool in growing if pool[0] & around]
        is_outlet = len(around) < 8 or bool(around & dry)
        within: list[Basin] = []
        if is_outlet or len(met) > 1:
            for pool, inner in met:
                basin = Basin(frozenset(pool), ground[cell], min(ground[one] for one in pool), inner)
                found.append(basin)
                within.append(basin)
        elif met:
            within = met[0][1]
        growing = [pool for pool in growing if pool not in met]
        reached = {cell}.union(*(pool for pool, _ in met))
        if is_outlet:
            dry |= reached
        else:
            growing.append((reached, within))
    return found


def worth_naming(basins: list[Basin], least_depth: int, least_cells: int, apart: int) -> list[Basin]:
    """Those deep and large enough; one that holds a single other such stands for both; within others only deep ones."""
    worth = [one for one in basins if one.depth >= least_depth and len(one.cells) >= least_cells]
    for_both = [
        inner[0]
        for one in worth
        if len(inner := [basin for basin in one.within if basin in worth and basin.depth >= apart]) == 1
    ]
    kept = [one for one in worth if one not in for_both]
    return [one for one in kept if one.depth >= apart or not any(one.cells < other.cells for other in kept)]


@given(
    unlike_heights(most=14), st.integers(0, 150), st.integers(0, 4), st.integers(0, 200), st.sampled_from([0.5, 1.0])
)
def test_the_ponds_named_are_those_of_the_definition(
    heights: IntArray, depth: int, cells: int, apart: int, cell: float
) -> None:
    """Brute force: sets of cells under slowly rising water; volumes, depths, spills and nesting follow from them."""
    _, _, ponds = named(heights, depth / 10_000, cells * cell * cell, apart / 10_000, cell)
    basins = worth_naming(basins_by_definition(heights), max(depth, 1), max(cells, 1), max(apart, depth, 1))
    ground = heights.ravel()
    by_cells = {basin.cells: basin for basin in basins}
    own = [frozenset(one.tolist()) for one in ponds.cells]
    assert set(own) == set(by_cells)
    assert len(own) == len(basins)
    for pond, under in zip(ponds.ponds, own, strict=True):
        basin = by_cells[under]
        assert pond.depth == basin.depth / 10_000
        assert pond.spill_height == basin.spill / 10_000
        row, column = divmod(int(np.flatnonzero(ground == basin.spill)[0]), heights.shape[1])
        assert pond.spill_point.equals(Point((column + 0.5) * cell, (heights.shape[0] - row - 0.5) * cell))
        assert pond.area == len(under) * cell * cell == pytest.approx(pond.outline.area)
        volume = sum(basin.spill - int(ground[one]) for one in under)
        assert pond.volume == pytest.approx(volume / 10_000 * cell * cell, rel=1e-12)
        within = {k for k, other in enumerate(own) if other < under}
        assert set(pond.inside) == {k for k in within if not any(own[k] < own[other] for other in within)}


@given(holed_heights(most=10), st.integers(0, 2**32 - 1))
def test_ponds_come_outermost_first_by_volume_and_lie_in_the_parcel_by_their_cells(
    heights: IntArray, seed: int
) -> None:
    parcel = np.random.default_rng(seed).random(heights.shape) < 0.5
    _, _, ponds = named(heights, parcel=parcel)
    inner = {index for pond in ponds.ponds for index in pond.inside}
    rank = [(k in inner, -pond.volume) for k, pond in enumerate(ponds.ponds)]
    assert rank == sorted(rank)
    for pond, cells in zip(ponds.ponds, ponds.cells, strict=True):
        assert pond.share_in_parcel == pytest.approx(np.mean([parcel.ravel()[cell] for cell in cells]))
    smallest = np.full(heights.size, -1)
    for k in sorted(range(len(ponds.cells)), key=lambda k: -ponds.cells[k].size):
        smallest[ponds.cells[k]] = k
    assert (ponds.pond_at.ravel() == smallest).all()


@given(unlike_heights(most=14), st.integers(0, 60))
def test_each_pond_spills_into_the_next_and_catches_what_runs_to_it(heights: IntArray, depth: int) -> None:
    """Brute force: walk down from every cell, in hollows to the pit below, and on from full ponds over their spill."""
    network, hollows, ponds = named(heights, depth / 10_000)
    to, hollow = network.receiver.ravel().tolist(), network.hollow.ravel().tolist()
    pit_under = dict(zip(hollows.cells.tolist(), hollows.pit_cell[hollows.leaf].tolist(), strict=True))
    pond_at = ponds.pond_at.ravel().tolist()

    def first_pit(cell: int) -> int:
        while cell >= 0 and hollow[cell] == 0:
            cell = to[cell]
        return pit_under[cell] if cell >= 0 else -1

    inner = {index for pond in ponds.ponds for index in pond.inside}
    for k, (pond, cells) in enumerate(zip(ponds.ponds, ponds.cells, strict=True)):
        under = set(cells.tolist())
        if k in inner:
            caught = sum(first_pit(cell) in under for cell in range(heights.size))
            beyond = hollows.pit_cell[hollows.link[ponds.nodes[k]]]
            assert int(beyond) not in under
            assert pond.spills_into == (pond_at[int(beyond)] if pond_at[int(beyond)] >= 0 else None)
        else:
            caught = 0
            for cell in range(heights.size):
                at = cell
                while at >= 0 and at not in under:
                    at = to[at]
                caught += at >= 0
            at = int(network.spill[hollow[cells[0]]])
            while at >= 0:
                if hollow[at] > 0 and pond_at[pit_under[at]] >= 0:
                    break
                at = int(network.spill[hollow[at]]) if hollow[at] > 0 else to[at]
            assert pond.spills_into == (pond_at[pit_under[at]] if at >= 0 else None)
        assert pond.catchment_area == caught
