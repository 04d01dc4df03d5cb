"""Roofs, kerbs, ditches and culverts."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, box

from sitepipe.arrays import FloatArray
from sitepipe.drainage.descent import LEAVES
from sitepipe.drainage.drawn import cut_drain, find_drawn_things
from sitepipe.drainage.heights import whole_heights
from sitepipe.drainage.network import route
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import DrainageSettings, Settings
from sitepipe.site import Feature, Kind, Site
from tests.sites import make_site, plane


def embankment(rows: int = 40, columns: int = 31) -> FloatArray:
    """Build a valley that falls south, dammed by a level bank 4 m wide and 1 m high across it."""
    y, x = np.mgrid[rows - 1 : -1 : -1, 0:columns].astype(np.float64)
    ground = 100.0 + 0.02 * y + 0.03 * np.abs(x - 15.0)
    bank = (y >= 10) & (y <= 13)
    ground[bank] = np.maximum(ground[bank], 101.2)
    return np.asarray(ground)


def culvert(*corners: tuple[float, float], name: str = "Culvert") -> Feature:
    return Feature(7, Kind.CULVERT, name, LineString(corners))


def routed(site: Site) -> FloatArray:
    bare, _ = whole_heights(site.elevation)
    return find_drawn_things(bare, site, DrainageSettings()).applied_to(bare) / 10_000


def test_a_bank_dams_water_and_the_run_asks_for_a_pipe_at_its_place() -> None:
    drainage = trace_drainage(make_site(embankment()), Settings())
    assert drainage.ponds[0].depth > 0.4
    sentences = [(sentence, place) for sentence, place in drainage.questions if "Is there a pipe here?" in sentence]
    assert len(sentences) == 1
    sentence, place = sentences[0]
    assert "holds water back up to" in sentence
    assert 10.0 <= place.y <= 14.0


def test_a_bank_of_a_drawn_road_is_named() -> None:
    road = Feature(3, Kind.ROAD, "Mill Lane", box(0, 10, 31, 14))
    drainage = trace_drainage(make_site(embankment(), features=(road,)), Settings())
    assert any(sentence.startswith("The bank of Mill Lane holds water back") for sentence, _ in drainage.questions)


def test_a_drawn_culvert_lets_the_water_through_and_ends_the_question() -> None:
    pipe = culvert((15.5, 15.5), (15.5, 8.5))
    drainage = trace_drainage(make_site(embankment(), features=(pipe,)), Settings())
    assert np.nanmax(drainage.ponding_depth) < 0.02
    assert not any("pipe" in sentence for sentence, _ in drainage.questions)
    below = drainage.upslope_area[-5, 15]
    assert below > 0.8 * 31 * 26


def test_a_drain_changes_no_height_beside_its_line() -> None:
    site = make_site(embankment(), features=(culvert((15.5, 15.5), (15.5, 8.5)),))
    changed = routed(site) != np.rint(site.elevation * 10_000) / 10_000
    assert changed.any()
    assert set(np.nonzero(changed)[1].tolist()) == {15}
    assert (routed(site) <= site.elevation + 1e-4).all()


def test_the_mouth_of_a_drain_is_found_where_the_drawing_stops_short() -> None:
    """Both ends are drawn on the bank itself; the bottom lies within a metre and a half."""
    pipe = culvert((15.5, 13.2), (15.5, 10.2))
    drainage = trace_drainage(make_site(embankment(), features=(pipe,)), Settings())
    assert np.nanmax(drainage.ponding_depth) < 0.05


def test_a_culvert_drawn_uphill_is_pointed_out_and_still_drains() -> None:
    pipe = culvert((15.5, 8.5), (15.5, 15.5), name="Old pipe")
    drainage = trace_drainage(make_site(embankment(), features=(pipe,), height_error=0.01), Settings())
    (climb,) = [sentence for sentence, _ in drainage.questions if "climbs" in sentence]
    assert climb.replace("\xa0", " ").startswith("Old pipe climbs 14 cm from where its drawing begins")
    assert np.nanmax(drainage.ponding_depth) < 0.02


def test_a_ditch_through_a_bank_lets_the_water_through() -> None:
    ditch = Feature(1, Kind.DITCH, "Ditch", LineString([(15.5, 16.5), (15.5, 6.5)]))
    drainage = trace_drainage(make_site(embankment(), features=(ditch,)), Settings())
    assert np.nanmax(drainage.ponding_depth) < 0.02


def test_a_drain_cuts_humps_and_leaves_dips() -> None:
    ground = np.array([[40, 60, 30, 70, 20, 50, 35]], dtype=np.int32)
    cut_drain(ground, np.arange(7, dtype=np.int32))
    assert ground.tolist() == [[40, 40, 30, 35, 20, 35, 35]]


def test_a_kerb_holds_what_is_lower_and_turns_it_along_itself() -> None:
    """A kerb across a slope sends the water to its end; drawn on a slant, nothing slips through at its corners."""
    kerb = Feature(1, Kind.KERB, "Kerb", LineString([(2.5, 12.5), (17.5, 9.5)]), height=0.5)
    site = make_site(plane(25, 20, 1.0, north=0.01), features=(kerb,))
    free = route(whole_heights(site.elevation)[0])
    held = trace_drainage(site, Settings())
    behind_free = free.cells[20, 4:16]
    behind_held = held.upslope_area[20, 4:16]
    assert (behind_free == 21).all()
    assert behind_held.max() <= 10.0
    assert held.outflow_cells == 500


def test_a_roof_sheds_water_on_all_sides_and_keeps_none() -> None:
    house = Feature(1, Kind.BUILDING, "House", box(8, 8, 18, 16), height=4.0)
    ground = plane(25, 25, 1.0, north=0.02)
    ground[12, 12] -= 1.0
    site = make_site(ground, features=(house,))
    drainage = trace_drainage(site, Settings())
    roof = np.zeros((25, 25), dtype=np.bool_)
    roof[9:17, 8:18] = True
    assert (drainage.ponding_depth[roof] == 0.0).all()
    outside = drainage.receiver.ravel()[np.flatnonzero(roof)]
    leaving = outside[~roof.ravel()[outside]]
    rows, columns = np.divmod(leaving, 25)
    assert {8, 17} <= set(rows.tolist())
    assert {7, 18} <= set(columns.tolist())
    assert (drainage.upslope_area[roof] <= 30.0).all()
    assert (drainage.heights[~roof] == whole_heights(ground)[0][~roof]).all()


def test_without_drawn_things_the_heights_are_the_ground() -> None:
    site = make_site(embankment())
    assert (routed(site) == np.rint(site.elevation * 10_000) / 10_000).all()


@pytest.mark.parametrize("kind", [Kind.WALL, Kind.HEDGE, Kind.TREE])
def test_things_that_stand_turn_no_water(kind: Kind) -> None:
    thing = Feature(1, kind, "Thing", box(8, 8, 18, 16), height=4.0)
    site = make_site(plane(25, 25, 1.0, north=0.02), features=(thing,))
    assert (trace_drainage(site, Settings()).receiver == route(whole_heights(site.elevation)[0]).receiver).all()
    assert LEAVES == -1
