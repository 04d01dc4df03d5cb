"""The sweeps along lines, held against a look at every pair of points, on grounds of awkward shapes."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.arrays import Float32Array
from sitepipe.sunlight.losses import AzimuthLines, Window, azimuth_lines
from sitepipe.sunlight.sweep import BLOCK, Bearing, bearing, sweep_opaque
from tests.sunlight.brute import bins_of, highest, line_of

FINE = 65535
"""Bins of a horizon in these tests: a thousandth of a degree."""

NEAR = 12.0
"""How far two answers may lie apart: float32 heights of some metres against float64, at the least distance. [bins]"""

azimuths = st.one_of(
    st.sampled_from([0.0, 45.0, 90.0, 135.0, 180.0, 225.0, 270.0, 315.0]),
    st.floats(0.0, 360.0),
)
cells = st.sampled_from([0.5, 1.0, 3.0])
# Lines run across the first axis; blocks of lines need a wide second one.
shapes = st.one_of(
    st.tuples(st.integers(1, 9), st.integers(1, 9)),
    st.tuples(st.integers(2, 8), st.integers(BLOCK - 3, 2 * BLOCK + 5)),
)
seeds = st.integers(0, 10_000)
floors = st.sampled_from([0.0, 0.1, 0.5])


def _part(shape: tuple[int, int], random: np.random.Generator) -> tuple[slice, slice]:
    """Choose some of the heights, or all."""
    first = [int(random.integers(0, side)) if random.random() < 0.5 else 0 for side in shape]
    last = [int(random.integers(low + 1, side + 1)) for low, side in zip(first, shape, strict=True)]
    return slice(first[0], last[0]), slice(first[1], last[1])


def _lines_over(shape: tuple[int, int], part: tuple[slice, slice], way: Bearing) -> AzimuthLines:
    """Return the lines over a part of heights that are laid (along, across)."""
    if way.along_columns:
        return azimuth_lines((shape[1], shape[0]), Window(part[1], part[0]), way, None)
    return azimuth_lines(shape, Window(*part), way, None)


def _heights(shape: tuple[int, int], random: np.random.Generator) -> Float32Array:
    """Make rough, stepped or level ground, in whole eighths of a metre, so that ties are common and exact."""
    eighths = random.integers(0, random.choice([1, 3, 40]), shape)
    return np.asarray(eighths / 8.0, dtype=np.float32)


def _things(shape: tuple[int, int], random: np.random.Generator, most: int) -> Float32Array:
    """Set things on a share of the cells, from none to many."""
    there = random.random(shape) < random.choice([0.0, 0.05, 0.5])
    return np.asarray(np.where(there, random.integers(1, most, shape) / 4.0, 0.0), dtype=np.float32)


@settings(max_examples=100)
@given(shapes, azimuths, cells, floors, seeds)
def test_each_line_sees_the_highest_of_all_that_it_has_passed(
    shape: tuple[int, int], azimuth: float, cell: float, floor: float, seed: int
) -> None:
    random = np.random.default_rng(seed)
    way = bearing(azimuth)
    ground, raised = _heights(shape, random), _things(shape, random, 20)
    lines = _lines_over(shape, _part(shape, random), way)
    horizon = np.full((lines.steps, lines.lines), 7, dtype=np.uint16)
    shaded = np.zeros((lines.steps, lines.blocks), dtype=np.uint8)
    sweep_opaque(
        ground, raised, cell, way.from_far_end, way.drift, way.step, floor,
        lines.first_line, lines.first_step, FINE, horizon, shaded,
    )  # fmt: skip
    may_be_shaded = np.zeros(shaded.shape, dtype=bool)
    for k in range(lines.lines):
        points = line_of(ground.astype(np.float64), way, lines.first_line + k)
        if points is None:
            may_be_shaded[:, k // BLOCK] = True
            continue
        top = points.bare + raised[points.along, points.nearest]
        steepest = highest(top, points.bare, points.step, cell * way.step)
        row = points.step - lines.first_step
        wanted = (row >= 0) & (row < lines.steps)
        row, steepest = row[wanted], steepest[wanted]
        expected = np.where(steepest > floor, bins_of(steepest, FINE), 0.0)
        apart = np.abs(horizon[row, k] - expected)
        assert apart[np.abs(steepest - floor) > 1e-5].max(initial=0.0) <= NEAR
        assert (shaded[row, k // BLOCK] == 1)[horizon[row, k] > 0].all()
        may_be_shaded[row, k // BLOCK] |= steepest > floor - 1e-5
        assert (np.delete(horizon[:, k], row) == 7).all()
    assert not shaded[~may_be_shaded].any()


@settings(max_examples=50)
@given(shapes, azimuths, seeds)
def test_disbelief_of_the_ground_only_lowers_what_is_seen(shape: tuple[int, int], azimuth: float, seed: int) -> None:
    """Never above what the lowered tops would make, and nothing at all where no rise is believed."""
    random = np.random.default_rng(seed)
    way = bearing(azimuth)
    ground = _heights(shape, random)
    lines = _lines_over(shape, (slice(0, shape[0]), slice(0, shape[1])), way)
    for disbelief, things in ((0.3, _things(shape, random, 20)), (10.0, np.zeros(shape, dtype=np.float32))):
        raised = np.asarray(np.where(things > 0.0, things, np.float32(-disbelief)), dtype=np.float32)
        horizon = np.zeros((lines.steps, lines.lines), dtype=np.uint16)
        shaded = np.zeros((lines.steps, lines.blocks), dtype=np.uint8)
        sweep_opaque(
            ground, raised, 1.0, way.from_far_end, way.drift, way.step, 0.0,
            lines.first_line, lines.first_step, FINE, horizon, shaded,
        )  # fmt: skip
        for k in range(lines.lines):
            points = line_of(ground.astype(np.float64), way, lines.first_line + k)
            if points is None:
                continue
            top = points.bare + raised[points.along, points.nearest]
            steepest = highest(top, points.bare, points.step, way.step)
            row = points.step - lines.first_step
            wanted = (row >= 0) & (row < lines.steps)
            assert (horizon[row[wanted], k] <= bins_of(steepest[wanted], FINE) + NEAR).all()
        if disbelief > 5.0:
            assert not shaded.any()
