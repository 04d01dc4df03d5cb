"""Single plants in their places: inside the ground, each with its room, counts as asked where they fit."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, box

from sitepipe.planting.palette import Plant
from sitepipe.planting.setting_out import TRUNK_ROOM, bed_beside, set_out

SHRUB = Plant("Frutex inventus", "shrub", in_row=1.5, layer="shrub")
TALL = Plant("Arbor inventa", "tree", in_row=3.0, layer="canopy")
HERB = Plant("Herba inventa", "herb", in_row=0.5, layer="herb")
OTHER = Plant("Herba altera", "other herb", in_row=0.4, layer="herb")
COVER = Plant("Tegens inventa", "cover", in_row=0.3, layer="ground cover")
EDGE = Plant("Margo inventa", "edging", in_row=0.25, layer="edging")
VINE = Plant("Vitis inventa", "vine", in_row=2.0, layer="climber")
KINDS = (TALL, SHRUB, HERB, OTHER, COVER, EDGE)


def room_between(one: Plant, other: Plant) -> float:
    floor, woody = ("edging", "ground cover"), ("canopy", "shrub")
    if {one.layer, other.layer} & set(floor) and {one.layer, other.layer} & set(woody):
        return TRUNK_ROOM
    return (math.sqrt(one.room) + math.sqrt(other.room)) / 2.0


@settings(max_examples=30)
@given(
    st.tuples(*[st.integers(0, 8) for _ in KINDS]),
    st.floats(1.0, 9.0),
    st.floats(1.0, 6.0),
)
def test_every_plant_stands_in_the_bed_with_its_room(counts: tuple[int, ...], length: float, width: float) -> None:
    bed = box(10.0, 20.0, 10.0 + length, 20.0 + width)
    placed = set_out([list(zip(KINDS, counts, strict=True))], bed, 0.1)
    for plant, count in zip(KINDS, counts, strict=True):
        assert sum(kind is plant for kind, _ in placed) <= count
    for plant, place in placed:
        assert bed.contains(place)
        assert bed.exterior.distance(place) >= 0.1 - 1e-9
        assert plant is not EDGE or bed.exterior.distance(place) <= 0.5
    for (one, here), (other, there) in combinations(placed, 2):
        assert here.distance(there) >= room_between(one, other) - 1e-9


def test_what_fits_by_the_formula_is_set_out() -> None:
    # Plants on ground at a square spacing s: 1 / s2 (any gardener's handbook); a triangle takes up to 1.155 as many.
    placed = set_out([[(HERB, 999)]], box(0.0, 0.0, 10.0, 6.0), 0.25)
    by_squares = (10.0 - 0.5) * (6.0 - 0.5) / 0.25
    assert 0.9 * by_squares <= len(placed) <= 1.2 * (10.0 * 6.0) / 0.25


def test_herbs_that_run_keep_a_cut_edge_from_those_that_do_not() -> None:
    # 1 m from beds: trade notes, common practice.
    runner = Plant("Currens inventa", "runner", in_row=0.4, layer="herb", runs=True)
    placed = set_out([[(runner, 20), (HERB, 20)]], box(0.0, 0.0, 10.0, 3.0), 0.1)
    ours, others = ([place for kind, place in placed if kind is each] for each in (runner, HERB))
    assert len(ours) == len(others) == 20
    assert min(here.distance(there) for here in ours for there in others) >= 1.0


def test_tall_kinds_stand_towards_the_pole() -> None:
    bed = box(0.0, 0.0, 6.0, 8.0)
    north = next(place for plant, place in set_out([[(TALL, 1), (HERB, 4)]], bed, 0.1) if plant is TALL)
    south = next(place for plant, place in set_out([[(TALL, 1)]], bed, 0.1, is_south=True) if plant is TALL)
    assert north.y > 6.0
    assert south.y < 2.0


def test_the_first_group_never_gives_way() -> None:
    bed = box(0.0, 0.0, 1.2, 1.2)
    placed = set_out([[(OTHER, 4)], [(HERB, 50)]], bed, 0.1)
    assert sum(plant is OTHER for plant, _ in placed) == 4


def test_kinds_of_a_layer_take_turns() -> None:
    placed = [plant for plant, _ in set_out([[(HERB, 3), (OTHER, 3)]], box(0.0, 0.0, 4.0, 4.0), 0.1)]
    assert placed == [HERB, OTHER] * 3


def test_climbers_stand_along_their_supports_end_to_end() -> None:
    rows = (LineString([(0.0, 0.0), (5.0, 0.0)]), LineString([(0.0, 3.0), (2.5, 3.0)]))
    placed = set_out([[(VINE, 9)]], box(0.0, -0.5, 5.0, 0.5), 0.1, rows)
    assert [(place.x, place.y) for _, place in placed] == [(1.0, 0.0), (3.0, 0.0), (1.0, 3.0)]


def test_a_bed_beside_the_path_has_the_area_asked_for() -> None:
    ground = box(0.0, 0.0, 40.0, 10.0)
    bed = bed_beside(ground, Point(0.0, 5.0), 60.0)
    assert bed.area == pytest.approx(60.0, rel=0.01)
    assert bed.distance(Point(0.0, 5.0)) == 0.0
