"""Paths and tipping place settled together, and the plan's own shadows."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString, box

from sitepipe.answers.rows import own_shade as say_own_shade
from sitepipe.site import Feature, Kind, Ref, Site, Work
from sitepipe.sunlight.stage import site_scene
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.houses.search import rectangle
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.own_shade import lost_by_mounds, shade_costs
from sitepipe.works.rows.record import Trellis
from sitepipe.works.ways.access import Access, settle_access
from sitepipe.works.ways.record import NoTipping, TippingPlace
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import PLAIN, house_on, known, mound, place_at, row_on

GATE = draw_thing(1, Kind.GATE, "Gate", LineString([(28.0, 6.0), (32.0, 6.0)]))
DRIVE = draw_thing(2, Kind.ROAD, "Drive", LineString([(30.0, 0.0), (30.0, 40.0)]), None, 3.0)


def a_site(*features: Feature) -> Site:
    return make_site(plane(60, 60, 1.0), 1.0, (GATE, *features))


def a_place(rank: int, x: float, y: float, work: float) -> TippingPlace:
    return place_at(x, y, rank, work)


def settle(found: Land, mounds: tuple[Mound, ...], places: tuple[TippingPlace, ...]) -> Access:
    return settle_access(found, mounds, places)


def test_the_place_with_the_least_work_along_the_paths_comes_first() -> None:
    near, far = a_place(2, 33.8, 36.0, 90.0), a_place(1, 33.8, 12.0, 80.0)
    access = settle(known(a_site(DRIVE)), (mound(1, 45.0, 34.0, 45.0, 40.0),), (far, near))
    assert [place.place.y for place in access.places] == [36.0, 12.0]
    assert [place.number for place in access.places] == [1, 2]
    assert access.places[0].barrow_work < access.places[1].barrow_work
    assert access.ways[1] == pytest.approx(access.places[0].mean_haul)


def test_the_way_to_a_mound_runs_along_the_drive_and_the_path() -> None:
    """Worked by hand: from beside the pile to the drive, 24 m up the drive, about 12 m of path."""
    access = settle(known(a_site(DRIVE)), (mound(1, 45.0, 34.0, 45.0, 40.0),), (a_place(1, 33.8, 12.0, 80.0),))
    assert 28.0 < access.ways[1] < 42.0


def test_without_a_place_the_paths_are_laid_and_the_reason_is_said() -> None:
    narrow = draw_thing(1, Kind.GATE, "Wicket", LineString([(29.5, 6.0), (30.5, 6.0)]))
    site = make_site(plane(60, 60, 1.0), 1.0, (narrow,))
    access = settle(known(site), (mound(1, 45.0, 34.0, 45.0, 40.0),), ())
    assert access.places == ()
    assert len(access.paths) == 1
    assert access.no_tipping is NoTipping.NARROW_GATE


def test_what_no_path_reaches_is_named() -> None:
    ring = box(40.0, 40.0, 52.0, 52.0)
    wall = draw_thing(3, Kind.WALL, "Wall", LineString(ring.exterior.coords), 1.5, 1.2)
    access = settle(known(a_site(wall)), (mound(1, 46.0, 44.0, 46.0, 48.0),), ())
    assert access.unreached == (Ref(Work.MOUND, 1),)


def own_shade(
    land: Land, mounds: tuple[Mound, ...], house: HoopHouse | None, rows: tuple[Trellis, ...]
) -> tuple[tuple[tuple[int, float], ...], str]:
    costs = shade_costs(
        land, (*mounds, *([] if house is None else [house]), *rows), site_scene(land.site, land.settings)
    )
    return lost_by_mounds(mounds, costs), say_own_shade(costs)


def a_row(y: float) -> Trellis:
    return row_on(LineString([(20.0, y), (40.0, y)]))


def test_a_row_close_in_the_south_takes_sun_from_a_mound_and_is_named() -> None:
    found = known(a_site())
    bed = mound(1, 22.0, 30.0, 38.0, 30.0, base=1.0)
    lost, said = own_shade(found, (bed,), None, (a_row(29.0),))
    assert lost[0][0] == 1
    assert lost[0][1] > 0.5
    assert "mound 1 loses" in said
    assert "in the growing season to trellis 1;" in said


def test_a_shadow_that_does_not_matter_is_not_said() -> None:
    found = known(a_site())
    bed = mound(1, 22.0, 30.0, 38.0, 30.0, base=1.0)
    lost, said = own_shade(found, (bed,), None, (a_row(45.0),))
    assert sum(hours for _, hours in lost) == 0.0
    assert "next to no sun from itself" in said


def test_film_takes_its_share_of_what_a_solid_house_would() -> None:
    found = known(a_site())
    bed = mound(1, 22.0, 30.0, 38.0, 30.0, base=1.0)
    house = house_on(rectangle(30.0, 26.0, 90.0, 16.0, 4.0))
    film, _ = own_shade(found, (bed,), house, ())
    solid_settings = PLAIN.model_copy(update={"hoop_house": PLAIN.hoop_house.model_copy(update={"film": 0.0})})
    solid, _ = own_shade(replace(found, settings=solid_settings), (bed,), house, ())
    assert film[0][1] == pytest.approx(0.3 * solid[0][1])
    assert np.isfinite(film[0][1])
    assert film[0][1] > 0.05


def test_nothing_planned_takes_nothing() -> None:
    found = known(a_site())
    assert own_shade(found, (), None, (a_row(29.0),))[0] == ()
    assert own_shade(found, (mound(1, 22.0, 30.0, 38.0, 30.0),), None, ())[0] == ()
