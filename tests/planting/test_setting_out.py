"""Beds set out plant by plant: what is drawn is what is counted, and nothing stands where it must not."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import LineString, Point, box, union_all

from sitepipe.arrays import frozen
from sitepipe.drainage.record import PondingUncertainty
from sitepipe.planting.palette import Plant, read_palette
from sitepipe.planting.setting_out import SetOut, set_out_bed, start_of, taken_ground
from sitepipe.settings import PlantingSettings
from sitepipe.works.record import Path, Plan
from tests.sites import make_site, plane

SUN = np.array([[60.0, 180.0, 4.0], [30.0, 120.0, 4.0], [30.0, 240.0, 4.0]])
FIELD = box(0, 0, 80, 50)
BED = box(0, 0, 8, 3)


def kinds(*names: str) -> list[Plant]:
    known = {plant.common: plant for plant in read_palette()}
    return [known[name] for name in names]


MIXED = kinds("shadblow serviceberry", "groundnut", "field mint")


def counts(result: SetOut) -> dict[str, int]:
    return {
        name: sum(one == name for one, _ in result.positions) for name in dict.fromkeys(n for n, _ in result.positions)
    }


def test_a_large_zone_gets_one_bed_at_the_path_and_the_rest_is_counted() -> None:
    path = Point(40, 0)
    result = set_out_bed(MIXED, FIELD, SUN, path, PlantingSettings())
    assert result.ground is not None
    assert result.ground.distance(path) < 0.01
    assert result.ground.area + result.left == pytest.approx(FIELD.area, rel=1e-3)
    assert result.ground.area < 0.2 * FIELD.area
    assert all(result.ground.contains(place) for _, place in result.positions)
    # Two figures, rounded down, of plants a square metre of bed times what is left.
    exact = len(result.positions) * result.left / result.ground.area
    assert 0.9 * exact <= result.room_for <= exact


def test_the_bed_is_filled_from_edge_to_edge() -> None:
    """No half-empty blocks: of the bed's ground every part lies near a plant of its own spacing."""
    result = set_out_bed(MIXED, FIELD, SUN, Point(40, 0), PlantingSettings())
    assert result.ground is not None
    room = {plant.common: max(plant.in_row or 0.0, plant.row or 0.0) for plant in MIXED}
    covered = union_all([place.buffer(1.1 * room[name]) for name, place in result.positions])
    assert result.ground.difference(covered).area < 0.06 * result.ground.area


def test_every_kind_is_set_out_even_the_smallest_beside_the_largest() -> None:
    result = set_out_bed(
        kinds("shadblow serviceberry", "cranberry", "groundnut"), FIELD, SUN, Point(0, 25), PlantingSettings()
    )
    assert set(counts(result)) == {"shadblow serviceberry", "cranberry", "groundnut"}
    assert all(10 <= count <= 50 for count in counts(result).values())


def test_no_more_plants_than_the_grower_allows() -> None:
    for most in (3, 30, 900):
        result = set_out_bed(MIXED, FIELD, SUN, Point(40, 0), PlantingSettings(most_plants=most))
        assert 0 < len(result.positions) <= most


def test_a_mound_is_planted_whole() -> None:
    result = set_out_bed(MIXED, BED, SUN, None, PlantingSettings())
    assert result.ground == BED
    assert (result.room_for, result.left) == (0, 0.0)
    assert set(counts(result)) == {plant.common for plant in MIXED}


def test_plants_of_unlike_kinds_do_not_share_a_spot() -> None:
    result = set_out_bed(MIXED, FIELD, SUN, Point(40, 0), PlantingSettings())
    places = np.array([(place.x, place.y) for _, place in result.positions])
    apart = np.hypot(*(places[:, None] - places[None]).transpose(2, 0, 1))
    np.fill_diagonal(apart, np.inf)
    assert apart.min() >= 0.29


def test_nothing_is_set_on_paths_or_in_standing_water() -> None:
    site = make_site(plane(40, 40, 1.0, 0.0, 0.02))
    line = LineString([(0, 10), (40, 10)])
    path = Path(1, line, line.buffer(0.5), ("gate", "shed"), 1.0, True, (), 1.0, 0.0, 40.0, 40.0, "")
    chance = np.zeros(site.grid.shape)
    chance[5:15, 5:15] = 0.9
    taken = taken_ground(site, Plan(paths=(path,)), PondingUncertainty(frozen(chance), (), 10))
    assert taken.contains(path.outline)
    assert taken.contains(Point(10, 30))
    assert not taken.intersects(Point(30, 30))
    assert start_of(box(0, 20, 40, 40), site, Plan(paths=(path,))).y == pytest.approx(20.0)
