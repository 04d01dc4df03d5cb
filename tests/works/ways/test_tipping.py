"""Where a truck tips, and the barrow work from there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.scoring.record import Exclusion, Reason, Use
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Feature, Kind, Site
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.ways.record import TippingPlace
from sitepipe.works.ways.tipping import barrow_work, choose_tipping_places, pile_radius
from sitepipe.works.ways.walking import walking_ground
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import PLAIN, flow_line, known, mound, pond

GATE = draw_thing(1, Kind.GATE, "Gate", LineString([(28.0, 6.0), (32.0, 6.0)]))
DRIVE = draw_thing(2, Kind.ROAD, "Drive", LineString([(30.0, 0.0), (30.0, 40.0)]), None, 3.2)


def a_site(*features: Feature, north: float = 0.0) -> Site:
    return make_site(plane(60, 60, 1.0, 0.0, north), 1.0, (GATE, DRIVE, *features))


def choose(found: Land, *mounds: Mound, settings: Settings = PLAIN) -> tuple[TippingPlace, ...]:
    return choose_tipping_places(
        replace(found, settings=settings),
        mounds,
    )


def test_one_load_makes_a_cone_of_its_volume() -> None:
    radius = pile_radius(PLAIN)
    assert np.pi * radius**2 * PLAIN.tipping.pile_height / 3.0 == pytest.approx(PLAIN.materials.load)


def test_barrow_work_is_volume_times_way_added_over_the_mounds() -> None:
    """Worked by hand: 4 m3 over 10 m and 6 m3 over 18 m are 40 + 108 = 148 m3 m."""
    found = known(a_site(), wetness=0.0)
    west, east = mound(1, 19.5, 28.0, 19.5, 33.0, base=1.0), mound(2, 51.5, 28.0, 51.5, 33.0, base=1.0, volume=6.0)
    walking = walking_ground(found, (west.outline, east.outline), 0.3)
    work, volume = barrow_work((west, east), walking, PLAIN)
    row, column = walking.grid.cell_at(31.5, 30.5)
    # ground within 1.9 m of a mound is beside it: in the west to x = 21.5, 10 m off; in the east to 49.5, 18 m off
    assert volume == 10.0
    assert work[row, column] == pytest.approx(4.0 * 10.0 + 6.0 * 18.0)


def test_the_places_are_ranked_by_barrow_work() -> None:
    places = choose(known(a_site()), mound(1, 40.0, 36.0, 40.0, 46.0), mound(2, 45.0, 36.0, 45.0, 46.0))
    assert [place.number for place in places] == [1, 2, 3]
    assert places[0].barrow_work <= places[1].barrow_work <= places[2].barrow_work
    assert places[0].mean_haul == pytest.approx(places[0].barrow_work / 8.0)


def test_no_allowed_place_has_less_barrow_work() -> None:
    """Brute force: every place that is ranked later, and every one moved a little towards the mounds, is no better."""
    one = mound(1, 40.0, 44.0, 46.0, 44.0)
    found = known(a_site())
    best = choose(found, one)[0]
    many = choose(found, one, settings=make_settings({"tipping": {"places": 10}}, "test"))
    assert all(best.barrow_work <= other.barrow_work for other in many)
    assert best.place.distance(one.outline) <= min(other.place.distance(one.outline) for other in many) + 1.0


def test_the_pile_lies_on_nothing_that_minds() -> None:
    hollow = pond(box(33.0, 28.0, 43.0, 42.0))
    stream = flow_line([(20.0, 7.0), (20.0, 53.0)])
    septic = draw_thing(3, Kind.SEPTIC, "Tank", box(33.0, 10.0, 42.0, 18.0))
    oak = draw_thing(4, Kind.TREE, "Oak", Point(25.0, 34.0), 10.0, 8.0)
    sight = Exclusion(Reason.SIGHT, None, 4.5, box(24.0, 6.0, 36.0, 11.0), (Use.MOUND,))
    found = known(a_site(septic, oak), ponds=(hollow,), flow_lines=(stream,), exclusions=(sight,))
    places = choose(found, mound(1, 40.0, 44.0, 46.0, 44.0))
    assert places
    for place in places:
        for outline in (hollow.outline, septic.geometry, oak.geometry.buffer(4.0), sight.outline, stream.line):
            assert not place.outline.intersects(outline)
        assert not place.outline.intersects(DRIVE.geometry.buffer(1.5))
        assert found.site.parcel.covers(place.outline)


def test_soft_ground_is_reached_from_the_drive_alone() -> None:
    places = choose(known(a_site(), depth_to_water=0.1), mound(1, 50.0, 36.0, 50.0, 46.0))
    assert all(place.outline.distance(DRIVE.geometry) <= 1.5 + 2.0 for place in places)
    assert places[0].off_lane == 0.0


def test_on_firm_ground_the_truck_may_leave_the_drive_but_not_far() -> None:
    places = choose(known(a_site()), mound(1, 50.0, 36.0, 50.0, 46.0))
    off = places[0].place.distance(DRIVE.geometry)
    assert 5.0 < off <= PLAIN.tipping.soft_ground + 1.5 + pile_radius(PLAIN) + 1.5


def test_a_gate_that_is_too_narrow_lets_no_truck_in() -> None:
    narrow = replace(GATE, geometry=LineString([(29.5, 6.0), (30.7, 6.0)]))
    site = make_site(plane(60, 60, 1.0), 1.0, (narrow, DRIVE))
    assert choose(known(site), mound(1, 40.0, 36.0, 40.0, 46.0)) == ()


def test_far_from_the_gate_the_truck_needs_room_to_turn() -> None:
    long = make_settings({"tipping": {"back_in": "10 m", "turning": "30 m"}}, "test")
    places = choose(known(a_site()), mound(1, 40.0, 36.0, 40.0, 46.0), settings=long)
    assert places
    assert all(place.place.distance(GATE.geometry) <= 10.0 + pile_radius(long) + 2.5 for place in places)
    assert not any(place.can_turn for place in places)


def test_a_steep_bank_stops_the_truck() -> None:
    found = known(a_site())
    steep = np.zeros((60, 60))
    steep[:, 33:] = 0.2
    found = replace(found, terrain=replace(found.terrain, broad_slope=steep))
    places = choose(found, mound(1, 50.0, 36.0, 50.0, 46.0))
    assert all(place.place.x <= 33.0 + pile_radius(PLAIN) + 2.0 for place in places)


def test_with_neither_road_nor_gate_there_is_no_place() -> None:
    assert choose(known(make_site(plane(60, 60, 1.0), 1.0)), mound(1, 40.0, 36.0, 40.0, 46.0)) == ()


def test_without_a_gate_the_road_beside_the_parcel_is_the_way_in() -> None:
    road = draw_thing(1, Kind.ROAD, "Lane", LineString([(0.0, 4.0), (60.0, 4.0)]), None, 5.0)
    site = make_site(plane(60, 60, 1.0), 1.0, (road,))
    places = choose(known(site), mound(1, 40.0, 20.0, 40.0, 26.0))
    assert places
    assert all(place.entry == road.ref for place in places)


def test_ranked_places_lie_apart() -> None:
    places = choose(known(a_site()), mound(1, 40.0, 36.0, 40.0, 46.0))
    for index, one in enumerate(places):
        for other in places[index + 1 :]:
            assert one.place.distance(other.place) >= 8.0
