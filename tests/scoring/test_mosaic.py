"""A parcel cut into faces and joined again without a gap."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon, Point, Polygon, box

from sitepipe.scoring.mosaic import cut, joined

GROUND = Polygon([(0, 0), (40, 3), (38, 30), (15, 34), (2, 20)], [[(10, 10), (14, 10), (14, 14), (10, 14)]])

ends = st.tuples(st.floats(-5, 45), st.floats(-5, 40))
lines = st.lists(st.tuples(ends, ends).filter(lambda pair: pair[0] != pair[1]).map(LineString), max_size=6)


@settings(max_examples=40)
@given(lines)
def test_faces_fill_the_ground_exactly(cuts: list[LineString]) -> None:
    mosaic = cut(GROUND, cuts)
    assert sum(face.area for face in mosaic.faces) == pytest.approx(GROUND.area, rel=1e-9)
    assert shapely.coverage_is_valid(list(mosaic.faces))


@settings(max_examples=25)
@given(lines)
def test_faces_beside_each_other_share_the_edge_that_overlay_finds(cuts: list[LineString]) -> None:
    mosaic = cut(GROUND, cuts)
    for face, around in enumerate(mosaic.beside):
        for other, length in around.items():
            assert mosaic.beside[other][face] == pytest.approx(length)
            shared = mosaic.faces[face].boundary.intersection(mosaic.faces[other].boundary).length
            assert length == pytest.approx(shared, rel=1e-6, abs=1e-6)


@settings(max_examples=25)
@given(lines, st.integers(0, 2**31))
def test_joining_keeps_the_ground_and_leaves_nothing_small_that_could_be_joined(
    cuts: list[LineString], seed: int
) -> None:
    mosaic = cut(GROUND, cuts)
    labels = np.random.default_rng(seed).integers(0, 3, len(mosaic.faces)).astype(np.int32)
    given_labels = joined(mosaic, labels, lambda *_: True, lambda _, shape: shape.area >= 30.0, otherwise=2)
    shapes = [mosaic.shape(group) for group in mosaic.groups(given_labels)]
    assert sum(shape.area for shape in shapes) == pytest.approx(GROUND.area, rel=1e-9)
    assert shapely.coverage_is_valid(shapes)
    for group in mosaic.groups(given_labels):
        if given_labels[group[0]] != 2:
            assert mosaic.area(group) >= 30.0


def test_a_small_face_goes_to_the_neighbour_that_shares_most_of_its_edge() -> None:
    mosaic = cut(box(0, 0, 10, 10), [LineString([(0, 2), (10, 2)]), LineString([(9, 2), (9, 10)])])
    areas = [round(face.area) for face in mosaic.faces]
    labels = np.array([{20: 0, 72: 1, 8: 2}[area] for area in areas], dtype=np.int32)
    result = joined(mosaic, labels, lambda *_: True, lambda _, shape: shape.area > 10.0, otherwise=9)
    assert result[areas.index(8)] == 1


def test_a_face_that_no_neighbour_may_take_is_left() -> None:
    mosaic = cut(box(0, 0, 10, 10), [Point(5, 5).buffer(1.0).boundary])
    labels = np.array([0 if face.area > 50 else 1 for face in mosaic.faces], dtype=np.int32)

    def allows(face: int, label: int) -> bool:
        return mosaic.faces[face].area > 50 or label != 0

    def is_enough(_: int, shape: Polygon | MultiPolygon) -> bool:
        return bool(shape.area > 10.0)

    result = joined(mosaic, labels, allows, is_enough, otherwise=3)
    assert sorted(result.tolist()) == [0, 3]


def test_a_rim_is_not_given_to_a_use_that_it_hardly_touches() -> None:
    """Seen on real ground: a strip along the boundary, closed to mounds, became wet planting round a dry field."""
    rim = [LineString([(1, 0), (1, 8)]), LineString([(0, 8), (10, 8)])]
    mosaic = cut(box(0, 0, 10, 10), rim)
    by_area = {round(face.area): number for number, face in enumerate(mosaic.faces)}
    labels = np.zeros(3, dtype=np.int32)
    labels[by_area[8]], labels[by_area[20]] = 2, 1
    result = joined(
        mosaic,
        labels,
        lambda face, label: not (face == by_area[8] and label == 0),
        lambda _, s: s.area > 10,
        otherwise=2,
    )
    assert result[by_area[8]] == 2
