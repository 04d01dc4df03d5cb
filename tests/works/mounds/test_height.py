"""Mound heights against worked examples, and fills against the published soil water curve."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.errors import SettingsError
from sitepipe.settings.works import CropName, FillName
from sitepipe.works.mounds.crops import CROP_GROUPS
from sitepipe.works.mounds.fills import FILL_NAMES, NEVER_DRAINS, TEXTURES, air_height, find_fill
from sitepipe.works.mounds.height import base_width, built_height, finished_height, mound_height, will_do

WOODY = find_fill("woody core", "loam", 0.10)


@pytest.mark.parametrize(
    ("water", "fringe", "finished", "built", "base"),
    [(0.20, 0.15, 0.40, 0.57, 2.3), (0.0, 0.15, 0.60, 0.86, 3.2), (0.20, 0.37, 0.62, 0.89, 3.3)],
)
def test_the_worked_mounds_come_out(water: float, fringe: float, finished: float, built: float, base: float) -> None:
    # Computed by hand for this project: roots .45, settlement 30 %, top .6, sides 1.5 to 1.
    height = finished_height(0.45, fringe, water)
    assert height == pytest.approx(finished, abs=0.005)
    assert built_height(height, 0.30) == pytest.approx(built, abs=0.006)
    assert base_width(0.6, 1.5, built_height(height, 0.30)) == pytest.approx(base, abs=0.06)


@pytest.mark.parametrize(
    ("texture", "centimetres"),
    [("sand", 6), ("loamy sand", 7), ("sandy loam", 14), ("sandy clay loam", 33), ("loam", 37), ("silt loam", 77),
     ("clay loam", 152)],
)  # fmt: skip
def test_air_comes_in_at_the_published_heights(texture: str, centimetres: float) -> None:
    # van Genuchten parameters of Carsel & Parrish (1988), published; heights computed by hand for this project.
    assert air_height(TEXTURES[texture], 0.10) * 100.0 == pytest.approx(centimetres, abs=0.6)


@pytest.mark.parametrize("texture", ["clay loam", "silty clay loam", "sandy clay", "silty clay", "clay"])
def test_a_mound_of_native_clay_is_refused_however_dry_the_ground(texture: str) -> None:
    fill = find_fill("native soil", texture, 0.10)
    height = mound_height(0.45, fill, 0.0, 0.0, 0.5)
    assert not will_do(height, fill, 99.0)


def test_a_soil_without_so_much_air_never_drains_enough() -> None:
    assert math.isinf(air_height(TEXTURES["clay"], 0.32))


def test_a_mound_beyond_the_highest_is_refused_with_its_height() -> None:
    fill = find_fill("native soil", "silt loam", 0.10)
    height = mound_height(0.90, fill, 0.0, 0.0, 0.5)
    assert height.built == pytest.approx(1.91, abs=0.005), "(.90 + .77) / (1 - .125)"
    assert not will_do(height, fill, 1.4)
    assert will_do(mound_height(0.45, WOODY, 0.2, 0.1, 0.8), WOODY, 1.4)


def test_the_highest_mound_and_the_wettest_fill_that_drains_will_just_do() -> None:
    height = mound_height(0.45, WOODY, 0.2, 0.1, 0.8)
    assert will_do(height, WOODY, height.built)
    assert not will_do(height, WOODY, math.nextafter(height.built, 0.0))
    wettest = replace(WOODY, fringe=NEVER_DRAINS)
    assert will_do(mound_height(0.1, wettest, 1.0, 0.0, 0.5), wettest, 9.0)


def test_even_chances_add_nothing_and_better_ones_add_height() -> None:
    heights = [mound_height(0.45, WOODY, 0.30, 0.10, chance).finished for chance in (0.5, 0.8, 0.95)]
    assert heights[0] == pytest.approx(0.30)
    assert heights[0] < heights[1] < heights[2]


def test_the_allowance_gives_the_stated_chance() -> None:
    """Monte Carlo over the three errors: about eight mounds in ten must end with their roots in drained ground."""
    import numpy as np

    height = mound_height(0.45, WOODY, 0.60, 0.10, 0.8)
    random = np.random.default_rng(3)
    count = 40_000
    water = np.maximum(random.normal(0.60, 0.10, count), 0.0)
    fringe = random.normal(WOODY.fringe, WOODY.fringe_error, count)
    settled = height.built * (1.0 - random.normal(WOODY.settlement, WOODY.settlement_error, count))
    assert float((settled + water >= 0.45 + fringe).mean()) == pytest.approx(0.80, abs=0.02)


def test_water_at_the_surface_can_rise_no_further() -> None:
    soaked = mound_height(0.45, WOODY, 0.0, 0.30, 0.9)
    assert soaked.allowance < 0.08, "only fringe and settling are left to be unsure of"
    assert soaked.finished >= 0.60


@given(st.floats(0.1, 1.2), st.floats(0.0, 2.0), st.floats(0.0, 0.5), st.floats(0.5, 0.99), st.sampled_from(FILL_NAMES))
def test_the_terms_add_up_and_wetter_ground_wants_no_lower_mounds(
    roots: float, depth: float, error: float, chance: float, name: str
) -> None:
    fill = find_fill(name, "sandy loam", 0.10)
    height = mound_height(roots, fill, depth, error, chance)
    terms = height.roots + height.fringe - height.depth_to_water + height.allowance
    assert height.finished == pytest.approx(max(terms, 0.0))
    assert height.built == pytest.approx(height.finished / (1.0 - height.settlement))
    plain = mound_height(roots, fill, depth, error, 0.5)
    wetter = mound_height(roots, fill, depth * 0.5, error, 0.5)
    assert wetter.finished >= plain.finished - 1e-12


def test_unknown_fills_and_textures_are_named() -> None:
    with pytest.raises(SettingsError, match="'straw'; it must be one of native soil"):
        find_fill("straw", "loam", 0.10)
    with pytest.raises(SettingsError, match="'mud'; it must be one of sand"):
        find_fill("native soil", "mud", 0.10)


def test_the_settings_know_the_same_crops_and_fills() -> None:
    assert get_args(CropName) == tuple(CROP_GROUPS)
    assert get_args(FillName) == FILL_NAMES


def test_every_crop_group_says_who_says_so() -> None:
    assert all(group.source and 0.1 < group.roots <= 1.2 for group in CROP_GROUPS.values())
