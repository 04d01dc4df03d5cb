"""The wetness index against its published cases."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.wetness.index import wetness_index


@pytest.mark.parametrize(
    ("behind", "slope", "expected"),
    [(50.0, 0.01, 8.5172), (50.0, 0.02, 7.8240), (20.0, 0.01, 7.6009), (100.0, 0.005, 9.9035)],
)
def test_planes_have_the_tabled_index(behind: float, slope: float, expected: float) -> None:
    """Check values T05 to T07 (Beven & Kirkby 1979 on planes; derived by hand)."""
    index = wetness_index(np.array([[behind]]), np.array([[slope]]), 1e-6)
    assert index[0, 0] == pytest.approx(expected, abs=5e-5)


@given(behind=st.floats(0.1, 1e5), slope=st.floats(1e-4, 1.0), more=st.floats(1.01, 10.0), floor=st.floats(1e-6, 1e-4))
def test_more_ground_behind_is_wetter_and_more_slope_is_drier(
    behind: float, slope: float, more: float, floor: float
) -> None:
    def index(a: float, b: float) -> float:
        return float(wetness_index(np.array([[a]]), np.array([[b]]), floor)[0, 0])

    assert index(more * behind, slope) == pytest.approx(index(behind, slope) + np.log(more))
    assert index(behind, more * slope) == pytest.approx(index(behind, slope) - np.log(more))


def test_level_ground_has_the_index_of_the_floor() -> None:
    assert wetness_index(np.array([[100.0]]), np.array([[0.0]]), 1e-3)[0, 0] == pytest.approx(11.5129, abs=1e-4)


def test_what_is_unknown_stays_unknown() -> None:
    assert np.isnan(wetness_index(np.array([[np.nan, 1.0]]), np.array([[0.1, np.nan]]), 0.01)).all()
