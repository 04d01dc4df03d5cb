"""Conductivity from holes that were timed: published formulas, the equation behind one, and where it is used."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import Settings, make_settings
from sitepipe.site import AugerReading, Refill
from sitepipe.terrain.stage import derive_terrain
from sitepipe.wetness.conductivity import (
    auger_hole_conductivity,
    inverse_auger_conductivity,
    soil_conductivity,
    timed_conductivity,
)
from sitepipe.wetness.record import WaterTable
from sitepipe.wetness.water_table import estimate_water_table
from tests.sites import make_site, valley

BAILED = AugerReading("A", 30.0, 30.0, date(2025, 4, 9), 0.40, 1.20, "none", None, Refill(0.795, 0.725, 50.0, 0.04))
"""At rest 40 cm down, 80 cm of water; bailed, it rose 7 cm in 50 s around 36 cm below rest."""
FILLED = AugerReading("B", 30.0, 30.0, date(2025, 8, 9), None, 0.90, "none", None, Refill(0.20, 0.30, 600.0, 0.04))


def test_a_bailed_hole_gives_ernsts_figure() -> None:
    # shared check G10: r 4, H 80, y 36, 7 cm in 50 s: C 7.168, K 1.0036 m/d (formula from memory, computed).
    assert auger_hole_conductivity(0.04, 0.80, 0.36, 0.07, 50.0) == pytest.approx(1.0036, rel=1e-4)
    assert auger_hole_conductivity(0.04, 0.80, 0.36, 0.01, 1.0) == pytest.approx(7.168, rel=1e-4)
    assert timed_conductivity(BAILED) == pytest.approx(1.0036, rel=1e-4)


def test_a_filled_hole_gives_porchets_figure() -> None:
    # shared check G11: r 4 cm, 70 to 60 cm in 600 s: 4.984e-6 m/s, .4307 m/d (formula from memory, computed).
    assert inverse_auger_conductivity(0.04, 0.70, 0.60, 600.0) == pytest.approx(0.4307, rel=1e-3)
    assert inverse_auger_conductivity(0.04, 0.70, 0.60, 600.0) / 86_400.0 == pytest.approx(4.984e-6, rel=1e-3)
    assert timed_conductivity(FILLED) == pytest.approx(0.4307, rel=1e-3)


@given(st.floats(0.02, 0.10), st.floats(0.2, 1.5), st.floats(0.2, 0.95), st.floats(0.01, 10.0))
def test_a_filled_hole_empties_as_its_walls_and_floor_let_it(
    radius: float, start: float, left: float, conductivity: float
) -> None:
    """What soaks in through walls and floor under a fall of one: r dh/dt = -K (2 h + r), integrated by steps."""
    end = left * start
    rate = conductivity / 86_400.0

    def sinks(_: float, height: np.ndarray[tuple[int], np.dtype[np.float64]]) -> list[float]:
        return [-rate * (2.0 * float(height[0]) + radius) / radius]

    def is_there(_: float, height: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float:
        return float(height[0]) - end

    is_there.terminal = True  # type: ignore[attr-defined]
    longest = 50.0 * start / rate
    found = solve_ivp(sinks, (0.0, longest), [start], events=is_there, rtol=1e-8, atol=1e-10)
    assert found.t_events is not None
    seconds = float(found.t_events[0][0])
    assert inverse_auger_conductivity(radius, start, end, seconds) == pytest.approx(conductivity, rel=1e-4)


def test_a_hole_that_was_not_timed_says_nothing() -> None:
    assert timed_conductivity(replace(BAILED, refill=None)) is None
    assert timed_conductivity(replace(BAILED, hole_depth=None)) is None
    assert timed_conductivity(replace(BAILED, depth_to_water=None)) is None
    plain = soil_conductivity(Settings())
    assert soil_conductivity(Settings(), (replace(BAILED, refill=None),)) == plain


def test_what_is_set_comes_before_what_is_measured_and_that_before_the_texture() -> None:
    own = make_settings({"water_table": {"conductivity": 3.0}}, "test")
    assert soil_conductivity(own, (BAILED,)) == 3.0
    assert soil_conductivity(Settings(), (BAILED,)) == pytest.approx(1.0036, rel=1e-4)
    both = soil_conductivity(Settings(), (BAILED, FILLED))
    assert both == pytest.approx(float(np.sqrt(1.0036 * 0.4307)), rel=1e-3)


def test_a_timed_hole_moves_the_water_table_and_the_answer_says_so() -> None:
    """Readier soil drains to a lower table."""
    site, settings = make_site(valley(60, 60, 1.0, fall=0.02, side=0.02)), Settings()
    terrain, drainage = derive_terrain(site, settings), trace_drainage(site, settings)

    def table(*readings: AugerReading) -> WaterTable:
        return estimate_water_table(replace(site, auger_readings=readings), terrain, drainage, settings)

    tight = table(replace(FILLED, refill=Refill(0.20, 0.21, 90_000.0, 0.04)))
    ready = table(replace(FILLED, refill=Refill(0.20, 0.30, 10.0, 0.04)))
    mean_depths = [float(np.nanmean(one.water_table_depth)) for one in (tight, table(), ready)]
    assert mean_depths == sorted(mean_depths)
    assert mean_depths[2] - mean_depths[0] > 0.05
    assert ready.flow.timed_holes == 1
    assert table().flow.timed_holes == 0
    set_by_hand = make_settings({"water_table": {"conductivity": 3.0}}, "test")
    with_hole = replace(site, auger_readings=(FILLED,))
    assert estimate_water_table(with_hole, terrain, drainage, set_by_hand).flow.timed_holes == 0
