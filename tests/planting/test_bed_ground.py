"""The part of a zone that is set out: its size, its shape, its sharing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, box
from shapely.affinity import rotate

from sitepipe.planting.bed_ground import bed_beside, setback_of, shares_of

NEEDS = st.lists(st.floats(0.5, 400.0), min_size=1, max_size=5)
YARD = box(0, 0, 30, 12).difference(box(8, 4, 22, 12))


@given(needs=NEEDS, area=st.floats(1.0, 2000.0))
def test_ground_is_shared_out_whole_and_nobody_gets_more_than_it_needs(needs: list[float], area: float) -> None:
    taken, shares = shares_of(needs, area)
    assert sum(shares) == pytest.approx(1.0)
    assert taken == pytest.approx(min(area, sum(needs)))
    got = np.array(shares) * taken
    assert (got <= np.array(needs) * (1 + 1e-9)).all()
    # Whoever has less than it needs has no less than anybody else.
    short = got < np.array(needs) * (1 - 1e-9)
    assert not short.any() or got[short].min() >= got.max() * (1 - 1e-9)


@given(turn=st.floats(0.0, 180.0), area=st.floats(5.0, 200.0), along=st.floats(0.0, 1.0))
def test_a_bed_has_the_area_asked_for_lies_in_its_ground_and_holds_its_start(
    turn: float, area: float, along: float
) -> None:
    ground = rotate(YARD, turn, origin=(0, 0))
    start = ground.exterior.interpolate(along, normalized=True)
    bed = bed_beside(ground, start, area)
    assert bed.area == pytest.approx(area, rel=0.01)
    assert bed.geom_type == "Polygon"
    assert ground.buffer(0.01).covers(bed)
    assert bed.distance(start) < 0.01


def test_a_bed_never_jumps_over_a_gap() -> None:
    halves = box(0, 0, 10, 10).union(box(11, 0, 21, 10))
    bed = bed_beside(halves, Point(10, 5), 150.0)
    assert bed.equals(box(0, 0, 10, 10))


def test_a_plant_keeps_half_its_room_from_the_edge_where_there_is_ground_for_it() -> None:
    assert setback_of(box(0, 0, 9, 9), 0.2, 0.15) == 0.15
    assert setback_of(box(0, 0, 9, 9), 3.0, 0.15) == 1.5
    assert setback_of(box(0, 0, 9, 1), 3.0, 0.15) == pytest.approx(0.25, abs=0.01)
