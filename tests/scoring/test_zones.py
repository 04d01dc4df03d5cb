"""Zones: a partition of the parcel that nothing forbidden enters."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box

from sitepipe.answers.exclusions import limit
from sitepipe.drainage.cells import cells_inside
from sitepipe.scoring.record import Use, Zone, Zones
from sitepipe.scoring.stage import SCORED
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Feature, Kind, Site
from tests.scoring.records import Filled, filled
from tests.sites import bowl, draw_thing, make_site, plane
from tests.wetness.grounds import rough

SETTINGS = make_settings({"storm": {"depths": ["25 mm"]}}, "site.toml")

HOUSE = draw_thing(1, Kind.BUILDING, "House", box(40, 70, 52, 80))
PIPE = draw_thing(2, Kind.BURIED_LINE, "Pipe", LineString([(46, 70), (30, 20)]))
TREE = draw_thing(3, Kind.TREE, "Oak", Point(75, 40), height=9.0, width=8.0)
SEPTIC = draw_thing(4, Kind.SEPTIC, "Septic", box(60, 60, 66, 68))
DRAWN = (HOUSE, PIPE, TREE, SEPTIC)


def varied(seed: int, features: tuple[Feature, ...] = DRAWN, parcel: Polygon | None = None) -> Filled:
    """Return a site whose wetness and sun vary over it like hills."""
    chance = np.random.default_rng(seed)
    site = make_site(plane(110, 100, 1.0, 0.01, 0.02), features=features, parcel=parcel)
    wet = 0.5 + 0.4 * np.tanh(rough(160, 1.0, 9.0, chance)[:110, :100])
    hours = 6.0 + 3.0 * np.tanh(rough(160, 1.0, 12.0, chance)[:110, :100])
    return filled(site, SETTINGS, wet=wet, hours=hours)


def check_partition(site: Site, zones: Zones) -> None:
    outlines = [zone.outline for zone in zones.zones]
    assert sum(zone.area for zone in zones.zones) == pytest.approx(site.parcel.area, rel=1e-9)
    assert sum(outline.area for outline in outlines) == pytest.approx(site.parcel.area, rel=1e-9)
    assert shapely.coverage_is_valid(outlines)
    assert all(outline.is_valid for outline in outlines)
    assert shapely.union_all(outlines).symmetric_difference(site.parcel).area < 1e-6 * site.parcel.area


@settings(max_examples=12)
@given(st.integers(0, 2**31))
def test_zones_are_a_partition_of_the_parcel(seed: int) -> None:
    site = varied(seed)
    check_partition(site.site, site.zones(SETTINGS)[1])


@settings(max_examples=12)
@given(st.integers(0, 2**31))
def test_no_zone_enters_what_is_closed_to_its_use(seed: int) -> None:
    scores, zones = varied(seed).zones(SETTINGS)
    for zone in zones.zones:
        for exclusion in scores.exclusions:
            if zone.use in exclusion.uses:
                assert zone.outline.intersection(exclusion.outline).area < 1e-6


@settings(max_examples=12)
@given(st.integers(0, 2**31))
def test_zones_of_a_use_are_large_and_wide_enough(seed: int) -> None:
    _, zones = varied(seed).zones(SETTINGS)
    for zone in zones.zones:
        if zone.use in SCORED:
            assert zone.area >= SETTINGS.scoring.least_area_m2
            assert not zone.outline.buffer(-0.45 * SETTINGS.scoring.least_width).is_empty


def test_a_parcel_of_any_shape_is_filled() -> None:
    parcel = Polygon([(8, 8), (92, 15), (88, 97), (50, 60), (12, 100)], [[(30, 30), (30, 40), (40, 40), (40, 30)]])
    site = varied(7, features=(), parcel=parcel)
    check_partition(site.site, site.zones(SETTINGS)[1])


def test_a_parcel_in_two_pieces_is_filled() -> None:
    pieces = shapely.MultiPolygon([box(8, 8, 40, 60), box(60, 40, 95, 100)])
    site = varied(8, features=(), parcel=pieces)
    check_partition(site.site, site.zones(SETTINGS)[1])


def test_wet_ground_becomes_planting_dry_ground_paths_and_what_lies_between_mounds() -> None:
    wet = np.tile(np.linspace(0.0, 1.0, 120), (60, 1))
    depth = np.tile(np.linspace(2.0, 0.0, 120), (60, 1))
    site = filled(make_site(plane(60, 120, 1.0, 0.0, 0.01)), SETTINGS, wet=wet, depth=depth)
    _, zones = site.zones(SETTINGS)

    def at(x: float) -> Use:
        return next(zone.use for zone in zones.zones if zone.outline.covers(Point(x, 30)))

    assert [at(16.0), at(75.0), at(106.0)] == [Use.PATH, Use.MOUND, Use.WET_PLANTING]


def test_keep_clear_follows_what_was_drawn_exactly() -> None:
    _, zones = varied(3).zones(SETTINGS)
    house = [zone for zone in zones.zones if zone.use is Use.KEEP_CLEAR and zone.outline.covers(Point(46, 75))]
    assert house[0].area == pytest.approx(120.0, rel=1e-9)
    assert limit(house[0]) == "the house"


def test_shade_everywhere_leaves_no_mound() -> None:
    site = filled(make_site(plane(60, 60, 1.0, 0.02)), SETTINGS, wet=0.6, hours=0.5)
    _, zones = site.zones(SETTINGS)
    assert not [zone for zone in zones.zones if zone.use is Use.MOUND]


def test_ground_that_suits_nothing_is_left_and_says_why() -> None:
    demanding = make_settings({"storm": {"depths": ["25 mm"]}, "scoring": {"least_score": 1.0}}, "site.toml")
    site = filled(make_site(plane(60, 60, 1.0, 0.16)), demanding, hours=3.0)
    _, zones = site.zones(demanding)
    (zone,) = zones.zones
    assert zone.use is Use.LEAVE
    assert zone.limit in {"sun_hours", "slope_percent"}


def test_the_raster_of_zones_agrees_with_the_polygons() -> None:
    site = varied(5)
    _, zones = site.zones(SETTINGS)
    inside = cells_inside(site.site.grid, site.site.parcel)
    assert (np.isfinite(zones.zone) == inside).all()
    for zone in zones.zones:
        x, y = np.meshgrid(site.site.grid.x, site.site.grid.y)
        assert (shapely.contains_xy(zone.outline, x, y) <= (zones.zone == zone.number)).all()
    assert [zone.number for zone in zones.zones] == list(range(1, len(zones.zones) + 1))


def test_borders_between_zones_are_smooth_to_the_eye() -> None:
    """A round wet patch: its border turns by small angles, not by the right angles of cells."""
    x, y = np.meshgrid(np.arange(100) - 50.0, np.arange(100) - 50.0)
    wet = 1.0 / (1.0 + np.exp((np.hypot(x, y) - 25.0) / 3.0))
    _, zones = filled(make_site(plane(100, 100, 1.0, 0.001)), SETTINGS, wet=wet).zones(SETTINGS)
    patch = next(zone.outline for zone in zones.zones if zone.use is Use.WET_PLANTING)
    steps = np.diff(np.asarray(patch.exterior.coords), axis=0)
    turns = np.abs((np.diff(np.degrees(np.arctan2(steps[:, 1], steps[:, 0]))) + 180.0) % 360.0 - 180.0)
    assert turns.max() < 30.0
    assert patch.area / (np.pi * (patch.length / (2 * np.pi)) ** 2) > 0.98


def test_the_same_site_gives_the_same_bytes() -> None:
    one, other = varied(9).zones(SETTINGS)[1], varied(9).zones(SETTINGS)[1]
    assert [zone.outline.wkb for zone in one.zones] == [zone.outline.wkb for zone in other.zones]
    assert one.zone.tobytes() == other.zone.tobytes()


def test_larger_least_sizes_give_fewer_zones() -> None:
    coarse = make_settings(
        {"storm": {"depths": ["25 mm"]}, "scoring": {"least_area_m2": 400.0, "least_width": "6 m"}}, "site.toml"
    )
    site = varied(10)
    assert len(site.zones(coarse)[1].zones) < len(site.zones(SETTINGS)[1].zones)


def test_a_hollow_that_stores_the_storm_is_no_mound_zone() -> None:
    site = filled(make_site(bowl(90, 1.0, 0.6)), SETTINGS, wet=0.6)
    _, zones = site.zones(SETTINGS)
    assert next(zone.use for zone in zones.zones if zone.outline.covers(Point(45, 45))) is not Use.MOUND


@pytest.mark.real_ground
@pytest.mark.parametrize("field", ["silstrup-field", "faardrup-field"])
def test_real_fields_are_filled(field: str, real_ground: Path, tmp_path: Path) -> None:
    from sitepipe.reading.site import read_site
    from sitepipe.reading.source import open_folder
    from sitepipe.terrain.stage import derive_terrain
    from tests.wetness.test_stage import run

    for source in (real_ground / field).iterdir():
        (tmp_path / source.name).symlink_to(source.resolve())
    (tmp_path / "site.toml").write_text('name = "Field"\nelevation = "dtm_1m6.tif"\nparcel = "parcel.geojson"\n')
    settings = Settings(name="Field", elevation=Path("dtm_1m6.tif"), parcel=Path("parcel.geojson"))
    site = read_site(open_folder(tmp_path, settings))
    _, wetness = run(site)
    ready = filled(site, SETTINGS, wet=wetness.wetness, hours=12.0, depth=0.4)
    assert derive_terrain(site, SETTINGS).broad_scale <= 50.0
    _, zones = ready.zones(SETTINGS)
    check_partition(site, zones)
    assert {Use.MOUND, Use.WET_PLANTING} <= {zone.use for zone in zones.zones}
    wet_share = {zone.use: zone.wetness for zone in zones.zones}
    assert wet_share[Use.WET_PLANTING] > wet_share[Use.MOUND]


def test_a_scrap_too_narrow_for_a_cell_still_knows_what_it_is_like() -> None:
    # Found with a parcel drawn by hand on a real field: a zone between two rows of cell middles.
    strip = draw_thing(1, Kind.KEEP_CLEAR, "String line", box(30.1, 40.6, 60.0, 40.9))
    site = varied(3, features=(strip,))
    _, zones = site.zones(SETTINGS)
    check_partition(site.site, zones)
    assert any(not cells_inside(site.site.grid, zone.outline).any() for zone in zones.zones)
    for zone in zones.zones:
        assert np.isfinite([zone.wetness, zone.sun_hours, zone.score]).all(), zone


def test_a_zone_of_ten_points_in_ten_is_held_back_by_nothing() -> None:
    zone = Zone(1, Use.MOUND, box(0.0, 0.0, 1.0, 1.0), 1.0, 0.97, "slope_percent", 0.5, 8.0)
    assert limit(zone) == ""
    assert limit(replace(zone, score=0.9)) != ""
