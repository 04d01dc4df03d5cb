"""Rows that fit their ground, and the direction that holds least water back."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon, box

from sitepipe.answers.mounds import say_notes
from sitepipe.arrays import FloatArray
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.heights import whole_heights
from sitepipe.scoring.criteria import slope_under_works
from sitepipe.settings import make_settings
from sitepipe.site import Kind
from sitepipe.works.land import Land
from sitepipe.works.mounds.layout import Layout, MoundGround, MoundShape, choose_block, try_layout
from sitepipe.works.mounds.plan import is_too_coarse, mound_ground, plan_mounds, prepare_trial, search_mounds
from sitepipe.works.mounds.record import Lacking, MoundChoice
from sitepipe.works.mounds.rows import RowRules, crest_rows
from sitepipe.works.obstacles import inside
from sitepipe.works.record import Plan
from sitepipe.works.stage import plan_works
from sitepipe.works.water.impact import drain_baseline
from tests.sites import draw_thing, plane, valley
from tests.works.grounds import mound_site, strip_of_no_go

if TYPE_CHECKING:
    from sitepipe.analysis import Analysis

RULES = RowRules(base=2.4, between=0.9, gap=1.5, longest=10.0, shortest=4.0)
SHAPE = MoundShape(top=0.6, side_slope=1.5, built=0.6, most=6, volume_limit=60.0)


def searched(ground: Land) -> tuple[Layout, ...]:
    return search_mounds(ground).layouts


@settings(max_examples=60, deadline=None)
@given(st.floats(0.0, 180.0), st.floats(0.0, 1.0), st.floats(8.0, 40.0), st.floats(8.0, 40.0))
def test_every_foot_fits_and_keeps_its_distance(bearing: float, offset: float, width: float, height: float) -> None:
    ground = box(0.0, 0.0, width, height)
    crests = crest_rows(ground.buffer(-RULES.base / 2.0), bearing, offset, RULES)
    feet = [LineString([c[:2], c[2:]]).buffer(RULES.base / 2.0) for c in crests]
    for crest, foot in zip(crests, feet, strict=True):
        length = math.hypot(crest[2] - crest[0], crest[3] - crest[1]) + RULES.base
        assert RULES.shortest - 1e-9 <= length <= RULES.longest + 1e-9
        assert ground.buffer(1e-6).covers(foot)
    for first in range(len(feet)):
        for second in range(first):
            assert feet[first].distance(feet[second]) >= min(RULES.between, RULES.gap) - 1e-3


def test_a_long_strip_is_cut_with_gaps() -> None:
    crests = crest_rows(box(0.0, 0.0, 40.0, 0.5), 90.0, 0.0, RowRules(2.0, 0.9, 1.5, 10.0, 4.0))
    assert len(crests) >= 4
    ends = crests[np.argsort(crests[:, 0])]
    gaps = ends[1:, 0] - ends[:-1, 2] - 2.0
    assert gaps == pytest.approx(np.full(len(gaps), 1.5))


def test_where_nothing_fits_there_is_no_row() -> None:
    assert crest_rows(Polygon(), 0.0, 0.0, RULES).shape == (0, 4)
    assert crest_rows(box(0.0, 0.0, 1.0, 1.0), 0.0, 0.0, RULES).shape == (0, 4)


def drawn_ground(elevation: FloatArray, flow: tuple[float, float] = (0.0, -10.0)) -> MoundGround:
    heights, _ = whole_heights(elevation)
    shape = elevation.shape
    field = np.empty((2, *shape))
    field[0], field[1] = flow
    return MoundGround(
        0.0, float(shape[0]), 1.0, heights, filled(heights), field, np.ones(shape), np.zeros(shape, bool), (20.0, 0.0)
    )


def test_a_block_stays_together_and_within_its_material() -> None:
    ground = drawn_ground(plane(60, 60, 1.0, north=0.02))
    crests = crest_rows(box(5.0, 5.0, 55.0, 55.0), 0.0, 0.5, RULES)
    chosen = crests[choose_block(ground, crests, SHAPE, RULES)]
    assert 1 < len(chosen) <= SHAPE.most
    lengths = np.hypot(chosen[:, 2] - chosen[:, 0], chosen[:, 3] - chosen[:, 1])
    section = 0.6 * 0.6 + 1.5 * 0.6**2
    assert float(section * (lengths + 0.6 * RULES.base).sum()) <= SHAPE.volume_limit
    middles = 0.5 * (chosen[:, :2] + chosen[:, 2:])
    assert float(np.ptp(middles, axis=0).max()) < 25.0


def test_a_block_does_not_jump_over_ground_that_bears_no_mound() -> None:
    ground = drawn_ground(plane(60, 60, 1.0, north=0.02))
    two_fields = box(5.0, 5.0, 12.0, 55.0).union(box(24.0, 5.0, 31.0, 55.0))
    crests = crest_rows(two_fields, 0.0, 0.5, RULES)
    chosen = crests[choose_block(ground, crests, SHAPE, RULES)]
    assert len(chosen) > 1
    assert float(np.ptp(chosen[:, 0])) < 8.0


def test_one_mound_is_always_allowed_for_trial() -> None:
    ground = drawn_ground(plane(60, 60, 1.0, north=0.02))
    crests = crest_rows(box(5.0, 5.0, 55.0, 55.0), 0.0, 0.5, RULES)
    assert choose_block(ground, crests, MoundShape(0.6, 1.5, 0.6, 6, 0.1), RULES).size == 1


def test_a_dam_across_a_valley_holds_back_what_it_must() -> None:
    """By hand: a ridge right across a trough 3 m wide, closed at its head, ponds to its brim on a fall of 1 in 100."""
    ground = np.full((40, 21), 101.0)
    y = np.arange(39, -1, -1) * 1.0
    ground[1:, 9:12] = (100.0 + 0.01 * y)[1:, None]
    crest = np.array([[7.0, 20.0, 14.0, 20.0]])
    layout = try_layout(drawn_ground(ground), 90.0, crest, MoundShape(2.0, 0.5, 0.40, 1, 99.0), RULES, 7.0)
    brim = 100.0 + 0.01 * 20 + 0.40
    expected = sum(3.0 * (brim - (100.0 + 0.01 * north)) for north in range(21, 39))
    assert layout.held_back == pytest.approx(expected, rel=1e-3)
    along = try_layout(
        drawn_ground(ground), 0.0, np.array([[3.0, 12.0, 3.0, 28.0]]), MoundShape(2.0, 0.5, 0.40, 1, 99.0), RULES, 7.0
    )
    assert along.held_back == 0.0
    assert layout.score < 0.2 * along.score


def test_a_mound_across_the_flow_stands_in_its_way_and_one_along_it_does_not() -> None:
    ground = drawn_ground(plane(40, 40, 1.0, north=0.02))
    across = try_layout(ground, 90.0, np.array([[15.0, 20.0, 25.0, 20.0]]), SHAPE, RULES, 10.0)
    along = try_layout(ground, 0.0, np.array([[20.0, 15.0, 20.0, 25.0]]), SHAPE, RULES, 10.0)
    assert across.in_the_way == pytest.approx(10.0)
    assert along.in_the_way == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(("east", "north", "fall"), [(0.0, 0.02, 0.0), (0.02, 0.0, 90.0), (0.014, 0.014, 45.0)])
def test_on_a_plane_the_rows_run_along_the_fall(east: float, north: float, fall: float) -> None:
    best = searched(mound_site(plane(50, 50, 1.0, east, north)))[0]
    off = abs((best.bearing - fall + 90.0) % 180.0 - 90.0)
    assert off <= 20.0, f"the best of all directions is {best.bearing}"


def test_at_least_thirty_six_directions_are_tried_and_scored() -> None:
    ground = mound_site(plane(50, 50, 1.0, north=0.02))
    _, choice = plan_mounds(ground, drain_baseline(ground))
    assert len(choice.directions_tried) == 36
    scores = [score for _, score in choice.directions_tried]
    assert max(scores) == 1.0
    assert min(scores) > 0.0


def test_mounds_keep_off_what_is_excluded_off_the_ponds_and_off_the_flow() -> None:
    no_go = strip_of_no_go(20.0, 5.0, 26.0, 45.0)
    ground = mound_site(valley(50, 50, 1.0, fall=0.02, side=0.03), exclusions=(no_go,))
    mounds, _ = plan_mounds(ground, drain_baseline(ground))
    assert mounds
    carrying = [
        line.line for line in ground.drainage.flow_lines if max(line.upslope_area) >= ground.settings.mound.flow_area
    ]
    assert carrying
    for mound in mounds:
        assert not mound.outline.intersects(no_go.outline)
        assert ground.site.parcel.covers(mound.outline)
        allowed = mound_ground(ground)
        assert allowed.buffer(0.2).covers(mound.outline)
    for first, second in ((a, b) for a in mounds for b in mounds if a.number < b.number):
        assert first.outline.distance(second.outline) >= 0.85


def test_a_hollow_that_stores_the_storm_is_left_open() -> None:
    ground = plane(50, 50, 1.0, north=0.02)
    y, x = np.mgrid[49:-1:-1, 0:50] + 0.5
    ground -= 0.4 * np.exp(-((x - 25.0) ** 2 + (y - 25.0) ** 2) / 20.0)
    site = mound_site(ground)
    ponds = [pond for pond in site.drainage.ponds if pond.depth >= 0.05]
    assert ponds
    allowed = mound_ground(site)
    assert all(allowed.intersection(pond.outline).area < 1e-6 for pond in ponds)


def test_the_search_gives_the_same_answer_twice() -> None:
    ground = mound_site(plane(50, 50, 1.0, north=0.02))
    one, two = searched(ground), searched(ground)
    assert [layout.score for layout in one] == [layout.score for layout in two]
    assert all(np.array_equal(a.crests, b.crests) for a, b in zip(one, two, strict=True))


def test_a_wide_field_is_tried_on_coarser_cells_and_still_answered() -> None:
    own = make_settings({"mound": {"offsets": 1}}, "test")
    ground = mound_site(plane(600, 600, 0.5, north=0.02), cell=0.5, settings=own)
    layouts = searched(ground)
    assert layouts
    assert shapely.box(*ground.site.parcel.bounds).covers(shapely.MultiPoint(layouts[0].crests[:, :2]))


def test_ground_without_a_zone_for_mounds_says_so() -> None:
    ground = mound_site(plane(30, 30, 1.0, north=0.02), zone=box(0.0, 0.0, 0.0, 0.0))
    found = search_mounds(ground)
    assert found.layouts == ()
    assert found.lacking is Lacking.GROUND


def test_clay_ground_with_nothing_but_clay_to_fill_is_refused() -> None:
    own = make_settings({"mound": {"fills": ["native soil"]}, "soil": {"texture": "clay"}}, "test")
    ground = mound_site(plane(40, 40, 1.0, north=0.02), settings=own)
    mounds, choice = plan_mounds(ground, drain_baseline(ground))
    assert mounds == ()
    assert {refused.fill for refused in choice.refused} == {"native soil"}
    assert {refused.crops for refused in choice.refused} == set(ground.settings.mound.crops)


def test_a_cap_on_height_keeps_to_the_ground_that_fits_under_it() -> None:
    """The wetter half would want .9 m for any crop: under a cap of .6 the mounds stand on the drier half."""
    depth = np.full((50, 50), 0.05)
    depth[:, 25:] = 0.5
    own = make_settings({"mound": {"highest": "0.6 m"}}, "test")
    ground = mound_site(plane(50, 50, 1.0, north=0.02), depth=depth, settings=own)
    mounds, choice = plan_mounds(ground, drain_baseline(ground))
    assert len(mounds) > 2
    assert {mound.crops for mound in mounds} == set(own.mound.crops)
    assert all(mound.outline.bounds[0] > 24.9 for mound in mounds)
    assert all(mound.height.built <= 0.6 for mound in mounds)
    assert all(refused.built > 0.6 for refused in choice.refused)


def test_a_cap_on_height_chooses_the_crops_that_fit_under_it() -> None:
    own = make_settings({"mound": {"highest": "0.6 m"}}, "test")
    ground = mound_site(plane(50, 50, 1.0, north=0.02), depth=0.3, settings=own)
    mounds, choice = plan_mounds(ground, drain_baseline(ground))
    assert len(mounds) > 2
    assert {mound.crops for mound in mounds} == {"shallow vegetables"}
    assert {refused.crops for refused in choice.refused} == {"berry bushes"}


def test_no_mound_stands_on_ground_steeper_than_the_end_of_its_criterion() -> None:
    """North of the middle the ground rises by 24 in 100, where 20 is the end."""
    y = np.arange(49, -1, -1)[:, None] + 0.5
    elevation = 100.0 + np.where(y > 25.0, 0.5 + 0.24 * (y - 25.0), 0.02 * y) + np.zeros((50, 50))
    ground = mound_site(elevation)
    mounds, _ = plan_mounds(ground, drain_baseline(ground))
    assert mounds
    slope = slope_under_works(ground.site, ground.settings.scoring)
    for mound in mounds:
        assert slope[inside(mound.outline, ground.site.grid.x, ground.site.grid.y)].max() <= 0.20


def test_coarser_cells_of_a_trial_keep_their_drains() -> None:
    """A bank across a valley with a culvert of half a metre under it: folded, the culvert must not be blurred away."""
    elevation = valley(320, 320, 0.5, fall=0.02, side=0.03)
    elevation[150:156] += 1.0
    culvert = draw_thing(1, Kind.CULVERT, "Pipe", LineString([(80.0, 86.0), (80.0, 78.0)]))
    ground = mound_site(elevation, cell=0.5, features=(culvert,))
    trial = prepare_trial(ground, mound_ground(ground))
    assert trial.cell > 0.5
    held = float((trial.level - trial.heights)[trial.level > trial.heights].sum()) / 1e4 * trial.cell**2
    dammed = prepare_trial(replace(ground, site=replace(ground.site, features=())), mound_ground(ground))
    behind = float((dammed.level - dammed.heights)[dammed.level > dammed.heights].sum()) / 1e4 * dammed.cell**2
    assert behind > 100.0, "without its culvert the bank is a dam"
    assert held < 0.02 * behind


def test_where_a_cell_is_wider_than_a_mound_nothing_is_placed_and_that_is_said() -> None:
    ground = mound_site(plane(40, 40, 10.0, north=0.02), cell=10.0)
    assert is_too_coarse(ground)
    plan = plan_works(ground)
    assert plan == Plan(mound_choice=MoundChoice(lacking=Lacking.FINER_HEIGHTS))
    analysis = cast("Analysis", SimpleNamespace(plan=plan, settings=ground.settings))
    assert any("too coarse" in note for note in say_notes(analysis))
    fine = mound_site(plane(40, 40, 1.0, north=0.02))
    assert not is_too_coarse(fine)
    resampled = replace(fine, site=replace(fine.site, ground=replace(fine.site.ground, source_cell=10.0)))
    assert is_too_coarse(resampled), "finer cells made of coarse ones know no more"
    rounded = replace(fine, site=replace(fine.site, ground=replace(fine.site.ground, vertical_error=0.305)))
    assert is_too_coarse(rounded), "in whole metres the ground may be off by as much as a mound is high"
