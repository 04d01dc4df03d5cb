"""Paths that join what a barrow goes to, at least cost."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, box, union_all

from sitepipe.scoring.record import Exclusion, Reason, Use
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Feature, Kind, Ref, Site, Status, Work
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.ways.crossings import crossings_of
from sitepipe.works.ways.network import Branch, Terminal, join, join_all, main_grade, widened
from sitepipe.works.ways.paths import main_width, paths_of, with_ends
from sitepipe.works.ways.record import Path
from sitepipe.works.ways.walking import WalkingGround, walking_ground
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import PLAIN, flow_line, known, mound

GATE = draw_thing(1, Kind.GATE, "Gate", Point(30.0, 6.5))


def a_site(*features: Feature, east: float = 0.0) -> Site:
    return make_site(plane(60, 60, 1.0, east), 1.0, (GATE, *features))


def lay(found: Land, *mounds: Mound, settings: Settings = PLAIN) -> tuple[Path, ...]:
    land = replace(found, settings=settings)
    return paths_of(join_all(land, mounds), land)


def ground_of(found: Land, settings: Settings = PLAIN) -> WalkingGround:
    return walking_ground(replace(found, settings=settings))


def test_on_even_ground_a_path_is_a_straight_line() -> None:
    (path,) = lay(known(a_site(), wetness=0.0), mound(1, 31.8, 30.0, 31.8, 40.0))
    ends = LineString([path.line.coords[0], path.line.coords[-1]])
    assert path.line.length == pytest.approx(ends.length, rel=0.01)
    assert path.joins == (GATE.ref, Ref(Work.MOUND, 1))
    assert path.cost == pytest.approx(path.shortest_cost, rel=0.03)
    assert path.crossings == ()


def test_a_wet_hollow_is_walked_around_where_that_is_worth_it() -> None:
    wet = np.zeros((60, 60))
    wet[25:45, 20:36] = 1.0
    found = known(a_site(), wetness=wet)
    (path,) = lay(found, mound(1, 26.0, 48.0, 34.0, 48.0))
    assert path.line.intersection(box(20.5, 15.5, 35.5, 34.5)).length < 2.0
    assert path.cost < path.shortest_cost
    assert path.shortest < path.line.length


def test_no_path_costs_more_than_the_shortest_one() -> None:
    noise = np.random.default_rng(11)
    for _ in range(4):
        wet = np.repeat(np.repeat(noise.uniform(0.0, 1.0, (12, 12)), 5, axis=0), 5, axis=1)
        for path in lay(
            known(a_site(), wetness=wet), mound(1, 15.0, 45.0, 15.0, 50.0), mound(2, 45.0, 40.0, 50.0, 40.0)
        ):
            assert path.cost <= path.shortest_cost + 1e-9


def test_a_path_goes_around_what_stands_and_through_no_ground_to_keep_clear() -> None:
    barn = draw_thing(2, Kind.BUILDING, "Barn", box(20.0, 18.0, 40.0, 24.0), 4.0)
    green = Exclusion(Reason.KEEP_CLEAR, None, 0.0, box(8.0, 28.0, 36.0, 34.0), (Use.MOUND, Use.PATH))
    (path,) = lay(known(a_site(barn), exclusions=(green,)), mound(1, 28.0, 42.0, 28.0, 48.0))
    assert not path.line.intersects(barn.geometry)
    assert not path.line.intersects(green.outline)
    assert path.line.distance(barn.geometry) >= 0.3


def test_a_crossing_is_counted_and_named_and_made_square() -> None:
    area = np.ones((60, 60))
    area[30, :] = 400.0  # the row whose middle is at y = 29.5
    stream = flow_line([(0.5, 29.5), (59.5, 29.5)], 400.0)
    (path,) = lay(known(a_site(), upslope_area=area, flow_lines=(stream,)), mound(1, 44.0, 46.0, 44.0, 50.0))
    assert len(path.crossings) == 1
    assert path.crossings[0].y == pytest.approx(29.5)
    ((at, area_behind),) = path.waters
    assert at == pytest.approx(path.line.project(path.crossings[0]))
    assert area_behind == 400.0
    assert path.in_flow < 1.5


def test_a_path_does_not_run_in_the_ditch() -> None:
    area = np.ones((60, 60))
    area[:, 27:34] = 500.0  # a broad swale that runs south to the gate, along the straight way
    stream = flow_line([(30.5, 59.5), (30.5, 0.5)], 500.0)
    (path,) = lay(known(a_site(), upslope_area=area, flow_lines=(stream,)), mound(1, 30.5, 40.0, 30.5, 46.0))
    assert path.in_flow < 8.0
    assert path.shortest_cost > 1.5 * path.cost


def test_small_water_is_no_crossing() -> None:
    found = known(a_site(), flow_lines=(flow_line([(0.5, 29.5), (59.5, 29.5)], 20.0),))
    places, names = crossings_of(LineString([(30.0, 10.0), (30.0, 50.0)]), found)
    assert places == ()
    assert names == ()


def test_all_that_can_be_reached_is_joined_into_one_network() -> None:
    tap = draw_thing(2, Kind.TAP, "Tap", Point(10.0, 50.0))
    mounds = [mound(k + 1, 15.0 + 5.0 * k, 30.0, 15.0 + 5.0 * k, 36.0) for k in range(5)]
    paths = lay(known(a_site(tap)), *mounds)
    near = {path.joins[1] for path in paths}
    for one in mounds:
        assert Ref(Work.MOUND, one.number) in near or any(path.line.distance(one.outline) < 2.5 for path in paths)
    whole = paths[0].line.buffer(0.8)
    for path in paths[1:]:
        assert whole.intersects(path.line) or any(path.line.distance(one.outline) < 2.0 for one in mounds)
        whole = whole.union(path.line.buffer(0.8))


def test_a_walled_in_mound_is_left_out_and_the_rest_is_joined() -> None:
    ring = box(10.0, 40.0, 20.0, 50.0)
    wall = draw_thing(2, Kind.WALL, "Wall", LineString(ring.exterior.coords), 1.5, 1.2)
    paths = lay(known(a_site(wall)), mound(1, 15.0, 44.0, 15.0, 46.0), mound(2, 45.0, 40.0, 45.0, 46.0))
    assert [path.joins[1] for path in paths] == [Ref(Work.MOUND, 2)]


def test_the_way_to_several_mounds_is_wide_the_way_to_one_is_narrow() -> None:
    branches = [
        Branch((1, 2, 3), GATE.ref, Ref(Work.MOUND, 1), is_main=False),
        Branch((3, 4, 5), Ref(Work.MOUND, 1), Ref(Work.MOUND, 2), is_main=False),
        Branch((2, 7, 8), Ref(Work.PATH, 1), Ref(Kind.TAP, 4), is_main=False),
    ]
    assert [branch.is_main for branch in widened(branches)] == [True, False, False]


def test_a_drive_is_a_path_already() -> None:
    drive = draw_thing(2, Kind.ROAD, "Drive", LineString([(30.0, 0.0), (30.0, 40.0)]), None, 3.0)
    (path,) = lay(known(a_site(drive)), mound(1, 45.0, 36.0, 45.0, 44.0))
    assert path.joins[0] == drive.ref
    assert path.line.length < 16.0 + 8.0, "from the drive, and along the mound"
    assert not path.outline.intersection(box(28.5, 0.0, 31.5, 40.0)).area > 0.01
    assert path.chips == pytest.approx(path.outline.area * PLAIN.path.chip_depth)


def test_a_wheelchair_asks_for_36_inches_and_1_in_20() -> None:
    """2010 ADA standards: 36 in clear width (403.5.1), running slope of a walk 1:20 (403.3)."""
    chair = make_settings({"path": {"wheel": "wheelchair", "width": "0.6 m"}}, "test")
    assert main_width(chair) == pytest.approx(0.9144)
    assert main_grade(chair) == pytest.approx(0.05)
    assert main_width(PLAIN) == pytest.approx(0.9)


def test_the_nearest_terminal_is_joined_first_and_the_next_from_there() -> None:
    ground = WalkingGround(
        known(a_site()).site.grid,
        np.ones((60, 60)),
        np.zeros((60, 60)),
        np.zeros((60, 60), np.bool_),
        np.zeros((60, 60), np.bool_),
        np.zeros((60, 60)),
    )
    gate, furthest, nearest = Ref(Kind.GATE, 1), Ref(Work.MOUND, 1), Ref(Work.MOUND, 2)
    start = Terminal(gate, np.array([30 * 60 + 5]), is_main=True)
    far, near = (
        Terminal(name, np.array([30 * 60 + column]), is_main=False) for name, column in ((furthest, 50), (nearest, 20))
    )
    branches = join(ground, 0.1, start, (far, near))
    assert [(branch.start, branch.end, len(branch.cells)) for branch in branches] == [
        (gate, nearest, 16),
        (nearest, furthest, 31),
    ]


def test_a_large_site_is_walked_on_coarser_cells() -> None:
    site = make_site(plane(500, 500, 1.0), 1.0, (GATE,))
    ground = ground_of(known(site))
    assert ground.grid.cell == 2.0
    assert ground.grid.rows * ground.grid.columns <= 160_000


def test_nothing_to_join_is_no_path() -> None:
    assert lay(known(a_site())) == ()
    assert lay(known(make_site(plane(60, 60, 1.0), 1.0)), mound(1, 20.0, 30.0, 30.0, 30.0)) == ()


def test_a_path_goes_along_the_mound_that_it_serves() -> None:
    """Of a mound 10 m long with round ends of 1 m at its foot, one long side lies within 3 ft of the path."""
    bed = mound(1, 25.0, 30.0, 35.0, 30.0)
    (path,) = lay(known(a_site(), wetness=0.0), bed)
    beside = bed.outline.exterior.intersection(path.outline.buffer(0.9144)).length
    assert beside >= 9.0
    assert not path.outline.intersects(bed.outline)


def test_two_mounds_beside_each_other_share_the_path_between_them() -> None:
    beds = (mound(1, 25.0, 30.0, 35.0, 30.0), mound(2, 25.0, 33.2, 35.0, 33.2))
    paths = lay(known(a_site(), wetness=0.0), *beds)
    ways = union_all([path.outline for path in paths])
    assert all(bed.outline.exterior.intersection(ways.buffer(0.9144)).length >= 9.0 for bed in beds)


def test_paths_that_are_kept_join_what_they_joined_and_none_is_laid_beside_them() -> None:
    land = known(a_site(), wetness=0.0)
    mounds = (mound(1, 15.0, 30.0, 15.0, 36.0), mound(2, 24.0, 30.0, 24.0, 36.0))
    laid = lay(land, *mounds)
    kept = tuple(replace(path, status=Status.WANTED, joins=(None, None)) for path in laid)
    assert len(kept) == 2
    assert not paths_of(join_all(land, (*mounds, *kept)), land)
    first, second = (path.joins for path in with_ends(kept, mounds, land.site))
    assert first == laid[0].joins
    assert second == (kept[0].ref, laid[1].joins[1]), "it starts where the first ends"
