"""Cells under shapes and shapes around cells."""

from __future__ import annotations

import numpy as np
import shapely
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp
from shapely import LineString, MultiLineString, Point, box

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
