"""Ponds: the hollows worth naming, as things with outline, depth, volume and spill."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from shapely import Point

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, IntArray, LongArray
from sitepipe.drainage.cells import outline_of
from sitepipe.drainage.heights import PER_METRE
from sitepipe.drainage.hollows import NONE, Hollows
from sitepipe.drainage.network import Network
from sitepipe.drainage.record import Pond
from sitepipe.grid import Grid


@dataclass(frozen=True, slots=True)
class NamedPonds:
    """The ponds of a ground and where they stand in the tree of hollows.

    Parameters
    ----------
    ponds : tuple of Pond
        Unranked (``number`` 0).
    nodes : (ponds,) int64 array
        Their nodes in the tree.
    pond_of_node : (nodes,) int64 array
        Index of the innermost pond that holds a node, -1 where none does.
    pond_at : (rows, columns) int32 array
        Index of the innermost pond on each cell, -1 elsewhere.
    cells : tuple of int32 arrays
        Flat indices of the cells under water in each full pond.
    """

    ponds: tuple[Pond, ...]
    nodes: LongArray
    pond_of_node: LongArray
    pond_at: IntArray
    cells: tuple[IntArray, ...]


def name_ponds(
    network: Network,
    hollows: Hollows,
    grid: Grid,
    parcel: BoolArray,
    least_depth: float,
    least_area: float,
    least_apart: float = 0.0,
) -> NamedPonds:
    """Pick out the hollows that are deep and large enough, nested ones apart.

    Parameters
    ----------
    network : Network
    hollows : Hollows
    grid : Grid
    parcel : (rows, columns) bool array
    least_depth, least_area : float
        A hollow is named if it is at least so deep and so large when full. [m], [m2]
    least_apart : float
        A hollow within a named one is kept apart if it is at least so deep by itself. [m]

    Returns
    -------
    NamedPonds
        Outermost ponds by falling volume; those nested in them after them.
    """
    least_steps = max(round(least_depth * PER_METRE), 1)
    apart_steps = max(round(least_apart * PER_METRE), least_steps)
    least_cells = max(int(np.ceil(least_area / grid.cell_area - 1e-9)), 1)
    is_named = _worth_naming(
        hollows.parent, hollows.spill - hollows.pit, hollows.size, least_steps, apart_steps, least_cells
    )
    named = np.flatnonzero(is_named)
    is_nested = hollows.parent[named] >= 0
    is_nested &= np.array([_named_above(hollows, is_named, int(node)) >= 0 for node in named], dtype=np.bool_)
    nodes = named[np.lexsort((named, -hollows.capacity[named], is_nested))]
    index = np.full(hollows.count, NONE, dtype=np.int64)
    index[nodes] = np.arange(nodes.size)
    pond_of_node = _innermost(hollows.parent, index)
    own = pond_of_node[hollows.node]
    pond_at = np.full(grid.shape, NONE, dtype=np.int32)
    pond_at.ravel()[hollows.cells] = own
    above = [_named_above(hollows, is_named, int(node)) for node in nodes]
    parents = [int(index[node]) if node >= 0 else None for node in above]
    cells = _cells_of(hollows, own, parents)
    pit_of = np.full(network.receiver.size, NONE, dtype=np.int32)
    pit_of[hollows.cells] = hollows.leaf
    caught = _caught(network.receiver.ravel(), network.order, pit_of, hollows.parent)
    ponds = tuple(
        _pond(int(node), cells[k], network, hollows, grid, parcel, caught, pit_of, pond_of_node, parents[k])
        for k, node in enumerate(nodes)
    )
    inside: dict[int, list[int]] = {}
    for k, holder in enumerate(parents):
        if holder is not None:
            inside.setdefault(holder, []).append(k)
    ponds = tuple(replace(pond, inside=tuple(inside.get(k, ()))) for k, pond in enumerate(ponds))
    return NamedPonds(ponds, nodes, pond_of_node, pond_at, tuple(cells))


def _pond(
    node: int,
    cells: IntArray,
    network: Network,
    hollows: Hollows,
    grid: Grid,
    parcel: BoolArray,
    caught: LongArray,
    pit_of: IntArray,
    pond_of_node: LongArray,
    holder: int | None,
) -> Pond:
    rows, columns = np.divmod(cells, grid.columns)
    north, west = int(rows.min()), int(columns.min())
    window = np.zeros((int(rows.max()) - north + 1, int(columns.max()) - west + 1), dtype=np.bool_)
    window[rows - north, columns - west] = True
    if holder is None:
        root = int(hollows.outermost[node])
        spill_cell = int(network.spill[root])
        entry = cells[network.receiver.ravel()[cells] == spill_cell]
        behind = int(network.cells.ravel()[entry].sum())
        below = _next_pond(network, pit_of, pond_of_node, root)
    else:
        behind = int(caught[node])
        below = int(pond_of_node[hollows.link[node]])
    return Pond(
        number=0,
        outline=outline_of(grid, window, north, west),
        area=cells.size * grid.cell_area,
        depth=float(hollows.spill[node] - hollows.pit[node]) / PER_METRE,
        volume=float(hollows.capacity[node]) / PER_METRE * grid.cell_area,
        spill_point=Point(grid.centre(*divmod(int(hollows.spill_cell[node]), grid.columns))),
        spill_height=float(hollows.spill[node]) / PER_METRE,
        spills_into=below if below >= 0 else None,
        inside=(),
        catchment_area=behind * grid.cell_area,
        share_in_parcel=float(parcel.ravel()[cells].mean()),
    )


def _next_pond(network: Network, pit_of: IntArray, pond_of_node: LongArray, root: int) -> int:
    """Follow the water from an outermost hollow's spill to the next named pond; -1 if it leaves."""
    to = network.receiver.ravel()
    cell = int(network.spill[root])
    while cell >= 0:
        hollow = int(network.hollow.ravel()[cell])
        if hollow > 0:
            pond = int(pond_of_node[pit_of[cell]])
            if pond >= 0:
                return pond
            cell = int(network.spill[hollow])
        else:
            cell = int(to[cell])
    return -1


def _cells_of(hollows: Hollows, own: LongArray, parents: list[int | None]) -> list[IntArray]:
    """Cells under water in each full pond, those of the ponds within included."""
    grouped = np.argsort(own, kind="stable")
    ends = np.searchsorted(own[grouped], np.arange(len(parents) + 1))
    cells = [[hollows.cells[grouped[ends[k] : ends[k + 1]]]] for k in range(len(parents))]
    for k in range(len(parents) - 1, -1, -1):
        holder = parents[k]
        if holder is not None:
            cells[holder].extend(cells[k])
    return [np.concatenate(pieces) for pieces in cells]


def _named_above(hollows: Hollows, is_named: BoolArray, node: int) -> int:
    """Return the next named node that holds a node, -1 if none does."""
    holder = int(hollows.parent[node])
    while holder >= 0 and not is_named[holder]:
        holder = int(hollows.parent[holder])
    return holder


@kernel
def _worth_naming(
    parent: LongArray, depth: LongArray, size: LongArray, least_depth: int, least_apart: int, least_size: int
) -> BoolArray:
    """Mark the hollows to name: a large one with a single one worth naming within stands for both."""
    is_named = np.zeros(parent.size, dtype=np.bool_)
    within = np.zeros(parent.size, dtype=np.int64)
    only = np.full(parent.size, NONE, dtype=np.int64)
    for node in range(parent.size):
        if depth[node] < least_depth or size[node] < least_size:
            continue
        is_named[node] = True
        if within[node] == 1:
            is_named[only[node]] = False
        if parent[node] >= 0 and depth[node] >= least_apart:
            within[parent[node]] += 1
            only[parent[node]] = node
    is_held = np.zeros(parent.size, dtype=np.bool_)
    for node in range(parent.size - 1, -1, -1):
        if parent[node] >= 0:
            is_held[node] = is_held[parent[node]] or is_named[parent[node]]
        if is_held[node] and depth[node] < least_apart:
            is_named[node] = False
    return is_named


@kernel
def _innermost(parent: LongArray, index: LongArray) -> LongArray:
    """Carry each named node's index down to the nodes within it that have none."""
    carried = index.copy()
    for node in range(parent.size - 1, -1, -1):
        if carried[node] < 0 and parent[node] >= 0:
            carried[node] = carried[parent[node]]
    return carried


@kernel
def _caught(to: IntArray, order: IntArray, pit_of: IntArray, parent: LongArray) -> LongArray:
    """Count the cells whose water comes to rest first in each node or within it."""
    first = np.full(to.size, NONE, dtype=np.int32)
    caught = np.zeros(parent.size, dtype=np.int64)
    for cell in order:
        if pit_of[cell] >= 0:
            first[cell] = pit_of[cell]
        elif to[cell] >= 0:
            first[cell] = first[to[cell]]
        if first[cell] >= 0:
            caught[first[cell]] += 1
    for node in range(parent.size):
        if parent[node] >= 0:
            caught[parent[node]] += caught[node]
    return caught
