"""Outlets: what leaves where and how deep, what grows, what fails, and what a change of storm or cover does."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest
from shapely import LineString, box

from sitepipe.answers.cautions import neighbour_cautions
from sitepipe.answers.impact import say_impact, say_in_short, say_stretch
from sitepipe.answers.trial import say_change
from sitepipe.arrays import FloatArray
from sitepipe.settings import make_settings
from sitepipe.site import Kind
from sitepipe.works.land import Land
from sitepipe.works.record import Plan
from sitepipe.works.water.boundary import Boundary, split_boundary
from sitepipe.works.water.edge_flow import GATHERING, sheet_depth, unit_peak
from sitepipe.works.water.impact import drain_baseline, weigh_impact
from sitepipe.works.water.outlets import LEAST_GROUND, SHEET, Leaving, gather_outflow, grown_outlets
from sitepipe.works.water.raised_ground import LAYER
from sitepipe.works.water.record import Impact, RisesAt, TriedChange
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import mound_site

if TYPE_CHECKING:
    from sitepipe.analysis import Analysis

PARCEL = box(6.0, 6.0, 54.0, 54.0)
BOUNDARY = split_boundary(make_site(plane(60, 60, 1.0), parcel=PARCEL))


def leaving_at(x: list[float], area: list[float], over_land: list[bool] | None = None, fall: float = 0.02) -> Leaving:
    """Let water leave over the south side."""
    ground, land = np.array(area), np.array(over_land if over_land is not None else [True] * len(x))
    y = np.full(len(x), 6.0)
    return gather_outflow(np.array(x), y, ground, 0.03 * ground, np.full(len(x), fall), land, BOUNDARY)


def weighed(ground: Land, added: FloatArray) -> Impact:
    """Weigh cells that are raised, each a layer of its own."""
    rows = np.zeros((np.count_nonzero(added), 10))
    row, column = np.nonzero(added)
    rows[:, 0], rows[:, 9] = LAYER, np.rint(10_000.0 * added[row, column])
    rows[:, 1:5] = 1000.0 * np.column_stack([column, row, column, row]) + 500.0
    return weigh_impact(ground, drain_baseline(ground), rows)


def test_the_sheet_off_a_plane_is_as_deep_as_the_ground_behind_it_is_long() -> None:
    """A plane that falls to the south: 54 m of ground behind each metre of the south edge, 6 behind the north one."""
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL)
    found = weighed(ground, np.zeros((60, 60)))
    south = [change for change in found.boundary if round(change.facing) == 180]
    flow = unit_peak(GATHERING) * float(ground.drainage.storms[-1].runoff[30, 30]) * 54.0
    expected = float(sheet_depth(np.array([flow]), np.array([0.02]))[0])
    assert all(change.flow_before == pytest.approx(expected, rel=0.02) for change in south)
    assert all(change.flow_after == change.flow_before for change in found.boundary)
    assert all(change.area_after == change.area_before for change in found.boundary)
    assert sum(change.area_before for change in south) == pytest.approx(54.0 * 48.0, rel=0.05), (
        "corners belong to either side"
    )
    assert found.outlets == ()


def test_runoff_is_counted_by_cell_and_not_spread() -> None:
    """Half of the plane is roof: all that falls on it runs off, and leaves below it alone."""
    roof = draw_thing(1, Kind.BUILDING, "Shed", box(8.0, 8.0, 30.0, 52.0), height=0.001)
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL, features=(roof,))
    baseline = drain_baseline(ground)
    storm = ground.drainage.storms[-1]
    assert baseline.leaving.volume.sum() == pytest.approx(float(baseline.before.storms[-1].exit_volume.sum()))
    green = baseline.boundary.pieces_at(np.array([48.0]), np.array([6.0]))[0]
    lawn = float(storm.runoff[10, 50])
    assert baseline.leaving.volume[green] == pytest.approx(lawn * baseline.leaving.ground[green])
    assert lawn < 0.8 * storm.rain_depth
    paved = baseline.leaving.volume.sum() / baseline.leaving.ground.sum()
    assert paved > lawn, "a mean over all cells would have said this of the lawn as well"


def test_water_that_leaves_by_a_ditch_is_no_sheet() -> None:
    ditch = draw_thing(1, Kind.DITCH, "Ditch", LineString([(30.0, 12.0), (30.0, 2.0)]), width=1.0)
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL, features=(ditch,))
    assert drain_baseline(ground).channels.contains(ditch.geometry)
    by_ditch = leaving_at([12.5, 40.5], [100.0, 150.0], [True, False])
    assert np.count_nonzero(by_ditch.depth) == 3
    assert leaving_at([12.5, 40.5], [100.0, 150.0]).depth.max() > by_ditch.depth.max()
    assert by_ditch.gathered.max() == 150.0, "it leaves all the same"


def test_what_gathers_within_a_few_steps_is_one_sheet() -> None:
    apart = leaving_at([13.5, 23.5, 33.5], [50.0] * 3).depth.max()
    together = leaving_at([13.5, 14.5, 15.5], [50.0] * 3).depth.max()
    assert together == pytest.approx(apart * 3.0**0.6)


def test_deeper_than_a_sheet_it_is_a_stream_without_a_depth() -> None:
    """Half a square kilometre over 3 m of edge: the formula has 36 m of it, and it is no picture of a river."""
    river = leaving_at([13.5], [500_000.0])
    assert math.isinf(river.depth.max())
    sheets = leaving_at([13.5, 23.5], [40.0, 80.0])
    assert 0.0 < sheets.depth.max() <= SHEET


def test_an_outlet_that_grows_by_more_than_the_share_is_told() -> None:
    before, after = leaving_at([20.5], [1000.0]), leaving_at([22.5], [1300.0])
    assert grown_outlets(before, after, BOUNDARY, 0.4) == []
    (grown,) = grown_outlets(before, after, BOUNDARY, 0.2)
    assert (before.gathered[grown.before], after.gathered[grown.after]) == (1000.0, 1300.0)
    assert BOUNDARY.middle_of(grown.place).x == pytest.approx(22.5)
    assert grown_outlets(after, before, BOUNDARY, 0.2) == [], "less water is no growth"
    tiny = leaving_at([20.5], [0.9 * LEAST_GROUND])
    assert grown_outlets(leaving_at([], []), tiny, BOUNDARY, 0.2) == []


def test_an_outlet_that_wanders_a_few_steps_is_the_same_and_farther_off_a_new_one() -> None:
    one = leaving_at([20.5], [120.0])
    assert grown_outlets(one, leaving_at([23.5], [120.0]), BOUNDARY, 0.2) == []
    (far,) = grown_outlets(one, leaving_at([50.5], [120.0]), BOUNDARY, 0.2)
    assert BOUNDARY.middle_of(far.place).x == pytest.approx(50.5)


@pytest.mark.parametrize("sides", [(48.0, 48.0), (3.0, 2.0)])
def test_neighbours_are_counted_round_the_ring_and_once_each(sides: tuple[float, float]) -> None:
    found: Boundary = split_boundary(
        make_site(plane(60, 60, 1.0), parcel=box(6.0, 6.0, 6.0 + sides[0], 6.0 + sides[1]))
    )
    around = found.around(2)
    assert (around[:, 0] == np.arange(len(around))).all()
    assert all(len(set(row)) == 5 for row in around.tolist())
    assert set(around[0].tolist()) == {0, 1, 2, len(around) - 1, len(around) - 2}


def bank(first: int, last: int) -> FloatArray:
    """Make a low bank aslant: it sends what comes against it along to its eastern, lower end."""
    added = np.zeros((60, 60))
    for step in range(first, last):
        added[30 + step // 2, 20 + step] = added[30 + step // 2, 21 + step] = 0.4
    return added


def test_an_outlet_that_more_than_doubles_fails_and_is_told_with_its_own_depths() -> None:
    """A bank gathers a sheet to a rill: held against equal reaches, 162 m2 become three times as much."""
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL)
    found = weighed(ground, bank(0, 12))
    outlet = found.outlets[0]
    assert outlet.area_before == pytest.approx(3 * 54.0)
    # Thirteen metres of the sheet above the bank, and its own three below it.
    assert outlet.area_after == pytest.approx(3 * 54.0 + 13 * 30.0, rel=0.1)
    assert outlet.fails
    assert not found.passes
    assert found.faults == (outlet,)
    assert outlet.flow_after == pytest.approx(outlet.flow_before * (outlet.area_after / outlet.area_before) ** 0.6)
    assert any(change.is_new_outflow for change in found.boundary)
    assert outlet.came_from is None, "a sheet leaves everywhere: none of it is missed"
    assert sum(change.area_after for change in found.boundary) == pytest.approx(
        sum(change.area_before for change in found.boundary), rel=0.02
    )


def test_an_outlet_that_grows_by_less_is_told_and_does_not_fail() -> None:
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL)
    found = weighed(ground, bank(0, 3))
    assert found.passes
    assert found.outlets
    assert found.outlets[0].area_after <= 2.0 * found.outlets[0].area_before


def test_an_outlet_that_moves_says_from_where() -> None:
    """The bank stood there before and gathered the sheet; the plan makes it longer."""
    ground = mound_site(plane(60, 60, 1.0, north=0.02) + bank(0, 12), parcel=PARCEL)
    outlet = weighed(ground, bank(12, 24)).outlets[0]
    assert outlet.place.x > 43.0
    assert outlet.came_from is not None
    assert outlet.came_from.x < 36.0


def test_every_storm_is_judged_and_not_the_largest_alone() -> None:
    """A pit next door that the large storm fills to its brim anyway; the small one stands higher in it than before."""
    pit = np.zeros((60, 60))
    pit[54:58, 31:37] = -0.3

    def next_door(*storms: str) -> tuple[float, float, bool]:
        settings = make_settings({"storm": {"depths": list(storms)}}, "test")
        ground = mound_site(plane(60, 60, 1.0, north=0.02) + pit, parcel=PARCEL, settings=settings)
        (rise,) = [rise for rise in weighed(ground, bank(0, 12)).rises if rise.at is RisesAt.NEXT_DOOR]
        return rise.height, rise.rain, rise.fails

    assert next_door("200 mm") == (0.0, 0.2, False)
    height, rain, fails = next_door("20 mm", "200 mm")
    assert (rain, fails) == (0.02, True)
    assert height > 0.01


def test_the_answer_says_that_more_leaves_and_how_deep_it_flows() -> None:
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=PARCEL)

    def said(impact: Impact) -> str:
        analysis = cast(
            "Analysis", SimpleNamespace(plan=Plan(impact=impact), site=ground.site, settings=ground.settings)
        )
        told = list(say_impact(analysis))
        if impact.outlets:
            told += [f"{caution.title}: {caution.text}" for caution in neighbour_cautions(analysis)]
        return " ".join(told).replace("\u00a0", " ")

    found = weighed(ground, bank(0, 3))
    assert "lets more of it leave there than now" in said(found)
    assert "More water leaves over the south boundary" in said(found)
    assert "More water leaves here than now: Built as drawn" in said(found)
    failing = said(weighed(ground, bank(0, 12)))
    assert "must not be built so" in failing
    assert "More than twice as much water would leave over the south boundary" in failing
    assert "There it flows 1 cm deep today, 3 cm deep with the plan" in failing
    impact = weighed(ground, bank(0, 12))
    change = TriedChange(impact.passes, 0.0, 0.0, 0.0, 0.0, 0.0, (), True, impact.faults, {}, True)
    tried = cast("Analysis", SimpleNamespace(plan=Plan(change=change), site=ground.site, settings=ground.settings))
    first, second = say_change(tried)
    assert first.startswith("The change must not be built so. More than twice as much water would leave over the south")
    assert second == "Water stands on no more of the parcel than now."
    as_it_is = weighed(ground, np.zeros((60, 60)))
    assert "pushes no water next door" in said(as_it_is)
    assert "No outlet on the boundary gains much water." in said(as_it_is)
    assert "with the plan it gets no deeper" in said(as_it_is)
    assert say_in_short(as_it_is, ground.settings.units) == "No water is pushed next door."
    wetter = replace(as_it_is, ponded_area_before=100.0, ponded_area_after=130.0)
    assert "30\u00a0m² more stands here" in say_in_short(wetter, ground.settings.units), (
        "what grows at home is said beside"
    )
    assert "south boundary" in {
        say_stretch(c, ground.site, ground.settings.units).split(",")[0] for c in found.boundary
    }
