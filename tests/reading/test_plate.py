"""The plate: planes exactly, break lines kept, errors that mean what they say."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest
from scipy.interpolate import RBFInterpolator

from sitepipe.arrays import FloatArray
from sitepipe.reading.plate import Mesh, fit_stiffness, one_thread, plate_error, plate_surface
from sitepipe.reading.sampling import bilinear


@pytest.fixture(autouse=True)
def single() -> Iterator[None]:
    with one_thread():
        yield


def mesh(rows: int, columns: int, cell: float = 1.0) -> Mesh:
    return Mesh(
        0.0,
        rows * cell,
        cell,
        np.ones((rows, columns), dtype=np.bool_),
        np.zeros((rows, columns), dtype=np.bool_),
        np.zeros((rows, columns - 1), dtype=np.bool_),
        np.zeros((rows - 1, columns), dtype=np.bool_),
    )


def scattered(count: int, size: float, seed: int = 7) -> tuple[FloatArray, FloatArray]:
    rng = np.random.default_rng(seed)
    return rng.uniform(2.0, size - 2.0, count), rng.uniform(2.0, size - 2.0, count)


def centres(size: int) -> tuple[FloatArray, FloatArray]:
    y, x = np.mgrid[size - 0.5 : 0.0 : -1.0, 0.5:size:1.0]
    return x, y


def test_the_plane_of_four_corners_by_hand() -> None:
    """Corners 10.0, 10.4, 9.8, 10.2 of a 10 m square: 10.040 at (4, 6); inverse distance would say 10.0377."""
    x, y = np.array([2.0, 12.0, 2.0, 12.0]), np.array([2.0, 2.0, 12.0, 12.0])
    surface = plate_surface(mesh(14, 14), x, y, np.array([10.0, 10.4, 9.8, 10.2]), np.full(4, 0.005), 1e4)
    assert bilinear(surface, np.array([6.0]), np.array([14.0 - 8.0]))[0] == pytest.approx(10.040, abs=1e-6)


def test_a_plane_is_found_exactly_and_foretold_exactly() -> None:
    x, y = scattered(25, 30.0)
    height = 5.0 + 0.03 * x - 0.02 * y
    fit = fit_stiffness(mesh(30, 30), x, y, height, np.full(25, 0.005))
    assert fit.error < 1e-5
    surface = plate_surface(mesh(30, 30), x, y, height, np.full(25, 0.005), fit.stiffness)
    grid_x, grid_y = centres(30)
    assert np.abs(surface - (5.0 + 0.03 * grid_x - 0.02 * grid_y)).max() < 1e-5


def test_it_agrees_with_the_thin_plate_spline_of_scipy() -> None:
    """Independent witness: scipy.interpolate.RBFInterpolator, thin_plate_spline, between dense points."""
    x, y = scattered(150, 40.0)
    height = 0.2 * np.sin(x / 7.0) * np.cos(y / 9.0)
    surface = plate_surface(mesh(40, 40), x, y, height, np.full(150, 1e-4), 1e2)
    grid_x, grid_y = centres(40)
    theirs = RBFInterpolator(np.c_[x, y], height, kernel="thin_plate_spline")(np.c_[grid_x.ravel(), grid_y.ravel()])
    inner = (grid_x > 6.0) & (grid_x < 34.0) & (grid_y > 6.0) & (grid_y < 34.0)
    assert np.abs(surface - theirs.reshape(grid_x.shape))[inner].max() < 0.01


def test_leaving_out_in_closed_form_is_leaving_out_by_hand() -> None:
    x, y = scattered(20, 20.0)
    height = 0.1 * np.sin(x / 3.0) + 0.02 * y
    error = np.full(20, 0.005)
    fit = fit_stiffness(mesh(20, 20), x, y, height, error)
    for left in (0, 7, 19):
        others = np.arange(20) != left
        without = plate_surface(mesh(20, 20), x[others], y[others], height[others], error[others], fit.stiffness)
        foretold = bilinear(without, x[left : left + 1], 20.0 - y[left : left + 1])[0]
        # The plate reads places by the slope of the nearest cell, bilinear by four cells: alike to a millimetre here.
        assert height[left] - foretold == pytest.approx(fit.left_out[left], abs=2e-3)


def test_the_stated_error_covers_the_truth() -> None:
    """Of a smooth ground at least 95 cells in 100 lie within two stated errors, and the error is no mere caution."""
    grid_x, grid_y = centres(40)
    inner = (grid_x > 5.0) & (grid_x < 35.0) & (grid_y > 5.0) & (grid_y < 35.0)

    def ground(x: FloatArray, y: FloatArray) -> FloatArray:
        return np.asarray(0.02 * x + 0.15 * np.sin(x / 7.0) * np.cos(y / 9.0))

    scores = []
    for seed in range(4):
        x, y = scattered(60, 40.0, seed)
        rng = np.random.default_rng(100 + seed)
        height = ground(x, y) + rng.normal(0.0, 0.005, 60)
        error = np.full(60, 0.005)
        fit = fit_stiffness(mesh(40, 40), x, y, height, error)
        surface = plate_surface(mesh(40, 40), x, y, height, error, fit.stiffness)
        deviation = plate_error(mesh(40, 40), x, y, error, fit.stiffness, fit.scale)
        scores.append(((surface - ground(grid_x, grid_y)) / deviation)[inner])
    assert np.mean(np.abs(scores) < 2.0) > 0.95
    assert np.std(scores) > 0.4


def test_a_crease_keeps_a_ditch_sharp() -> None:
    """Two planes that meet in a ditch: exact with the crease, blunted without."""
    size = 41
    grid_x, _ = centres(size)
    ditch = 0.1 * np.abs(grid_x - 20.5)
    spots = np.arange(2.5, 40.0, 6.0)
    x, y = (part.ravel() for part in np.meshgrid(spots, spots))
    height = 0.1 * np.abs(x - 20.5)
    error = np.full(x.size, 0.005)
    whole = mesh(size, size)
    crease = np.zeros((size, size), dtype=np.bool_)
    crease[:, 20] = True
    creased = Mesh(0.0, float(size), 1.0, whole.active, crease, whole.cut_east, whole.cut_south)
    sharp = plate_surface(creased, x, y, height, error, 1e4)
    blunt = plate_surface(whole, x, y, height, error, 1e4)
    assert np.abs(sharp - ditch).max() < 1e-3
    assert np.abs(blunt - ditch).max() > 0.05


def test_a_cut_keeps_a_kerb_upright() -> None:
    """Two planes a step apart: exact with the cut, smeared without."""
    size = 40
    grid_x, grid_y = centres(size)
    step = 0.01 * grid_y + np.where(grid_x > 20.0, 0.15, 0.0)
    spots = np.arange(2.5, 39.0, 6.0)
    x, y = (part.ravel() for part in np.meshgrid(spots, spots))
    height = 0.01 * y + np.where(x > 20.0, 0.15, 0.0)
    error = np.full(x.size, 0.005)
    whole = mesh(size, size)
    cut = np.zeros((size, size - 1), dtype=np.bool_)
    cut[:, 19] = True
    kerbed = Mesh(0.0, float(size), 1.0, whole.active, whole.is_crease, cut, whole.cut_south)
    assert np.abs(plate_surface(kerbed, x, y, height, error, 1e4) - step).max() < 1e-3
    assert np.abs(plate_surface(whole, x, y, height, error, 1e4) - step).max() > 0.03


def test_lifting_the_points_lifts_the_surface() -> None:
    x, y = scattered(30, 20.0)
    height = 0.1 * np.sin(x)
    error = np.full(30, 0.01)
    low = plate_surface(mesh(20, 20), x, y, height, error, 1e3)
    high = plate_surface(mesh(20, 20), x, y, height + 100.0, error, 1e3)
    assert np.abs(high - low - 100.0).max() < 1e-6
