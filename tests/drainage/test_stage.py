"""The drainage stage: ponds, lines, crossings, edges, layers."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from shapely import LineString, box

from sitepipe.answers.water import gaps_said
from sitepipe.drainage.drawn import routed_ground
from sitepipe.drainage.edges import edge_cells
from sitepipe.drainage.hollows import nest_hollows
from sitepipe.drainage.network import route
from sitepipe.drainage.ponds import name_ponds
from sitepipe.drainage.record import Drainage, Gaps, OpenEdge
from sitepipe.drainage.stage import trace_drainage
from sitepipe.grid import Grid
from sitepipe.settings import DrainageSettings, Settings
from sitepipe.site import Feature, Kind
from sitepipe.units import Units
from tests.drainage.grounds import BASINS, heights_of, hummocks, rolling
from tests.sites import bowl, draw_thing, make_site, plane, valley


def named(**values: object) -> Settings:
    return Settings(drainage=DrainageSettings.model_validate(values))


@pytest.fixture(scope="module")
def rolling_drainage() -> Drainage:
    return trace_drainage(make_site(rolling(120, 100)), Settings())


@pytest.mark.real_ground
def test_ponds_of_real_hummocks_agree_to_the_cell_with_another_implementation(real_ground: Path) -> None:
    """Published: ref_sinks.tif of the package ``lidar`` (MIT): at least .3 m, 1000 cells, 8-connected: 71,886 cells."""
    ground, reference = hummocks(real_ground)
    heights = heights_of(ground)
    network = route(heights)
    hollows = nest_hollows(heights, network.hollow, network.spill)
    grid = Grid(0.0, 400.0, 1.0, 400, 400, "LOCAL")
    ponds = name_ponds(network, hollows, grid, np.ones((400, 400), dtype=np.bool_), 0.3, 1000.0)
    assert int(reference.sum()) == 71_886
    assert ((ponds.pond_at >= 0) == reference).all()
    nested = {index for pond in ponds.ponds for index in pond.inside}
    assert sum(pond.area for index, pond in enumerate(ponds.ponds) if index not in nested) == 71_886.0


def test_two_basins_are_two_ponds_in_one() -> None:
    """Check value T09 (own example): 20, 29 and 70; inner ponds spill into each other, the whole leaves."""
    site = make_site(BASINS, parcel=box(0, 0, 9, 5))
    ponds = trace_drainage(site, named(least_area_m2=1.0)).ponds
    assert [pond.volume for pond in ponds] == [70.0, 29.0, 20.0]
    whole, right, left = ponds
    assert whole.inside == (1, 2)
    assert (right.spills_into, left.spills_into, whole.spills_into) == (2, 1, None)
    assert whole.spill_height == 8.0
    assert (whole.spill_point.x, whole.spill_point.y) == (8.5, 2.5)
    assert (right.depth, left.depth) == (5.0, 4.0)
    assert [pond.number for pond in ponds] == [1, 0, 0]
    assert whole.outline.equals(box(1, 1, 8, 4))
    assert whole.catchment_area == 44.0


def test_an_upper_pond_knows_the_pond_that_it_spills_into() -> None:
    ground = plane(40, 15, 1.0, north=0.05)
    ground[8:13, 5:10] -= 1.5
    ground[25:30, 5:10] -= 1.5
    ponds = trace_drainage(make_site(ground), Settings()).ponds
    upper = next(k for k, pond in enumerate(ponds) if pond.outline.centroid.y > 25)
    lower = next(k for k, pond in enumerate(ponds) if pond.outline.centroid.y < 16)
    assert ponds[upper].spills_into == lower
    assert ponds[lower].spills_into is None
    assert ponds[lower].catchment_area > ponds[upper].catchment_area


def test_hollows_too_shallow_or_too_small_are_not_named() -> None:
    site = make_site(bowl(60, 1.0, 0.2))
    assert len(trace_drainage(site, named(least_depth="0.1 m")).ponds) == 1
    assert trace_drainage(site, named(least_depth="0.3 m")).ponds == ()
    assert trace_drainage(site, named(least_area_m2=5000.0)).ponds == ()


def test_ponds_are_what_their_layers_say(rolling_drainage: Drainage) -> None:
    drainage = rolling_drainage
    nested = {index for pond in drainage.ponds for index in pond.inside}
    outermost = [pond for k, pond in enumerate(drainage.ponds) if k not in nested]
    assert len(outermost) > 3
    assert sum(pond.area for pond in outermost) == np.count_nonzero(drainage.pond_at >= 0)
    volume = drainage.ponding_depth[drainage.pond_at >= 0].sum()
    assert sum(pond.volume for pond in outermost) == pytest.approx(volume, rel=1e-9)
    for pond in drainage.ponds:
        assert pond.outline.area == pytest.approx(pond.area)
        assert pond.depth >= 0.03
    ranks = sorted(pond.number for pond in drainage.ponds if pond.number > 0)
    assert ranks == list(range(1, len(ranks) + 1))


def test_what_leaves_is_what_there_was_and_the_record_is_read_only(rolling_drainage: Drainage) -> None:
    drainage = rolling_drainage
    assert drainage.outflow_cells == drainage.known.sum() == drainage.order.size
    for array in (drainage.heights, drainage.upslope_area, drainage.depth_to_water_index, drainage.storms[0].depth):
        with pytest.raises(ValueError, match="read-only"):
            array[0, 0] = 1


def test_the_same_site_gives_the_same_bytes(rolling_drainage: Drainage) -> None:
    again = trace_drainage(make_site(rolling(120, 100)), Settings())
    for name in (
        "heights",
        "receiver",
        "specific_catchment_area",
        "depth_to_water_index",
        "height_above_nearest_drainage",
    ):
        assert getattr(again, name).tobytes() == getattr(rolling_drainage, name).tobytes()
    assert again.flow_lines == rolling_drainage.flow_lines
    assert again.storms[0].arrives == rolling_drainage.storms[0].arrives


def test_flow_lines_are_few_run_downhill_and_carry_more_and_more(rolling_drainage: Drainage) -> None:
    assert 3 <= len(rolling_drainage.flow_lines) <= 8
    level = rolling_drainage.heights / 10_000 + np.nan_to_num(rolling_drainage.ponding_depth)
    for flow in rolling_drainage.flow_lines:
        assert len(flow.upslope_area) == len(flow.line.coords)
        assert list(flow.upslope_area) == sorted(flow.upslope_area)
        ends = [(int(120 - y), int(x)) for x, y in (flow.line.coords[0], flow.line.coords[-1])]
        assert level[ends[0]] > level[ends[1]]


def test_a_valley_has_its_line_in_its_middle() -> None:
    drainage = trace_drainage(make_site(valley(80, 61, 1.0)), Settings())
    main = drainage.flow_lines[0]
    assert main.line.length > 70.0
    assert {x for x, y in main.line.coords if y < 65.0} == {30.5}


def test_water_comes_into_the_parcel_above_and_leaves_below() -> None:
    crossings = trace_drainage(make_site(valley(80, 61, 1.0)), Settings()).crossings
    outward, inward = crossings[0], next(crossing for crossing in crossings if crossing.is_inflow)
    assert not outward.is_inflow
    assert (outward.place.x, outward.place.y) == (30.5, 8.0)
    assert (inward.place.x, inward.place.y) == (30.5, 72.0)
    assert outward.upslope_area > 6.0 * inward.upslope_area


def test_water_that_wanders_along_the_boundary_has_not_crossed_it() -> None:
    """A stream along the parcel's east side whose boundary zigzags across it each two metres."""
    corners = [(31.0 if k % 2 else 29.0, 10.0 + 2.0 * k) for k in range(30)]
    from shapely import Polygon

    parcel = Polygon([(5.0, 10.0), *corners, (5.0, corners[-1][1])])
    crossings = trace_drainage(make_site(valley(80, 61, 1.0), parcel=parcel), Settings()).crossings
    assert sum(crossing.upslope_area > 1500.0 for crossing in crossings) <= 2


def test_ground_below_the_edge_of_the_heights_depends_on_what_lies_beyond() -> None:
    drainage = trace_drainage(make_site(plane(40, 40, 1.0, north=0.05)), Settings())
    assert drainage.edge_dependent.all()
    (question,) = drainage.questions
    assert isinstance(question, OpenEdge)
    assert question.side == 0.0
    assert question.area == pytest.approx(1024.0, abs=10.0)


def test_ground_that_sheds_to_all_sides_depends_on_nothing_beyond() -> None:
    y, x = np.mgrid[0:41, 0:41] - 20.0
    drainage = trace_drainage(make_site(100.0 - 0.05 * np.hypot(x, y)), Settings())
    edge = edge_cells(drainage.known)
    assert (drainage.edge_dependent == edge).all()
    assert drainage.questions == ()


def test_height_above_drainage_and_depth_to_water_grow_from_the_channel() -> None:
    drainage = trace_drainage(make_site(valley(80, 61, 1.0)), named(channel_area_m2=300.0))
    assert drainage.channels[40, 30]
    side = drainage.height_above_nearest_drainage[40, 30:60]
    assert side[0] == 0.0
    assert (np.diff(side) > 0.0).all()
    assert side[20] == pytest.approx(0.05 * 20, abs=0.15)
    assert drainage.depth_to_water_index[40, 30] == 0.0
    assert (np.diff(drainage.depth_to_water_index[40, 30:60]) > 0.0).all()
    assert np.isfinite(drainage.depth_to_water_index).all()
    assert np.isfinite(drainage.height_above_nearest_drainage).all()


def test_drawn_water_is_where_the_climb_begins() -> None:
    stream = draw_thing(1, Kind.WATER, "Brook", LineString([(5.5, 0.5), (5.5, 39.5)]))
    drainage = trace_drainage(make_site(plane(40, 40, 1.0, east=0.05), features=(stream,)), Settings())
    assert (drainage.depth_to_water_index[:, 5] == 0.0).all()
    assert drainage.depth_to_water_index[20, 25] == pytest.approx(1.0, abs=1e-6)


def test_a_hole_in_the_heights_stays_unknown_in_every_layer() -> None:
    ground = rolling(60, 60)
    ground[20:25, 30:36] = np.nan
    drainage = trace_drainage(make_site(ground), named(closed_gap_m2=20.0))
    assert drainage.gaps == Gaps(0, 0.0, 1, 30.0)
    hole = ~drainage.known
    assert hole.sum() == 30
    for name in (
        "upslope_area",
        "specific_catchment_area",
        "ponding_depth",
        "height_above_nearest_drainage",
        "depth_to_water_index",
    ):
        assert (np.isnan(getattr(drainage, name)) == hole).all()
    assert drainage.edge_dependent[19:26, 29:37][~hole[19:26, 29:37]].all()


def gapped(cells: int, features: tuple[Feature, ...] = (), **values: object) -> Drainage:
    """Drain a round bowl of 15 m radius in half-metre cells, with so many cells across unknown on its floor."""
    y, x = np.mgrid[0:81, 0:81] * 0.5 - 20.0
    ground = 10.0 - 0.0375 * np.clip(1.0 - (x * x + y * y) / 225.0, 0.0, None)
    ground[40 - cells // 2 : 41 + cells // 2, 40 - cells // 2 : 41 + cells // 2] = np.nan
    return trace_drainage(make_site(ground, 0.5, features=features), named(least_depth="1 cm", **values))


def test_one_unknown_cell_drains_no_pond() -> None:
    """By hand: a paraboloid of radius 15 m and depth 3.75 cm holds pi r2 d / 2 = 13.25 m3."""
    (pond,) = gapped(1).ponds
    assert pond.volume == pytest.approx(np.pi * 225.0 * 0.0375 / 2.0, rel=0.01)
    assert gapped(1).gaps == Gaps(1, 0.25, 0, 0.0)
    assert gapped(1).storms[-1].stored > 1.0


def test_a_large_gap_lets_water_out_unless_it_is_drawn_as_water() -> None:
    drainage = gapped(9, closed_gap_m2=20.0)
    assert drainage.ponds == ()
    assert drainage.gaps == Gaps(0, 0.0, 1, 20.25)
    drawn = gapped(9, (draw_thing(1, Kind.WATER, "Pond", box(18.0, 18.0, 22.0, 22.0)),), closed_gap_m2=20.0)
    assert drawn.gaps == Gaps(1, 20.25, 0, 0.0)
    assert len(drawn.ponds) == 1


def test_ground_without_heights_at_their_outer_edge_lets_water_out_however_small() -> None:
    ground = rolling(60, 60)
    ground[0, 5] = np.nan
    drainage = trace_drainage(make_site(ground, parcel=box(10, 10, 50, 50)), Settings())
    assert not drainage.known[0, 5]
    assert drainage.gaps == Gaps()


def test_a_gap_from_the_edge_of_the_heights_into_the_parcel_is_said() -> None:
    ground = rolling(60, 60)
    ground[30, :15] = np.nan
    site = make_site(ground, parcel=box(10, 10, 50, 50))
    gaps = routed_ground(ground, site, Settings().drainage)[2]
    assert gaps == Gaps(edge=1, edge_area=5.0)
    (said,) = gaps_said(gaps, Units.METRIC)
    assert "joined to the edge of the heights; water leaves over it" in said


def test_channels_begin_where_the_settings_say() -> None:
    drainage = trace_drainage(make_site(valley(80, 61, 1.0)), named(channel_area_m2=2000.0))
    assert (drainage.channels == (drainage.upslope_area >= 2000.0)).all()


@pytest.mark.parametrize(("error", "ponds"), [(0.02, 3), (0.3, 1)])
def test_hollows_within_a_pond_are_kept_apart_if_they_are_deeper_than_the_error(error: float, ponds: int) -> None:
    """Two dips of 20 cm in the floor of a wide hollow: three ponds, or one where heights err by more than that."""
    ground = np.full((40, 60), 10.0)
    ground[5:35, 5:55] = 9.5
    ground[15:25, 10:20] = ground[15:25, 40:50] = 9.3
    site = make_site(ground, height_error=error, parcel=box(0, 0, 60, 40))
    assert len(trace_drainage(site, named(least_depth="0.1 m")).ponds) == ponds
