"""The whole plan on the sample site, which has auger holes, a culvert, a septic field and a wet hollow."""

from __future__ import annotations

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import shapely

from sitepipe.analysis import Analysis, analyse
from sitepipe.scoring.record import Use
from sitepipe.site import Kind
from sitepipe.works.jobs.materials import FILL
from sitepipe.works.mounds.height import base_width, mound_height
from sitepipe.works.mounds.making import water_under
from sitepipe.works.water.record import DitchVerdict

SAMPLE = Path(__file__).resolve().parents[3] / "sample_site"


@cache
def sample() -> Analysis:
    return analyse(SAMPLE)


def test_the_sample_has_mounds_that_leave_the_neighbours_water_alone() -> None:
    plan = sample().plan
    assert len(plan.mounds) >= 3
    assert plan.impact is not None
    assert plan.impact.passes
    assert all(change.depth_after - change.depth_before <= 0.01 for change in plan.impact.boundary)
    assert len(plan.mound_choice.directions_tried) >= 36


def test_every_mound_is_as_high_as_its_crops_its_fill_and_its_water_ask() -> None:
    found = sample()
    from sitepipe.works.mounds.crops import CROP_GROUPS
    from sitepipe.works.mounds.fills import find_fill

    for mound in found.plan.mounds:
        fill = find_fill(mound.fill, found.settings.soil.texture, found.settings.mound.air)
        roots = CROP_GROUPS[mound.crops].roots
        assert mound.height.roots == roots
        again = mound_height(
            roots,
            fill,
            mound.height.depth_to_water,
            water_under(found.site, found.water_table, mound.outline)[1],
            found.settings.mound.chance,
        )
        assert again.finished == pytest.approx(mound.height.finished, abs=0.02)
        assert mound.base_width == pytest.approx(base_width(mound.top_width, fill.side_slope, mound.height.built))


def test_mounds_lie_in_their_zones_and_keep_off_everything_that_is_drawn() -> None:
    found = sample()
    zone = shapely.union_all([zone.outline for zone in found.zones.zones if zone.use is Use.MOUND])
    solid = [
        feature.geometry.buffer(0.3)
        for feature in found.site.of_kind(Kind.BUILDING, Kind.SEPTIC, Kind.BURIED_LINE, Kind.WELL, Kind.KEEP_CLEAR)
    ]
    for mound in found.plan.mounds:
        assert zone.buffer(0.1).covers(mound.outline)
        assert not any(mound.outline.intersects(shape) for shape in solid)
        assert not any(
            mound.outline.intersects(exclusion.outline.buffer(-0.05))
            for exclusion in found.scores.exclusions
            if Use.MOUND in exclusion.uses
        )


def test_works_do_not_lie_on_each_other() -> None:
    plan = sample().plan
    shapes = [mound.outline for mound in plan.mounds]
    shapes += [house.outline for house in plan.hoop_houses]
    shapes += [place.outline for place in plan.tipping_places]
    for first in range(len(shapes)):
        for second in range(first):
            assert shapes[first].intersection(shapes[second]).area < 0.05


def test_every_stake_leads_back_to_its_place_by_its_two_tapes() -> None:
    found = sample()
    from sitepipe.reading.tapes import trilaterate
    from sitepipe.works.built import Stake
    from sitepipe.works.stakes import find_fixed_points

    points = {point.name: (point.x, point.y) for point in find_fixed_points(found.site)}
    stakes = [stake for mound in found.plan.mounds for stake in mound.stakes]
    assert len(stakes) == 2 * len(found.plan.mounds)
    everything: list[Stake] = list(stakes)
    everything += [stake for house in found.plan.hoop_houses for stake in house.stakes]
    everything += [stake for row in found.plan.trellises for stake in row.stakes]
    points |= {f"stake {s.label}": (s.place.x, s.place.y) for s in everything}
    for stake in stakes:
        (one, near), (other, far) = stake.from_points
        taped = trilaterate(points[one], points[other], near, far, stake.side)
        assert (taped.x, taped.y) == pytest.approx((stake.place.x, stake.place.y), abs=1e-6)
        assert max(near, far) <= 1.15 * found.settings.mound.tape  # longer only where a nearer pair would swim
        assert math.isfinite(stake.height)
    strong = np.array([stake.angle >= found.settings.mound.weakest_angle for stake in stakes])
    assert strong.mean() > 0.8


def test_the_water_table_honours_the_wet_season_holes() -> None:
    table = sample().water_table
    assert not table.is_estimated
    assert len(table.holes) == 4
    site = sample().site
    for hole in table.holes:
        row, column = site.grid.cell_at(hole.x, hole.y)
        assert table.water_table_depth[row, column] == pytest.approx(hole.depth, abs=0.15)
    assert np.nanmin(table.water_table_depth) >= 0.0


def test_materials_of_the_plan_add_up() -> None:
    plan = sample().plan
    whole = sum(mound.volume for mound in plan.mounds) + sum(path.chips for path in plan.paths)
    floor = sum(quantity.volume for quantity in plan.quantities if quantity.material == FILL)
    assert floor >= plan.hoop_houses[0].raised * plan.hoop_houses[0].outline.area * 0.9
    whole += floor
    top_ups = sum(quantity.top_ups for quantity in plan.quantities)
    assert top_ups > 0.0, "the wood in these mounds rots"
    assert sum(quantity.volume for quantity in plan.quantities) == pytest.approx(whole + top_ups)
    assert sum(quantity.volume for quantity in plan.quantities) == pytest.approx(sum(y.volume for y in plan.years))
    assert sorted(number for year in plan.years for number in year.builds) == [mound.number for mound in plan.mounds]


def test_the_culvert_lies_too_high_for_a_ditch_and_the_plan_says_by_how_much() -> None:
    drain = sample().plan.drain
    assert drain is not None
    assert not drain.is_possible
    assert drain.verdict is DitchVerdict.TOO_LOW
    assert drain.outlet is not None
    assert drain.outlet.kind is Kind.CULVERT
