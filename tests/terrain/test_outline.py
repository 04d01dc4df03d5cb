"""Outlines of patches of cells."""

from __future__ import annotations

import numpy as np
import pytest
import scipy.ndimage
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import LineString, Point, box, unary_union

from sitepipe.grid import Grid
from sitepipe.terrain.outline import border_lines, outlines, polygons_of, soft_outline, softened

GRID = Grid(100.0, 60.0, 2.0, 12, 14, "LOCAL")


@settings(max_examples=50)
@given(arrays(np.int32, (12, 14), elements=st.integers(-1, 2)))
def test_border_lines_are_as_long_as_the_sides_between_unlike_cells(labels: np.ndarray) -> None:
    padded = np.pad(labels, 1, constant_values=-1)
    sides = (np.diff(padded, axis=0) != 0).sum() + (np.diff(padded, axis=1) != 0).sum()
    assert sum(line.length for line in border_lines(labels, GRID)) == pytest.approx(sides * GRID.cell)


@settings(max_examples=50)
@given(arrays(np.bool_, (12, 14)))
def test_there_is_an_outline_for_each_patch_that_an_independent_library_counts(patch: np.ndarray) -> None:
    """scipy.ndimage.label with its four-neighbour default."""
    _, count = scipy.ndimage.label(patch)
    shapes = outlines(patch, GRID)
    assert len(shapes) == count
    assert all(shape.is_valid for shape in shapes)


def test_a_disc_of_cells_has_nearly_the_area_of_the_disc_and_no_steps() -> None:
    grid = Grid(0.0, 60.0, 1.0, 60, 60, "LOCAL")
    x, y = np.meshgrid(grid.x, grid.y)
    (shape,) = outlines(np.hypot(x - 30, y - 30) < 20, grid)
    assert shape.area == pytest.approx(np.pi * 400, rel=0.03)
    assert shape.hausdorff_distance(Point(30, 30).buffer(20)) < 1.5
    corners = np.asarray(shape.exterior.coords)
    turns = np.diff(np.unwrap(np.arctan2(*np.diff(corners, axis=0).T)))
    assert np.degrees(np.abs(turns)).max() < 30.0


def test_a_hole_stays_a_hole() -> None:
    patch = np.zeros(GRID.shape, dtype=np.bool_)
    patch[2:10, 2:12] = True
    patch[5:7, 5:8] = False
    (shape,) = outlines(patch, GRID)
    assert len(shape.interiors) == 1


def test_no_patch_has_no_outline() -> None:
    assert outlines(np.zeros(GRID.shape, dtype=np.bool_), GRID) == []


def test_softening_keeps_the_ends_of_a_line_and_closes_a_ring() -> None:
    line = LineString([(0, 0), (5, 0), (5, 5), (9, 5)])
    soft = softened(line, 1.0, 1.5)
    assert soft.coords[0] == line.coords[0]
    assert soft.coords[-1] == line.coords[-1]
    assert softened(LineString([(0, 0), (8, 0), (8, 8), (0, 8), (0, 0)]), 1.0, 1.5).is_closed


def test_a_slanting_flight_of_steps_becomes_straight() -> None:
    steps = LineString([(float(k // 2), float((k + 1) // 2)) for k in range(41)])
    soft = softened(steps, 1.0, 1.5)
    assert len(soft.coords) < 8
    assert soft.hausdorff_distance(LineString([(0, 0), (20, 20)])) < 0.4


def test_only_areas_are_kept_of_a_cut() -> None:
    mixed = unary_union([Point(0, 0), Point(9, 9).buffer(1.0), LineString([(0, 0), (3, 0)])])
    assert polygons_of(mixed).geom_type == "Polygon"
    assert polygons_of(Point(0, 0)).is_empty


def test_a_stepped_shape_keeps_its_area_and_hole_when_it_is_softened() -> None:
    grid = Grid(0.0, 60.0, 1.0, 60, 60, "LOCAL")
    x, y = np.meshgrid(grid.x, grid.y)
    away = np.hypot(x - 30, y - 30)
    boxes = [box(i - 0.5, j - 0.5, i + 0.5, j + 0.5) for i, j in zip(x[away < 20], y[away < 20], strict=True)]
    stepped = unary_union(boxes).difference(box(27, 27, 33, 33))
    soft = soft_outline(stepped, 1.0)
    assert soft.area == pytest.approx(stepped.area, rel=0.02)
    assert len(soft.interiors) == 1
    assert soft.symmetric_difference(stepped).area < 0.1 * stepped.area
