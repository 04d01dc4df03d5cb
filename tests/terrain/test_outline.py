"""Outlines of patches of cells."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import numpy as np
import pytest
import scipy.ndimage
import shapely
import shapely.affinity
import skimage.measure
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from shapely import LineString, Point, box, unary_union

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.terrain.outline import (
    STRAIGHT,
    _along_sides,
    border_lines,
    outlines,
    patches_of,
    polygons_of,
    softened,
)

GRID = Grid(100.0, 60.0, 2.0, 12, 14, "LOCAL")


@settings(max_examples=50)
@given(arrays(np.int32, (12, 14), elements=st.integers(-1, 2)))
def test_border_lines_are_as_long_as_the_sides_between_unlike_cells(labels: np.ndarray) -> None:
    padded = np.pad(labels, 1, constant_values=-1)
    sides = (np.diff(padded, axis=0) != 0).sum() + (np.diff(padded, axis=1) != 0).sum()
    assert sum(line.length for line in border_lines(labels, GRID)) == pytest.approx(sides * GRID.cell)


Side = frozenset[tuple[float, float]]

awkward = st.tuples(st.integers(1, 7), st.integers(1, 7))


def _corners(line: LineString, cell: float) -> FloatArray:
    """Every corner of a cell that a line along cells' sides passes, in its order."""
    points = np.asarray(line.coords)
    found = [points[:1]]
    for start, end in pairwise(points):
        count = int(np.rint(np.abs(end - start).sum() / cell))
        found.append(start + (end - start) * (np.arange(1, count + 1) / count)[:, None])
    return np.vstack(found)


def _sides(line: LineString, cell: float) -> list[Side]:
    """Take a line along cells' sides apart, side by side."""
    corners = [tuple(corner) for corner in _corners(line, cell)]
    return [frozenset(ends) for ends in pairwise(corners)]


@settings(max_examples=60)
@given(awkward.flatmap(lambda shape: arrays(np.int32, shape, elements=st.integers(-1, 2))))
def test_border_lines_are_those_that_an_independent_library_joins_from_single_sides(labels: np.ndarray) -> None:
    """Each side between unlike cells on its own, joined by shapely wherever just two of them meet."""
    grid = Grid(100.0, 60.0, 2.0, labels.shape[0], labels.shape[1], "LOCAL")
    padded = np.pad(labels, 1, constant_values=-1)
    sides = []
    for row in range(1, padded.shape[0]):
        for column in range(1, padded.shape[1]):
            corner = 100.0 + 2.0 * (column - 1), 60.0 - 2.0 * (row - 1)
            if padded[row, column] != padded[row - 1, column]:
                sides.append(LineString([corner, (corner[0] + 2.0, corner[1])]))
            if padded[row, column] != padded[row, column - 1]:
                sides.append(LineString([corner, (corner[0], corner[1] - 2.0)]))
    joined = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(sides))) if sides else []
    found = border_lines(labels.astype(np.int32), grid)
    assert {frozenset(_sides(line, 2.0)) for line in found} == {frozenset(_sides(line, 2.0)) for line in joined}
    assert sum(len(_sides(line, 2.0)) for line in found) == len(sides)


def _averaged(points: FloatArray, times: int, is_closed: bool) -> FloatArray:
    """Weights of 1-2-1, as often, in plain numpy."""
    for _ in range(times):
        mean = (np.roll(points, 1, axis=0) + 2.0 * points + np.roll(points, -1, axis=0)) / 4.0
        if not is_closed:
            mean[[0, -1]] = points[[0, -1]]
        points = mean
    return points


@settings(max_examples=60)
@given(
    awkward.flatmap(lambda shape: arrays(np.int32, shape, elements=st.integers(-1, 2))),
    st.sampled_from([0.5, 3.0]),
    st.floats(0.0, 3.0),
)
def test_a_softened_line_runs_through_the_binomial_means_of_the_middles_of_its_sides(
    labels: np.ndarray, cell: float, cells: float
) -> None:
    """How often to average: weights of 1-2-1 over 4 have a variance of a half, and variances add up."""
    grid = Grid(0.0, 0.0, cell, labels.shape[0], labels.shape[1], "LOCAL")
    for line in border_lines(labels.astype(np.int32), grid):
        corners = _corners(line, cell)
        points = 0.5 * (corners[1:] + corners[:-1])
        if not line.is_closed:
            points = np.vstack([corners[:1], points, corners[-1:]])
        points = _averaged(points, max(1, round(2.0 * cells**2)), line.is_closed)
        if line.is_closed:
            points = np.vstack([points, points[:1]])
        found = softened(line, cell, cells * cell)
        kept, every = np.asarray(found.coords), shapely.points(points)
        assert np.abs(kept[:, None] - points[None]).sum(axis=2).min(axis=1).max() < 1e-9 * cell
        assert shapely.distance(every, found).max() <= STRAIGHT * cell
        np.testing.assert_allclose(kept[[0, -1]], points[[0, -1]], atol=1e-9)


@settings(max_examples=60)
@given(awkward.flatmap(lambda shape: arrays(np.int32, shape, elements=st.integers(-2, 1))))
def test_patches_are_those_that_an_independent_library_labels(labels: np.ndarray) -> None:
    """skimage.measure.label; numbers run in reading order of each patch's first cell."""
    numbers = patches_of(labels.astype(np.int32))
    assert ((numbers == -1) == (labels < 0)).all()
    firsts = [int(np.flatnonzero(numbers.ravel() == number)[0]) for number in range(int(numbers.max()) + 1)]
    assert firsts == sorted(firsts)
    label: Any = skimage.measure.label
    theirs = label(np.where(labels < 0, -1, labels), background=-1, connectivity=1)
    pairs = set(zip(theirs[labels >= 0].tolist(), numbers[labels >= 0].tolist(), strict=True))
    assert len(pairs) == len({first for first, _ in pairs}) == len({second for _, second in pairs})


@settings(max_examples=40)
@given(arrays(np.bool_, (12, 14)))
def test_outlines_come_in_reading_order_and_none_lies_on_other_ground(patch: np.ndarray) -> None:
    """scipy.ndimage.label numbers patches in reading order. Softening moves an outline by less than a cell's side."""
    labelled, _ = scipy.ndimage.label(patch)
    for number, shape in enumerate(outlines(patch, GRID), start=1):
        rows, columns = np.nonzero(labelled == number)
        cells = unary_union(
            [
                box(100.0 + 2.0 * j, 58.0 - 2.0 * i, 102.0 + 2.0 * j, 60.0 - 2.0 * i)
                for i, j in zip(rows, columns, strict=True)
            ]
        )
        assert cells.buffer(GRID.cell).contains(shape)
        assert shape.intersects(cells)


def test_a_patch_that_softening_loses_is_drawn_along_the_sides_of_its_cells() -> None:
    patch = np.zeros(GRID.shape, dtype=np.bool_)
    patch[3, 5:9] = patch[4, 6] = True
    cells = box(110.0, 52.0, 118.0, 54.0).union(box(112.0, 50.0, 114.0, 52.0))
    assert _along_sides(patch, GRID).equals(cells)


def test_a_patch_of_one_cell_keeps_within_its_cell() -> None:
    patch = np.zeros(GRID.shape, dtype=np.bool_)
    patch[3, 5] = True
    (shape,) = outlines(patch, GRID)
    assert shape.within(box(110.0, 52.0, 112.0, 54.0).buffer(1e-9))
    assert shape.area > 0.0


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


def test_where_softening_loses_every_patch_all_are_drawn_along_their_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    patch = np.zeros((12, 14), dtype=np.bool_)
    patch[2:5, 2:5] = patch[7:9, 3] = patch[10, 10] = True
    monkeypatch.setattr(shapely, "polygonize", lambda _: shapely.GeometryCollection())
    found = outlines(patch, GRID)
    labels = patches_of(np.where(patch, 0, -1).astype(np.int32))
    assert [shape.area for shape in found] == [9 * 4.0, 2 * 4.0, 4.0]
    for number, shape in enumerate(found):
        assert shape.equals(_along_sides(labels == number, GRID))


@pytest.mark.parametrize("cell", [0.25, 4.0])
def test_outlines_grow_with_the_cell(cell: float) -> None:
    y, x = np.mgrid[0:20, 0:20]
    patch = (np.hypot(x - 8, y - 9) < 6.3) & ~((x == 8) & (y == 9))
    (one,) = outlines(patch, Grid(0.0, 20.0, 1.0, 20, 20, "LOCAL"))
    (other,) = outlines(patch, Grid(0.0, 20.0 * cell, cell, 20, 20, "LOCAL"))
    wanted = shapely.affinity.scale(one, cell, cell, origin=(0.0, 0.0))
    assert other.symmetric_difference(wanted).area < 1e-9 * cell**2 * one.area
