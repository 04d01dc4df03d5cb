"""Where a hoop house stands, with its reasons, and why good places fail."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.scoring.record import Exclusion, Reason, Use
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Feature, Kind, Site
from sitepipe.works.houses.ground import day_length
from sitepipe.works.houses.house import choose_hoop_houses
from sitepipe.works.houses.judging import plane_grade
from sitepipe.works.houses.record import FaultKind, HoopHouse, HouseCriterion, Refusal, RidgeReason, WaterEnd
from sitepipe.works.houses.ridge import direction_score, ridge_advice
from sitepipe.works.houses.roof_water import roof_water
from sitepipe.works.land import Land
from sitepipe.works.obstacles import long_bearing
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import PLAIN, flow_line, known, pond

GATE = draw_thing(1, Kind.GATE, "Gate", Point(30.0, 6.5))


def a_site(*features: Feature, latitude: float = 42.5, north: float = 0.0) -> Site:
    return make_site(plane(60, 60, 1.0, 0.0, north), 1.0, (GATE, *features), latitude=latitude)


def choose(found: Land, settings: Settings = PLAIN) -> tuple[tuple[HoopHouse, ...], tuple[Refusal, ...]]:
    return choose_hoop_houses(
        replace(found, settings=settings),
    )


def with_house(**values: object) -> Settings:
    return make_settings({"hoop_house": values}, "test")


def score(house: HoopHouse, name: str) -> float:
    return next(one.score for one in house.reasons if one.criterion == name)


def test_three_ranked_sites_lie_in_the_parcel_and_keep_room_from_each_other() -> None:
    houses, _ = choose(known(a_site()))
    assert [house.number for house in houses] == [1, 2, 3]
    assert houses[0].score >= houses[1].score >= houses[2].score
    for house in houses:
        assert house.outline.area == pytest.approx(house.length * house.width)
        assert a_site().parcel.buffer(-3.0).covers(house.outline)
    for one, other in combinations(houses, 2):
        assert one.outline.distance(other.outline) >= 3.0


def test_the_dry_half_is_chosen() -> None:
    depth = np.full((60, 60), 0.1)
    depth[:, 40:] = 1.0
    houses, _ = choose(known(a_site(), depth_to_water=depth))
    assert all(house.outline.bounds[0] >= 40.0 for house in houses)
    assert score(houses[0], "dry ground in the wet season") == pytest.approx(1.0)


def test_the_sunny_half_is_chosen() -> None:
    hours = np.full((60, 60), 1.0)
    hours[:30] = 7.0
    houses, _ = choose(known(a_site(), hours=hours))
    assert all(house.outline.bounds[1] >= 28.0 for house in houses)


def test_level_ground_is_chosen_before_a_slope() -> None:
    elevation = plane(60, 60, 1.0, 0.0, 0.0)
    elevation[:, :30] += 0.06 * np.arange(30)[::-1]
    site = make_site(elevation, 1.0, (GATE,))
    houses, _ = choose(known(site))
    assert all(house.outline.centroid.x >= 30.0 for house in houses)


def test_on_too_steep_a_slope_there_is_no_place() -> None:
    houses, refusals = choose(known(a_site(north=0.08)))
    assert houses == ()
    assert refusals
    for refusal in refusals:
        assert refusal.faults[0].kind is FaultKind.STEEP, "what decides is told first"
        assert refusal.faults[0].measured == pytest.approx(0.08, rel=0.15)


def test_ground_with_water_at_the_surface_is_no_place_however_sunny() -> None:
    houses, refusals = choose(known(a_site(), depth_to_water=0.0))
    assert houses == ()
    assert {fault.criterion for refusal in refusals for fault in refusal.faults} >= {HouseCriterion.DRY}


def test_of_two_sizes_the_larger_is_offered_where_it_fits() -> None:
    """The small one stands a little nearer to the gate; the larger one is worth the steps."""
    sizes = [("9 m", "4 m"), ("14 m", "6 m")]
    houses, _ = choose(known(a_site()), with_house(sizes=sizes))
    assert (houses[0].length, houses[0].width) == (14.0, 6.0)
    assert any(house.length == 9.0 for house in houses)
    narrow = pond(box(6.0, 18.0, 54.0, 54.0))
    houses, _ = choose(known(a_site(), ponds=(narrow,)), with_house(sizes=[*sizes, ("30 m", "20 m")]))
    assert {house.length for house in houses} == {9.0, 14.0}, "where only the smaller fit they are offered"


def test_nothing_solid_stands_within_the_room_asked() -> None:
    barn = draw_thing(2, Kind.BUILDING, "Barn", box(25.0, 25.0, 33.0, 31.0), 4.0)
    houses, _ = choose(known(a_site(barn)))
    assert all(house.outline.distance(barn.geometry) >= 3.0 for house in houses)


def test_a_tree_in_the_south_asks_for_twice_its_height_one_in_the_north_for_once() -> None:
    """Trees to the south at least twice their height: common practice, no source."""
    settings = with_house(sites=1, easy_walk="1000 m")
    tree = draw_thing(2, Kind.TREE, "Oak", Point(30.0, 30.0), 10.0, 6.0)
    houses, _ = choose(known(a_site(tree)), settings)
    middle = houses[0].outline.centroid
    assert score(houses[0], "distance from trees") > 0.95
    far = np.hypot(middle.x - 30.0, middle.y - 30.0)
    assert far >= (18.0 if middle.y - 30.0 >= 0.5 * far else 9.0)


def test_the_reasons_multiply_to_the_score() -> None:
    houses, _ = choose(known(a_site(), wetness=0.5, depth_to_water=0.4, hours=5.0))
    weights = {
        "dry ground in the wet season": 3,
        "sun in spring and autumn": 2,
        "sun at midwinter": 1,
        "distance from trees": 1,
        "level ground": 2,
        "access": 2,
        "room for snow and doors": 1,
        "direction": 1,
    }
    product = np.prod([score(houses[0], name) ** weight for name, weight in weights.items()])
    assert houses[0].score == pytest.approx(product ** (1.0 / sum(weights.values())))


def test_a_good_place_that_fails_says_why() -> None:
    septic = Exclusion(Reason.SEPTIC, None, 3.0, box(20.0, 8.0, 40.0, 25.0), (Use.MOUND,))
    houses, refusals = choose(known(a_site(), exclusions=(septic,)))
    assert all(not house.outline.intersects(septic.outline) for house in houses)
    told = [one.faults for one in refusals if septic.outline.buffer(3.0).covers(one.place)]
    assert any(fault.exclusion is septic for faults in told for fault in faults)


def test_it_stands_off_hollows_and_flow_lines() -> None:
    hollow = pond(box(20.0, 15.0, 40.0, 25.0))
    stream = flow_line([(6.0, 30.0), (54.0, 34.0)])
    houses, _ = choose(known(a_site(), ponds=(hollow,), flow_lines=(stream,)))
    assert all(not house.outline.intersects(hollow.outline) for house in houses)
    assert all(house.outline.distance(stream.line) >= 1.5 for house in houses)


@pytest.mark.parametrize(("latitude", "bearing"), [(42.5, 90.0), (35.0, 0.0), (-43.0, 90.0), (-30.0, 0.0)])
def test_the_ridge_runs_east_west_from_forty_degrees_on(latitude: float, bearing: float) -> None:
    """eOrganic: ridge east-west north of 40 degrees north, north-south south of it."""
    advised, _ = ridge_advice(latitude, PLAIN)
    assert advised == bearing
    houses, _ = choose(known(a_site(latitude=latitude)))
    assert abs(np.sin(np.radians(houses[0].bearing - bearing))) < 0.2


def test_without_a_winter_crop_the_ridge_faces_the_wind_or_runs_as_it_will() -> None:
    own = with_house(winter_crop=False, wind_from=225.0)
    assert ridge_advice(42.5, own) == (45.0, RidgeReason.WORST_WIND)
    free = with_house(winter_crop=False)
    assert ridge_advice(42.5, free)[0] is None
    site = a_site()
    assert direction_score(0.0, site, free) == pytest.approx(direction_score(90.0, site, free))


def test_a_known_wind_asks_for_shelter() -> None:
    hedge = draw_thing(2, Kind.HEDGE, "Hedge", LineString([(10.0, 48.0), (50.0, 48.0)]), 3.0, 1.0)
    houses, _ = choose(known(a_site(hedge)), with_house(wind_from=0.0, easy_walk="1000 m", sites=1))
    assert score(houses[0], "shelter from wind") == pytest.approx(1.0)
    assert 48.0 - 30.0 <= houses[0].outline.centroid.y <= 48.0


def test_the_larger_of_two_houses_needs_its_own_room() -> None:
    houses, _ = choose(known(a_site()), with_house(sizes=(("9 m", "4 m"), ("80 m", "4 m"))))
    assert {house.length for house in houses} == {9.0}


def test_a_roof_sheds_its_plan_area_times_the_rain() -> None:
    """Worked by hand for this project: 6 x 12 m sheds 1800 litres in 25 mm."""
    assert roof_water(12.0, 6.0, 0.025) == pytest.approx(1.8)


def test_the_roof_water_is_followed_to_where_it_goes() -> None:
    houses, _ = choose(known(a_site(north=0.01)))
    assert houses[0].roof_water_goes.end is WaterEnd.BOUNDARY
    assert houses[0].roof_water_goes.side == pytest.approx(180.0)
    assert [rain for rain, _ in houses[0].roof_water_by_storm] == [0.025, 0.05]
    assert [water for _, water in houses[0].roof_water_by_storm] == pytest.approx([0.945, 1.89])


def test_the_door_is_at_the_end_nearer_to_the_gate() -> None:
    houses, _ = choose(known(a_site()))
    door = houses[0].door
    assert door is not None
    assert houses[0].outline.exterior.distance(door) < 1e-6
    far = [Point(corner).distance(GATE.geometry) for corner in houses[0].outline.exterior.coords]
    assert door.distance(GATE.geometry) <= max(far)


def test_the_same_ground_gives_the_same_houses() -> None:
    found = known(a_site(), wetness=np.random.default_rng(5).uniform(0.0, 1.0, (60, 60)))
    assert choose(found) == choose(found)


def test_unknown_ground_is_not_built_on() -> None:
    site = a_site()
    elevation = site.elevation.copy()
    elevation[:, 20:] = np.nan
    houses, _ = choose(known(replace(site, elevation=elevation)))
    assert all(house.outline.bounds[2] <= 20.5 for house in houses)


def test_no_house_is_looked_for_where_none_is_wanted() -> None:
    own = with_house(propose=False)
    assert choose(known(a_site()), own) == ((), ())


@pytest.mark.parametrize(("latitude", "declination", "hours"), [(40.0, -23.44, 9.17), (50.0, 23.44, 16.16)])
def test_day_length_agrees_with_the_tables(latitude: float, declination: float, hours: float) -> None:
    """Cooper's equation without refraction; FAO-56 annex 2 (15th of the month) has 9.2 h and 16.2 h, recomputed."""
    assert day_length(latitude, declination) == pytest.approx(hours, abs=0.06)


def test_the_parcel_runs_as_its_longer_side() -> None:
    site = make_site(plane(40, 80, 1.0), 1.0, parcel=box(5.0, 5.0, 75.0, 35.0))
    assert long_bearing(site.parcel) == pytest.approx(90.0)


def test_a_plane_is_as_steep_as_it_was_built() -> None:
    x, y = np.meshgrid(np.arange(5.0), np.arange(4.0))
    assert plane_grade(x, y, 3.0 + 0.03 * x - 0.04 * y) == pytest.approx(0.05)


@pytest.mark.parametrize(("slope", "stands"), [(0.048, True), (0.053, False)])
def test_a_slope_at_the_limit_is_told_by_the_cells_and_not_by_where_they_are_sampled(
    slope: float, stands: bool
) -> None:
    houses, _ = choose(known(a_site(north=slope)))
    assert bool(houses) is stands
    for house in houses:
        grade = next(one.measured for one in house.reasons if one.criterion is HouseCriterion.LEVEL)
        assert grade == pytest.approx(slope, abs=1e-6)
