"""Drawn things are thinned for a page without losing their shape."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import Point, Polygon

from sitepipe.mapping.marks import GRAINS, SPECK, Drawn, ring_size, thinned


def flat_disc(radius: float, count: int = 400, x: float = 0.0) -> list[float]:
    turns = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    return np.column_stack([x + radius * np.cos(turns), radius * np.sin(turns)]).ravel().tolist()


@given(st.floats(2.0, 60.0), st.sampled_from(GRAINS[:5]))
def test_a_thinned_edge_lies_within_a_grain_of_the_edge(radius: float, grain: float) -> None:
    ((ring,),) = thinned(Drawn("mound", area=[[flat_disc(radius)]]), grain).area
    edge = shapely.LinearRing(np.reshape(ring, (-1, 2)))
    whole = shapely.LinearRing(np.reshape(flat_disc(radius), (-1, 2)))
    assert shapely.hausdorff_distance(edge, whole, densify=0.01) <= grain + 1e-6
    assert len(ring) < 800


def test_small_pieces_of_ground_go_and_built_things_of_the_same_size_stay() -> None:
    grain = 0.4
    small, large = flat_disc(1.0), flat_disc(10.0, x=50.0)
    ground = thinned(
        Drawn("stands-2", area=[[small], [large]], line=[[*small, *small[:2]], [*large, *large[:2]]]), grain
    )
    assert len(ground.area) == len(ground.line) == 1
    assert ring_size(small) < (SPECK * grain) ** 2 < ring_size(large)
    assert len(thinned(Drawn("hoop-house", area=[[small]]), grain).area) == 1


def test_holes_stay_holes() -> None:
    zone = Polygon(Point(0, 0).buffer(30.0).exterior, [Point(0, 0).buffer(12.0).exterior])
    rings = [shapely.get_coordinates(ring)[:-1].ravel().tolist() for ring in (zone.exterior, *zone.interiors)]
    ((outer, hole),) = thinned(Drawn("touch", area=[rings]), 0.8).area
    assert ring_size(outer) - ring_size(hole) == pytest.approx(zone.area, rel=0.05)


def test_a_line_that_widens_keeps_a_width_for_each_of_its_vertices() -> None:
    flow = Drawn("runs", line=[[0.0, 0.0, 5.0, 0.001, 10.0, 0.0]], widths=(1.2, 1.4, 1.6))
    assert thinned(flow, 1.0) == flow
