"""The wet-season water table: what holes say, what they do not, and what is assumed without them."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
from shapely import LineString, box

from sitepipe.answers.ground_water import hole_said, notes
from sitepipe.arrays import FloatArray
from sitepipe.drainage.stage import trace_drainage
from sitepipe.saying import NO_BREAK
from sitepipe.settings import Settings, WaterTableSettings, make_settings
from sitepipe.site import AugerReading, Kind, Site
from sitepipe.terrain.stage import derive_terrain
from sitepipe.units import Units
from sitepipe.wetness.blocks import fold_blocks, unfold_blocks
from sitepipe.wetness.conductivity import soil_conductivity
from sitepipe.wetness.holes import gather_holes
from sitepipe.wetness.record import Bound, HoleLevel, SteadyFlow, WaterTable
from sitepipe.wetness.water_table import estimate_water_table
from tests.sites import draw_thing, make_site, plane, valley


def reading(
    day: str,
    depth: float | None,
    place: str = "Hole",
    x: float = 30.0,
    y: float = 30.0,
    gray: float | None = None,
    bottom: float | None = 1.0,
) -> AugerReading:
    return AugerReading(place, x, y, date.fromisoformat(day), depth, bottom, "an inch the day before", gray)


def judge(*readings: AugerReading, latitude: float = 42.0) -> tuple[tuple[HoleLevel, ...], tuple[str, ...]]:
    return gather_holes(readings, WaterTableSettings(), latitude)


def said_of(*holes: HoleLevel, silent: tuple[str, ...] = ()) -> WaterTable:
    return WaterTable(np.zeros((1, 1)), np.zeros((1, 1)), False, SteadyFlow(1.0, 1e-3, 1.0), holes, silent)


def wet_table(site: Site, *readings: AugerReading, settings: Settings | None = None) -> WaterTable:
    settings = settings or Settings()
    site = replace(site, auger_readings=readings)
    return estimate_water_table(site, derive_terrain(site, settings), trace_drainage(site, settings), settings)


def field() -> Site:
    return make_site(valley(60, 60, 1.0, fall=0.02, side=0.02))


def test_wet_season_readings_make_a_design_level() -> None:
    (hole,), _ = judge(reading("2025-03-22", 0.28), reading("2025-04-09", 0.20), reading("2025-05-12", 0.38))
    assert hole.bound is Bound.LEVEL
    assert hole.depth == pytest.approx(0.24), "a quarter of the readings stand above it"
    assert hole.error == pytest.approx(0.10 / 3**0.5)
    assert (hole.highest, hole.highest_day, len(hole.days)) == (0.20, date(2025, 4, 9), 3)
    assert hole_said(hole, Units.METRIC).replace(NO_BREAK, " ") == (
        "Hole: 3 wet-season readings, highest water 20 cm down on 2025-04-09, rain: an inch the day before."
    )


def test_one_reading_is_less_sure_and_the_user_is_told() -> None:
    (hole,), _ = judge(reading("2025-04-09", 0.20))
    assert hole.error == pytest.approx(0.10)
    assert "once" in notes(said_of(hole), Units.METRIC)[0]


def test_one_dry_reading_in_august_is_no_design_level() -> None:
    (hole,), _ = judge(reading("2025-08-18", 0.90))
    assert hole.bound is Bound.NO_DEEPER
    assert "no design level" in notes(said_of(hole), Units.METRIC)[0]
    found, silent = judge(reading("2025-08-18", None))
    assert (found, silent) == ((), ("Hole",))
    assert "says nothing" in notes(said_of(silent=silent), Units.METRIC)[0]


def test_august_does_not_lower_the_table_that_the_terrain_gives() -> None:
    site = field()
    without, august = wet_table(site), wet_table(site, reading("2025-08-18", 0.95), reading("2025-08-30", None))
    assert august.is_estimated
    assert np.nanmax(august.water_table_depth - without.water_table_depth) < 0.03


def test_august_is_wet_season_south_of_the_equator() -> None:
    (hole,), _ = judge(reading("2025-08-18", 0.30), latitude=-42.0)
    assert hole.bound is Bound.LEVEL
    (hole,), _ = judge(reading("2025-02-18", 0.30), latitude=-42.0)
    assert hole.bound is Bound.NO_DEEPER


def test_gray_stands_for_the_wet_season_less_twenty_centimetres() -> None:
    # Humphrey & O'Driscoll (2011): the true table stood on average 18 cm above the first gray at most sites.
    (hole,), _ = judge(reading("2025-08-18", None, gray=0.50))
    assert hole.bound is Bound.LEVEL
    assert hole.depth == pytest.approx(0.30)
    assert hole.error == 0.22
    assert "colour" in notes(said_of(hole), Units.METRIC)[0]


def test_gray_and_readings_are_weighed_by_their_errors() -> None:
    (hole,), _ = judge(reading("2025-04-09", 0.20, gray=0.80))
    weights = np.array([1 / 0.10**2, 1 / 0.22**2])
    assert hole.depth == pytest.approx(float(weights @ [0.20, 0.60] / weights.sum()))


def test_a_hole_dry_in_april_says_how_high_the_water_is_at_most() -> None:
    (hole,), _ = judge(reading("2025-04-09", None, bottom=0.90))
    assert (hole.bound, hole.depth) == (Bound.NO_HIGHER, 0.90)


def test_without_holes_the_record_says_that_it_is_an_estimate() -> None:
    found = wet_table(field())
    assert found.is_estimated
    assert "Bore three to six holes" in notes(found, Units.METRIC)[0]
    assert float(np.nanmean(found.error)) > 0.1


def test_holes_pull_the_table_to_what_was_read_and_make_it_surer() -> None:
    site = field()
    readings = [reading(f"2025-0{month}-10", 0.45) for month in (3, 4, 5)]
    found, without = wet_table(site, *readings), wet_table(site)
    row, column = site.grid.cell_at(30.0, 30.0)
    assert not found.is_estimated
    assert found.water_table_depth[row, column] == pytest.approx(0.45, abs=0.06)
    assert abs(found.water_table_depth[row, column] - 0.45) < abs(without.water_table_depth[row, column] - 0.45)
    assert found.error[row, column] < 0.08
    assert found.error[row, column] < found.error[2, 2]
    assert found.holes[0].modelled > 0.0


def test_a_dry_season_reading_caps_the_depth_near_it() -> None:
    site = make_site(plane(60, 60, 1.0, north=0.15))
    deep, capped = wet_table(site), wet_table(site, reading("2025-08-18", 0.05))
    row, column = site.grid.cell_at(30.0, 30.0)
    assert deep.water_table_depth[row, column] > 0.3
    assert capped.water_table_depth[row, column] < deep.water_table_depth[row, column] - 0.1


def test_the_water_is_below_ground_everywhere_and_shallow_in_the_valley() -> None:
    site = field()
    depth = wet_table(site, reading("2025-04-09", 0.4, x=10.0)).water_table_depth
    assert np.nanmin(depth) >= 0.0
    assert float(depth[:, 29:31].mean()) < float(depth[:, 5:15].mean()) - 0.1


def test_a_drawn_ditch_draws_the_water_down_beside_it() -> None:
    level = plane(60, 60, 1.0)
    ditch = draw_thing(1, Kind.DITCH, "Ditch", LineString([(30.0, 0.0), (30.0, 60.0)]), attributes={"depth": "0.8 m"})
    with_ditch = wet_table(make_site(level, features=(ditch,))).water_table_depth
    assert np.nanmax(wet_table(make_site(level)).water_table_depth) < 0.05, "level ground without a drain is soaked"
    across = with_ditch[30]
    assert across[30] == pytest.approx(0.8, abs=0.1)
    assert across[30] > across[33] > across[40] > across[50] - 1e-6


def test_open_water_holds_the_table_at_its_level() -> None:
    ground: FloatArray = plane(60, 60, 1.0, north=0.1)
    pond = draw_thing(1, Kind.WATER, "Pond", box(20.0, 20.0, 40.0, 24.0))
    depth = wet_table(make_site(ground, features=(pond,))).water_table_depth
    assert depth[39, 30] == pytest.approx(0.0, abs=0.1)
    assert depth[39, 5] > 0.2, "beside the pond the slope is drier than that"


def test_a_cell_of_unknown_height_has_no_depth() -> None:
    ground = plane(40, 40, 1.0, north=0.03)
    ground[5, 5] = np.nan
    found = wet_table(make_site(ground))
    assert np.isnan(found.water_table_depth[5, 5])
    assert np.isfinite(found.water_table_depth).sum() == 40 * 40 - 1


def test_the_same_site_gives_the_same_bytes() -> None:
    site, read = field(), reading("2025-04-09", 0.3)
    assert wet_table(site, read).water_table_depth.tobytes() == wet_table(site, read).water_table_depth.tobytes()


def test_the_users_own_conductivity_counts() -> None:
    slow = make_settings({"water_table": {"conductivity": 0.05}}, "test")
    fast = make_settings({"water_table": {"conductivity": 20.0}}, "test")
    site = make_site(plane(60, 60, 1.0, north=0.05))
    assert soil_conductivity(slow) == 0.05
    dry, soaked = (float(np.nanmean(wet_table(site, settings=one).water_table_depth)) for one in (fast, slow))
    assert dry > soaked + 0.2


def test_blocks_of_a_plane_unfold_to_the_plane() -> None:
    y, x = np.mgrid[0:40, 0:40]
    ground = 0.2 * x + 0.1 * y
    mean, least = fold_blocks(ground, 4)
    assert np.allclose(unfold_blocks(mean, 4, (40, 40))[2:-2, 2:-2], ground[2:-2, 2:-2])
    assert (least <= mean).all()


def test_where_two_holes_disagree_the_wetter_is_kept_and_it_is_said() -> None:
    """10 and 90 cm, two metres apart: no smooth map meets both; it meets the wetter within its error."""
    site = field()
    wet = [reading(f"2025-0{month}-10", 0.10, "Wet", 30.0) for month in (3, 4, 5)]
    dry = [reading(f"2025-0{month}-10", 0.90, "Dry", 32.0) for month in (3, 4, 5)]
    found = wet_table(site, *wet, *dry)
    one, other = found.holes
    assert one.mapped <= one.depth + one.error + 1e-9
    assert other.is_departed
    assert other.mapped < other.depth
    told = [note for note in notes(found, Units.METRIC) if "the map has water" in note]
    assert len(told) == 1
    assert told[0].startswith("At Dry the map")


def test_a_map_that_meets_its_holes_says_nothing_of_them() -> None:
    found = wet_table(field(), *(reading(f"2025-0{month}-10", 0.45) for month in (3, 4, 5)))
    assert not found.holes[0].is_departed
    assert notes(found, Units.METRIC) == ()
