"""Works that the grower drew or kept: kept where they are, judged, built around, and never moved or dropped."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, box
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from sitepipe.analysis import Analysis, analyse
from sitepipe.drainage.stage import trace_drainage
from sitepipe.errors import InputError, SettingsError
from sitepipe.mapping.build import build_view
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.relief import draw_ground
from sitepipe.mapping.view import Desk, rings_of
from sitepipe.reading.properties import Properties
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.reading.works import StatedWork, read_work, settle_works
from sitepipe.settings import Settings, read_settings
from sitepipe.site import Bed, DrawnWork, Status, Work
from sitepipe.sunlight.stage import trace_sunlight
from sitepipe.works.jobs.record import Task
from sitepipe.works.mounds.fills import find_fill
from sitepipe.works.mounds.height import height_as_built, mound_height
from sitepipe.works.mounds.plan import draw_mounds, plan_mounds
from sitepipe.works.rows.arch import HEIGHTS, SPANS
from sitepipe.works.standing import with_standing
from sitepipe.works.water.impact import drain_baseline, weigh_impact
from sitepipe.works.water.tipped import rows_of, tipped_works
from sitepipe.writing.kept import chosen_of, kept_works, read_kept
from tests.sites import make_site, plane, valley
from tests.works.grounds import PLAIN, mound_site

SAMPLE = Path(__file__).resolve().parents[2] / "sample_site"
PARCEL = box(0.0, 0.0, 60.0, 60.0)


def feature(kind: str, shape: BaseGeometry, **said: Any) -> dict[str, Any]:
    return {"type": "Feature", "properties": {"kind": kind, **said}, "geometry": json.loads(shapely.to_geojson(shape))}


OF_EACH_KIND = [
    feature("mound", LineString([(36, 12), (44, 13), (47, 16)]), name="Long back"),
    feature("mound", LineString([(30, 16), (30, 23)]), status="standing", height="18 in", built="2025-05-01", number=7),
    feature("mound", LineString([(52, 24), (52, 31)]), height="8 in", name="Low one"),
    feature("bed", box(38, 33, 44, 36), status="standing", name="Old bed"),
    feature("nursery bed", box(20, 12, 24, 18), name="Nursery"),
    feature("path", LineString([(13, 20), (26, 21), (34, 27)])),
    feature("swale", LineString([(47, 36), (56, 34)]), depth="10 in"),
    feature("hoop house", Point(50, 52), bearing=90, name="Blue house"),
    feature("trellis", LineString([(37, 38), (43, 38)]), status="standing", built="2024"),
    feature("arch", LineString([(20, 20.5), (23, 20.8)])),
    feature("tipping place", Point(17, 8)),
]


@cache
def own() -> Analysis:
    """Analyse the sample site with one work of each kind, in metres from its corner."""
    with TemporaryDirectory() as folder:
        site = Path(folder) / "site"
        shutil.copytree(SAMPLE, site, ignore=shutil.ignore_patterns("out"))
        kept = {"type": "FeatureCollection", "plane": "parcel", "numbers": {"mound": 9}, "features": OF_EACH_KIND}
        (site / "works.geojson").write_text(json.dumps(kept), encoding="utf-8")
        return analyse(site)


def test_every_drawn_work_is_in_the_plan_where_it_was_drawn_with_its_name_and_number() -> None:
    plan, site = own().plan, own().site
    west, south, _, _ = site.parcel.bounds
    by_ref = {work.ref: work for work in plan.works}
    for drawn in site.works:
        work = by_ref[drawn.ref]
        assert (work.name, work.status, work.built) == (drawn.name, drawn.status, drawn.built)
    crests = {mound.number: mound.crest for mound in plan.mounds}
    assert crests[10].equals_exact(translate(LineString([(36, 12), (44, 13), (47, 16)]), west, south), 1e-6)
    assert {mound.number for mound in plan.mounds if mound.is_proposed}.isdisjoint(range(1, 12))
    assert [house.name for house in plan.hoop_houses] == ["Blue house"]


def test_nothing_that_is_proposed_lies_over_what_was_drawn() -> None:
    plan, site = own().plan, own().site
    drawn = [bed.geometry for bed in site.drawn(Bed)]
    drawn += [work.ground for work in plan.works if not work.is_proposed and work.kind is not Work.PATH]
    assert len(drawn) == 11 - 1
    for work in plan.works:
        if work.is_proposed and work.kind is not Work.PATH:
            taken = [work.ground.intersection(ground).area for ground in drawn]
            assert max(taken) < 0.05, work.ref
    # A path leads up to what it joins, and under an arch; never over a bed.
    beds = shapely.union_all(drawn[:2])
    assert all(path.line.intersection(beds).length < 0.1 for path in plan.paths if path.is_proposed)


def test_what_stands_is_not_built_again_and_what_is_wanted_is() -> None:
    analysis = own()
    standing = {work.ref for work in analysis.plan.works if work.status is Status.STANDING}
    building = (Task.BUILD_MOUND, Task.SET_TRELLIS, Task.STAKE)
    jobs = {ref for job in analysis.plan.jobs if job.task in building for ref in job.things}
    assert len(standing) == 2
    assert not standing & jobs
    assert {year.year for year in analysis.plan.years if 7 in year.builds} == set()
    assert not [stake for work in analysis.plan.works if work.ref in standing for stake in work.stakes]


def test_a_low_mound_is_told_what_would_keep_its_roots_dry() -> None:
    low = next(mound for mound in own().plan.mounds if mound.name == "Low one")
    assert low.height.built == pytest.approx(8 * 0.0254)
    assert low.height.chance < 0.2
    assert low.would_do is not None
    assert low.would_do.height is not None
    assert low.would_do.height > low.height.built


def test_the_chance_of_a_drawn_height_is_that_of_the_height_asked_for() -> None:
    """The two functions are each other's inverse, with dry and with wet ground."""
    for depth in (0.02, 0.3):
        for name in ("woody core", "soil and compost"):
            fill = find_fill(name, "loam", 0.1)
            asked = mound_height(0.45, fill, depth, 0.1, 0.8)
            assert height_as_built(0.45, fill, depth, 0.1, asked.built).chance == pytest.approx(0.8, abs=0.02)


def test_a_standing_mound_is_ground() -> None:
    """Ponds, sun and what the trial stands on equal those of a site whose heights hold a ridge built by hand."""
    older = make_site(valley(60, 60, 1.0), 1.0)
    crest, high, top, slope = LineString([(20, 28), (40, 28)]), 0.6, 0.6, 1.5
    drawn = DrawnWork(
        kind=Work.MOUND, number=1, name="", status=Status.STANDING, built=date(2025, 1, 1),
        shape=translate(crest, *older.parcel.bounds[:2]), height=high, width=top, side_slope=slope,
    )  # fmt: skip
    built = with_standing(replace(older, works=(drawn,)), PLAIN)
    x, y = np.meshgrid(older.grid.x, older.grid.y)
    away = shapely.distance(drawn.shape, shapely.points(x, y))
    (x0, y0), (x1, _) = drawn.shape.coords
    row, first = older.grid.cell_at(x0, y0)
    _, last = older.grid.cell_at(x1, y0)
    fit = np.polyfit(older.grid.x[first : last + 1], older.elevation[row, first : last + 1], 1)
    ridge = np.polyval(fit, np.clip(x, x0, x1)) + high - np.maximum(away - top / 2.0, 0.0) / slope
    by_hand = np.where(away < 3.0, np.maximum(ridge, older.elevation), older.elevation)
    assert np.abs(built.elevation - by_hand).max() < 0.06
    newer = replace(older, elevation=built.elevation, works=(replace(drawn, in_heights=True),))
    again = with_standing(newer, PLAIN)
    assert again.elevation is newer.elevation
    one, other = trace_drainage(built, PLAIN), trace_drainage(again, PLAIN)
    assert [(pond.area, pond.depth) for pond in one.ponds] == [(pond.area, pond.depth) for pond in other.ponds]
    np.testing.assert_array_equal(one.heights, other.heights)
    np.testing.assert_array_equal(trace_sunlight(built, PLAIN).sun_hours, trace_sunlight(again, PLAIN).sun_hours)


def test_a_standing_trellis_shades_and_a_film_lets_its_share_through() -> None:
    site = make_site(plane(40, 40, 1.0), 1.0)
    west, south, _, _ = site.parcel.bounds
    row = DrawnWork(
        kind=Work.TRELLIS, number=1, name="", status=Status.STANDING, built=None, height=2.0,
        shape=translate(LineString([(10, 20), (30, 20)]), west, south),
    )  # fmt: skip
    at = site.grid.cell_at(west + 20.0, south + 21.5)
    hours = []
    for passes in (1.0, 0.5, 0.0):
        trellis = PLAIN.trellis.model_copy(update={"let_through": passes})
        settings = PLAIN.model_copy(update={"trellis": trellis})
        hours.append(float(trace_sunlight(replace(site, works=(row,)), settings).sun_hours[at]))
    bare = float(trace_sunlight(site, PLAIN).sun_hours[at])
    assert hours[0] == pytest.approx(bare, abs=1e-4)
    assert hours[1] == pytest.approx((bare + hours[2]) / 2.0, abs=1e-3)
    assert hours[2] < bare - 1.0


def test_an_arch_is_as_high_as_an_elastic_strip_stands() -> None:
    """The rectangular elastica: where its feet stand upright it is .457 of its length wide and .381 high.

    Love, A treatise on the mathematical theory of elasticity, section 263; values from memory.
    """
    length = 4.88
    assert np.interp(0.457 * length, SPANS, HEIGHTS) == pytest.approx(0.381 * length, abs=0.02)


def stated(kind: Work = Work.MOUND, shape: BaseGeometry | None = None, **said: Any) -> StatedWork:
    shape = shape if shape is not None else LineString([(10, 10), (20, 10)])
    return read_work(Properties(said, "works.geojson, feature 1"), kind, shape)


def settle(*works: StatedWork, numbers: dict[str, int] | None = None) -> tuple[DrawnWork, ...]:
    return settle_works(works, numbers or {}, PARCEL, (), Settings())[0]


def test_a_work_that_moves_leaves_every_number_as_it_was() -> None:
    works = [stated(number=3), stated(), stated(kind=Work.PATH), stated(replaces="mound 5")]
    before = [(work.kind, work.number) for work in settle(*works, numbers={"mound": 7})]
    assert before == [(Work.MOUND, 3), (Work.MOUND, 8), (Work.PATH, 1), (Work.MOUND, 5)]
    moved = replace(works[0], geometry=translate(works[0].geometry, 2.0, 0.0))
    assert [(work.kind, work.number) for work in settle(moved, *works[1:], numbers={"mound": 7})] == before


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ({"status": "dreamt"}, "write one of: wanted, standing"),
        ({"built": "2020-05-01"}, "Write status = standing"),
        ({"status": "standing", "built": "2999-01-01"}, "a day to come"),
        ({"status": "standing", "built": "once"}, "write a day such as"),
        ({"height": "0 m"}, "height is 0"),
        ({"number": 1.5}, "must be a whole one"),
        ({"number": 0}, "must lie between 1"),
        ({"crops": "bananas"}, "write one of: strawberries"),
        ({"status": "standing"}, "does not say how high"),
        ({"shape": LineString([(50, 10), (70, 10)])}, "does not lie inside the parcel"),
        ({"shape": LineString([(10, 10), (20, 20), (20, 10), (10, 20)])}, "crosses itself"),
        ({"kind": Work.TRELLIS, "shape": LineString([(10, 10), (20, 20), (30, 10)])}, "is bent"),
        ({"kind": Work.HOOP_HOUSE, "shape": Point(30, 30)}, "Write the bearing"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line(said: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError, match=told) as refused:
        settle(stated(**said))
    assert "\n" not in str(refused.value)
    assert str(refused.value).startswith("works.geojson, feature 1")


def test_two_with_one_number_and_too_many_are_refused() -> None:
    with pytest.raises(InputError, match="are both mound 2"):
        settle(stated(number=2), stated(number=2))
    with pytest.raises(InputError, match="at most 100 are read"):
        settle(*[stated()] * 200)


def test_a_hoop_house_and_a_foot_are_drawn_out() -> None:
    walls, crest = settle(
        stated(Work.HOOP_HOUSE, Point(30, 30), bearing=90, length="9 m", width="4 m"),
        stated(shape=box(10, 20, 22, 22)),
    )
    assert walls.shape.equals(Polygon(box(25.5, 28, 34.5, 32)))
    assert crest.shape.equals(LineString([(11, 21), (21, 21)]))


def test_what_is_kept_is_read_again_where_it_was_and_other_works_stay() -> None:
    analysis = own()
    chosen = chosen_of(analysis.plan, ["mound", "12", "trellis 2"])
    document = {"type": "FeatureCollection", "plane": "parcel", "numbers": {"mound": 9}, "features": OF_EACH_KIND}
    text = kept_works(analysis, chosen, document)
    assert text == kept_works(analysis, chosen, document)
    with TemporaryDirectory() as folder:
        site = Path(folder) / "site"
        shutil.copytree(SAMPLE, site, ignore=shutil.ignore_patterns("out"))
        (site / "works.geojson").write_text(text, encoding="utf-8")
        again = read_site(open_folder(site, read_settings(site / "site.toml")))
        assert read_kept(site / "works.geojson")["numbers"]["mound"] == 13
    assert len(again.works) == len(analysis.site.works) + 2
    mound = next(work for work in again.works if work.ref == chosen[0].ref)
    planned = next(mound for mound in analysis.plan.mounds if mound.number == 12)
    assert mound.shape.equals_exact(planned.crest, 2e-3)
    assert again.next_number(Work.MOUND) == 14
    assert {work.ref for work in analysis.site.works} <= {work.ref for work in again.works}


@pytest.mark.parametrize(("name", "told"), [("mound 99", "names no proposed work"), ("barn", "names no proposed work")])
def test_what_is_not_proposed_cannot_be_kept(name: str, told: str) -> None:
    with pytest.raises(SettingsError, match=told):
        chosen_of(own().plan, [name])


def test_each_kind_may_be_left_to_the_grower() -> None:
    settings = Settings(mound=PLAIN.mound.model_copy(update={"propose": False}))
    land = mound_site(plane(30, 30, 1.0, north=0.02), settings=settings)
    mounds, choice = plan_mounds(land, drain_baseline(land))
    assert mounds == ()
    assert choice.lacking is None


def test_a_mounds_ring_is_its_own_number_and_others_count_on() -> None:
    view = build_view(Desk(own(), frame_of(own().site), draw_ground(own().site)))
    rings = dict(zip((place.thing for place in view.places), rings_of(view.places), strict=True))
    assert len(set(rings.values())) == len(rings)
    for mound in own().plan.mounds:
        assert rings[f"mound-{mound.number}"] == mound.number
    assert 10 in rings.values()
    assert 2 not in rings.values()
    assert [label for label, _ in view.cards["mound-7"].numbers] == ["Stands high", "Base, across"]


def test_the_impact_beside_a_standing_mound_is_that_on_heights_that_hold_it() -> None:
    """A wanted dam beside a standing one: what stands is ground, and is not tipped once more."""
    site = make_site(valley(60, 60, 1.0, fall=0.01, side=0.06), 1.0, parcel=box(6.0, 6.0, 54.0, 34.0))
    standing = DrawnWork(
        kind=Work.MOUND, number=1, name="", status=Status.STANDING, built=None,
        shape=LineString([(22, 31), (29, 31)]), height=0.5, width=0.6, side_slope=1.5,
    )  # fmt: skip
    wanted = replace(standing, number=2, status=Status.WANTED, shape=LineString([(31, 31), (38, 31)]))
    heights = with_standing(replace(site, works=(standing,)), PLAIN).elevation
    plain = mound_site(heights, parcel=site.parcel)
    found = []
    for works in ((wanted,), (standing, wanted)):
        land = replace(plain, site=replace(plain.site, works=works))
        baseline = drain_baseline(land)
        tipped = tipped_works(land, baseline.ground, draw_mounds(land))
        found.append(weigh_impact(land, baseline, rows_of(tipped)))
    assert found[0] == found[1]
    assert not found[0].passes
