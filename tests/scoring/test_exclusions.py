"""What nothing is built on: each rule with its reason, its source and its distance."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from sitepipe.answers.exclusions import SOURCES, title, undrawn
from sitepipe.arrays import frozen
from sitepipe.drainage.stage import trace_drainage
from sitepipe.scoring.exclusions import exclusions_of
from sitepipe.scoring.record import Exclusion, Reason, Use
from sitepipe.settings import KeepClearSettings, Settings
from sitepipe.site import Feature, Kind, Site, Work
from sitepipe.units import FOOT, Units
from tests.sites import bowl, draw_thing, make_site, plane

PARCEL = box(10, 10, 90, 90)
MIDDLE = Point(50, 50)


def _excluded(*features: Feature, site: Site | None = None) -> tuple[Exclusion, ...]:
    settings = Settings()
    if site is None:
        site = make_site(plane(100, 100, 1.0, 0.02), features=features, parcel=PARCEL)
    found = exclusions_of(site, trace_drainage(site, settings), KeepClearSettings())
    return tuple(one for one in found if one.reason is not Reason.BOUNDARY)


def test_what_only_the_surface_model_shows_is_no_place_to_build_and_is_asked_about() -> None:
    # Issue 16, item 8: the plan was built in a wood that nobody drew.
    surface = np.zeros((100, 100))
    surface[60:80, 20:40] = 12.0
    wood = box(20, 20, 40, 40)
    site = replace(make_site(plane(100, 100, 1.0, 0.02), parcel=PARCEL), obstacle_height=frozen(surface))
    (found,) = _excluded(site=site)
    assert (found.reason, found.uses) == (Reason.UNDRAWN, (Use.MOUND, Use.WET_PLANTING, Use.PATH))
    assert found.outline.symmetric_difference(wood).area < 0.05 * wood.area
    (said,) = undrawn(found.outline, site, Units.METRIC)
    assert said.startswith("On 6% of the parcel (39")
    assert "of the south-west corner of the parcel, the surface" in said
    assert "the surface model shows something that is not drawn. Nothing is planned there." in said
    drawn = replace(site, features=(_feature(Kind.TREE, wood),))
    assert Reason.UNDRAWN not in {one.reason for one in _excluded(site=drawn)}


def test_a_drawn_bed_is_never_built_over_and_keeps_its_name() -> None:
    # Issue 17, item 2.
    bed = box(40, 40, 46, 50)
    (found,) = _excluded(_feature(Kind.BED, bed, name="Rhubarb"))
    assert (title(found), found.uses) == ("Bed, Rhubarb", (Use.MOUND, Use.WET_PLANTING, Use.PATH))
    assert found.outline.equals(bed)


def test_ground_may_be_kept_clear_of_some_works_only() -> None:
    # Issue 18, item 2.
    shape = box(40, 40, 50, 50)
    kept = draw_thing(1, Kind.KEEP_CLEAR, "View", shape, attributes={"of": "mounds, hoop house"})
    (found,) = _excluded(kept)
    assert found.uses == (Use.MOUND,)
    assert [work for work in Work if found.forbids(work)] == [Work.MOUND, Work.HOOP_HOUSE]
    (whole,) = _excluded(_feature(Kind.KEEP_CLEAR, shape))
    assert whole.uses == (Use.MOUND, Use.WET_PLANTING, Use.PATH)
    assert all(whole.forbids(work) for work in Work)
    (planting,) = _excluded(draw_thing(1, Kind.KEEP_CLEAR, "Lawn", shape, attributes={"of": "beds"}))
    assert planting.uses == (Use.WET_PLANTING,)
    assert not any(planting.forbids(work) for work in Work)


def _feature(kind: Kind, shape: BaseGeometry, width: float | None = None, name: str = "It") -> Feature:
    return draw_thing(1, kind, name, shape, width=width)


# The distances are those of the trade notes: IRC R401.3 (10 ft of fall away from a wall); extension services (10 ft
# off a septic field); 50 ft from a well, value from memory; 24 in of hand digging and 1 ft of drawing error; the
# rest common practice, no source.
@pytest.mark.parametrize(
    ("feature", "distance", "closed", "open_"),
    [
        (_feature(Kind.BUILDING, box(45, 45, 55, 55)), 10 * FOOT, {Use.MOUND, Use.WET_PLANTING}, {Use.PATH}),
        (_feature(Kind.SEPTIC, box(45, 45, 55, 55)), 10 * FOOT, {Use.MOUND, Use.WET_PLANTING}, {Use.PATH}),
        (_feature(Kind.WELL, MIDDLE), 50 * FOOT, {Use.MOUND}, {Use.PATH, Use.WET_PLANTING}),
        (
            _feature(Kind.BURIED_LINE, LineString([(30, 50), (70, 50)])),
            0.9,
            {Use.MOUND, Use.WET_PLANTING},
            {Use.PATH},
        ),
        (_feature(Kind.TREE, MIDDLE, width=8.0), 2.0, {Use.MOUND, Use.WET_PLANTING}, {Use.PATH}),
        (_feature(Kind.DITCH, LineString([(30, 50), (70, 50)]), width=1.0), 2.0, {Use.MOUND}, {Use.PATH}),
        (_feature(Kind.WATER, box(45, 45, 55, 55)), 1.5, {Use.MOUND}, {Use.PATH, Use.WET_PLANTING}),
        (
            _feature(Kind.HEDGE, LineString([(30, 50), (70, 50)]), width=2.0),
            1.6,
            {Use.MOUND, Use.WET_PLANTING},
            {Use.PATH},
        ),
    ],
    ids=lambda value: value.kind.value if isinstance(value, Feature) else "",
)
def test_a_thing_keeps_its_distance_clear_and_no_more(
    feature: Feature, distance: float, closed: set[Use], open_: set[Use]
) -> None:
    found = _excluded(feature)
    just_inside = Point(50, feature.geometry.bounds[3] + distance - 0.05)
    just_outside = Point(50, feature.geometry.bounds[3] + distance + 0.05)
    shut = {use for one in found if one.outline.covers(just_inside) for use in one.uses}
    assert closed <= shut
    assert not open_ & shut
    assert not any(one.outline.covers(just_outside) for one in found)


@pytest.mark.parametrize("kind", [Kind.BUILDING, Kind.SEPTIC, Kind.KEEP_CLEAR, Kind.WATER])
def test_some_ground_is_closed_to_everything(kind: Kind) -> None:
    found = _excluded(_feature(kind, box(45, 45, 55, 55)))
    assert {Use.MOUND, Use.WET_PLANTING, Use.PATH} <= {
        use for one in found if one.outline.covers(MIDDLE) for use in one.uses
    }


def test_each_says_why_and_who_says_so() -> None:
    for one in _excluded(
        _feature(Kind.BUILDING, box(45, 45, 55, 55)),
        _feature(Kind.SEPTIC, box(20, 20, 26, 26)),
        _feature(Kind.WELL, MIDDLE),
    ):
        assert "It" in title(one)
    assert set(SOURCES) == set(Reason)
    assert "local code" in SOURCES[Reason.WELL]
    assert "before you dig" in SOURCES[Reason.BURIED_LINE]


def test_a_road_that_passes_keeps_a_band_and_a_drive_only_its_width() -> None:
    road = _feature(Kind.ROAD, LineString([(0, 8), (100, 8)]), width=4.0, name="Road")
    drive = _feature(Kind.ROAD, LineString([(50, 10), (50, 60)]), width=3.0, name="Drive")
    found = _excluded(road, drive)
    shut = [one for one in found if one.outline.covers(Point(30, 15.9)) and Use.MOUND in one.uses]
    assert [title(one) for one in shut] == ["Road band, the road"]
    assert not any(one.outline.covers(Point(30, 16.1)) for one in found)
    assert any(one.outline.covers(Point(51.4, 40)) for one in found)
    assert not any(one.outline.covers(Point(51.6, 40)) for one in found)


def test_both_corners_of_a_drive_at_the_road_are_kept_low() -> None:
    """Sight triangles of 10 to 15 ft at driveways: eight ordinances, see the trade notes; ours has legs of 15 ft."""
    gate = _feature(Kind.GATE, LineString([(48, 10), (52, 10)]), name="Gate")
    road = _feature(Kind.ROAD, LineString([(0, 6), (100, 6)]), width=4.0, name="Road")
    triangles = [one for one in _excluded(gate, road) if one.reason is Reason.SIGHT]
    leg = 15 * FOOT
    assert [one.outline.area for one in triangles] == pytest.approx([leg * leg / 2] * 2)
    west, east = triangles
    assert west.outline.covers(Point(48 - 1, 10 + 1))
    assert east.outline.covers(Point(52 + 1, 10 + 1))
    assert not any(one.outline.intersects(box(48.01, 10, 51.99, 20)) for one in triangles)
    assert all(one.uses == (Use.MOUND, Use.WET_PLANTING) for one in triangles)


def test_a_gate_drawn_as_a_point_has_its_corners_too() -> None:
    gate = _feature(Kind.GATE, Point(50, 10), width=4.0, name="Gate")
    road = _feature(Kind.ROAD, LineString([(0, 6), (100, 6)]), width=4.0, name="Road")
    triangles = [one for one in _excluded(gate, road) if one.reason is Reason.SIGHT]
    assert len(triangles) == 2
    assert all(one.outline.area == pytest.approx((15 * FOOT) ** 2 / 2) for one in triangles)


def test_a_gate_far_from_any_road_has_none() -> None:
    gate = _feature(Kind.GATE, LineString([(48, 90), (52, 90)]), name="Gate")
    road = _feature(Kind.ROAD, LineString([(0, 6), (100, 6)]), width=4.0, name="Road")
    assert not [one for one in _excluded(gate, road) if one.reason is Reason.SIGHT]


def test_a_hollow_that_stores_the_storm_is_not_built_in() -> None:
    site = make_site(bowl(81, 1.0, 1.0))
    (store,) = [one for one in _excluded(site=site) if one.reason is Reason.HOLLOW]
    assert store.uses == (Use.MOUND,)
    assert store.outline.covers(Point(40.5, 40.5))
    pond = trace_drainage(site, Settings()).ponds[0]
    assert store.outline.buffer(1e-9).covers(pond.outline.intersection(site.parcel))


def test_a_shallow_hollow_stores_little_and_may_be_built_in() -> None:
    assert not [one for one in _excluded(site=make_site(bowl(81, 1.0, 0.1))) if one.reason is Reason.HOLLOW]


def test_exclusions_end_at_the_boundary() -> None:
    house = _feature(Kind.BUILDING, box(5, 45, 15, 55))
    assert all(one.outline.difference(PARCEL.buffer(1e-9)).is_empty for one in _excluded(house))


def test_the_boundary_is_kept_clear_of_mounds() -> None:
    site = make_site(plane(100, 100, 1.0, 0.02), parcel=PARCEL)
    found = exclusions_of(site, trace_drainage(site, Settings()), KeepClearSettings())
    (edge,) = [one for one in found if one.reason is Reason.BOUNDARY]
    assert edge.outline.area == pytest.approx(80 * 80 - 78 * 78)
    assert isinstance(edge.outline, Polygon)
