"""Blocks of a bed, and which side the tall ones go to."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box
from shapely.affinity import rotate
from shapely.ops import unary_union

from sitepipe.planting.bed_plan import blocks, order_by_shade, shaded_hours


@given(turn=st.floats(0, 360), bearing=st.floats(0, 360), first=st.floats(0.1, 0.8))
def test_blocks_are_a_partition_in_the_asked_shares(turn: float, bearing: float, first: float) -> None:
    bed = rotate(box(0, 0, 8, 3), turn)
    parts = blocks(bed, (first, 1.0 - first), bearing)
    assert parts[0].area == pytest.approx(first * bed.area, rel=1e-6)
    assert unary_union(parts).area == pytest.approx(bed.area, rel=1e-9)
    assert parts[0].intersection(parts[1]).area == pytest.approx(0.0, abs=1e-9)


def test_a_shadow_is_as_long_as_height_over_tangent() -> None:
    # Check value: a 2 m pole with the sun at 30 degrees shades 3.464 m of level ground (derived by hand).
    sun = np.array([[30.0, 180.0, 1.0]])
    lost = shaded_hours(box(0, 0, 1, 0.001), box(0, 0.001, 1, 10), 2.0, sun)
    assert lost == pytest.approx(2.0 / math.tan(math.radians(30.0)), abs=0.01)


def test_tall_plants_go_to_the_north_in_the_north_and_to_the_south_in_the_south() -> None:
    midday = [(45.0, azimuth, 1.0) for azimuth in (150.0, 180.0, 210.0)]
    bed = box(0, 0, 6, 3)
    bearing, parts = order_by_shade(bed, (0.5, 0.5), (2.0, 0.3), np.array(midday))
    assert bearing == pytest.approx(180.0)
    assert parts[0].centroid.y > parts[1].centroid.y
    southern = np.array([(altitude, (azimuth + 180.0) % 360.0, hours) for altitude, azimuth, hours in midday])
    _, parts = order_by_shade(bed, (0.5, 0.5), (2.0, 0.3), southern)
    assert parts[0].centroid.y < parts[1].centroid.y
