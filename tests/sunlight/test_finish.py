"""What is left of the light, by vectors and by plain sums."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.sunlight.finish import finish
from sitepipe.sunlight.tables import BINS, LANES, sky_lost


@settings(max_examples=40)
@given(st.integers(0, 10_000), st.integers(1, 4), st.integers(1, 5))
def test_energy_is_beam_and_sky_that_meet_the_ground_as_it_slopes(seed: int, rows: int, columns: int) -> None:
    """Built: energy is the product of what is left, as a vector, and the upright of the ground's plane."""
    random = np.random.default_rng(seed)
    full = random.uniform(0.0, 10.0, LANES)
    lost = random.uniform(0.0, 12.0, (rows, columns, LANES)).astype(np.float32)
    sky = random.uniform(-0.3, 1.2, (rows, columns, 3)).astype(np.float32)
    east, north = random.normal(0.0, 0.5, (2, rows, columns))
    known = random.random((rows, columns)) < 0.8
    months, season, energy, sky_view = finish(full, lost, sky, known, east, north, 7.0)
    upright = np.stack([-east, -north, np.ones_like(east)], axis=-1)
    length = np.linalg.norm(upright, axis=-1)
    beam = np.maximum(((full - lost)[:, :, 13:16] * upright).sum(axis=-1), 0.0)
    seen = upright[..., 2] - (sky[..., [1, 2, 0]] * upright).sum(axis=-1)
    left = np.maximum(full - lost, 0.0)
    for found, expected in (
        (season, left[:, :, 12]),
        (sky_view, np.clip(1.0 - sky[..., 0], 0.0, 1.0)),
        (energy, (beam + 7.0 * np.clip(seen, 0.0, 1.0)) / length),
    ):
        np.testing.assert_allclose(found[known], expected[known], atol=1e-5)
        assert np.isnan(found[~known]).all()
    np.testing.assert_allclose(months[:, known], np.moveaxis(left, 2, 0)[:12, known], atol=1e-5)
    assert np.isnan(months[:, ~known]).all()
    assert months.shape == (12, rows, columns)


def test_what_a_horizon_takes_of_the_sky_is_the_integral_over_what_is_below_it() -> None:
    """Built: even light from height h, on level ground sin h cos h dh / pi of a radian's width; sideways cos2 h dh."""
    up, sideways = sky_lost()
    for bin_ in (0, 1, 100, 511, 900, BINS - 1):
        edges = np.linspace(0.0, np.arcsin(bin_ / (BINS - 1.0)), 20_001)
        middle, width = 0.5 * (edges[1:] + edges[:-1]), np.diff(edges)
        np.testing.assert_allclose(up[bin_], (np.sin(middle) * np.cos(middle) * width).sum() / np.pi, atol=1e-8)
        np.testing.assert_allclose(sideways[bin_], (np.cos(middle) ** 2 * width).sum() / np.pi, atol=1e-8)
