"""Filling: water runs into hollows, fills, spills and merges them, to the last drop."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, IntArray, LongArray
from sitepipe.drainage.heights import PER_METRE
from sitepipe.drainage.hollows import NONE, Hollows

DROPS_PER_STEP = 1000
"""Water is counted in whole drops: a ten-millionth of a metre over one cell, a thousandth of a height step."""

DROPS_PER_METRE = PER_METRE * DROPS_PER_STEP


@dataclass(frozen=True, slots=True)
class Standing:
    """Water that stands after a storm.

    Parameters
    ----------
    water : (nodes,) int64 array
        Drops in each hollow, those within it included. [1e-7 m cells]
    surface : (nodes,) float array
        Level of the water on the cells of each node, minus infinity where it is dry. [0.1 mm]
    received : (outermost hollows + 1,) int64 array
        Drops that came to each outermost hollow. [1e-7 m cells]
    kept : (outermost hollows + 1,) int64 array
        Drops that stand in it. [1e-7 m cells]
    stored, left : int
        Drops that stand and drops that left. [1e-7 m cells]
    """

    water: LongArray
    surface: FloatArray
    received: LongArray
    kept: LongArray
    stored: int
    left: int


def fill_spill_merge(
    heights: IntArray,
    receiver: IntArray,
    order: IntArray,
    spill: IntArray,
    hollows: Hollows,
    drops: LongArray,
) -> Standing:
    """Let runoff run down, fill the hollows, spill over and merge them.

    Water on a cell outside hollows follows the receivers; inside, it runs to the pit under it. A hollow that is
    full gives what follows to its sibling, beginning at the pit below the sill; two full siblings rise as one. An
    outermost hollow gives to the next one downstream, or loses it. All is counted in whole drops.

    Parameters
    ----------
    heights : (rows, columns) int32 array
        [0.1 mm]
    receiver : (rows, columns) int32 array
    order : (cells,) int32 array
        From the outlets up.
    spill : (outermost hollows + 1,) int32 array
    hollows : Hollows
        From ``nest_hollows``.
    drops : (rows, columns) int64 array
        Runoff that starts on each cell. [1e-7 m cells]

    Returns
    -------
    Standing
        ``stored + left`` equals the sum of ``drops``.

    References
    ----------
    Barnes, Callaghan & Wickert (2021), Computing water flow through complex landscapes - Part 3:
    Fill-Spill-Merge, Earth Surface Dynamics 9:105-121.
    """
    pit_of = np.full(receiver.size, NONE, dtype=np.int32)
    pit_of[hollows.cells] = hollows.leaf
    rank = np.zeros(receiver.size, dtype=np.int32)
    rank[order] = np.arange(order.size, dtype=np.int32)
    turn = np.zeros(spill.size, dtype=np.int64)
    turn[1:][np.argsort(-rank[spill[1:]], kind="stable")] = np.arange(spill.size - 1)
    capacity = hollows.capacity * DROPS_PER_STEP
    water, received, left = poured(
        receiver.ravel(),
        order,
        spill,
        drops.ravel(),
        pit_of,
        np.argsort(turn[hollows.outermost], kind="stable"),
        hollows.parent,
        hollows.sibling,
        hollows.link,
        hollows.outermost,
        capacity,
    )
    covered_by = covering(hollows.parent, water)
    surface = surfaces(heights.ravel(), hollows.cells, hollows.node, covered_by, water)
    bodies = np.flatnonzero(covered_by == np.arange(water.size))
    kept = np.zeros(spill.size, dtype=np.int64)
    np.add.at(kept, hollows.outermost[bodies], water[bodies])
    return Standing(water, surface, received, kept, int(water[bodies].sum()), left)


def standing_depth(heights: IntArray, hollows: Hollows, standing: Standing) -> FloatArray:
    """Depth of the water that stands on each cell; 0 where dry, unknown cells included. [m]."""
    depth = np.zeros(heights.size)
    under = standing.surface[hollows.node] - heights.ravel()[hollows.cells]
    depth[hollows.cells] = np.maximum(under, 0.0) / PER_METRE
    return depth.reshape(heights.shape)


@kernel
def poured(
    to: IntArray,
    order: IntArray,
    spill: IntArray,
    drops: LongArray,
    pit_of: IntArray,
    sequence: LongArray,
    parent: LongArray,
    sibling: LongArray,
    link: LongArray,
    outermost: LongArray,
    capacity: LongArray,
) -> tuple[LongArray, LongArray, int]:
    """Give every pit its runoff, then settle the hollows, those upstream first."""
    below = np.full(to.size, NONE, dtype=np.int32)
    water = np.zeros(parent.size, dtype=np.int64)
    received = np.zeros(spill.size, dtype=np.int64)
    left = 0
    for cell in order:
        if pit_of[cell] >= 0:
            below[cell] = pit_of[cell]
        elif to[cell] >= 0:
            below[cell] = below[to[cell]]
        if below[cell] >= 0:
            water[below[cell]] += drops[cell]
            received[outermost[below[cell]]] += drops[cell]
        else:
            left += int(drops[cell])
    first_child = np.full(parent.size, NONE, dtype=np.int64)
    for node in range(parent.size):
        if parent[node] >= 0:
            first_child[parent[node]] = node
    for node in sequence:
        one = first_child[node]
        if one >= 0:
            two = sibling[one]
            _share(one, two, water, parent, sibling, link, capacity)
            if water[one] >= capacity[one] and water[two] >= capacity[two]:
                water[node] = water[one] + water[two]
                water[one] = capacity[one]
                water[two] = capacity[two]
        if parent[node] < 0 and water[node] > capacity[node]:
            over = water[node] - capacity[node]
            water[node] = capacity[node]
            pit = below[spill[outermost[node]]]
            if pit >= 0:
                water[pit] += over
                received[outermost[pit]] += over
            else:
                left += int(over)
    return water, received, left


@kernel
def _share(
    one: int,
    two: int,
    water: LongArray,
    parent: LongArray,
    sibling: LongArray,
    link: LongArray,
    capacity: LongArray,
) -> None:
    """Pour what is too much for one of two siblings into the other."""
    giver = one if water[one] > capacity[one] else two
    taker = two if giver == one else one
    over = water[giver] - capacity[giver]
    if over <= 0 or water[taker] >= capacity[taker]:
        return
    water[giver] = capacity[giver]
    at = link[giver]
    while True:
        room = capacity[at] - water[at]
        if room > 0:
            taken = min(room, over)
            water[at] += taken
            over -= taken
            if over == 0 and water[at] < capacity[at]:
                return
        if at == taker:
            water[at] += over
            return
        beside = sibling[at]
        if water[beside] >= capacity[beside]:
            above = parent[at]
            water[above] = max(water[above], capacity[at] + capacity[beside])
            at = above
        elif over == 0:
            return
        else:
            at = link[at]


@kernel
def covering(parent: LongArray, water: LongArray) -> LongArray:
    """Return the outermost node with water over each node: itself if none; -1 where it is dry."""
    by = np.full(parent.size, NONE, dtype=np.int64)
    for node in range(parent.size - 1, -1, -1):
        if parent[node] >= 0 and by[parent[node]] >= 0:
            by[node] = by[parent[node]]
        elif water[node] > 0:
            by[node] = node
    return by


@kernel
def surfaces(ground: IntArray, cells: IntArray, node: IntArray, covered_by: LongArray, water: LongArray) -> FloatArray:
    """Level at which each body of water comes to rest, from its cells in order of height."""
    nodes = covered_by.size
    level = np.full(nodes, -np.inf)
    wetted = np.zeros(nodes, dtype=np.int64)
    total = np.zeros(nodes, dtype=np.int64)
    is_done = np.zeros(nodes, dtype=np.bool_)
    for place in range(cells.size):
        body = covered_by[node[place]]
        if body < 0 or is_done[body]:
            continue
        own = np.int64(ground[cells[place]])
        if (own * wetted[body] - total[body]) * DROPS_PER_STEP >= water[body]:
            is_done[body] = True
            continue
        wetted[body] += 1
        total[body] += own
    for body in range(nodes):
        if wetted[body] > 0:
            level[body] = (water[body] / DROPS_PER_STEP + total[body]) / wetted[body]
    for one in range(nodes):
        if covered_by[one] >= 0:
            level[one] = level[covered_by[one]]
    return level
