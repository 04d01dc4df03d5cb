"""Earthwork against a published example, exact solids, and the sum over fine cells."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from sitepipe.arrays import FloatArray
from sitepipe.drainage.heights import whole_heights
from sitepipe.works.mounds.volumes import (
    prismoidal_volume,
    ridge_section,
    ridge_volume,
    round_mound_volume,
)
from sitepipe.works.water.raised_ground import RIDGE, built_ground


def average_end_area_volume(heights: FloatArray, top: float, side_slope: float, spacing: float) -> float:
    """Volume by the mean of the end sections, the book's own rule: too much where heights differ."""
    areas = ridge_section(heights, top, side_slope)
    return float(spacing * np.sum(0.5 * (areas[1:] + areas[:-1])))


VOSE = np.array([0.0, 5.0, 10.0, 15.0, 0.0])


def test_the_railroad_handbooks_cutting_comes_out() -> None:
    # Vose (1857): base 20 ft, slopes 1.5 to 1, cuts 0 5 10 15 0 every 50 ft (published, source read; E01).
    # The book rounds its end areas 0, 137, 350, 637 and so has 56,200 ft3.
    areas = ridge_section(VOSE, 20.0, 1.5)
    assert [int(area) for area in areas] == [0, 137, 350, 637, 0]
    assert average_end_area_volume(VOSE, 20.0, 1.5, 50.0) == pytest.approx(56_250.0)
    assert average_end_area_volume(VOSE, 20.0, 1.5, 50.0) == pytest.approx(56_200.0, rel=1e-3)
    assert prismoidal_volume(VOSE, 20.0, 1.5, 50.0) == pytest.approx(52_500.0)


@given(st.lists(st.floats(0.0, 3.0), min_size=2, max_size=8), st.floats(0.1, 2.0), st.floats(0.5, 3.0))
def test_end_areas_exceed_the_prismoid_by_the_known_sum(heights: list[float], top: float, slope: float) -> None:
    line = np.array(heights)
    excess = slope * float(np.sum(np.diff(line) ** 2)) * 2.0 / 6.0
    more = average_end_area_volume(line, top, slope, 2.0) - prismoidal_volume(line, top, slope, 2.0)
    assert more == pytest.approx(excess, abs=1e-9)


def test_worked_solids_come_out() -> None:
    # Derived by hand for this project, E02 to E05 and E07.
    assert average_end_area_volume(np.array([0.6, 0.3]), 0.6, 1.5, 10.0) == pytest.approx(6.075)
    assert prismoidal_volume(np.array([0.6, 0.3]), 0.6, 1.5, 10.0) == pytest.approx(5.850)
    assert round_mound_volume(0.5, 1.25, 0.5) == pytest.approx(1.2763, abs=1e-4)
    assert ridge_volume(np.array([0.5, 0.5]), 0.6, 1.5, 6.0) == pytest.approx(4.8393, abs=1e-4)
    base = 0.9 / math.tan(math.radians(34.0))
    assert round_mound_volume(0.0, base, 0.9) == pytest.approx(1.678, abs=1e-3)


@pytest.mark.parametrize("bearing", [0.0, 20.0, 45.0])
def test_the_ridge_on_real_ground_holds_what_its_cells_add_up_to(bearing: float) -> None:
    """Second way: the sum over 5 cm cells of the mound's surface less rolling ground."""
    cell, size, top, slope = 0.05, 240, 0.6, 1.5
    y, x = (np.mgrid[size - 1 : -1 : -1, 0:size] + 0.5) * cell
    ground = 0.04 * np.sin(x) + 0.03 * np.cos(1.3 * y) + 0.01 * x
    way = (math.sin(math.radians(bearing)), math.cos(math.radians(bearing)))
    start, end = (6.0 - 3.0 * way[0], 6.0 - 3.0 * way[1]), (6.0 + 3.0 * way[0], 6.0 + 3.0 * way[1])
    z0, z1 = 0.66, 0.60
    ends = [1000.0 * start[0], 1000.0 * (12.0 - start[1]), 1000.0 * end[0], 1000.0 * (12.0 - end[1])]
    ridge = np.array([[RIDGE, *np.rint(ends), 1e4 * z0, 1e4 * z1, 500.0 * top, slope, 1e4 * z0]])
    heights, _ = whole_heights(ground)
    added = (built_ground(heights, 1000.0 * cell, ridge) - heights) / 1e4
    share = np.linspace(0.0, 1.0, 13)
    line_x, line_y = start[0] + share * 6.0 * way[0], start[1] + share * 6.0 * way[1]
    below = 0.04 * np.sin(line_x) + 0.03 * np.cos(1.3 * line_y) + 0.01 * line_x
    volume = ridge_volume(z0 + share * (z1 - z0) - below, top, slope, 0.5)
    assert volume == pytest.approx(float(added.sum()) * cell * cell, rel=0.03)


@given(st.floats(-0.3, 0.8), st.floats(0.1, 0.8), st.floats(-0.3, 0.8))
def test_each_end_of_a_ridge_is_half_a_cut_cone_as_high_as_it_is_there(
    first: float, middle: float, last: float
) -> None:
    """Second way: the half of a whole cone by scipy's quadrature of its rings; an end below the ground has none."""
    heights = np.array([first, middle, last])
    ends = sum(
        quad(
            lambda away, end=end: math.pi * away * min(end, end - (away - 0.3) / 1.5),
            0.0,
            0.3 + 1.5 * end,
            points=[0.3],
        )[0]
        for end in (first, last)
        if end > 0.0
    )
    assert ridge_volume(heights, 0.6, 1.5, 2.0) - prismoidal_volume(heights, 0.6, 1.5, 2.0) == pytest.approx(
        ends, abs=1e-8
    )


def test_a_line_below_the_ground_has_no_section() -> None:
    assert ridge_section(np.array([-0.5, 0.0]), 0.6, 1.5).tolist() == [0.0, 0.0]
