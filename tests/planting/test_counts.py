"""Counts of plants: the formulas, and setting out one by one."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import pdist
from shapely import Point, box
from shapely.affinity import rotate

from sitepipe.planting.counts import _towards_middle, plants_per_area, set_out


@pytest.mark.parametrize(
    ("spacing", "triangular", "per_m2"),
    [
        # Check values P01: 1/s2 and 2/(sqrt(3) s2), derived by hand from the geometry.
        (0.6, False, 2.7778),
        (0.6, True, 3.2075),
    ],
)
def test_density_follows_the_spacing_formula(spacing: float, triangular: bool, per_m2: float) -> None:
    assert plants_per_area(spacing, triangular) == pytest.approx(per_m2, abs=1e-4)


def test_twelve_inches_give_one_plant_a_square_foot() -> None:
    # Check values P02: 1.000 and 1.1547 per square foot.
    square_foot = 0.3048**2
    assert plants_per_area(0.3048, False) * square_foot == pytest.approx(1.0)
    assert plants_per_area(0.3048, True) * square_foot == pytest.approx(1.1547, abs=1e-4)


def test_eighteen_inches_on_a_hundred_square_feet() -> None:
    # Check value P03: 51.3 on a triangle.
    assert plants_per_area(18 * 0.0254, True) * 100 * 0.3048**2 == pytest.approx(51.3, abs=0.05)


def test_a_hundred_square_metres_at_one_and_a_half() -> None:
    # Check value P04: 44 and 51, for endless ground; set out for real on a 10 m square 7 x 7 stand.
    assert plants_per_area(1.5, False) * 100 == pytest.approx(44, abs=0.5)
    assert plants_per_area(1.5, True) * 100 == pytest.approx(51, abs=0.5)
    assert len(set_out(box(0, 0, 10, 10), 1.5, 1.5, 0.0)) == 49


def test_setting_out_a_large_field_comes_to_the_formula() -> None:
    field = box(0, 0, 60, 60)
    square = len(set_out(field, 1.0, 1.0, 0.0))
    triangle = len(set_out(field, 1.0, np.sqrt(3) / 2, 0.0, triangular=True))
    assert square == pytest.approx(plants_per_area(1.0, False) * 3600, rel=0.02)
    assert triangle == pytest.approx(plants_per_area(1.0, True) * 3600, rel=0.02)


@given(turn=st.floats(0, 180), spacing=st.floats(0.4, 1.5), setback=st.floats(0.0, 0.5), triangular=st.booleans())
def test_plants_keep_their_distance_and_the_edge(turn: float, spacing: float, setback: float, triangular: bool) -> None:
    bed = rotate(box(0, 0, 9, 4), turn)
    places = set_out(bed, spacing, spacing, setback, triangular)
    assert len(places) > 0
    if len(places) > 1:
        assert pdist(places).min() >= spacing - 1e-9
    inside = bed.buffer(1e-9)
    assert all(inside.contains(Point(x, y)) for x, y in places)
    assert min(bed.exterior.distance(Point(x, y)) for x, y in places) >= setback - 1e-6


def test_no_room_within_the_setback_gives_no_plants() -> None:
    assert len(set_out(box(0, 0, 1, 1), 0.3, 0.3, 0.6)) == 0
    assert set_out(box(0, 0, 1, 1), 0.3, 0.3, 0.6).shape == (0, 2)


def test_a_sliver_between_the_lines_of_the_lattice_gives_no_plants() -> None:
    assert set_out(box(0, 0, 10, 0.05), 1.0, 1.0, 0.0).shape == (0, 2)


def test_where_one_plant_fits_one_is_set() -> None:
    places = set_out(box(0, 0, 0.9, 0.8), 1.0, 1.0, 0.0)
    assert places.shape == (1, 2)
    assert box(0, 0, 0.9, 0.8).contains(Point(places[0]))


@pytest.mark.parametrize("turn", [0.0, 25.0, 90.0, 160.0])
def test_rows_run_along_the_long_side_whatever_the_shape(turn: float) -> None:
    """An L as long as it is wide nowhere: its least rectangle is 12 by 5."""
    corner = box(0, 0, 12, 2).union(box(0, 0, 2, 5))
    places = set_out(rotate(corner, turn, origin=(0, 0)), 0.5, 1.5, 0.2)
    apart = pdist(places)
    pairs = np.argwhere(np.isclose(np.hypot(*(places[:, None] - places[None]).T), 0.5))
    directions = np.degrees(np.arctan2(*(places[pairs[:, 1]] - places[pairs[:, 0]]).T[::-1])) % 180.0
    assert apart.min() == pytest.approx(0.5)
    assert np.isclose(np.minimum(np.abs(directions - turn), 180.0 - np.abs(directions - turn)), 0.0, atol=1e-6).all()


@pytest.mark.parametrize("turn", [0.0, 35.0])
@pytest.mark.parametrize("triangular", [False, True])
def test_plants_stand_around_the_middle_of_a_square(turn: float, triangular: bool) -> None:
    bed = rotate(box(3, 4, 10.3, 11.3), turn)
    places = set_out(bed, 1.0, 0.9, 0.1, triangular)
    middle = places.mean(axis=0) - (bed.centroid.x, bed.centroid.y)
    assert np.hypot(*middle) < 0.05


@pytest.mark.parametrize(("arm", "share"), [(20.0, 1.0), (4.0, 0.5), (2.0, 0.25), (0.7, 0.0)])
def test_plants_move_as_far_towards_the_middle_as_all_stay_inside(arm: float, share: float) -> None:
    """An L, 20 long and high; two plants along its foot may be lifted by as much of the way as its foot is wide."""
    corner = box(0, 0, 20, arm).union(box(0, 0, arm, 20))
    places = np.array([[9.0, 0.5], [11.0, 0.5]])
    away = np.array([corner.centroid.x, corner.centroid.y]) - places.mean(axis=0)
    np.testing.assert_allclose(_towards_middle(places, corner), places + share * away)
    assert _towards_middle(places[:0], corner).shape == (0, 2)
