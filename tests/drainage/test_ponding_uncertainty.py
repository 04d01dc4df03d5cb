"""Ponding uncertainty over equally likely grounds."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import LineString, box

from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.noise import error_fields, quick_size
from sitepipe.drainage.ponding_uncertainty import estimate_ponding_uncertainty, moved_heights
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import Settings, UncertaintySettings
from sitepipe.site import Kind, Site
from tests.drainage.grounds import holed_heights, rolling
from tests.drainage.test_drawn import embankment
from tests.sites import bowl, draw_thing, make_site


def tried(grounds: int = 40, seed: int = 1, threads: int = 2) -> Settings:
    return Settings(uncertainty=UncertaintySettings(grounds=grounds, seed=seed, threads=threads))


def test_error_fields_have_the_size_and_the_correlation_that_they_state() -> None:
    """exp(-(r / L)^2): 1 at 0, .779 at half the length, .368 at the length, .018 at twice (own formula)."""
    fields = error_fields((150, 130), 8.0, seed=3)
    drawn = np.array([fields.field(number) for number in range(120)], dtype=np.float64)
    assert drawn.mean() == pytest.approx(0.0, abs=0.02)
    assert (drawn**2).mean() == pytest.approx(1.0, abs=0.03)
    for lag, wanted in ((4, np.exp(-0.25)), (8, np.exp(-1.0)), (16, np.exp(-4.0))):
        assert (drawn[:, :, :-lag] * drawn[:, :, lag:]).mean() == pytest.approx(wanted, abs=0.03)
        assert (drawn[:, :-lag] * drawn[:, lag:]).mean() == pytest.approx(wanted, abs=0.03)
    assert (drawn[:, 0] * drawn[:, -1]).mean() == pytest.approx(0.0, abs=0.05)


def test_errors_longer_than_the_window_still_have_their_size() -> None:
    fields = error_fields((20, 20), 60.0, seed=5)
    drawn = np.array([fields.field(number) for number in range(1500)], dtype=np.float64)
    assert (drawn**2).mean() == pytest.approx(1.0, abs=0.1)


def test_a_field_is_the_same_whenever_it_is_asked_for() -> None:
    first, again = error_fields((30, 30), 5.0, seed=9), error_fields((30, 30), 5.0, seed=9)
    later = again.field(7), again.field(2)
    assert (first.field(2) == later[1]).all()
    assert (first.field(7) == later[0]).all()
    assert not (first.field(7) == error_fields((30, 30), 5.0, seed=10).field(7)).all()


@given(holed_heights(), st.integers(0, 2**32 - 1))
def test_heights_move_by_size_times_field_in_whole_steps_and_unknown_ones_stay(heights: IntArray, seed: int) -> None:
    """An independent way: numpy over the whole raster at once; halves go to the even step."""
    random = np.random.default_rng(seed)
    size = random.integers(0, 9, heights.shape).astype(np.float32)
    field = (random.integers(-8, 9, heights.shape) / 4.0).astype(np.float32)
    moved = np.where(heights == UNKNOWN, UNKNOWN, heights + np.rint(size * field))
    assert (moved_heights(heights, size, field) == moved).all()


@given(st.integers(1, 5000))
def test_a_quick_size_is_the_next_product_of_small_primes(least: int) -> None:
    size = quick_size(least)
    assert least <= size < 2 * least + 1
    rest = size
    for prime in (2, 3, 5):
        while rest % prime == 0:
            rest //= prime
    assert rest == 1


def test_the_bytes_are_the_same_on_one_thread_and_on_three() -> None:
    site = make_site(rolling(70, 60))
    drainage = trace_drainage(site, Settings())
    one, three = (estimate_ponding_uncertainty(site, drainage, tried(threads=threads)) for threads in (1, 3))
    assert one.ponding_probability.tobytes() == three.ponding_probability.tobytes()
    assert one.ponds == three.ponds


def test_another_seed_gives_another_estimate_of_the_same_chance() -> None:
    site = make_site(rolling(50, 50))
    drainage = trace_drainage(site, Settings())
    one, other = (estimate_ponding_uncertainty(site, drainage, tried(grounds=150, seed=seed)) for seed in (1, 2))
    gap = np.abs(one.ponding_probability - other.ponding_probability)
    assert np.nanmax(gap) > 0.0
    assert np.nanmean(gap) < 0.03


def test_a_deep_bowl_is_certain_and_a_shallow_one_is_not() -> None:
    deep, shallow = make_site(bowl(50, 1.0, 1.0)), make_site(bowl(50, 1.0, 0.05), height_error=0.1)
    sure = estimate_ponding_uncertainty(deep, trace_drainage(deep, Settings()), tried())
    unsure = estimate_ponding_uncertainty(shallow, trace_drainage(shallow, Settings()), tried())
    assert sure.ponding_probability[25, 25] == 1.0
    assert 0.05 < unsure.ponding_probability[25, 25] < 0.95
    assert sure.ponds[0].probability == 1.0
    assert sure.ponds[0].rank_low == 1
    assert 0.1 < sure.ponds[0].depth_low < sure.ponds[0].depth_high < 0.4


def test_heights_without_error_give_the_one_answer() -> None:
    """The chance is then 0 or 1: exactly where the larger storm stands a centimetre deep."""
    site = make_site(rolling(60, 60), height_error=0.0)
    drainage = trace_drainage(site, Settings())
    uncertainty = estimate_ponding_uncertainty(site, drainage, tried(grounds=8))
    inside = np.isfinite(uncertainty.ponding_probability)
    stands = drainage.storms[-1].depth >= 0.01
    parcel = np.zeros((60, 60), dtype=np.bool_)
    parcel[6:54, 6:54] = True
    assert inside[parcel].all()
    assert (uncertainty.ponding_probability[parcel] == stands[parcel]).all()


def test_a_drawn_culvert_lets_water_through_on_every_ground() -> None:
    pipe = draw_thing(7, Kind.CULVERT, "Culvert", LineString([(15.5, 15.5), (15.5, 8.5)]))
    dammed = make_site(embankment(), height_error=0.05)
    drained = dataclasses.replace(dammed, features=(pipe,))

    def chance(site: Site) -> float:
        return float(
            estimate_ponding_uncertainty(site, trace_drainage(site, Settings()), tried()).ponding_probability[24, 15]
        )

    assert chance(dammed) == 1.0
    assert chance(drained) < 0.2


def test_beyond_what_feeds_the_parcel_the_chance_is_unknown() -> None:
    ground = rolling(40, 200, roughness=0.0)
    ground += 0.05 * np.abs(np.arange(200) - 100.0)[None, :] * -1.0
    site = make_site(ground, parcel=box(150, 5, 180, 35))
    uncertainty = estimate_ponding_uncertainty(site, trace_drainage(site, Settings()), tried(grounds=8))
    assert np.isnan(uncertainty.ponding_probability[:, :50]).all()
    assert np.isfinite(uncertainty.ponding_probability[5:35, 150:180]).all()


def test_without_a_number_small_windows_get_a_hundred_grounds() -> None:
    site = make_site(bowl(30, 1.0, 0.3))
    assert estimate_ponding_uncertainty(site, trace_drainage(site, Settings()), Settings()).grounds == 100
