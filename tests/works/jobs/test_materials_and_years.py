"""Quantities, hours, years of building, settling and topping up."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from shapely import LineString, MultiPolygon

from sitepipe.answers.works import MATERIAL_NOTES
from sitepipe.settings import JobsSettings, MaterialsSettings
from sitepipe.site import Kind, Ref, Work
from sitepipe.units import CUBIC_YARD
from sitepipe.works.jobs.materials import (
    CHIPS,
    DUG,
    FILL,
    LOGS,
    SOIL,
    add_up,
    barrow_hours,
    count_barrows,
    split_volume,
)
from sitepipe.works.jobs.years import FLAGGED_LOSS, LOOKED_AFTER, crest_after, plan_years
from sitepipe.works.mounds.fills import find_fill
from sitepipe.works.mounds.height import base_width, mound_height
from sitepipe.works.mounds.record import Mound
from sitepipe.works.mounds.volumes import ridge_volume
from sitepipe.works.ways.record import Path

WOODY = find_fill("woody core", "loam", 0.10)


def mound(number: int, length: float = 8.0, depth: float = 0.2) -> Mound:
    height = mound_height(0.45, WOODY, depth, 0.05, 0.8)
    heights = np.full(2, height.built)
    crest = LineString([(0.0, 4.0 * number), (length, 4.0 * number)])
    width = base_width(0.6, WOODY.side_slope, height.built)
    volume = ridge_volume(heights, 0.6, WOODY.side_slope, length)
    return Mound(
        number, crest, crest.buffer(width / 2.0), "shallow vegetables", WOODY.name, height, 0.6, width, volume,
        split_volume(heights, 0.6, length, WOODY, 0.2, 0.55), count_barrows(volume, 0.085), 5.0, (),
    )  # fmt: skip


def path(chips: float) -> Path:
    line = LineString([(0.0, 0.0), (10.0, 0.0)])
    return Path(
        1, line, MultiPolygon(), (Ref(Kind.GATE, 1), Ref(Work.MOUND, 1)), 0.9, True, (), chips, 0.0, 1.0, 1.0, 1.0
    )


@given(st.floats(0.05, 1.5), st.floats(0.0, 0.5), st.floats(0.0, 1.0))
def test_the_materials_of_a_mound_add_up_to_it(built: float, cover: float, logs: float) -> None:
    heights = np.array([built, built])
    split = split_volume(heights, 0.6, 8.0, WOODY, cover, logs)
    assert sum(volume for _, volume in split) == pytest.approx(ridge_volume(heights, 0.6, 1.5, 8.0))
    assert all(volume >= -1e-9 for _, volume in split)


def test_a_low_woody_mound_is_all_cover() -> None:
    split = dict(split_volume(np.array([0.15, 0.15]), 0.6, 8.0, WOODY, 0.20, 0.55))
    assert split[LOGS] == split[CHIPS] == 0.0


def test_a_mound_of_one_stuff_names_it() -> None:
    heights = np.array([0.5, 0.5])
    assert split_volume(heights, 0.6, 8.0, find_fill("native soil", "loam", 0.1), 0.2, 0.5)[0][0] == DUG
    assert split_volume(heights, 0.6, 8.0, find_fill("soil and compost", "loam", 0.1), 0.2, 0.5)[0][0] == SOIL


def test_a_yard_is_nine_barrows_and_the_hours_are_fill_walk_and_tip() -> None:
    # 9 to 14 barrows a cubic yard (published by suppliers); the setting is the larger barrow.
    assert count_barrows(CUBIC_YARD, JobsSettings().barrow) == 9
    assert barrow_hours(60, 90.0, JobsSettings()) == pytest.approx(60 * (4.0 + 2 * 90.0 / 45.0) / 60.0)


def test_free_loads_go_to_paths_first_and_the_rest_is_bought() -> None:
    materials = MaterialsSettings(load=9.2, loads_per_year=0.5, soil_per_year=1.0, years=2)
    quantities = {q.material: q for q in add_up([mound(1), mound(2)], [path(2.0)], (), materials, JobsSettings())}
    assert list(quantities) == [CHIPS, LOGS, SOIL]
    need = {name: 2 * volume for name, volume in mound(1).materials}
    assert quantities[CHIPS].volume == pytest.approx(need[CHIPS] + 2.0)
    for quantity in quantities.values():
        assert quantity.free + quantity.to_buy == pytest.approx(quantity.volume)
        assert quantity.loads == pytest.approx(quantity.volume / 9.2)
        assert quantity.barrows == math.ceil(quantity.volume / 0.085 - 1e-9)
    assert quantities[CHIPS].free + quantities[LOGS].free <= 9.2 + 1e-9
    assert quantities[SOIL].free == pytest.approx(2.0)


def test_soil_dug_on_the_spot_is_not_bought() -> None:
    heights = np.array([0.5, 0.5])
    fill = find_fill("native soil", "loam", 0.1)
    dug = replace(mound(1), materials=split_volume(heights, 0.6, 8.0, fill, 0.2, 0.5))
    (quantity,) = add_up([dug], [], (), MaterialsSettings(), JobsSettings())
    assert quantity.to_buy == 0.0
    assert "buried lines are marked" in MATERIAL_NOTES[quantity.material]


def test_chips_rot_as_published() -> None:
    # k .2 a year leaves 82, 55 and 37 % after 1, 3 and 5 years (computed by hand for this project).
    left = [crest_after(1.0, 0.0, years, 1.0, core=1.0, decay=0.2) for years in (1.0, 3.0, 5.0)]
    assert left == pytest.approx([0.82, 0.55, 0.37], abs=0.005)


def test_settling_levels_off_at_its_share() -> None:
    assert crest_after(0.57, 0.30, 0.0, 1.0) == pytest.approx(0.57)
    assert crest_after(0.57, 0.30, 1.0, 1.0) == pytest.approx(0.57 * (1 - 0.30 * (1 - math.exp(-1.0))))
    assert crest_after(0.57, 0.30, 30.0, 1.0) == pytest.approx(0.40, abs=0.001)
    # Most of it comes in one to two years (practitioners' reports).
    assert crest_after(1.0, 0.30, 2.0, 1.0) < 1.0 - 0.85 * 0.30


def test_year_one_builds_the_paths_and_one_trial_mound() -> None:
    years = plan_years([mound(n) for n in range(1, 6)], [path(3.0)], MaterialsSettings())
    assert years[0].builds == (1,)
    assert years[0].volume == pytest.approx(mound(1).volume + 3.0)
    assert years[0].loads == pytest.approx(years[0].volume / 9.2)


def test_no_year_uses_more_than_has_come() -> None:
    materials = MaterialsSettings(loads_per_year=1.0, soil_per_year=4.0)
    mounds = [mound(n) for n in range(1, 6)]
    years = plan_years(mounds, [], materials)
    come_soil = used_soil = 0.0
    soil_of = {m.number: dict(m.materials)[SOIL] for m in mounds}
    for year in years:
        come_soil += materials.soil_per_year
        used_soil += sum(soil_of[number] for number in year.builds)
        if year.year > 1:
            assert used_soil <= come_soil + 1e-6
    assert sorted(number for year in years for number in year.builds) == [1, 2, 3, 4, 5]
    assert len({year.year for year in years if year.builds}) > 2, "the material does not come all at once"


def test_the_years_go_on_until_every_mound_stands_at_its_height() -> None:
    mounds = [mound(n) for n in range(1, 5)]
    years = plan_years(mounds, [], MaterialsSettings())
    last = dict(years[-1].crest_heights)
    assert all(last[m.number] >= m.height.finished - FLAGGED_LOSS - 1e-9 for m in mounds)
    youngest = max(year.year for year in years if year.builds)
    assert years[-1].year >= youngest + LOOKED_AFTER
    assert any(year.tops_up for year in years)
    first = [dict(year.crest_heights).get(1) for year in years]
    assert first[0] is not None
    assert first[0] > mounds[0].height.finished, "a new mound stands above its finished height"


def test_a_year_is_topped_up_only_where_the_crest_has_sunk() -> None:
    years = plan_years([mound(1)], [], MaterialsSettings(decay=0.0))
    assert all(not year.tops_up for year in years), "settling alone is already in the built height"


@given(st.integers(1, 6), st.floats(0.0, 4.0), st.floats(0.5, 8.0), st.floats(0.0, 20.0), st.floats(0.0, 0.4))
def test_the_shopping_list_is_the_table_of_years_added_up(
    count: int, chips: float, loads: float, soil: float, decay: float
) -> None:
    materials = MaterialsSettings(loads_per_year=loads, soil_per_year=soil, decay=decay)
    mounds, paths = [mound(n) for n in range(1, count + 1)], [path(chips), path(0.5)]
    years = plan_years(mounds, paths, materials)
    assume(sum(len(year.builds) for year in years) == count)
    listed = {q.material: q for q in add_up(mounds, paths, years, materials, JobsSettings())}
    for name, quantity in listed.items():
        by_year = [dict(year.materials).get(name, 0.0) for year in years]
        assert quantity.volume == pytest.approx(math.fsum(by_year))
        assert quantity.first_year == pytest.approx(by_year[0])
        assert quantity.loads == pytest.approx(math.fsum(by_year) / materials.load)
        assert quantity.top_ups == pytest.approx(math.fsum(dict(y.top_ups).get(name, 0.0) for y in years))
        assert 0 <= quantity.first_barrows <= quantity.barrows
        assert quantity.free + quantity.to_buy == pytest.approx(quantity.volume)
    assert {name for year in years for name, _ in year.materials} == set(listed)
    assert sum(q.loads for q in listed.values()) == pytest.approx(sum(year.loads for year in years))
    for year in years:
        assert year.volume == pytest.approx(math.fsum(volume for _, volume in year.materials))


def test_top_ups_are_soil_bought_like_the_rest_or_dug_where_the_mound_is() -> None:
    materials = MaterialsSettings(decay=0.2, soil_per_year=0.0)
    years = plan_years([mound(1)], [], materials)
    (soil,) = (q for q in add_up([mound(1)], [], years, materials, JobsSettings()) if q.material == SOIL)
    assert soil.top_ups > 0.1
    assert soil.to_buy == pytest.approx(soil.volume) == pytest.approx(dict(mound(1).materials)[SOIL] + soil.top_ups)
    low = replace(mound(1).height, built=mound(1).height.finished)
    dug = replace(mound(1), height=low, materials=((DUG, mound(1).volume),))
    years = plan_years([dug, replace(dug, number=2)], [], materials)
    assert [year.builds for year in years[:2]] == [(1,), (2,)], "dug soil waits for no delivery"
    (quantity,) = add_up([dug, replace(dug, number=2)], [], years, materials, JobsSettings())
    assert (quantity.material, quantity.to_buy) == (DUG, 0.0)
    assert quantity.top_ups > 0.1


def test_without_mounds_there_are_no_years() -> None:
    assert plan_years([], [path(1.0)], MaterialsSettings()) == ()


def test_the_floor_of_the_hoop_house_is_in_the_list_and_no_one_gives_it_away() -> None:
    years = plan_years([mound(1), mound(2)], [path(2.0)], MaterialsSettings(), 4.5)
    listed = {
        q.material: q
        for q in add_up([mound(1), mound(2)], [path(2.0)], years, MaterialsSettings(), JobsSettings(), 4.5)
    }
    assert (listed[FILL].volume, listed[FILL].free, listed[FILL].to_buy, listed[FILL].first_year) == (
        4.5,
        0.0,
        4.5,
        4.5,
    )
    assert sum(q.volume for q in listed.values()) == pytest.approx(sum(year.volume for year in years))


def test_a_first_year_whose_paths_take_all_chips_begins_no_mound() -> None:
    """Two loads of chips go into the paths where one comes a year: the trial waits until there are chips again."""
    materials = MaterialsSettings(loads_per_year=1.0)
    years = plan_years([mound(1)], [path(2.0 * materials.load)], materials)
    built = [year.year for year in years if year.builds]
    assert built == [2]
