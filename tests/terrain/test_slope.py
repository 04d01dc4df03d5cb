"""Slope and aspect: built, published, symmetric, independent."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.ndimage
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sitepipe.arrays import FloatArray
from sitepipe.terrain.slope import HORN_NOISE, aspect, downslope_direction, gradient, slope
from tests.sites import plane

# Check values T14 and T15: own example, derived by hand; row 0 is the north, cells of 2 m.
WINDOW = np.array([[12.0, 12.4, 12.9], [11.6, 12.1, 12.7], [11.1, 11.5, 12.2]])

heights = arrays(np.float64, (6, 7), elements=st.integers(-2000, 2000).map(lambda tenths: tenths / 10.0))


def test_the_worked_window_has_the_slope_that_was_derived_by_hand() -> None:
    east, north = gradient(WINDOW, 2.0)
    assert east[1, 1] == pytest.approx(0.2625, abs=1e-12)
    assert north[1, 1] == pytest.approx(0.2125, abs=1e-12)
    assert slope(WINDOW, 2.0)[1, 1] == pytest.approx(18.661, abs=1e-3)
    assert aspect(WINDOW, 2.0)[1, 1] == pytest.approx(231.01, abs=1e-2)


def test_horn_is_not_the_plain_central_difference() -> None:
    """T15 has the same window by Zevenbergen and Thorne (1987): .275 and .225, so the two can be told apart."""
    east, north = gradient(WINDOW, 2.0)
    assert abs(east[1, 1] - 0.275) > 0.01
    assert abs(north[1, 1] - 0.225) > 0.01


@given(rise_east=st.floats(-2, 2), rise_north=st.floats(-2, 2), cell=st.floats(0.05, 30.0))
def test_a_plane_is_as_steep_as_it_was_built_up_to_its_corners(
    rise_east: float, rise_north: float, cell: float
) -> None:
    east, north = gradient(plane(5, 6, cell, rise_east, rise_north), cell)
    np.testing.assert_allclose(east, rise_east, atol=1e-8)
    np.testing.assert_allclose(north, rise_north, atol=1e-8)


@pytest.mark.parametrize(
    ("rise_east", "rise_north", "falls_to"),
    [(1, 0, 270.0), (-1, 0, 90.0), (0, 1, 180.0), (0, -1, 0.0), (1, 1, 225.0), (-1, 1, 135.0)],
)
def test_aspect_is_the_compass_direction_of_the_fall(rise_east: float, rise_north: float, falls_to: float) -> None:
    np.testing.assert_allclose(aspect(plane(4, 4, 1.0, rise_east, rise_north), 1.0), falls_to, atol=1e-6)


def test_level_ground_faces_nowhere() -> None:
    assert np.isnan(aspect(np.full((3, 3), 7.0), 1.0)).all()
    assert (slope(np.full((3, 3), 7.0), 1.0) == 0.0).all()


@given(missing=arrays(np.bool_, (6, 7)), rise_east=st.floats(-1, 1), rise_north=st.floats(-1, 1))
def test_holes_leave_the_slope_of_a_plane_alone(missing: np.ndarray, rise_east: float, rise_north: float) -> None:
    ground = plane(6, 7, 1.0, rise_east, rise_north)
    ground[missing] = np.nan
    east, north = gradient(ground, 1.0)
    around = scipy.ndimage.convolve((~missing).astype(int), np.ones((3, 3), dtype=int), mode="constant")
    # Five of the nine cells never lie on one line.
    settled = ~missing & (around >= 5)
    np.testing.assert_allclose(east[settled], rise_east, atol=1e-8)
    np.testing.assert_allclose(north[settled], rise_north, atol=1e-8)
    assert np.isnan(east[missing]).all()


def test_a_strip_one_cell_wide_has_the_slope_along_it() -> None:
    ground = np.full((3, 5), np.nan)
    ground[1] = 0.2 * np.arange(5)
    east, north = gradient(ground, 1.0)
    np.testing.assert_allclose(east[1], 0.2)
    np.testing.assert_allclose(north[1], 0.0)


def test_a_cell_that_stands_alone_has_no_slope() -> None:
    ground = np.full((3, 3), np.nan)
    ground[1, 1] = 4.0
    assert np.isnan(slope(ground, 1.0)).all()


def _plane_by_least_squares(ground: FloatArray, row: int, column: int, cell: float) -> tuple[float, float]:
    """Fit Horn's weighted plane to what is known around a cell; the flattest of them where several fit."""
    known = [
        (float(j) * cell, float(-i) * cell, ground[row + i, column + j], 4.0 / 2.0 ** (abs(i) + abs(j)))
        for i in (-1, 0, 1)
        for j in (-1, 0, 1)
        if 0 <= row + i < ground.shape[0] and 0 <= column + j < ground.shape[1]
        if not np.isnan(ground[row + i, column + j])
    ]
    if np.isnan(ground[row, column]) or len(known) == 1:
        return math.nan, math.nan
    x, y, z, weight = np.array(known).T
    root = np.sqrt(weight)
    away = np.stack([x - np.average(x, weights=weight), y - np.average(y, weights=weight)], axis=1)
    rise = z - np.average(z, weights=weight)
    east, north = np.linalg.lstsq(away * root[:, None], rise * root, rcond=1e-9)[0]
    return float(east), float(north)


@given(
    st.tuples(st.integers(1, 5), st.integers(1, 5)).flatmap(
        lambda shape: arrays(
            np.float64,
            shape,
            elements=st.one_of(st.integers(-50, 50).map(lambda tenths: tenths / 10.0), st.just(np.nan)),
        )
    ),
    st.sampled_from([0.5, 1.0, 3.0]),
)
def test_among_holes_and_borders_it_is_the_weighted_plane_of_an_independent_library(
    ground: FloatArray, cell: float
) -> None:
    """Witness: numpy's lstsq, corners by 1, sides by 2, the middle by 4; the flattest where many fit."""
    east, north = gradient(ground, cell)
    for row, column in np.ndindex(ground.shape):
        expected = _plane_by_least_squares(ground, row, column, cell)
        np.testing.assert_allclose((east[row, column], north[row, column]), expected, atol=1e-9)


def test_a_direction_a_hair_west_of_north_is_north_and_never_360() -> None:
    falls_to = downslope_direction(np.array([1e-20, -1e-20, 0.1]), np.array([-1.0, -1.0, 0.1]))
    assert ((falls_to[:2] >= 0.0) & (falls_to[:2] < 1e-9)).all()
    assert falls_to[2] == pytest.approx(225.0)


@given(heights)
def test_inside_it_is_the_horn_filter_of_an_independent_library(ground: FloatArray) -> None:
    """SciPy's Sobel filter has Horn's eight weights; a difference over two cells of 1-2-1 sums is 8 times the rise."""
    east, north = gradient(ground, 1.0)
    inner = (slice(1, -1), slice(1, -1))
    np.testing.assert_allclose(east[inner], (scipy.ndimage.sobel(ground, axis=1) / 8.0)[inner], atol=1e-9)
    np.testing.assert_allclose(north[inner], (-scipy.ndimage.sobel(ground, axis=0) / 8.0)[inner], atol=1e-9)


@given(heights, st.floats(-500, 500), st.floats(0.1, 10))
def test_lifting_changes_nothing_and_stretching_stretches(ground: FloatArray, lift: float, factor: float) -> None:
    east, north = gradient(ground, 1.0)
    np.testing.assert_allclose(gradient(ground + lift, 1.0)[0], east, atol=1e-9)
    np.testing.assert_allclose(gradient(factor * ground, 1.0)[1], factor * north, atol=1e-8)


@given(heights)
def test_turning_the_ground_turns_the_slope(ground: FloatArray) -> None:
    """A quarter turn against the clock: what rose to the east then rises to the north."""
    east, north = gradient(ground, 1.0)
    turned_east, turned_north = gradient(np.ascontiguousarray(np.rot90(ground)), 1.0)
    np.testing.assert_allclose(turned_north, np.rot90(east), atol=1e-9)
    np.testing.assert_allclose(turned_east, -np.rot90(north), atol=1e-9)


@given(heights)
def test_mirroring_the_ground_mirrors_the_slope(ground: FloatArray) -> None:
    np.testing.assert_allclose(slope(ground[:, ::-1], 1.0), slope(ground, 1.0)[:, ::-1], atol=1e-9)


def test_noise_follows_the_law_of_the_eight_weights() -> None:
    """T12: sd of one axis is sqrt(12) / 8 of height error over cell; T13, the central difference, would be .707."""
    noise = np.random.default_rng(12).normal(scale=0.1, size=(400, 400))
    east, north = gradient(noise, 2.0)
    expected = math.sqrt(12.0) / 8.0 * 0.1 / 2.0
    assert pytest.approx(HORN_NOISE * 0.05) == expected
    assert east[1:-1, 1:-1].std() == pytest.approx(expected, rel=0.02)
    assert north[1:-1, 1:-1].std() == pytest.approx(expected, rel=0.02)


def test_an_outward_cone_is_equally_steep_all_round() -> None:
    y, x = np.mgrid[-40:41, -40:41].astype(float)
    distance = np.hypot(x, y)
    steepness = slope(100.0 - 0.1 * distance, 1.0)
    ring = (distance > 10) & (distance < 38)
    # Horn's window flattens a cone of radius r by a share of about 1 / (4 r^2): derived by hand.
    np.testing.assert_allclose(np.tan(np.radians(steepness[ring])), 0.1, rtol=0.01)
