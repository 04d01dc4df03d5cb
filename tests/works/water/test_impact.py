"""Before and after: dams and diversions that must fail, mounds that must pass, and water that is counted."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.answers.impact import say_change_at, say_harm, say_remedy, say_where
from sitepipe.arrays import FloatArray
from sitepipe.drainage.trial import try_ground
from sitepipe.settings import make_settings
from sitepipe.site import Kind, Ref, Work
from sitepipe.works.land import Land
from sitepipe.works.mounds.fills import find_fill
from sitepipe.works.mounds.height import mound_height
from sitepipe.works.mounds.layout import Layout
from sitepipe.works.mounds.making import lay_crest, make_mound
from sitepipe.works.mounds.plan import plan_mounds, search_mounds
from sitepipe.works.mounds.record import Mound
from sitepipe.works.mounds.trials import Weighed, settle_layout
from sitepipe.works.stakes import prepare_setting_out
from sitepipe.works.staking import stake_together
from sitepipe.works.water.boundary import split_boundary
from sitepipe.works.water.impact import drain_baseline, weigh_impact
from sitepipe.works.water.outlets import grown_outlets
from sitepipe.works.water.record import Impact, Rise, RisesAt
from sitepipe.works.water.tipped import rows_of, tipped_works
from tests.sites import bowl, draw_thing, make_site, plane, valley
from tests.works.grounds import mound_site


def mound_at(ground: Land, number: int, start: tuple[float, float], end: tuple[float, float]) -> Mound:
    mound, refusals = make_mound(
        number,
        np.array([*start, *end]),
        "shallow vegetables",
        3.0,
        ground,
        10.0,
    )
    assert mound is not None, refusals
    return mound


def weighed(ground: Land, *mounds: Mound) -> Impact:
    baseline = drain_baseline(ground)
    return weigh_impact(ground, baseline, rows_of(tipped_works(ground, baseline.ground, mounds)))


def rises_at(found: Impact) -> set[RisesAt]:
    return {rise.at for rise in found.rises if rise.fails}


def swale(rows: int = 60) -> FloatArray:
    """Make a trough that falls to the south through the parcel and on beyond it."""
    return valley(rows, rows, 1.0, fall=0.01, side=0.06)


def test_no_mound_changes_nothing() -> None:
    found = weighed(mound_site(swale()))
    assert found.passes
    assert found.faults == ()
    assert found.displaced == 0.0
    assert all(change.volume_before == change.volume_after for change in found.boundary)
    assert all(change.depth_before == change.depth_after for change in found.boundary)


def test_mounds_along_the_fall_beside_the_flow_pass() -> None:
    ground = mound_site(swale())
    found = weighed(ground, mound_at(ground, 1, (20.0, 25.0), (20.0, 33.0)))
    assert found.passes
    assert say_remedy(found, ground.site, ground.settings) == ""


def test_a_dam_that_backs_water_over_the_boundary_fails_with_the_place_and_a_remedy() -> None:
    """The parcel ends just above the dam, so that the pond behind it lies next door."""
    parcel = box(6.0, 6.0, 54.0, 34.0)
    ground = mound_site(swale(), parcel=parcel)
    dam = mound_at(ground, 1, (24.0, 31.0), (36.0, 31.0))
    found = weighed(ground, dam)
    fault = found.faults[0]
    assert isinstance(fault, Rise)
    assert fault.at is RisesAt.NEXT_DOOR
    assert "higher beyond the boundary" in say_harm(fault, ground.site, ground.settings)
    assert fault.place.y > 34.0
    assert fault.place.distance(dam.outline) < 12.0
    blamed = replace(found, rises=(replace(fault, done_by=(Ref(Work.MOUND, 1),)),))
    assert "mound 1 or open a gap" in say_remedy(blamed, ground.site, ground.settings)


def test_a_rise_at_the_house_and_on_the_road_fails_too() -> None:
    house = draw_thing(1, Kind.BUILDING, "House", box(30.0, 38.0, 36.0, 44.0))
    ground = mound_site(swale(), features=(house,))
    at_house = weighed(ground, mound_at(ground, 1, (22.0, 34.0), (38.0, 34.0)))
    assert rises_at(at_house) >= {RisesAt.HOUSE}
    assert "rises" in say_change_at(at_house, RisesAt.HOUSE, ground.settings.units)
    road = draw_thing(1, Kind.ROAD, "Road", box(0.0, 38.0, 60.0, 42.0))
    ground = mound_site(swale(), features=(road,))
    on_road = weighed(ground, mound_at(ground, 1, (22.0, 34.0), (38.0, 34.0)))
    assert rises_at(on_road) >= {RisesAt.ROAD}
    assert "rises" in say_change_at(on_road, RisesAt.ROAD, ground.settings.units)
    assert say_change_at(on_road, RisesAt.HOUSE, ground.settings.units) == "", "none is drawn"


def test_a_wall_aslant_a_slope_gathers_its_water_to_one_outlet_and_fails() -> None:
    """Seven mounds end to end turn the sheet of water on a plane to the side, over one end of the boundary."""
    ground = mound_site(plane(80, 80, 1.0, east=0.0, north=0.03), parcel=box(30.0, 8.0, 60.0, 72.0))
    wall = [
        mound_at(ground, n + 1, (31.8 + 3.4 * n, 30.0 - 2.0 * n), (35.2 + 3.4 * n, 28.0 - 2.0 * n)) for n in range(7)
    ]
    found = weighed(ground, *wall)
    said = [say_harm(fault, ground.site, ground.settings) for fault in found.faults]
    assert any("More than twice as much water would leave over" in sentence for sentence in said)
    assert any(change.is_new_outflow for change in found.boundary)


def test_displaced_water_is_counted_and_raises_what_is_left() -> None:
    """A pan that no storm fills to its brim: what the mound takes up must stand elsewhere, to the litre."""
    pan = np.full((60, 60), 102.0)
    pan[10:50, 10:50] = 100.0
    own = make_settings({"storm": {"depths": ["40 mm"]}}, "test")
    ground = mound_site(pan, parcel=box(5.0, 5.0, 55.0, 55.0), settings=own)
    mound = mound_at(ground, 1, (20.0, 30.0), (30.0, 30.0))
    baseline = drain_baseline(ground)
    rows = rows_of(tipped_works(ground, baseline.ground, [mound]))
    found = weigh_impact(ground, baseline, rows)
    (now,) = baseline.before.storms
    built = baseline.ground.with_works(rows)
    added = (built - baseline.ground.heights) / 10_000.0
    (then,) = try_ground(built, 1.0, baseline.parcel, baseline.drops).storms
    assert found.deepest_after > found.deepest_before
    assert float(then.depth.sum()) == pytest.approx(float(now.depth.sum()), rel=1e-4)
    before_depth = found.deepest_before
    cells = (now.depth > 0) & (added > 0)
    assert found.displaced == pytest.approx(float(np.minimum(added, before_depth)[cells].sum()), rel=1e-6)
    assert found.ponded_area_after < found.ponded_area_before


def test_a_plan_that_would_fail_loses_the_mound_that_fails_it() -> None:
    ground = mound_site(swale(), parcel=box(6.0, 6.0, 54.0, 34.0))
    search = search_mounds(ground)
    crests = np.array([[24.0, 31.0, 36.0, 31.0], [14.0, 12.0, 14.0, 20.0]])
    layout = replace(search.layouts[0], crests=crests)

    def weigh(one: Layout) -> Weighed:
        mounds = tuple(mound_at(ground, n, (x0, y0), (x1, y1)) for n, (x0, y0, x1, y1) in enumerate(one.crests, 1))
        return Weighed(one, mounds, (), weighed(ground, *mounds))

    found = settle_layout([layout], weigh)
    assert found.impact.passes
    (kept,) = found.mounds
    assert kept.crest.centroid.x == pytest.approx(14.0)
    assert found.left_out == 1
    assert isinstance(found.spared, Rise)


def test_a_plan_found_by_the_search_passes_or_says_why_not() -> None:
    for ground in (mound_site(swale()), mound_site(plane(60, 60, 1.0, 0.01, 0.015))):
        mounds, choice = plan_mounds(ground, drain_baseline(ground))
        assert mounds
        assert weighed(ground, *mounds).passes
        assert choice.lacking is None


def test_every_stretch_of_boundary_is_told_by_its_side() -> None:
    gate = draw_thing(1, Kind.GATE, "Gate", Point(30.0, 6.0))
    site = make_site(plane(60, 60, 1.0), features=(gate,), parcel=box(6.0, 6.0, 54.0, 54.0))
    boundary = split_boundary(site)
    assert {round(stretch.facing) for stretch in boundary.stretches} == {0, 90, 180, 270}
    pieces = np.bincount(boundary.stretch_at)
    assert pieces.sum() == 4 * 48
    assert pieces.max() <= 15
    south = [number for number, stretch in enumerate(boundary.stretches) if round(stretch.facing) == 180]
    assert all(boundary.stretches[number].middle.y == pytest.approx(6.0) for number in south)
    along = np.linspace(7.0, 53.0, 47)
    assert set(boundary.stretch_at[boundary.pieces_at(along, np.full(47, 6.4))]) == set(south)
    assert say_where(Point(30.0, 40.0), site, make_settings({}, "x").units).replace("\u00a0", " ") == (
        "34 m north of the gate"
    )


def test_what_leaves_adds_up_to_the_ground_of_the_parcel_and_what_comes_through() -> None:
    ground = mound_site(plane(60, 60, 1.0, 0.01, 0.02))
    baseline = drain_baseline(ground)
    assert float(baseline.leaving.ground.sum()) == pytest.approx(float(baseline.before.exit_area.sum()))
    assert float(baseline.leaving.volume.sum()) == pytest.approx(float(baseline.before.storms[-1].exit_volume.sum()))
    assert grown_outlets(baseline.leaving, baseline.leaving, baseline.boundary, 0.2) == []


def test_a_crest_runs_straight_over_rolling_ground() -> None:
    ground = plane(40, 40, 0.5, north=0.03)
    ground += 0.02 * np.random.default_rng(2).standard_normal(ground.shape)
    site = make_site(ground, 0.5)
    crest = lay_crest(site, LineString([(10.0, 4.0), (10.0, 12.0)]))
    assert np.diff(crest.fitted) == pytest.approx(np.full(len(crest.fitted) - 1, 0.03 * crest.spacing), abs=4e-3)
    heights = crest.heights(0.5)
    assert heights + crest.ground == pytest.approx(crest.fitted + 0.5)
    assert crest.spacing <= 0.5 + 1e-9


def test_a_mound_carries_its_recipe_and_six_stakes() -> None:
    post = draw_thing(1, Kind.FIXED_POINT, "Post", Point(5.0, 5.0), attributes={"bench_mark": True})
    pin = draw_thing(2, Kind.FIXED_POINT, "Pin", Point(40.0, 5.0))
    ground = mound_site(plane(60, 60, 1.0, north=0.01), features=(post, pin))
    mound = mound_at(ground, 3, (20.0, 20.0), (20.0, 28.0))
    expected = mound_height(0.45, find_fill("woody core", "loam", 0.10), 0.20, 0.05, 0.8)
    assert mound.height.finished == pytest.approx(expected.finished)
    assert mound.height.water_error == pytest.approx(0.05)
    assert mound.height.settling_error == pytest.approx(0.03 * expected.built)
    assert sum(volume for _, volume in mound.materials) == pytest.approx(mound.volume)
    (staked,) = stake_together([mound], ground.site, prepare_setting_out(ground.site, 30.0, 30.0))
    assert [stake.label for stake in staked.stakes] == ["3A", "3B"]
    crest = staked.stakes[0]
    assert crest.height == pytest.approx(expected.finished + 0.01 * 15.0, abs=0.02)
    between = LineString([stake.place for stake in staked.stakes])
    assert between.equals(mound.crest)
    assert mound.outline.equals_exact(between.buffer(mound.base_width / 2.0), 1e-9), "as its card says of the foot"


def test_a_bowl_in_a_storm_keeps_its_water_whatever_stands_in_it() -> None:
    ground = mound_site(bowl(61, 1.0, 0.6))
    mound = mound_at(ground, 1, (26.0, 30.0), (34.0, 30.0))
    found = weighed(ground, mound)
    assert found.displaced > 0.0
    assert found.deepest_after >= found.deepest_before - 1e-9
