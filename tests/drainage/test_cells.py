"""Cells under shapes and shapes around cells."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon, box

from sitepipe.arrays import BoolArray
from sitepipe.drainage.cells import cells_along, cells_inside, outline_of
from sitepipe.grid import Grid

FIELD = Grid(10.0, 60.0, 0.5, 100, 120, "LOCAL")


@given(hnp.arrays(np.bool_, hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=9)).filter(np.any))
def test_an_outline_holds_the_cells_that_it_was_drawn_around(mask: BoolArray) -> None:
    grid = Grid(10.0, 50.0, 0.5, mask.shape[0], mask.shape[1], "LOCAL")
    outline = outline_of(grid, mask)
    assert outline.is_valid
    assert outline.area == mask.sum() * 0.25
    assert (cells_inside(grid, outline) == mask).all()


def test_cells_inside_a_ring_are_those_that_shapely_finds() -> None:
    """An independent library: shapely's own test of points."""
    ring = Point(38.2, 33.1).buffer(19.0).difference(Point(33.0, 38.0).buffer(6.0)).union(box(11.1, 11.2, 14.3, 13.9))
    x, y = np.meshgrid(FIELD.x, FIELD.y)
    assert (cells_inside(FIELD, ring) == shapely.contains_xy(ring, x, y)).all()


def test_two_shapes_that_share_a_border_share_no_cell() -> None:
    west, east = box(10.0, 10.0, 30.25, 60.0), box(30.25, 10.0, 70.0, 60.0)
    count = cells_inside(FIELD, west).astype(int) + cells_inside(FIELD, east)
    assert (count == 1).all()


def test_a_shape_beyond_the_grid_covers_what_is_on_it() -> None:
    assert cells_inside(FIELD, box(-100.0, 0.0, 15.0, 500.0)).sum() == 10 * 100
    assert not cells_inside(FIELD, box(-100.0, 0.0, -50.0, 500.0)).any()


@given(st.floats(10.0, 69.9), st.floats(10.1, 60.0), st.floats(10.0, 69.9), st.floats(10.1, 60.0))
def test_the_cells_of_a_line_hang_together_from_end_to_end(x0: float, y0: float, x1: float, y1: float) -> None:
    lines = cells_along(FIELD, LineString([(x0, y0), (x1, y1)]))
    (cells,) = lines
    row, column = np.divmod(cells, FIELD.columns)
    assert (row[0], column[0]) == FIELD.cell_at(x0, y0)
    assert (row[-1], column[-1]) == FIELD.cell_at(x1, y1)
    assert np.maximum(np.abs(np.diff(row)), np.abs(np.diff(column))).max(initial=1) == 1


def test_each_part_of_a_broken_line_is_followed_by_itself() -> None:
    lines = MultiLineString([[(10.2, 59.8), (12.2, 59.8)], [(10.2, 40.2), (10.2, 39.2)]])
    assert [cells.size for cells in cells_along(FIELD, lines)] == [5, 3]


@given(
    hnp.arrays(np.bool_, hnp.array_shapes(min_dims=2, max_dims=2, min_side=1, max_side=6)).filter(np.any),
    st.integers(0, 4),
    st.integers(0, 4),
)
def test_the_outline_of_a_window_lies_where_the_window_does(mask: BoolArray, north: int, west: int) -> None:
    grid = Grid(10.0, 50.0, 0.5, 12, 14, "LOCAL")
    whole = np.zeros((12, 14), dtype=np.bool_)
    whole[north : north + mask.shape[0], west : west + mask.shape[1]] = mask
    assert outline_of(grid, mask, north, west).equals(outline_of(grid, whole))
    assert (cells_inside(grid, outline_of(grid, mask, north, west)) == whole).all()


def test_an_outline_has_corners_only_where_it_turns() -> None:
    outline = outline_of(FIELD, np.ones((3, 7), dtype=np.bool_))
    assert isinstance(outline, Polygon)
    assert len(outline.exterior.coords) == 5
    assert outline.equals(box(10.0, 58.5, 13.5, 60.0))


def test_islands_in_lakes_on_islands_keep_their_own_holes() -> None:
    """Three frames one inside the other and a fourth beside them, each with its hole."""
    mask = np.zeros((11, 18), dtype=np.bool_)
    for inset in (0, 2, 4):
        mask[inset : 11 - inset, inset : 11 - inset] = True
        mask[inset + 1 : 10 - inset, inset + 1 : 10 - inset] = False
    mask[2:9, 12:17] = True
    mask[4:6, 14:15] = False
    outline = outline_of(FIELD, mask)
    assert isinstance(outline, MultiPolygon)
    assert sorted((part.area / 0.25, len(part.interiors)) for part in outline.geoms) == [
        (8, 1),
        (24, 1),
        (33, 1),
        (40, 1),
    ]
    assert (cells_inside(FIELD, outline)[:11, :18] == mask).all()
    assert outline.is_valid


@given(st.lists(st.tuples(st.floats(-5.0, 17.0), st.floats(-5.0, 15.0)), min_size=3, max_size=8, unique=True))
def test_cells_inside_any_ring_are_those_with_an_odd_number_of_crossings(corners: list[tuple[float, float]]) -> None:
    """By the definition, one centre at a time: count the sides to the left of it."""
    grid = Grid(0.0, 10.0, 1.0, 10, 12, "LOCAL")
    ring = [*corners, corners[0]]
    inside = cells_inside(grid, Polygon(ring))
    for row in range(10):
        for column in range(12):
            x, y = column + 0.5, 9.5 - row
            crossings = 0
            for (x0, y0), (x1, y1) in pairwise(ring):
                if (y0 > y) != (y1 > y):
                    place = x0 + (y - y0) / (y1 - y0) * (x1 - x0)
                    if abs(place - x) < 1e-9:
                        break
                    crossings += place < x
            else:
                if all(abs(corner - y) > 1e-9 for _, corner in ring):
                    assert inside[row, column] == (crossings % 2 == 1)


def test_centres_on_a_border_that_runs_along_a_row_belong_to_one_shape() -> None:
    north, south = box(10.0, 35.25, 70.0, 60.0), box(10.0, 10.0, 70.0, 35.25)
    assert (cells_inside(FIELD, north) != cells_inside(FIELD, south)).all()


def test_no_shape_has_no_cells_and_a_point_has_its_own() -> None:
    assert not cells_inside(FIELD, Polygon()).any()
    assert not cells_inside(FIELD, LineString([(11.0, 11.0), (15.0, 20.0)])).any()
    assert [cells.tolist() for cells in cells_along(FIELD, LineString([(10.7, 59.2), (10.7, 59.2)]))] == [[121]]


def test_a_line_that_leaves_the_grid_has_cells_only_on_it() -> None:
    """In by the west edge and out by the east one; one beyond the grid passes none, nor does one along its far edge."""
    (cells,) = cells_along(FIELD, LineString([(0.0, 40.25), (90.0, 40.25)]))
    assert cells.tolist() == list(range(39 * 120, 40 * 120))
    (down,) = cells_along(FIELD, LineString([(10.25, 80.0), (10.25, 0.0)]))
    assert down.tolist() == list(range(0, 100 * 120, 120))
    assert cells_along(FIELD, LineString([(70.0, 40.0), (70.0, 20.0)])) == []
    assert cells_along(FIELD, LineString([(20.0, 10.0), (40.0, 10.0)])) == []


def test_the_box_around_a_shape_holds_all_of_its_cells_and_those_on_the_grid_alone() -> None:
    for shape in (
        box(12.5, 40.0, 13.0, 41.5),
        Point(30.1, 20.2).buffer(3.3),
        box(-5, 55, 14, 90),
        box(69.9, 9.9, 80, 10.1),
    ):
        window = FIELD.around(shape.bounds)
        whole = np.zeros(FIELD.shape, dtype=np.bool_)
        whole[window] = cells_inside(FIELD.part(window), shape)
        assert (whole == cells_inside(FIELD, shape)).all()
    assert FIELD.around((-90.0, -90.0, -80.0, -80.0)) == (slice(99, 100), slice(0, 1))
