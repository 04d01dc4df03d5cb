"""A thing drawn with nothing but its place has one size in every room, on the page and on the sheet."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from sitepipe.analysis import Analysis
from sitepipe.drainage.drawn import find_drawn_things, road_cells
from sitepipe.drainage.heights import PER_METRE, whole_heights
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.marks import Drawn
from sitepipe.mapping.standing import standing_things
from sitepipe.reading.kinds import AREA, LINE, SHAPES
from sitepipe.scoring.exclusions import exclusions_of
from sitepipe.settings import DrainageSettings, KeepClearSettings
from sitepipe.site import Kind
from sitepipe.sunlight.obstacles import standing
from sitepipe.works.hazards import things_hurt
from sitepipe.works.obstacles import lanes, solids
from sitepipe.writing.tables import tables
from tests.mapping.drawn_analysis import make_analysis
from tests.sites import draw_thing, make_site, plane

CELL = 0.1
"""Fine enough to measure a wall of 20 cm by its cells."""
PLACES: dict[str, BaseGeometry] = {AREA: box(12.0, 12.0, 17.0, 16.0), LINE: LineString([(10.0, 15.0), (20.0, 15.0)])}
ALONE = [(kind, shape) for kind, shapes in SHAPES.items() for shape in shapes if kind is not Kind.PARCEL]
STANDING = [pair for pair in ALONE if pair[0] in (Kind.BUILDING, Kind.TREE, Kind.HEDGE, Kind.WALL)]


def place_of(shape: str) -> BaseGeometry:
    return PLACES.get(shape, Point(15.0, 15.0))


def area_of_mark(mark: Drawn) -> float:
    if mark.area:
        return float(sum(Polygon(np.reshape(rings[0], (-1, 2))).area for rings in mark.area))
    places = [LineString(np.reshape(line, (-1, 2))) for line in mark.line] or [Point(mark.at)]
    return float(shapely.union_all(places).buffer(mark.half).area)


@pytest.mark.parametrize(("kind", "shape"), ALONE)
def test_every_kind_has_a_footprint_in_its_outline(kind: Kind, shape: str) -> None:
    thing = draw_thing(1, kind, "", place_of(shape))
    assert thing.footprint.area > 0.0
    assert thing.outline.buffer(1e-9).covers(thing.footprint)
    assert thing.name == kind.value


@pytest.mark.parametrize(("kind", "shape"), STANDING)
def test_what_shades_is_what_the_page_draws_and_what_works_keep_off(kind: Kind, shape: str) -> None:
    thing = draw_thing(1, kind, "", place_of(shape))
    site = make_site(plane(300, 300, CELL), CELL, (thing,))
    prisms = standing(site).prisms
    assert set(prisms.top.tolist()) == {thing.height}
    pieces = [Polygon(prisms.corner[start:end]) for start, end in zip(prisms.first[:-1], prisms.first[1:], strict=True)]
    assert shapely.union_all(pieces).area == pytest.approx(thing.outline.area, rel=0.05)
    mark, *_ = standing_things(site, frame_of(site))
    if kind is not Kind.WALL:  # A wall is a line of its own on the page.
        assert area_of_mark(mark) == pytest.approx(thing.outline.area, rel=0.03)
    assert solids(site) == (thing.footprint,)
    assert things_hurt(site)[1][1] == thing.outline


@pytest.mark.parametrize("shape", SHAPES[Kind.ROAD])
def test_a_road_is_as_wide_for_water_wheels_and_works_as_on_the_page(shape: str) -> None:
    road = draw_thing(1, Kind.ROAD, "", place_of(shape))
    site = make_site(plane(300, 300, CELL), CELL, (road,))
    assert lanes(site) == (road.outline,)
    assert road_cells(site).sum() * CELL**2 == pytest.approx(road.outline.area, rel=0.02)
    mark, *_ = standing_things(site, frame_of(site))
    assert area_of_mark(mark) == pytest.approx(road.outline.area, rel=0.02)
    analysis = make_analysis()
    kept = exclusions_of(
        site, replace(analysis.drainage, ponds=()), KeepClearSettings.model_validate({"boundary": "0 m"})
    )
    assert kept[0].outline.equals(shapely.intersection(road.outline, site.parcel))


@pytest.mark.parametrize("kind", [Kind.BUILDING, Kind.KERB])
def test_water_meets_what_stands_by_the_height_that_everyone_else_counts(kind: Kind) -> None:
    thing = draw_thing(1, kind, "", place_of(SHAPES[kind][0]))
    site = make_site(plane(30, 30, 1.0), 1.0, (thing,))
    bare, _ = whole_heights(site.elevation)
    raised = find_drawn_things(bare, site, DrainageSettings()).applied_to(bare)
    assert (raised - bare).max() == round(thing.height * PER_METRE)


def test_the_exported_sizes_are_those_that_were_counted_with() -> None:
    analysis = make_analysis()
    oak = draw_thing(99, Kind.TREE, "Oak", analysis.site.parcel.centroid)
    drawn: Analysis = replace(analysis, site=replace(analysis.site, features=(*analysis.site.features, oak)))
    (table,) = (table for table in tables(drawn) if table.name == "drawn_points")
    _, row = table.rows[-1]
    assert dict(zip(table.columns, row, strict=True)) == {
        "number": 99, "kind": "tree", "name": "Oak", "height_m": oak.height, "width_m": oak.width
    }  # fmt: skip
