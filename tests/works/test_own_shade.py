"""What the plan takes from itself is counted, said in numbers, and moves a house or a row that costs too much."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString
from shapely.affinity import translate

from sitepipe.answers.rows import own_shade
from sitepipe.site import Ref, Work
from sitepipe.sunlight.shade import bed_hours_lost
from sitepipe.sunlight.stage import Scene, site_scene
from sitepipe.works.houses.ground import SHOULDER_MONTHS
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.houses.search import rectangle
from sitepipe.works.land import Land
from sitepipe.works.own_shade import CLEARLY, lost_by_mounds, shade_costs, spare_the_beds
from sitepipe.works.record import ShadeCost
from sitepipe.works.rows.record import Trellis
from tests.sites import make_site, plane
from tests.works.grounds import PLAIN, house_on, known, mound, row_on

MOUND, ROW = Ref(Work.MOUND, 1), Ref(Work.TRELLIS, 1)
BED = mound(1, 22.0, 30.0, 38.0, 30.0, base=1.5)
SOLID = PLAIN.model_copy(update={"hoop_house": PLAIN.hoop_house.model_copy(update={"film": 0.0})})


def ground() -> tuple[Land, Scene]:
    found = known(make_site(plane(60, 60, 1.0), 1.0))
    return found, site_scene(found.site, PLAIN)


def house_at(y: float, rank: int = 1, score: float = 0.8) -> HoopHouse:
    return house_on(rectangle(30.0, y, 90.0, 16.0, 4.0), rank, score)


def row_at(y: float) -> Trellis:
    return row_on(LineString([(24.0, y), (36.0, y)]))


def outlines(houses: tuple[HoopHouse, ...]) -> list[object]:
    return [house.outline for house in houses]


def test_every_pair_is_counted_in_the_months_of_the_one_that_loses() -> None:
    found, scene = ground()
    house, row = house_at(36.0), row_at(33.0)
    costs = {(c.work, c.by): c for c in shade_costs(found, (BED, house, row), scene)}
    assert set(costs) == {
        (MOUND, ROW),
        (MOUND, Ref(Work.HOOP_HOUSE, 1)),
        (Ref(Work.HOOP_HOUSE, 1), ROW),
        (ROW, Ref(Work.HOOP_HOUSE, 1)),
    }
    in_house = costs[Ref(Work.HOOP_HOUSE, 1), ROW]
    assert in_house.months == SHOULDER_MONTHS
    assert costs[MOUND, ROW].months == found.sunlight.season_months
    months = bed_hours_lost(found.site, PLAIN, row.line, row.height, [house.outline], PLAIN.trellis.let_through, scene)
    fine = float(np.mean([months[month - 1][1] for month in SHOULDER_MONTHS]))
    assert in_house.hours == pytest.approx(fine, rel=0.15)
    assert lost_by_mounds((BED,), tuple(costs.values())) == (
        (1, costs[MOUND, ROW].hours + costs[MOUND, Ref(Work.HOOP_HOUSE, 1)].hours),
    )


def test_what_stands_far_off_is_not_asked() -> None:
    found, scene = ground()
    far = replace(house_at(30.0), outline=translate(house_at(30.0).outline, 0.0, 20.0))
    assert shade_costs(found, (BED, far), scene) == ()


def test_the_costs_are_said_the_most_first_in_hours_and_minutes() -> None:
    costs = (
        ShadeCost(Ref(Work.MOUND, 2), ROW, (5, 6), 0.3),
        ShadeCost(Ref(Work.HOOP_HOUSE, 1), ROW, SHOULDER_MONTHS, 1.5),
        ShadeCost(Ref(Work.MOUND, 3), ROW, (5, 6), 0.01),
    )
    said = own_shade(costs).replace("\u00a0", " ")
    assert "the hoop house loses 1½ hours of sun in spring and autumn to trellis 1; mound 2 loses 18 minutes" in said
    assert "mound 3" not in said
    assert "next to no sun" in own_shade(())


def test_a_house_before_the_beds_gives_way_to_one_that_is_nearly_as_good() -> None:
    found, scene = ground()
    near, far = house_at(26.5, 1, 0.80), house_at(52.0, 2, 0.79)
    first, second = spare_the_beds(replace(found, settings=SOLID), (BED,), (near, far), scene)
    assert (first.outline, first.number) == (far.outline, 1)
    assert (second.outline, second.number) == (near.outline, 2)
    assert second.beds_lose > first.beds_lose + 0.1


def test_a_much_better_house_stays_where_it_is() -> None:
    found, scene = ground()
    pair = (house_at(26.5, 1, 0.95), house_at(52.0, 2, 0.40))
    assert outlines(spare_the_beds(replace(found, settings=SOLID), (BED,), pair, scene)) == outlines(pair)
    even = (house_at(52.0, 1, 0.8), house_at(12.0, 2, 0.8 + 0.5 * CLEARLY))
    kept = spare_the_beds(replace(found, settings=SOLID), (BED,), even, scene)
    assert outlines(kept) == outlines(even), "a hair is not clearly better"
    assert spare_the_beds(replace(found, settings=SOLID), (), pair, scene) == pair
