"""The flood."""

from __future__ import annotations

import heapq
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.arrays import IntArray
from sitepipe.drainage.depression_filling import (
    _pushed,
    _settle,
    _spread,
    _sweep_down,
    _sweep_up,
    filled,
    filled_by_heap,
)
from sitepipe.drainage.heights import UNKNOWN
from tests.drainage.grounds import BASINS, BOWL, filled_by_relaxation, heights_of, holed_heights, hummocks, rolling


def test_a_bowl_fills_to_its_outlet() -> None:
    """Check value T08 (own example, computed twice): level 9.5, depth 2.5, volume 22.5."""
    heights = heights_of(BOWL)
    depth = (filled(heights) - heights) / 10_000
    assert depth.max() == 2.5
    assert depth.sum() == 22.5
    assert set(np.unique(filled(heights)[1:6, 1:6]).tolist()) == {95_000}


def test_two_basins_fill_to_the_outlet_of_both() -> None:
    """Check value T09 (own example, computed twice): 70 in all below the outlet at 8."""
    heights = heights_of(BASINS)
    assert ((filled(heights) - heights) / 10_000).sum() == 70.0


def test_a_spiral_that_winds_against_the_sweeps_is_left_as_it_is() -> None:
    """A corridor that falls all the way to the edge between high walls holds no water."""
    size = 41
    ground = np.full((size, size), 900, dtype=np.int32)
    row, column, towards = 1, 0, 0
    steps = ((0, 1), (1, 0), (0, -1), (-1, 0))
    height = 0
    while True:
        ground[row, column] = height
        ahead = row + 2 * steps[towards][0], column + 2 * steps[towards][1]
        beside = row + steps[towards][0], column + steps[towards][1]
        is_blocked = not (0 <= ahead[0] < size and 0 <= ahead[1] < size and ground[ahead] == 900)
        if is_blocked:
            towards = (towards + 1) % 4
            ahead = row + 2 * steps[towards][0], column + 2 * steps[towards][1]
            if ground[ahead] != 900:
                break
            continue
        row, column = beside
        height += 1
    assert height > 300
    assert (filled(ground) == ground).all()
    dammed = ground.copy()
    dammed[1, 0] = 890
    assert (filled(dammed)[ground < 890] == 890).all()


@given(holed_heights())
def test_filled_ground_is_what_plain_relaxation_gives(heights: IntArray) -> None:
    assert (filled(heights) == filled_by_relaxation(heights)).all()


@given(holed_heights(most=12))
def test_the_heap_gives_the_same_as_sweeps_and_queue(heights: IntArray) -> None:
    by_heap = filled_by_heap(heights)
    by_heap[heights == UNKNOWN] = UNKNOWN
    assert (filled(heights) == by_heap).all()


@given(holed_heights(most=7), st.integers(0, 2**32 - 1))
def test_a_sweep_lowers_each_cell_by_what_it_has_passed_and_no_further(heights: IntArray, seed: int) -> None:
    """By the definition, one cell after the other; the upward sweep is the downward one on ground turned about."""
    rows, columns = heights.shape
    above = np.random.default_rng(seed).integers(0, 4, heights.shape)
    level = np.where(heights == UNKNOWN, UNKNOWN, heights + above).astype(np.int32)
    wanted = level.copy()
    for row in range(1, rows - 1):
        for column in range(1, columns - 1):
            passed = min(*wanted[row - 1, column - 1 : column + 2], wanted[row, column - 1])
            wanted[row, column] = min(wanted[row, column], max(heights[row, column], passed))
    down, up = level.copy(), np.ascontiguousarray(level[::-1, ::-1])
    _sweep_down(heights, down)
    _sweep_up(np.ascontiguousarray(heights[::-1, ::-1]), up)
    assert (down == wanted).all()
    assert (up[::-1, ::-1] == wanted).all()


@pytest.mark.parametrize("length", [2, 5, 12])
def test_a_corridor_is_followed_with_one_visit_a_cell_and_given_up_with_fewer(length: int) -> None:
    """Water comes in at one end of a corridor between high walls; each of its cells is looked at once."""
    heights = np.full((3, length + 2), 9, dtype=np.int32)
    heights[1, 1:-1] = 2
    level = heights.copy()
    level[1, 2:-1] = 9
    enough = level.copy()
    assert _spread(heights, enough, length)
    assert (enough == heights).all()
    assert not _spread(heights, level, length - 1)


@given(st.lists(st.integers(0, 30), min_size=1, max_size=40), st.data())
def test_cells_leave_the_heap_lowest_first_and_in_reading_order(levels: list[int], data: st.DataObject) -> None:
    """The standard library's heapq, beside ours at every step."""
    heap, count, water = np.empty(len(levels), dtype=np.int32), 0, np.array(levels, dtype=np.int32)
    theirs: list[tuple[int, int]] = []
    for cell, level in enumerate(levels):
        count = _pushed(heap, count, cell, water)
        heapq.heappush(theirs, (level, cell))
        if data.draw(st.booleans()):
            assert heap[0] == heapq.heappop(theirs)[1]
            count -= 1
            _settle(heap, count, heap[count], water)
    while theirs:
        assert heap[0] == heapq.heappop(theirs)[1]
        count -= 1
        _settle(heap, count, heap[count], water)
    assert count == 0


@given(holed_heights())
def test_filling_twice_changes_nothing(heights: IntArray) -> None:
    once = filled(heights)
    assert (once >= heights).all()
    assert (filled(once) == once).all()


@given(holed_heights(), st.integers(-1000, 1000), st.integers(1, 50))
def test_lifted_and_stretched_ground_fills_the_same(heights: IntArray, lift: int, stretch: int) -> None:
    known = heights != UNKNOWN
    moved = np.where(known, heights.astype(np.int64) * stretch + lift, UNKNOWN).astype(np.int32)
    wanted = np.where(known, filled(heights).astype(np.int64) * stretch + lift, UNKNOWN)
    assert (filled(moved) == wanted).all()


@given(holed_heights(), st.integers(0, 3), st.booleans())
def test_turned_and_mirrored_ground_fills_the_same(heights: IntArray, turns: int, is_mirrored: bool) -> None:
    def moved(array: IntArray) -> IntArray:
        turned = np.rot90(array, turns)
        return np.ascontiguousarray(turned[:, ::-1] if is_mirrored else turned)

    assert (filled(moved(heights)) == moved(filled(heights))).all()


@given(holed_heights())
def test_unknown_ground_around_changes_nothing(heights: IntArray) -> None:
    padded = np.pad(heights, 2, constant_values=UNKNOWN)
    assert (filled(padded)[2:-2, 2:-2] == filled(heights)).all()


@given(holed_heights(), st.data())
def test_digging_an_outlet_never_raises_the_water(heights: IntArray, data: st.DataObject) -> None:
    row = data.draw(st.integers(0, heights.shape[0] - 1))
    dug = heights.copy()
    dug[row, 0] = -5
    known = heights != UNKNOWN
    assert (filled(dug)[known] <= filled(heights)[known]).all()


def test_scikit_image_fills_rough_ground_the_same() -> None:
    """An independent library: reconstruction by erosion from the edge inwards."""
    from skimage.morphology import reconstruction

    heights = heights_of(rolling(120, 90, roughness=0.1))
    seed = np.full_like(heights, heights.max())
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        seed[edge] = heights[edge]
    theirs = reconstruction(seed, heights, method="erosion", footprint=np.ones((3, 3)))  # type: ignore[no-untyped-call]
    assert (filled(heights) == theirs).all()


def test_pyflwdir_fills_rough_ground_the_same() -> None:
    """An independent library: its own priority flood, 8-connected, draining at every edge cell."""
    import pyflwdir

    heights = heights_of(rolling(120, 90, roughness=0.1))
    theirs, _ = pyflwdir.dem.fill_depressions(heights.astype(np.float64), outlets="edge", nodata=-9999.0)
    assert (filled(heights) == theirs).all()


@pytest.mark.real_ground
def test_sinks_of_real_hummocks_agree_to_the_cell_with_another_implementation(real_ground: Path) -> None:
    """Published: ref_sinks.tif of the package ``lidar`` (MIT); at least .3 m, 1000 cells, 8-connected: 71,886 cells."""
    from scipy.ndimage import label, maximum

    ground, reference = hummocks(real_ground)
    heights = heights_of(ground)
    depth = (filled(heights) - heights) / 10_000
    regions, count = label(depth > 0.0, structure=np.ones((3, 3)))
    large = np.bincount(regions.ravel(), minlength=count + 1) >= 1000
    deep = np.r_[False, np.asarray(maximum(depth, regions, np.arange(1, count + 1))) >= 0.3]
    ours = (large & deep)[regions]
    assert int(reference.sum()) == 71_886
    assert (ours == reference).all()


@settings(max_examples=3, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_one_cell_in_nine_of_white_noise_is_a_pit(seed: int) -> None:
    """Check value T10 (own derivation): a cell is the lowest of nine equal ones with chance 1/9."""
    ground = np.random.default_rng(seed).standard_normal((400, 400))
    inner = ground[1:-1, 1:-1]
    others = [ground[1 + a : 399 + a, 1 + b : 399 + b] for a in (-1, 0, 1) for b in (-1, 0, 1) if (a, b) != (0, 0)]
    assert np.mean([inner < other for other in others], axis=0).max() <= 1.0
    share = np.all([inner < other for other in others], axis=0).mean()
    assert share == pytest.approx(1 / 9, abs=0.003)
