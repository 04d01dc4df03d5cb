"""Steady shallow flow against Dupuit, Hooghoudt, Donnan, a ground water program, and itself turned about."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.wetness.shallow_flow import LEAST_THICKNESS, drain_spacing, equivalent_depth, water_table


def strip(length: float, cells: int, left: float, right: float, ratio: float, thickness: float = 0.0) -> FloatArray:
    """Levels of a strip between two ditches; the middles of its end cells lie in the ditches. [m]."""
    ceiling = np.full((1, cells + 1), np.inf)
    ceiling[0, 0], ceiling[0, -1] = left, right
    base = np.full((1, cells + 1), -thickness)
    start = np.full((1, cells + 1), max(left, right))
    level = water_table(base, ceiling, ratio, length / cells, start, tolerance=1e-10, most_sweeps=100_000)
    return np.asarray(level[0], np.float64)


@pytest.mark.parametrize(
    ("spacing", "depth_below", "published"),
    [
        (10.0, 1.0, 0.77), (10.0, 2.0, 1.03), (10.0, 5.0, 1.13),
        (20.0, 1.0, 0.87), (20.0, 2.0, 1.36), (20.0, 5.0, 1.81),
        (50.0, 1.0, 0.94), (50.0, 2.0, 1.68), (50.0, 5.0, 2.93), (50.0, 10.0, 3.62),
    ],
)  # fmt: skip
def test_the_equivalent_depth_is_hooghoudts(spacing: float, depth_below: float, published: float) -> None:
    # Hooghoudt's tables for r0 = .1 m (values from memory), by van der Molen & Wesseling (1991); G01 to G03.
    assert equivalent_depth(spacing, depth_below, 0.1) == pytest.approx(published, abs=0.006)


def test_a_worked_drain_spacing_comes_out() -> None:
    # K .14, h .8, q .0014, D 5, r .1: L 45.35 m, d 2.814 (computed by hand for this project; G04).
    spacing = drain_spacing(0.14, 0.8, 0.0014, 5.0, 0.1)
    assert spacing == pytest.approx(45.35, abs=0.01)
    assert equivalent_depth(spacing, 5.0, 0.1) == pytest.approx(2.814, abs=0.001)


@pytest.mark.parametrize(("conductivity", "spacing"), [(0.05, 4.6), (0.2, 10.3), (0.5, 17.2), (1.0, 25.0), (2.0, 36.0)])
def test_the_dutch_criterion_gives_its_spacings(conductivity: float, spacing: float) -> None:
    # 7 mm/d with the table .5 m above drains at 1 m: criterion published in ILRI 16, spacings computed by hand; G05.
    assert drain_spacing(conductivity, 0.5, 0.007, 1.0, 0.05) == pytest.approx(spacing, abs=0.06)


def test_the_closed_form_meets_itself_where_its_two_branches_join() -> None:
    join = 0.5 * 20.0 / (2.0 * math.pi)
    assert equivalent_depth(20.0, join - 1e-6, 0.1) == pytest.approx(equivalent_depth(20.0, join + 1e-6, 0.1), abs=1e-3)


def test_drains_on_the_tight_layer_need_no_equivalent_depth() -> None:
    assert equivalent_depth(20.0, 0.0, 0.1) == 0.0


def test_the_water_between_two_ditches_stands_as_dupuit_says() -> None:
    # Ditches 10 m apart, h0 .6, K .5, w 5 mm/d: .7810 m half-way (Dupuit; computed by hand; G07).
    level = strip(10.0, 200, 0.6, 0.6, 0.005 / 0.5)
    assert level[100] == pytest.approx(0.7810, abs=1e-4)


def test_between_unequal_ditches_the_divide_lies_where_dupuit_says() -> None:
    # K .5, w .005, heads 1.0 and .8, L 30: divide at 14.40 m, 1.7532 m high (Dupuit; computed by hand; G08).
    level = strip(30.0, 600, 1.0, 0.8, 0.005 / 0.5)
    divide = int(np.argmax(level))
    assert divide * 0.05 == pytest.approx(14.40, abs=0.05)
    assert level[divide] == pytest.approx(1.7532, abs=2e-4)


def test_the_river_and_canal_problem_comes_out_in_feet() -> None:
    # River 31 ft, canal 27 ft, 1500 ft apart, K 1.2 ft/d, .5 ft/yr: 682 ft and 38.6 ft (textbook, from memory; G09).
    level = strip(1500.0, 500, 31.0, 27.0, 0.5 / 365.0 / 1.2)
    divide = int(np.argmax(level))
    assert divide * 3.0 == pytest.approx(682.3, abs=3.0)
    assert level[divide] == pytest.approx(38.63, abs=0.02)


def test_donnans_spacing_is_met_from_the_other_side() -> None:
    # K 1, highest level 3 m and drain level 2 m above the base, q .01: 44.72 m (Donnan 1946; computed by hand; G06).
    level = strip(44.7214, 400, 2.0, 2.0, 0.01)
    assert level[200] == pytest.approx(3.0, abs=2e-4)


@pytest.mark.parametrize(("conductivity", "spacing"), [(0.2, 10.3455), (1.0, 24.9721)])
def test_the_sheet_of_flow_over_the_equivalent_depth_is_hooghoudts_formula(conductivity: float, spacing: float) -> None:
    depth = equivalent_depth(spacing, 1.0, 0.05)
    level = strip(spacing, 300, 0.0, 0.0, 0.007 / conductivity, depth)
    assert level[150] == pytest.approx(0.5, abs=2e-3)


def rough_hill(rows: int, cell: float) -> FloatArray:
    y, x = np.mgrid[0:rows, 0:rows] * cell
    return np.asarray(10.0 + 0.03 * y + 0.25 * np.sin(x / 9.0) + 0.1 * np.cos(y / 5.0), np.float64)


def test_the_flow_balances_wherever_the_table_is_below_the_ground() -> None:
    ground, cell, ratio = rough_hill(20, 1.0), 1.0, 1e-3
    base = ground - 1.2
    level = water_table(base, ground, ratio, cell, tolerance=1e-10, most_sweeps=100_000)
    gain = np.full(ground.shape, ratio * cell * cell)
    for axis in (0, 1):
        thickness = level - base
        first = [slice(None)] * 2
        second = [slice(None)] * 2
        first[axis], second[axis] = slice(None, -1), slice(1, None)
        a, b = tuple(first), tuple(second)
        flow = 0.5 * (thickness[a] + thickness[b]) * (level[b] - level[a])
        gain[a] += flow
        gain[b] -= flow
    below = level < ground - 1e-6
    assert below.any()
    assert np.abs(gain[below]).max() < 1e-6
    assert gain[~below].min() > -1e-6, "where it seeps, water comes up and does not go down"
    assert float(gain[~below].sum()) == pytest.approx(ratio * ground.size, rel=1e-3), "what soaks in seeps out"


def test_the_table_is_never_above_the_ground_nor_below_the_base() -> None:
    ground = rough_hill(16, 2.0)
    for ratio in (1e-6, 1e-4, 1e-2, 1.0):
        level = water_table(ground - 1.0, ground, ratio, 2.0)
        assert (level <= ground).all()
        assert (level >= ground - 1.0).all()


def test_unknown_ground_stays_unknown_and_lets_nothing_through() -> None:
    ground = np.full((3, 41), 1.0)
    ground[:, 20] = np.nan
    ceiling = np.where(np.isnan(ground), np.nan, 1.0)
    ceiling[:, 0] = 0.5
    level = water_table(ground - 1.0, ceiling, 1e-4, 1.0, tolerance=1e-9, most_sweeps=50_000)
    assert np.isnan(level[:, 20]).all()
    assert level[1, 1] < 0.6
    assert level[1, 30] == pytest.approx(1.0), "behind the gap nothing drains, so it fills to the surface"


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(1e-4, 1e-2), st.integers(1, 3))
def test_turning_or_lifting_the_ground_turns_or_lifts_the_table(seed: int, ratio: float, turns: int) -> None:
    ground = 0.3 * np.random.default_rng(seed).random((9, 9)).cumsum(axis=0)
    plain = water_table(ground - 1.0, ground, ratio, 1.0, tolerance=1e-9, most_sweeps=50_000)
    turned = np.ascontiguousarray(np.rot90(ground, turns))
    again = water_table(turned - 1.0, turned, ratio, 1.0, tolerance=1e-9, most_sweeps=50_000)
    assert np.allclose(again, np.rot90(plain, turns), atol=1e-5)
    lifted = water_table(ground + 2.0, ground + 3.0, ratio, 1.0, tolerance=1e-9, most_sweeps=50_000)
    assert np.allclose(lifted, plain + 3.0, atol=1e-5)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 2**32 - 1), st.floats(1e-4, 3e-3))
def test_more_rain_never_lowers_the_table(seed: int, ratio: float) -> None:
    ground = 0.3 * np.random.default_rng(seed).random((8, 8)).cumsum(axis=1)
    low = water_table(ground - 1.0, ground, ratio, 1.0, tolerance=1e-9, most_sweeps=50_000)
    high = water_table(ground - 1.0, ground, 2.0 * ratio, 1.0, tolerance=1e-9, most_sweeps=50_000)
    assert (high >= low - 1e-5).all()


def gains(level: FloatArray, base: FloatArray, supply: float) -> FloatArray:
    """Return what flows into each cell and soaks in, less what flows out, side by side of every pair. [m2].

    A thin cell gives no more than twice its own thickness carries.
    """
    gain = np.where(np.isnan(base), np.nan, supply)
    for row, column in np.argwhere(~np.isnan(base)).tolist():
        for down, right in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            there = (row + down, column + right)
            if min(there) < 0 or there[0] >= base.shape[0] or there[1] >= base.shape[1] or np.isnan(base[there]):
                continue
            own, other = level[row, column] - base[row, column], level[there] - base[there]
            upper = own if level[row, column] >= level[there] else other
            gain[row, column] += min(0.5 * (own + other), 2.0 * upper) * (level[there] - level[row, column])
    return np.asarray(gain)


def rough_field(seed: int, shape: tuple[int, int], steepness: float) -> tuple[FloatArray, FloatArray, BoolArray]:
    """Return base, ceiling and open water of uneven ground with holes in it."""
    chance = np.random.default_rng(seed)
    row, column = np.indices(shape)
    ground = steepness * (0.6 * row + 0.4 * column + chance.random(shape))
    base = ground - chance.uniform(0.3, 1.5, shape)
    base[chance.random(shape) < 0.1] = np.nan
    ceiling = np.where(chance.random(shape) < 0.6, ground, ground + 5.0)
    held = chance.random(shape) < 0.08
    ceiling[0, 0] = ground[0, 0]
    return base, ceiling, held


@pytest.mark.parametrize("shape", [(1, 12), (12, 1), (2, 9), (8, 9)])
@pytest.mark.parametrize(("steepness", "ratio"), [(0.02, 1e-3), (0.3, 1e-3), (0.3, 2e-2), (1.0, 1e-3)])
def test_thick_or_thin_the_flow_balances_below_the_ceiling_and_water_only_leaves_at_it(
    shape: tuple[int, int], steepness: float, ratio: float
) -> None:
    """Cell by cell, with holes, open water and steep thin flow: the complementarity of an obstacle problem."""
    for seed in range(6):
        base, ceiling, held = rough_field(seed, shape, steepness)
        level = water_table(base, ceiling, ratio, 2.0, held=held, tolerance=1e-12, most_sweeps=200_000)
        known = ~np.isnan(base)
        assert (np.isnan(level) == (~known & ~held)).all()
        assert (level[held] == ceiling[held]).all()
        assert (level[known] <= ceiling[known]).all()
        gain = gains(level, base, ratio * 4.0)
        is_free = known & ~held
        is_below = is_free & (level < ceiling - 1e-9)
        is_wet = level - base > 2.0 * LEAST_THICKNESS
        assert np.abs(gain[is_below & is_wet]).max(initial=0.0) < 1e-6
        assert gain[is_free & ~is_below].min(initial=0.0) > -1e-6


def test_a_guess_does_not_change_what_is_found_nor_lift_it_above_the_ceiling() -> None:
    base, ceiling, held = rough_field(3, (7, 8), 0.1)
    plain = water_table(base, ceiling, 1e-3, 1.0, held=held, tolerance=1e-11, most_sweeps=100_000)
    for guess in (base + 0.2, ceiling + 3.0):
        again = water_table(base, ceiling, 1e-3, 1.0, guess, held, tolerance=1e-11, most_sweeps=100_000)
        np.testing.assert_allclose(again, plain, atol=1e-7)


def test_a_cell_that_nothing_drains_fills_to_its_ceiling() -> None:
    base, ceiling = np.full((3, 3), np.nan), np.full((3, 3), 1.0)
    base[1, 1] = 0.0
    assert water_table(base, ceiling, 1e-4, 1.0, start=np.full((3, 3), 0.2))[1, 1] == 1.0


@pytest.mark.parametrize("cells", [40, 90])
def test_a_strip_is_found_in_a_few_sweeps_for_each_of_its_cells(cells: int) -> None:
    """Young (1954) for relaxation at its best: of the order of n sweeps, not n^2 (value from memory)."""
    ceiling = np.full((1, cells), np.inf)
    ceiling[0, [0, -1]] = 0.6
    base, start = np.zeros((1, cells)), np.full((1, cells), 0.6)
    level = water_table(base, ceiling, 1e-6, 1.0, start, tolerance=0.0, most_sweeps=3 * cells)
    x = np.arange(cells)
    dupuit = np.sqrt(0.36 + 1e-6 * x * (cells - 1 - x))
    np.testing.assert_allclose(level[0], dupuit, atol=1e-9)


def test_one_cell_between_open_water_is_found_in_a_few_steps_thick_or_thin() -> None:
    """A sweep is a step of Newton's method for each cell, nearly: with right slopes the error all but vanishes."""
    chance = np.random.default_rng(1)
    left = []
    for _ in range(300):
        base = chance.uniform(0.0, 2.0, (1, 3))
        held = np.array([[True, False, True]])
        ceiling = base + np.where(held, chance.uniform(0.05, 1.5, (1, 3)), 4.0)
        start = base + chance.uniform(0.05, 2.0, (1, 3))
        ratio = float(chance.choice([1e-3, 1e-1]))
        for turned in (False, True):
            line = [np.ascontiguousarray(values.T) if turned else values for values in (base, ceiling, start)]
            open_water = held.T.copy() if turned else held
            soon, later = (
                water_table(line[0], line[1], ratio, 1.0, line[2], open_water, tolerance=0.0, most_sweeps=most).ravel()
                for most in (10, 25)
            )
            left.append(abs(float(soon[1] - later[1])))
            if 1e-5 < later[1] - base[0, 1] < 4.0:
                gain = gains(later.reshape(line[0].shape), line[0], ratio).ravel()[1]
                assert abs(gain) < 1e-9
    assert float(np.mean(np.array(left) < 1e-8)) > 0.95


def test_the_search_stops_at_the_tolerance() -> None:
    """A sweep that moves nothing by ten metres is enough for one who allows ten."""
    base, ceiling, held = rough_field(3, (7, 8), 0.1)
    once, rough = (
        water_table(base, ceiling, 1e-3, 1.0, held=held, tolerance=tolerance, most_sweeps=most)
        for tolerance, most in ((0.0, 1), (10.0, 1000))
    )
    np.testing.assert_array_equal(once, rough)


def test_a_ground_water_program_finds_the_same_table_on_a_rough_hill() -> None:
    """Landlab's Dupuit percolator (Litwin et al. 2020, J. Open Source Software 5:1935), run until it stands still.

    It lets water seep out through a smooth switch, we through an obstacle: a centimetre is allowed for that.
    """
    from landlab import RasterModelGrid
    from landlab.components import GroundwaterDupuitPercolator

    size, cell, conductivity, ratio = 24, 2.0, 1e-5, 2e-3
    ground = rough_hill(size, cell)
    base = ground - 1.5
    grid = RasterModelGrid((size, size), xy_spacing=cell)
    grid.add_field("topographic__elevation", ground.ravel().copy(), at="node")
    grid.add_field("aquifer_base__elevation", base.ravel().copy(), at="node")
    grid.add_field("water_table__elevation", (ground - 0.3).ravel().copy(), at="node")
    level = grid.at_node["water_table__elevation"]
    level[:size] = ground[0] - 0.5
    grid.set_closed_boundaries_at_grid_edges(True, True, True, False)
    with np.errstate(over="ignore"):
        program = GroundwaterDupuitPercolator(
            grid,
            hydraulic_conductivity=conductivity,
            porosity=0.05,
            recharge_rate=conductivity * ratio,
            regularization_f=0.003,
        )
        for _ in range(260):
            program.run_with_adaptive_time_step_solver(3e4)
    theirs = level.reshape(size, size)[1:-1, 1:-1]

    own_base = base.copy()
    own_base[-1, :] = own_base[:, 0] = own_base[:, -1] = np.nan
    ceiling = ground.copy()
    ceiling[0] = ground[0] - 0.5
    ours = water_table(own_base, ceiling, ratio, cell, tolerance=1e-8, most_sweeps=20_000)[1:-1, 1:-1]
    assert np.abs(ours - theirs).max() < 0.01
    assert 0.02 < float((ground[1:-1, 1:-1] - ours < 1e-6).mean()) < 0.5, "some of the hill must seep, not all"
