"""What each criterion looks at, against brute force and what was built."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.answers.exclusions import CRITERIA
from sitepipe.arrays import FloatArray
from sitepipe.scoring.criteria import (
    _most_within,
    asked_of,
    looked_at,
    slope_under_works,
    standing_water,
    water_passing,
    way_to_carry,
)
from sitepipe.settings import MoundUse, PathUse, Settings, WetPlantingUse, make_settings
from sitepipe.site import Feature, Kind
from tests.scoring.records import filled
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import known

PARCEL = box(4.0, 4.0, 16.0, 12.0)


def wide(least_width: str) -> Settings:
    return make_settings({"scoring": {"least_width": least_width}}, "test")


def most_around(values: FloatArray, reach: float) -> FloatArray:
    """Look at every cell from every other."""
    row, column = np.indices(values.shape)
    most = np.full(values.shape, -np.inf)
    for here in np.ndindex(values.shape):
        near = (row - here[0]) ** 2 + (column - here[1]) ** 2 <= reach**2
        most[here] = max(values[near & ~np.isnan(values)], default=-np.inf)
    return most


@pytest.mark.parametrize("shape", [(1, 1), (1, 9), (9, 1), (3, 4), (9, 8)])
@pytest.mark.parametrize("reach", [1.0, 1.5, 2.0, 3.0, 5.0, 12.0])
def test_the_most_within_reach_is_what_brute_force_finds(shape: tuple[int, int], reach: float) -> None:
    chance = np.random.default_rng(shape[1])
    for _ in range(6):
        values = np.where(chance.random(shape) < 0.3, np.nan, chance.normal(size=shape))
        np.testing.assert_array_equal(_most_within(values, reach), most_around(values, reach))


@pytest.mark.parametrize(
    ("cell", "least_width", "reach"),
    [(1.0, "6 m", 3.0), (2.0, "12 m", 3.0), (0.5, "5 m", 5.0), (1.0, "0.4 m", 1.0), (2.0, "3 m", 1.0)],
)
def test_water_passes_within_half_the_least_width_but_at_least_in_the_next_cell(
    cell: float, least_width: str, reach: float
) -> None:
    area = np.random.default_rng(2).uniform(1.0, 900.0, (12, 14))
    site = make_site(plane(12, 14, cell), cell)
    drainage = known(site, upslope_area=area).drainage
    drainage = replace(drainage, known=area > 50.0)
    found = water_passing(site, drainage, wide(least_width).scoring)
    np.testing.assert_array_equal(found, np.where(area > 50.0, most_around(area, reach), np.nan))


@pytest.mark.parametrize(("cell", "least_width"), [(0.5, 2.0), (0.5, 5.0), (1.0, 5.0)])
def test_slope_is_that_of_the_ground_without_what_is_narrower_than_a_zone(cell: float, least_width: float) -> None:
    """A Gaussian of half the least width damps a wave by exp(-(k s)^2 / 2); Horn's slope by sin(k d) / (k d)."""
    size, k = 160, 2.0 * math.pi / 20.0
    east = (np.arange(size) + 0.5) * cell
    ground = np.tile(100.0 + 0.4 * np.sin(k * (east - east[size // 2])), (40, 1))
    found = slope_under_works(make_site(ground, cell), wide(f"{least_width} m").scoring)
    wave = 0.4 * k * math.exp(-0.5 * (k * least_width / 2.0) ** 2) * math.sin(k * cell) / (k * cell)
    assert found[20, size // 2] == pytest.approx(wave, rel=0.02)
    assert slope_under_works(make_site(plane(30, 30, cell, 0.03, -0.04), cell), Settings().scoring) == pytest.approx(
        0.05
    )


def test_what_stands_is_what_the_larger_storm_leaves_else_what_the_hollows_hold() -> None:
    site = make_site(plane(20, 20, 1.0, 0.02))
    made = filled(site, make_settings({"storm": {"depths": ["20 mm", "60 mm"]}}, "test")).drainage
    one = np.full((20, 20), 0.05)
    one[3, 3], one[4, 4] = np.nan, np.nan
    is_known = np.ones((20, 20), np.bool_)
    is_known[4, 4] = False
    small, large = (replace(storm, depth=depth) for storm, depth in zip(made.storms, (one, 2.0 * one), strict=True))
    wet = replace(made, known=is_known, storms=(small, large), ponding_depth=3.0 * one)
    for drainage, depth in ((wet, 0.1), (replace(wet, storms=()), 0.15)):
        expected = np.full((20, 20), depth)
        expected[3, 3], expected[4, 4] = 0.0, np.nan
        np.testing.assert_allclose(standing_water(drainage), expected)


def gate(x: float, y: float) -> Feature:
    return draw_thing(1, Kind.GATE, "Gate", Point(x, y))


def road(*ends: tuple[float, float]) -> Feature:
    return draw_thing(2, Kind.ROAD, "Lane", LineString(ends))


def test_the_way_to_carry_is_the_straight_line_from_the_nearest_gate_or_road_inside() -> None:
    ground = plane(16, 20, 1.0)
    x, y = np.meshgrid(np.arange(20) + 0.5, np.arange(15, -1, -1) + 0.5)
    from_gates = way_to_carry(make_site(ground, features=(gate(4.0, 9.0), gate(18.0, 2.5)), parcel=PARCEL))
    straight = np.minimum(np.hypot(x - 4.0, y - 9.0), np.hypot(x - 18.0, y - 2.5))
    np.testing.assert_allclose(from_gates, straight)
    # A lane from far outside counts where it is inside the parcel; its points lie no more than 5 m apart.
    from_lane = way_to_carry(make_site(ground, features=(road((10.0, -90.0), (10.0, 8.0)),), parcel=PARCEL))
    straight = np.hypot(x - 10.0, np.maximum(np.maximum(4.0 - y, y - 8.0), 0.0))
    assert (from_lane >= straight - 1e-9).all()
    assert (from_lane <= np.hypot(straight, 2.5) + 1e-9).all()


def test_a_road_beside_the_parcel_counts_only_where_there_is_no_way_in() -> None:
    ground, beside = plane(16, 20, 1.0), road((1.0, 0.0), (1.0, 16.0))
    x = np.arange(20) + 0.5
    alone = way_to_carry(make_site(ground, features=(beside,), parcel=PARCEL))
    assert (np.abs(alone[8] - (x - 1.0))[3:] < 1.0).all()
    with_gate = way_to_carry(make_site(ground, features=(beside, gate(16.0, 8.5)), parcel=PARCEL))
    assert with_gate[7, 15] == pytest.approx(0.5)
    assert with_gate[7, 1] == pytest.approx(14.5)
    assert (way_to_carry(make_site(ground, parcel=PARCEL)) == 0.0).all()


@pytest.mark.parametrize("use", [MoundUse(), WetPlantingUse(), PathUse()])
def test_what_weighs_nothing_is_not_asked(use: MoundUse | WetPlantingUse | PathUse) -> None:
    names = list(asked_of(use))
    assert names == [name for name in type(use).model_fields if getattr(use, name).weight > 0.0]
    first = names[0]
    without = use.model_copy(update={first: getattr(use, first).model_copy(update={"weight": 0.0})})
    assert list(asked_of(without)) == names[1:]


def test_each_criterion_looks_at_the_value_of_its_name_in_its_unit() -> None:
    site = make_site(plane(30, 30, 1.0, 0.03, 0.04))
    given = filled(site, Settings(), wet=0.7, hours=6.5, depth=0.35)
    seen = looked_at(site, given.drainage, given.sunlight, given.wetness, given.water_table, Settings())
    assert set(seen) == set(CRITERIA)
    middle = {name: float(values[15, 15]) for name, values in seen.items()}
    assert middle["slope_percent"] == pytest.approx(5.0)
    assert (middle["sun_hours"], middle["wetness"], middle["wet_enough"]) == (6.5, 0.7, 0.7)
    assert middle["water_table_m"] == 0.35
    assert middle["haul_m"] == 0.0
    assert middle["depth_to_water_index_m"] == given.drainage.depth_to_water_index[15, 15]
