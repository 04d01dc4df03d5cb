"""What the page tries changes on: heights packed whole, and folded where there are too many."""

from __future__ import annotations

import base64
import zlib

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.mapping import trying as trying_module
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.trying import coarser, foretold, land_of, trying
from sitepipe.works.water.impact import drain_baseline, standing_water
from tests.mapping.drawn_analysis import make_analysis


@given(
    arrays(np.int32, st.tuples(st.integers(1, 7), st.integers(1, 7)), elements=st.sampled_from([0, 3, 9_999, UNKNOWN]))
)
def test_packed_heights_come_out_as_they_went_in(heights: IntArray) -> None:
    """Undone the other way round: sums along both sides, modulo 2^32."""
    folded = np.frombuffer(foretold(heights), np.uint8).reshape(4, *heights.shape).astype(np.int64)
    folded = sum(folded[k] << 8 * k for k in range(4))
    left = np.where(folded % 2 == 1, -(folded + 1) // 2, folded // 2)
    whole = np.cumsum(np.cumsum(left, axis=0), axis=1) % 2**32
    assert (np.where(whole >= 2**31, whole - 2**32, whole) == heights).all()


def test_a_folded_ground_keeps_its_water_and_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cells twice as wide, drains put in anew: about as much water stands on the parcel, and the page tells."""
    analysis = make_analysis()
    land = land_of(analysis)
    rows, columns = land.site.grid.shape
    most = rows * columns // 4
    wide = coarser(land, most)
    assert wide.site.grid.cell == 2.0 * land.site.grid.cell
    stands = []
    for one in (land, wide):
        baseline = drain_baseline(one)
        depth = baseline.before.storms[-1].depth
        cells, _ = standing_water(depth, np.zeros(depth.shape, np.bool_), baseline.parcel)
        stands.append(cells * one.site.grid.cell_area)
    assert stands[1] == pytest.approx(stands[0], rel=0.25)
    assert stands[0] > 0.0
    monkeypatch.setattr(trying_module, "MOST_CELLS", most)
    told = trying(analysis, frame_of(analysis.site))
    assert told is not None
    assert told["coarse"] == ["3\u00a0ft\u00a03½\u00a0in", "1\u00a0ft\u00a07½\u00a0in"]
    assert len(zlib.decompress(base64.b64decode(told["packed"][0]), -15)) == 4 * told["rows"] * told["columns"]
