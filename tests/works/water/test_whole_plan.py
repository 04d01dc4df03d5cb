"""The whole plan built into the ground: paths, pad and pile hold water back as mounds do, and are named for it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate

from sitepipe.answers.impact import say_built, say_culprits, say_harm, say_path_dug_in, say_remedy
from sitepipe.arrays import FloatArray
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.heights import whole_heights
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Kind, Ref, Site, Work
from sitepipe.works import stage
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.materials import FILL
from sitepipe.works.jobs.record import Quantity
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.record import Plan
from sitepipe.works.water.impact import drain_baseline
from sitepipe.works.water.raised_ground import WholeGround, WholeWork, whole_ground
from sitepipe.works.water.record import Impact, OutletChange, Rise
from sitepipe.works.water.tipped import pad_piece, path_pieces, pile_piece, tipped_works
from sitepipe.works.water.whole_plan import settle_plan
from sitepipe.works.ways.record import LeftOut, Path, TippingPlace
from sitepipe.works.ways.tipping import pile_radius
from tests.sites import draw_thing, make_site, plane, valley
from tests.works.grounds import house_on, mound_site, place_at
from tests.works.water.test_impact import mound_at

SETTINGS = Settings()
BEFORE_THE_EDGE = box(6.0, 6.0, 54.0, 34.0)
"""A parcel whose neighbour lies up the trough: what is dammed inside it stands next door."""


def trough() -> FloatArray:
    return valley(60, 60, 1.0, fall=0.01, side=0.06)


def path_along(line: LineString, number: int = 2, crossings: tuple[Point, ...] = (), width: float = 0.9) -> Path:
    outline = line.buffer(width / 2.0, cap_style="flat")
    assert isinstance(outline, Polygon)
    chips = outline.area * SETTINGS.path.chip_depth
    return Path(number, line, outline, (None, None), width, True, crossings, chips, 0.5, 1.0, 1.0, 1.0)


def pile_at(x: float, y: float) -> TippingPlace:
    return place_at(x, y, radius=pile_radius(SETTINGS))


def settled(
    ground: Land,
    mounds: tuple[Mound, ...] = (),
    house: HoopHouse | None = None,
    places: tuple[TippingPlace, ...] = (),
    paths: tuple[Path, ...] = (),
) -> tuple[Impact | None, tuple[Path, ...], tuple[LeftOut, ...]]:
    return settle_plan(ground, drain_baseline(ground), (*mounds, *((house,) if house else ()), *places, *paths))


def failing(impact: Impact | None) -> Rise | OutletChange:
    assert impact is not None
    assert not impact.passes
    return impact.faults[0]


def test_a_path_across_the_water_is_dug_in_and_named() -> None:
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE)
    dam = path_along(LineString([(24.0, 32.0), (36.0, 32.0)]))
    impact, (path,), _ = settled(ground, paths=(dam,))
    assert impact is not None
    assert impact.passes
    assert path.is_dug_in
    assert path.cut == pytest.approx(dam.cut + dam.chips)
    assert path.cut_ground.equals(dam.outline)
    note = say_path_dug_in(path, ground.site, SETTINGS)
    assert note.startswith("Path 2 is dug in")
    assert "higher beyond the boundary" in note
    assert impact.built == (), "nothing is left that stands above the ground"


def test_a_path_that_may_not_lie_on_the_ground_nor_be_dug_into_it_is_left_out() -> None:
    """On the ground it dams the trough; a pipe runs below the whole of it."""
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE)
    pipe = draw_thing(1, Kind.BURIED_LINE, "Pipe", LineString([(20.0, 32.4), (40.0, 32.4)]))
    beside = replace(ground, site=replace(ground.site, features=(pipe,)))
    impact, paths, (left_out,) = settled(beside, paths=(path_along(LineString([(24.0, 32.0), (36.0, 32.0)])),))
    assert paths == ()
    assert left_out.beside == (Ref(Kind.BURIED_LINE, 1),)
    assert "higher beyond the boundary" in say_harm(left_out.harm, ground.site, SETTINGS)
    assert impact is not None
    assert impact.passes


def test_a_path_that_is_left_level_where_the_water_crosses_passes_as_it_is() -> None:
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE)
    open_path = path_along(LineString([(24.0, 32.0), (36.0, 32.0)]), crossings=(Point(30.0, 32.0),))
    impact, paths, _ = settled(ground, paths=(open_path,))
    assert impact is not None
    assert impact.passes
    assert paths == (open_path,)
    assert any("1 path with" in said for said in say_built(Plan(impact=impact), SETTINGS))


def test_of_two_paths_only_the_one_that_does_it_is_dug_in() -> None:
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE)
    dam = path_along(LineString([(24.0, 32.0), (36.0, 32.0)]), 1)
    along = path_along(LineString([(12.0, 30.0), (12.0, 14.0)]), 2)
    _, paths, _ = settled(ground, paths=(dam, along))
    assert [path.is_dug_in for path in paths] == [True, False]


def test_the_pad_of_the_hoop_house_can_fail_the_plan_and_is_named() -> None:
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE)
    impact, _, _ = settled(ground, house=house_on(box(24.0, 29.0, 36.0, 33.0), raised=0.3))
    fault = failing(impact)
    assert say_harm(fault, ground.site, SETTINGS).endswith("The pad of the hoop house does it.")
    assert impact is not None
    assert "second choice" in say_remedy(impact, ground.site, SETTINGS)
    low, _, _ = settled(ground, house=house_on(box(24.0, 29.0, 36.0, 33.0), raised=0.0))
    assert low is None, "a house on the ground as it is tips nothing"


def test_of_many_works_the_one_at_fault_is_named() -> None:
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE)
    dam = mound_at(ground, 3, (24.0, 31.0), (36.0, 31.0))
    along = path_along(LineString([(12.0, 30.0), (12.0, 14.0)]), 1)
    house = house_on(box(14.0, 9.0, 23.0, 13.0), raised=0.1)
    impact, paths, _ = settled(ground, (dam,), house, (pile_at(46.0, 14.0),), (along,))
    assert impact is not None
    assert impact.faults
    assert all(fault.done_by == (Ref(Work.MOUND, 3),) for fault in impact.faults)
    assert say_remedy(impact, ground.site, SETTINGS).startswith("Leave out mound 3")
    assert not paths[0].is_dug_in, "digging in what does nothing would be work for nothing"
    said = " ".join(say_built(Plan(hoop_houses=(house,), impact=impact), SETTINGS))
    for name in ("1 mound", "1 path", "the pad of the hoop house", "the chip pile"):
        assert name in said


def test_two_works_that_dam_only_together_are_both_named() -> None:
    """Each half leaves the trough open on its side."""
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE)
    west, east = mound_at(ground, 1, (22.5, 31.0), (28.6, 31.0)), mound_at(ground, 2, (31.4, 31.0), (37.5, 31.0))
    impact, _, _ = settled(ground, (west, east))
    assert say_culprits(failing(impact)) == "Mound 1 and mound 2 do it together."


def test_an_outlet_that_grows_names_what_turns_the_water() -> None:
    """A path aslant a plane gathers the sheet that comes against it to its lower end."""
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=box(6.0, 6.0, 54.0, 54.0))
    aslant = path_along(LineString([(20.0, 30.0), (25.0, 28.0)]), 4)
    along = path_along(LineString([(12.0, 30.0), (12.0, 14.0)]), 1)
    impact, paths, _ = settled(ground, paths=(along, aslant))
    assert impact is not None
    assert impact.passes
    assert not any(path.is_dug_in for path in paths), "only what fails is dug in"
    assert any(outlet.done_by == (Ref(Work.PATH, 4),) for outlet in impact.outlets)


def test_a_path_that_makes_an_outlet_fail_is_dug_in() -> None:
    """The same path, longer: it gathers more than twice as much to its end."""
    ground = mound_site(plane(60, 60, 1.0, north=0.02), parcel=box(6.0, 6.0, 54.0, 54.0))
    impact, (path,), _ = settled(ground, paths=(path_along(LineString([(20.0, 30.0), (33.0, 23.0)]), 4),))
    assert impact is not None
    assert impact.passes
    assert isinstance(path.dug_in_for, OutletChange)
    assert "More than twice as much water" in say_path_dug_in(path, ground.site, SETTINGS)


def test_nothing_tipped_is_nothing_to_try() -> None:
    assert settled(mound_site(trough())) == (None, (), ())


@given(st.floats(0.0, 180.0), st.floats(0.3, 2.5), st.sampled_from([0.6, 0.9, 1.2]))
def test_a_path_right_round_a_place_holds_its_water_on_any_cells(turn: float, cell: float, width: float) -> None:
    """A square of path on level ground is a pan as deep as the chips: no drop slips through between two cells."""
    count = math.ceil(24.0 / cell)
    grid = Grid(0.0, count * cell, cell, count, count, "EPSG:32618")
    middle = count * cell / 2.0
    ring = rotate(box(middle - 6.0, middle - 6.0, middle + 6.0, middle + 6.0), turn).exterior
    outline = ring.buffer(width / 2.0)
    path = Path(1, LineString(ring.coords), outline, (None, None), width, True, (), 1.0, 0.0, 1.0, 1.0, 1.0)
    site = make_site(np.full(grid.shape, 100.0), cell)
    level = whole_ground(site, whole_heights(site.elevation)[0])
    heights = level.with_works(np.array([level.row(piece) for piece in path_pieces(path, level, grid, SETTINGS)]))
    depth = (filled(heights) - heights)[count // 2, count // 2] / 10_000.0
    assert depth == pytest.approx(SETTINGS.path.chip_depth, abs=1e-3)


def raised(site: Site, make: Callable[[WholeGround], WholeWork]) -> FloatArray:
    ground = whole_ground(site, whole_heights(site.elevation)[0])
    return (ground.with_works(ground.row(make(ground))[None]) - ground.heights) / 10_000.0


def test_a_pad_is_level_and_only_fills() -> None:
    site = make_site(plane(60, 60, 0.5, east=0.04), 0.5)
    house = house_on(box(8.0, 8.0, 18.0, 12.0), raised=0.1)
    added = raised(site, lambda ground: pad_piece(house, ground))
    under = added > 0.0
    assert np.ptp((site.elevation + added)[under]) == pytest.approx(0.0, abs=1e-4)
    # 4 cm in a metre under 10 m: the floor lies 10 cm above the middle, and the upper 2.5 m stick out of it.
    assert added.max() == pytest.approx(0.10 + 0.04 * 4.75, abs=1e-4)
    assert np.count_nonzero(under) == 8 * 15


def test_a_pile_holds_a_load() -> None:
    site = make_site(plane(200, 200, 0.1), 0.1)
    pile = raised(site, lambda ground: pile_piece(Point(10.0, 10.0), ground, SETTINGS))
    assert float(pile.sum()) * 0.01 == pytest.approx(SETTINGS.materials.load, rel=0.01)
    assert float(pile.max()) <= SETTINGS.tipping.pile_height


def test_no_pile_is_tipped_where_nothing_asks_for_chips() -> None:
    ground = mound_site(trough())
    bare = replace(path_along(LineString([(10.0, 30.0), (20.0, 30.0)])), chips=0.0)
    level = whole_ground(ground.site, ground.drainage.heights)
    assert tipped_works(ground, level, (pile_at(30.0, 30.0), bare)) == ()


def test_the_fill_of_a_raised_floor_is_said_with_the_house() -> None:
    from types import SimpleNamespace
    from typing import Any, cast

    from sitepipe.answers.works import structures

    def said(*quantities: Quantity) -> str:
        plan = Plan(hoop_houses=(house_on(box(0.0, 0.0, 10.0, 4.0), raised=0.125),), quantities=quantities)
        analysis = SimpleNamespace(plan=plan, settings=SETTINGS, site=make_site(plane(9, 9, 1.0)))
        return structures(cast("Any", analysis))[0].replace("\u00a0", " ")

    assert "Its raised floor takes 5 m³ of firm fill." in said(Quantity(FILL, 5.0, 0.5, 59, 0.0, 5.0))
    assert "fill" not in said()


def test_a_house_whose_floor_fails_the_plan_gives_way_to_the_second_choice_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    options = SETTINGS.mound.model_copy(update={"propose": False})
    ground = mound_site(trough(), parcel=BEFORE_THE_EDGE, settings=SETTINGS.model_copy(update={"mound": options}))
    dam = house_on(box(22.0, 28.0, 38.0, 33.0), raised=0.4)
    beside = house_on(box(8.0, 9.0, 17.0, 13.0), rank=2)
    alone, _, _ = settled(ground, house=dam)
    assert alone is not None
    assert not alone.passes
    for choices in ((dam, beside), (dam,)):
        monkeypatch.setattr(stage, "choose_hoop_houses", lambda *_, found=choices: (found, ()))
        plan = stage.plan_works(ground)
        assert plan.impact is None or plan.impact.passes
        assert [house.outline for house in plan.hoop_houses] == [house.outline for house in choices[1:]]
