"""Height above drainage and the least climb from water."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.nearest_drainage import height_above_nearest_drainage, least_climb, steepness
from sitepipe.drainage.network import route
from tests.drainage.grounds import heights_of, holed_heights, neighbours, rolling
from tests.sites import plane, valley


def test_on_a_plane_slope_both_equal_slope_times_distance_to_a_straight_channel() -> None:
    """Check value T11 (identity, derived by hand): DTW = HAND = s d beside a straight channel."""
    ground = valley(30, 41, 2.0, fall=0.0, side=0.05)
    ground += 1e-3 * np.arange(30)[::-1, None]
    network = route(heights_of(ground))
    channel = np.zeros(ground.shape, dtype=np.bool_)
    channel[:, 20] = True
    distance = np.abs(np.arange(41) - 20) * 2.0
    wanted = np.broadcast_to(0.05 * distance, ground.shape)
    above = height_above_nearest_drainage(ground, network.receiver, network.order, np.where(channel, ground, np.nan))
    assert above[:-1] == pytest.approx(wanted[:-1], abs=0.02 * 20)
    flat = valley(30, 41, 2.0, fall=0.0, side=0.05)
    rise = steepness(flat, 2.0)
    assert least_climb(rise, channel, 2.0) == pytest.approx(wanted, abs=1e-9)


def test_height_above_a_channel_straight_downhill_is_the_drop() -> None:
    ground = plane(20, 5, 1.0, north=0.04)
    network = route(heights_of(ground))
    channel = np.full(ground.shape, np.nan)
    channel[-1] = ground[-1]
    above = height_above_nearest_drainage(ground, network.receiver, network.order, channel)
    assert above == pytest.approx(0.04 * np.arange(20)[::-1][:, None] * np.ones(5), abs=1e-9)


@given(holed_heights(), st.integers(0, 2**32 - 1))
def test_height_above_is_found_by_walking_down_from_every_cell(heights: IntArray, seed: int) -> None:
    """Brute force: follow the water to the first reference, which may stand above the cell or be missing."""
    network = route(heights)
    random = np.random.default_rng(seed)
    elevation = np.where(heights == UNKNOWN, np.nan, heights.astype(np.float64))
    reference = np.where(random.random(heights.shape) < 0.2, random.integers(0, 5, heights.shape), np.nan)
    above = height_above_nearest_drainage(elevation, network.receiver, network.order, reference).ravel()
    for cell in range(heights.size):
        at = cell
        while at >= 0 and np.isnan(reference.ravel()[at]):
            at = int(network.receiver.ravel()[at])
        wanted = max(elevation.ravel()[cell] - reference.ravel()[at], 0.0) if at >= 0 else np.nan
        if np.isnan(elevation.ravel()[cell]):
            wanted = np.nan
        assert above[cell] == pytest.approx(wanted, abs=1e-12, nan_ok=True)


@pytest.mark.parametrize("shape", [(2, 2), (2, 7), (6, 2), (9, 8)])
def test_steepness_is_the_gradient_that_numpy_finds(shape: tuple[int, int]) -> None:
    """An independent library: numpy's gradient takes both neighbours inside and one at the edge, too."""
    ground = np.random.default_rng(4).random(shape)
    south, east = np.gradient(ground, 2.5)
    assert steepness(ground, 2.5) == pytest.approx(np.hypot(south, east), rel=1e-12)


@given(holed_heights())
def test_steepness_beside_unknown_ground_uses_the_side_that_is_known(heights: IntArray) -> None:
    """Along a row or column: half the rise over both known neighbours, the rise to one, nothing to none."""
    framed = np.full((heights.shape[0] + 2, heights.shape[1] + 2), np.nan)
    framed[1:-1, 1:-1] = np.where(heights == UNKNOWN, np.nan, heights)

    def rise(before: FloatArray, own: FloatArray, after: FloatArray) -> FloatArray:
        steps = np.stack((own - before, after - own))
        count = np.isfinite(steps).sum(axis=0)
        return np.asarray(np.where(count > 0, np.nansum(steps, axis=0) / np.maximum(count, 1), 0.0))

    own = framed[1:-1, 1:-1]
    east = rise(framed[1:-1, :-2], own, framed[1:-1, 2:])
    south = rise(framed[:-2, 1:-1], own, framed[2:, 1:-1])
    wanted = np.where(np.isnan(own), np.nan, np.hypot(east, south) / 0.5)
    assert steepness(own.copy(), 0.5) == pytest.approx(wanted, rel=1e-12, nan_ok=True)


def climb_by_relaxation(rise: FloatArray, water: BoolArray, cell: float) -> list[float]:
    """Shorten every way by every step until none gets shorter."""
    shape = (rise.shape[0], rise.shape[1])
    climb = np.where(water & np.isfinite(rise), 0.0, np.inf).ravel().tolist()
    slopes = rise.ravel().tolist()
    changed = True
    while changed:
        changed = False
        for at, slope in enumerate(slopes):
            ways = [climb[other] + slope * away**0.5 * cell for other, away in neighbours(at, shape)]
            least = min(ways, default=np.inf)
            if np.isfinite(slope) and least < climb[at] - 1e-12:
                climb[at] = least
                changed = True
    return [length if np.isfinite(length) else np.nan for length in climb]


@given(holed_heights(), st.integers(0, 2**32 - 1), st.sampled_from([0.5, 3.0]))
def test_the_least_climb_is_what_plain_relaxation_gives(heights: IntArray, seed: int, cell: float) -> None:
    """Brute force on small grounds with holes, barriers, level ground, and water at the very edge or nowhere."""
    rise = np.where(heights == UNKNOWN, np.nan, heights / 10.0)
    water = np.random.default_rng(seed).random(heights.shape) < 0.1
    climb = least_climb(rise, water, cell).ravel()
    assert climb == pytest.approx(climb_by_relaxation(rise, water, cell), abs=1e-9, nan_ok=True)


def test_ground_whose_water_leaves_before_a_channel_has_no_height_above_one() -> None:
    ground = plane(4, 4, 1.0, north=0.04)
    network = route(heights_of(ground))
    assert np.isnan(
        height_above_nearest_drainage(ground, network.receiver, network.order, np.full((4, 4), np.nan))
    ).all()


def test_the_least_climb_is_what_scipy_finds_on_the_graph_of_cells() -> None:
    """An independent library: Dijkstra's algorithm of scipy; a step costs the slope of the cell entered."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import dijkstra

    ground = rolling(40, 50)
    rise = steepness(ground, 1.0)
    water = np.zeros(ground.shape, dtype=np.bool_)
    water[10, 12] = water[33, 40] = True
    number = np.arange(rise.size).reshape(rise.shape)
    starts, ends, costs = [], [], []
    for down, right in ((0, 1), (1, 0), (1, 1), (1, -1)):
        one = number[: 40 - down, max(-right, 0) : 50 - max(right, 0)].ravel()
        two = number[down:, max(right, 0) : 50 + min(right, 0)].ravel()
        length = np.hypot(down, right)
        starts += [one, two]
        ends += [two, one]
        costs += [rise.ravel()[two] * length, rise.ravel()[one] * length]
    graph = coo_array((np.concatenate(costs), (np.concatenate(starts), np.concatenate(ends))), shape=(2000, 2000))
    theirs = dijkstra(graph.tocsr(), indices=np.flatnonzero(water), min_only=True)
    assert least_climb(rise, water, 1.0).ravel() == pytest.approx(theirs, abs=1e-12)


def test_unknown_ground_and_ground_out_of_reach_have_no_climb() -> None:
    rise = np.full((3, 5), 0.1)
    rise[:, 2] = np.nan
    water = np.zeros((3, 5), dtype=np.bool_)
    water[0, 0] = True
    climb = least_climb(rise, water, 1.0)
    assert np.isnan(climb[:, 2:]).all()
    assert climb[0].tolist()[:2] == [0.0, 0.1]


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_turned_ground_has_the_same_climb(turns: int) -> None:
    rise = steepness(rolling(30, 36), 1.0)
    water = np.zeros(rise.shape, dtype=np.bool_)
    water[5:7, 9] = True
    turned = least_climb(np.ascontiguousarray(np.rot90(rise, turns)), np.ascontiguousarray(np.rot90(water, turns)), 1.0)
    assert turned == pytest.approx(np.rot90(least_climb(rise, water, 1.0), turns), abs=1e-12)
