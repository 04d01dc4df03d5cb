"""Filling, spilling and merging."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sitepipe.arrays import FloatArray, IntArray, LongArray
from sitepipe.drainage.fill_spill_merge import (
    DROPS_PER_METRE,
    DROPS_PER_STEP,
    Standing,
    fill_spill_merge,
    standing_depth,
)
from sitepipe.drainage.hollows import Hollows, nest_hollows
from sitepipe.drainage.network import Network, route
from tests.drainage.grounds import BASINS, BOWL, heights_of, holed_heights, rolling, small_heights, unlike_heights


def pour(heights: IntArray, drops: LongArray) -> tuple[Network, Hollows, Standing]:
    network = route(heights)
    hollows = nest_hollows(heights, network.hollow, network.spill)
    standing = fill_spill_merge(heights, network.receiver, network.order, network.spill, hollows, drops)
    return network, hollows, standing


def evenly(heights: IntArray, rain: float) -> LongArray:
    return np.full(heights.shape, round(rain * DROPS_PER_METRE), dtype=np.int64)


def test_capacity_of_two_basins_below_and_above_their_sill() -> None:
    """Check value T09 (own example, computed twice): 20 and 29 below the sill at 7, 70 to the spill at 8."""
    heights = heights_of(BASINS)
    network = route(heights)
    hollows = nest_hollows(heights, network.hollow, network.spill)
    assert sorted((hollows.capacity / 10_000).tolist()) == [20.0, 29.0, 70.0]
    assert (hollows.spill / 10_000).tolist() == [7.0, 7.0, 8.0]


def test_what_is_too_much_for_the_left_basin_crosses_the_sill() -> None:
    """Check value T09: pouring 25 into the left, 20 stay and 5 cross."""
    heights = heights_of(BASINS)
    drops = np.zeros(heights.shape, dtype=np.int64)
    drops[2, 2] = 25 * DROPS_PER_METRE
    _, hollows, standing = pour(heights, drops)
    by_pit = dict(
        zip((hollows.pit / 10_000).tolist()[:2], (standing.water / DROPS_PER_METRE).tolist()[:2], strict=True)
    )
    assert by_pit == {3.0: 20.0, 2.0: 5.0}
    assert standing.left == 0


def test_two_full_basins_rise_as_one() -> None:
    heights = heights_of(BASINS)
    drops = np.zeros(heights.shape, dtype=np.int64)
    drops[2, 2] = 59 * DROPS_PER_METRE
    _, hollows, standing = pour(heights, drops)
    depth = standing_depth(heights, hollows, standing)
    # 49 fill both to the sill at 7; the other 10 stand on the 21 cells of both basins and the sill.
    assert depth[2, 2] == pytest.approx(4.0 + 10.0 / 21.0, abs=1e-9)
    assert depth[1, 4] == pytest.approx(10.0 / 21.0, abs=1e-9)
    assert depth.sum() == pytest.approx(59.0, abs=1e-9)


def test_a_bowl_holds_what_fits_and_loses_the_rest() -> None:
    """Check value T08: 22.5 to the outlet."""
    heights = heights_of(BOWL)
    _, _, standing = pour(heights, evenly(heights, 1.0))
    assert standing.stored / DROPS_PER_METRE == 22.5
    assert standing.left / DROPS_PER_METRE == 49.0 - 22.5


def test_water_from_an_upper_pond_fills_the_lower_one() -> None:
    ground = np.full((5, 12), 30.0)
    ground[2] = [30, 10, 20, 12, 12, 8, 5, 4, 3, 9, 1, 0]
    heights = heights_of(ground)
    drops = np.zeros(heights.shape, dtype=np.int64)
    drops[2, 1] = 12 * DROPS_PER_METRE
    _, hollows, standing = pour(heights, drops)
    assert standing.stored + standing.left == 12 * DROPS_PER_METRE
    stored = dict(zip(hollows.pit.tolist(), standing.water.tolist(), strict=True))
    assert stored[100_000] == 10 * DROPS_PER_METRE
    assert stored[30_000] == 2 * DROPS_PER_METRE


@given(holed_heights(most=10), st.integers(0, 40_000), st.integers(0, 2**32 - 1))
def test_every_drop_is_accounted_for_and_no_water_stands_above_the_flood(
    heights: IntArray, most: int, seed: int
) -> None:
    drops = np.random.default_rng(seed).integers(0, most + 1, heights.shape)
    drops[heights == 2**31 - 1] = 0
    network, hollows, standing = pour(heights, drops)
    assert standing.stored + standing.left == drops.sum()
    assert int(standing.kept.sum()) == standing.stored
    depth = standing_depth(heights, hollows, standing)
    assert depth.sum() * DROPS_PER_METRE == pytest.approx(standing.stored, abs=1e-3)
    known = heights != 2**31 - 1
    assert (depth[known] <= network.depth[known] + 1e-12).all()


@given(small_heights(most=10), st.integers(0, 20_000), st.integers(0, 20_000))
def test_more_rain_never_lowers_water(heights: IntArray, less: int, more: int) -> None:
    less, more = sorted((less, more))
    depths = []
    for amount in (less, more):
        _, hollows, standing = pour(heights, np.full(heights.shape, amount, dtype=np.int64))
        depths.append(standing_depth(heights, hollows, standing))
    assert (depths[0] <= depths[1] + 1e-12).all()


@given(small_heights(most=10))
def test_a_deluge_fills_every_hollow_to_its_spill(heights: IntArray) -> None:
    network, hollows, standing = pour(heights, np.full(heights.shape, 10**7, dtype=np.int64))
    assert standing_depth(heights, hollows, standing) == pytest.approx(network.depth, abs=1e-12)


@given(
    st.integers(3, 9).flatmap(lambda rows: st.integers(3, 9).map(lambda columns: (rows, columns))),
    st.integers(0, 2**32 - 1),
    st.integers(1, 120),
)
def test_water_rests_where_a_plain_simulation_lets_it_rest(shape: tuple[int, int], seed: int, most: int) -> None:
    """Brute force: basins as sets of pits, poured over one another until nothing is too full; no ties of height."""
    random = np.random.default_rng(seed)
    heights = (random.permutation(shape[0] * shape[1]).reshape(shape) * 3).astype(np.int32)
    amount = random.integers(0, most + 1, shape)
    assume(amount.any())
    network, hollows, standing = pour(heights, amount * DROPS_PER_STEP)
    wanted, left = poured_by_hand(network, amount)
    assert standing_depth(heights, hollows, standing) * 10_000 == pytest.approx(wanted, abs=1e-6)
    assert standing.left == pytest.approx(left * DROPS_PER_STEP, abs=1e-3)


@given(unlike_heights(most=12), st.integers(0, 3), st.integers(1, 300))
def test_turned_ground_holds_the_same_water(heights: IntArray, turns: int, steps: int) -> None:
    turned = np.ascontiguousarray(np.rot90(heights, turns))
    _, hollows, standing = pour(heights, evenly(heights, steps / 10_000))
    _, turned_hollows, turned_standing = pour(turned, evenly(turned, steps / 10_000))
    own = np.rot90(standing_depth(heights, hollows, standing), turns)
    assert standing_depth(turned, turned_hollows, turned_standing) == pytest.approx(own, abs=1e-9)


def test_a_storm_on_rolling_ground_stands_level_in_every_pond() -> None:
    heights = heights_of(rolling(90, 70))
    _, hollows, standing = pour(heights, evenly(heights, 0.004))
    depth = standing_depth(heights, hollows, standing)
    surface = heights / 10_000 + depth
    rows, columns = np.nonzero(depth[:, :-1] * depth[:, 1:] > 0.0)
    assert rows.size > 100
    assert surface[rows, columns] == pytest.approx(surface[rows, columns + 1], abs=1e-9)


def poured_by_hand(network: Network, amount: LongArray) -> tuple[FloatArray, float]:
    """Pour and merge basins one at a time; a basin is the set of pits that share its water."""
    heights = network.heights
    pit_of = _pits_by_hand(network)
    pools: list[tuple[set[int], float]] = [({pit}, 0.0) for pit in sorted(set(pit_of.values()) - {-1})]
    left = 0.0
    for cell, fallen in enumerate(amount.ravel().tolist()):
        left += _poured_into(pools, pit_of[cell], float(fallen))
    moved = True
    while moved:
        moved = False
        for k, (pits, water) in enumerate(pools):
            saddle, capacity, target = _limits_by_hand(heights, pit_of, pits)
            if water <= capacity + 1e-9:
                continue
            moved = True
            below = next((other for other in pools if target in other[0]), None)
            if below is None:
                pools[k] = (pits, capacity)
                left += water - capacity
            else:
                other_saddle, other_capacity, back = _limits_by_hand(heights, pit_of, below[0])
                if below[1] >= other_capacity - 1e-9 and back in pits and other_saddle == saddle:
                    pools.remove(below)
                    pools[pools.index((pits, water))] = (pits | below[0], water + below[1])
                else:
                    pools[k] = (pits, capacity)
                    pools[pools.index(below)] = (below[0], below[1] + water - capacity)
            break
    depth = np.zeros(heights.size)
    for pits, water in pools:
        saddle, _, _ = _limits_by_hand(heights, pit_of, pits)
        cells = sorted(
            (int(heights.ravel()[cell]), cell)
            for cell in pit_of
            if pit_of[cell] in pits and heights.ravel()[cell] < saddle
        )
        total = 0
        for count, (height, _) in enumerate(cells, start=1):
            total += height
            level = (water + total) / count
            if count == len(cells) or level <= cells[count][0]:
                for own, cell in cells[:count]:
                    depth[cell] = max(level - own, 0.0)
                break
    return depth.reshape(heights.shape), left


def _poured_into(pools: list[tuple[set[int], float]], pit: int, water: float) -> float:
    for k, (pits, own) in enumerate(pools):
        if pit in pits:
            pools[k] = (pits, own + water)
            return 0.0
    return water


def _around(cell: int, shape: tuple[int, int]) -> list[int]:
    row, column = divmod(cell, shape[1])
    return [
        down * shape[1] + right
        for down in range(max(row - 1, 0), min(row + 2, shape[0]))
        for right in range(max(column - 1, 0), min(column + 2, shape[1]))
        if (down, right) != (row, column)
    ]


def _steepest_by_hand(heights: IntArray, cell: int, allowed: list[int]) -> int:
    shape = (heights.shape[0], heights.shape[1])
    row, column = divmod(cell, shape[1])

    def slope(other: int) -> float:
        down, right = divmod(other, shape[1])
        return float(heights.ravel()[cell] - heights.ravel()[other]) / float(np.hypot(down - row, right - column))

    return max(allowed, key=slope)


def _pits_by_hand(network: Network) -> dict[int, int]:
    """Pit under each cell: by the routes outside hollows, by the steepest descent within; -1 where water leaves."""
    heights = network.heights
    shape = (heights.shape[0], heights.shape[1])
    pit_of: dict[int, int] = {}
    for cell in range(heights.size):
        at = cell
        while True:
            if network.hollow.ravel()[at] == 0:
                following = int(network.receiver.ravel()[at])
                if following < 0:
                    pit_of[cell] = -1
                    break
            else:
                lower = [other for other in _around(at, shape) if heights.ravel()[other] < heights.ravel()[at]]
                if not lower:
                    pit_of[cell] = at
                    break
                following = _steepest_by_hand(heights, at, lower)
            at = following
    return pit_of


def _limits_by_hand(heights: IntArray, pit_of: dict[int, int], pits: set[int]) -> tuple[int, float, int]:
    """Lowest way out of a basin, what it holds below that, and the pit (or -1) that receives what spills."""
    shape = (heights.shape[0], heights.shape[1])
    ground = heights.ravel()
    ways: list[tuple[int, int, int]] = []
    for cell, pit in pit_of.items():
        if pit in pits:
            row, column = divmod(cell, shape[1])
            if row in (0, shape[0] - 1) or column in (0, shape[1] - 1):
                ways.append((int(ground[cell]), cell, -1))
            ways += [
                (int(max(ground[cell], ground[other])), cell, other)
                for other in _around(cell, shape)
                if pit_of[other] not in pits
            ]
    saddle = min(way[0] for way in ways)
    outs = [(cell, other) for height, cell, other in ways if height == saddle]
    over = next((other for cell, other in outs if other >= 0 and ground[other] == saddle), -1)
    if over >= 0:
        target = pit_of[over]
    else:
        cell = outs[0][0]
        beyond = [other for _, other in outs if other >= 0]
        target = pit_of[_steepest_by_hand(heights, cell, beyond)] if beyond else -1
    capacity = float(
        sum(saddle - int(ground[cell]) for cell in pit_of if pit_of[cell] in pits and ground[cell] < saddle)
    )
    return saddle, capacity, target
