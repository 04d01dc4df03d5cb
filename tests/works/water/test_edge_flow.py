"""Water that flows over the edge: against published formulas, on planes, and told where an outlet grows or moves."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from sitepipe.answers.cautions import _neighbour
from sitepipe.answers.works import impact as say_impact
from sitepipe.arrays import FloatArray
from sitepipe.site import Kind
from sitepipe.works.record import Impact, Plan
from sitepipe.works.water.boundary import split_boundary
from sitepipe.works.water.edge_flow import (
    CUBIC_FEET_FROM_A_MILE,
    GATHERING,
    LEAST_FALL,
    ROUGHNESS,
    edge_depths,
    falls_at,
    sheet_depth,
    unit_peak,
)
from sitepipe.works.water.impact import drain_baseline, weigh_impact
from sitepipe.works.water.outflows import NEW_OUTFLOW, Outflows, grown_outflows
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import mound_site

if TYPE_CHECKING:
    from sitepipe.analysis import Analysis

PARCEL = box(6.0, 6.0, 54.0, 54.0)


def outflows_at(along: list[float], area: list[float]) -> Outflows:
    return Outflows(np.zeros(len(along), np.int32), np.array(along), np.array(area))


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


def test_the_sheet_off_a_plane_is_as_deep_as_the_ground_behind_it_is_long() -> None:
    """A plane that falls to the south: 54 m of ground behind each metre of the south edge, 6 behind the north one."""
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL)
    baseline = drain_baseline(ground.site, ground.drainage)
    found = weigh_impact(ground.site, baseline, (), np.zeros(ground.site.grid.shape), ground.settings)
    south = [change for change in found.boundary if change.where.startswith("south")]
    flow = unit_peak(GATHERING) * baseline.runoff * 54.0
    expected = float(sheet_depth(np.array([flow]), np.array([0.02]))[0])
    assert all(change.flow_before == pytest.approx(expected, rel=0.02) for change in south)
    assert all(change.flow_after == change.flow_before for change in found.boundary)
    assert all(change.area_after == change.area_before for change in found.boundary)
    assert sum(change.area_before for change in south) == pytest.approx(54.0 * 48.0, rel=0.05), (
        "corners belong to either side"
    )
    assert found.outlets == ()


def test_water_that_leaves_by_a_ditch_is_no_sheet() -> None:
    ditch = draw_thing(1, Kind.DITCH, "Ditch", LineString([(30.0, 12.0), (30.0, 2.0)]), width=1.0)
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL, features=(ditch,))
    baseline = drain_baseline(ground.site, ground.drainage)
    boundary = baseline.boundary
    assert baseline.channels.contains(ditch.geometry)
    base = outflows_at([3.0, 20.0], [500.0, 900.0])
    depths = edge_depths(base, np.full(2, 0.02), np.array([True, False]), 0.03, boundary)
    assert np.count_nonzero(depths) == 1
    both = edge_depths(base, np.full(2, 0.02), np.array([True, True]), 0.03, boundary)
    assert both.max() > depths.max()


def test_what_gathers_within_a_few_steps_is_one_sheet() -> None:
    boundary = split_boundary(make_site(plane(60, 60, 1.0), parcel=PARCEL))
    falls, over_land = np.full(3, 0.02), np.ones(3, np.bool_)
    apart = edge_depths(outflows_at([3.5, 9.5, 12.5], [300.0] * 3), falls, over_land, 0.03, boundary).max()
    together = edge_depths(outflows_at([3.5, 4.5, 5.5], [300.0] * 3), falls, over_land, 0.03, boundary).max()
    assert together == pytest.approx(apart * 3.0**0.6)


def test_an_outlet_that_grows_by_more_than_the_share_is_told() -> None:
    boundary = split_boundary(make_site(plane(60, 60, 1.0), parcel=PARCEL))
    before, after = outflows_at([20.5], [1000.0]), outflows_at([22.5], [1300.0])
    assert grown_outflows(before, after, boundary, 0.4) == []
    (grown,) = grown_outflows(before, after, boundary, 0.2)
    assert (grown.before, grown.after) == (1000.0, 1300.0)
    assert grown.along == pytest.approx(22.5)
    assert grown_outflows(after, before, boundary, 0.2) == [], "less water is no growth"
    tiny = outflows_at([20.5], [0.9 * NEW_OUTFLOW])
    assert grown_outflows(outflows_at([], []), tiny, boundary, 0.2) == []


def bank(first: int, last: int) -> FloatArray:
    """Make a low bank aslant: it sends what comes against it along to its eastern, lower end."""
    added = np.zeros((60, 60))
    for step in range(first, last):
        added[30 + step // 2, 20 + step] = added[30 + step // 2, 21 + step] = 0.4
    return added


def test_a_sheet_that_a_bank_gathers_is_told_with_its_depth_before_and_after() -> None:
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL)
    baseline = drain_baseline(ground.site, ground.drainage)
    found = weigh_impact(ground.site, baseline, (), bank(0, 12), ground.settings)
    assert found.passes, "within two reaches as much left before"
    outlet = found.outlets[0]
    assert outlet.area_before == pytest.approx(3 * 54.0)
    # Thirteen metres of the sheet above the bank, and its own three below it.
    assert outlet.area_after == pytest.approx(3 * 54.0 + 13 * 30.0, rel=0.1)
    assert outlet.flow_after == pytest.approx(outlet.flow_before * (outlet.area_after / outlet.area_before) ** 0.6)
    assert "over the south boundary" in outlet.where
    assert outlet.came_from == "", "a sheet leaves everywhere: none of it is missed"
    assert sum(change.area_after for change in found.boundary) == pytest.approx(
        sum(change.area_before for change in found.boundary), rel=0.02
    )


def test_an_outlet_that_moves_says_from_where() -> None:
    """The bank stood there before and gathered the sheet; the plan makes it longer."""
    ground = mound_site(plane(60, 60, 1.0, north=0.02) + bank(0, 12), parcel=PARCEL)
    baseline = drain_baseline(ground.site, ground.drainage)
    found = weigh_impact(ground.site, baseline, (), bank(12, 24), ground.settings)
    assert found.outlets
    outlet = found.outlets[0]
    assert outlet.place.x > 43.0
    assert outlet.came_from.replace("\u00a0", " ").endswith("of the middle of the parcel")


def test_the_answer_says_that_more_leaves_and_how_deep_it_flows() -> None:
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL)
    baseline = drain_baseline(ground.site, ground.drainage)
    found = weigh_impact(ground.site, baseline, (), bank(0, 12), ground.settings)
    as_it_is = weigh_impact(ground.site, baseline, (), np.zeros((60, 60)), ground.settings)

    def said(impact: Impact) -> str:
        analysis = cast("Analysis", SimpleNamespace(plan=Plan(impact=impact), settings=ground.settings))
        told = list(say_impact(analysis))
        if impact.outlets:
            told += [f"{caution.title}: {caution.text}" for caution in _neighbour(analysis)]
        return " ".join(told).replace("\u00a0", " ")

    assert "lets more of it leave there than now" in said(found)
    assert "More water leaves over the south boundary" in said(found)
    assert "1 cm deep now and 3 cm deep then" in said(found)
    assert "More water leaves here than now: Built as drawn" in said(found)
    assert "pushes no water next door" in said(as_it_is)
    assert "No outlet on the boundary drains more ground than now by over 20 in 100." in said(as_it_is)
    assert "nowhere does it get deeper than now" in said(as_it_is)
