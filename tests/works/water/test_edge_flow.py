"""Water that flows over the edge: against published formulas, on planes, and told where an outlet grows or moves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from sitepipe.works.water.edge_flow import (
    CUBIC_FEET_FROM_A_MILE,
    LEAST_FALL,
    ROUGHNESS,
    falls_at,
    sheet_depth,
    unit_peak,
)
from tests.sites import plane

PARCEL = box(6.0, 6.0, 54.0, 54.0)


@given(st.floats(5.0, 100.0), st.floats(2e-6, 5e-5), st.floats(0.005, 0.2))
def test_a_sheet_fills_in_the_time_of_the_published_wave(length: float, rain: float, fall: float) -> None:
    """Steady rain over its time of travel makes the depth at the foot.

    FHWA HEC-22, equation 3-3: minutes = .933 (n L)^.6 / (i^.4 S^.3), L in ft, i in in/h (value from memory).
    """
    depth = float(sheet_depth(np.array([rain * length]), np.array([fall]))[0])
    inches = rain * 3600.0 / 0.0254
    minutes = 0.933 * (ROUGHNESS * length / 0.3048) ** 0.6 / (inches**0.4 * fall**0.3)
    assert depth / rain / 60.0 == pytest.approx(minutes, rel=0.01)


def test_the_unit_peak_is_that_of_the_worked_example() -> None:
    # TR-55, example 4-1: 1.53 h, rain type II, Ia/P .10: 270 csm/in off its chart (from memory).
    assert unit_peak(1.53) / CUBIC_FEET_FROM_A_MILE == pytest.approx(270.0, rel=0.02)
    assert unit_peak(0.1) > unit_peak(0.5) > unit_peak(2.0)


@given(st.floats(1e-6, 0.05), st.floats(1.01, 4.0), st.floats(0.005, 0.3))
def test_more_water_is_deeper_and_a_steeper_ground_shallower(flow: float, more: float, fall: float) -> None:
    one, two, steep = sheet_depth(np.array([flow, flow * more, flow]), np.array([fall, fall, fall * more]))
    assert two == pytest.approx(one * more**0.6)
    assert steep == pytest.approx(one / more**0.3)


@pytest.mark.parametrize("cell", [0.5, 1.0, 3.0])
def test_the_fall_of_a_plane_is_its_own_up_to_the_edge(cell: float) -> None:
    elevation = plane(40, 50, cell, east=0.03, north=0.04)
    cells = np.array([0, 49, 20 * 50 + 25, 39 * 50, 40 * 50 - 1], np.int32)
    assert falls_at(elevation, cell, cells) == pytest.approx(np.full(5, 0.05))
    assert falls_at(np.full((9, 9), 3.0), cell, np.array([40], np.int32)) == pytest.approx([LEAST_FALL])
    assert falls_at(np.full((9, 9), np.nan), cell, np.array([40], np.int32)) == pytest.approx([LEAST_FALL])
