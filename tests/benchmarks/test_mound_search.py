"""What the search for a layout costs beside one flood of the same ground."""

from __future__ import annotations

from typing import Any

import pytest

from sitepipe.drainage.depression_filling import filled
from sitepipe.works.land import Land
from sitepipe.works.mounds.plan import plan_mounds, search_mounds
from sitepipe.works.water.impact import drain_baseline
from tests.sites import plane
from tests.works.grounds import mound_site


@pytest.fixture(scope="module")
def lot() -> Land:
    """Make a lot of 0.2 M cells, all of it for mounds."""
    return mound_site(plane(450, 450, 0.25, 0.004, 0.012), cell=0.25)


def test_one_flood(lot: Land, benchmark: Any) -> None:
    benchmark(filled, lot.drainage.heights)


def test_every_direction_on_a_lot(lot: Land, benchmark: Any) -> None:
    found = benchmark(search_mounds, lot)
    assert len({layout.bearing for layout in found.layouts}) >= 36


def test_search_build_and_weigh_on_a_lot(lot: Land, benchmark: Any) -> None:
    mounds, _ = benchmark(lambda: plan_mounds(lot, drain_baseline(lot)))
    assert mounds
