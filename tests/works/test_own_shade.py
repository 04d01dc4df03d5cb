"""What the plan takes from itself is counted, said in numbers, and moves a house or a row that costs too much."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shapely import LineString
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from sitepipe.sunlight.shade import bed_hours_lost
from sitepipe.sunlight.stage import Scene, site_scene
from sitepipe.works.houses.ground import SHOULDER_MONTHS
from sitepipe.works.houses.search import rectangle
from sitepipe.works.land import Land
from sitepipe.works.own_shade import (
    CLEARLY,
    between,
    lost_by_mounds,
    say_costs,
    settle_rows,
    shade_costs,
    spare_the_beds,
)
from sitepipe.works.record import HoopHouse, ShadeCost, Trellis
from tests.sites import make_site, plane
from tests.works.grounds import PLAIN, known, mound

BED = mound(1, 22.0, 30.0, 38.0, 30.0, base=1.5)
SOLID = PLAIN.model_copy(update={"hoop_house": PLAIN.hoop_house.model_copy(update={"film": 0.0})})


def ground() -> tuple[Land, Scene]:
    found = known(make_site(plane(60, 60, 1.0), 1.0))
    return found, site_scene(found.site, PLAIN)


def house_at(y: float, rank: int = 1, score: float = 0.8) -> HoopHouse:
    why = (
        "Best balance of all places and directions tried. Dry."
        if rank == 1
        else "Behind place 1 mainly in access. Dry."
    )
    return HoopHouse(rank, rectangle(30.0, y, 90.0, 16.0, 4.0), 90.0, 16.0, 4.0, score, (), 1.0, "", why)


def row_at(y: float, number: int = 1) -> Trellis:
    return Trellis(number, LineString([(24.0, y), (36.0, y)]), 2.0, 90.0, 1.0, 6, (), "", clear_distance=3.0)


def test_every_pair_is_counted_in_the_months_of_the_one_that_loses() -> None:
    found, scene = ground()
    house, row = house_at(36.0), row_at(33.0)
    costs = {(c.work, c.by): c for c in shade_costs(found, (BED,), house, (row,), scene)}
    assert set(costs) == {
        ("mound 1", "trellis 1"),
        ("mound 1", "the hoop house"),
        ("the hoop house", "trellis 1"),
        ("trellis 1", "the hoop house"),
    }
    in_house = costs["the hoop house", "trellis 1"]
    assert in_house.months == SHOULDER_MONTHS
    assert costs["mound 1", "trellis 1"].months == found.sunlight.season_months
    months = bed_hours_lost(found.site, PLAIN, row.line, row.height, [house.outline], PLAIN.trellis.let_through, scene)
    fine = float(np.mean([months[month - 1][1] for month in SHOULDER_MONTHS]))
    assert in_house.hours == pytest.approx(fine, rel=0.15)
    assert lost_by_mounds((BED,), tuple(costs.values())) == (
        (1, costs["mound 1", "trellis 1"].hours + costs["mound 1", "the hoop house"].hours),
    )


def test_what_stands_far_off_is_not_asked() -> None:
    found, scene = ground()
    far = replace(house_at(30.0), outline=translate(house_at(30.0).outline, 0.0, 20.0))
    assert shade_costs(found, (BED,), far, (), scene) == ()


def test_the_costs_are_said_the_most_first_in_hours_and_minutes() -> None:
    costs = (
        ShadeCost("mound 2", "trellis 1", (5, 6), 0.3),
        ShadeCost("the hoop house", "trellis 1", SHOULDER_MONTHS, 1.5),
        ShadeCost("mound 3", "trellis 1", (5, 6), 0.01),
    )
    said = say_costs(costs).replace("\u00a0", " ")
    assert "the hoop house loses 1½ hours of sun in spring and autumn to trellis 1; mound 2 loses 18 minutes" in said
    assert "mound 3" not in said
    assert "next to no sun" in say_costs(())


def test_a_house_before_the_beds_gives_way_to_one_that_is_nearly_as_good() -> None:
    found, scene = ground()
    near, far = house_at(26.5, 1, 0.80), house_at(52.0, 2, 0.79)
    first, second = spare_the_beds(replace(found, settings=SOLID), (BED,), (near, far), scene)
    assert (first.outline, first.rank) == (far.outline, 1)
    assert (second.outline, second.rank) == (near.outline, 2)
    assert first.why.startswith("Comes before a place that is better by itself but takes")
    assert first.why.endswith(" Dry.")
    assert second.why.startswith("Scores best by itself, but takes")


def test_a_much_better_house_stays_where_it_is() -> None:
    found, scene = ground()
    pair = (house_at(26.5, 1, 0.95), house_at(52.0, 2, 0.40))
    assert spare_the_beds(replace(found, settings=SOLID), (BED,), pair, scene) == pair
    even = (house_at(52.0, 1, 0.8), house_at(12.0, 2, 0.8 + 0.5 * CLEARLY))
    assert spare_the_beds(replace(found, settings=SOLID), (BED,), even, scene) == even, "a hair is not clearly better"
    assert spare_the_beds(replace(found, settings=SOLID), (), pair, scene) == pair


def test_rows_that_shade_the_house_are_laid_again_clear_of_it() -> None:
    found, scene = ground()
    house = house_at(36.0)
    asked: list[tuple[BaseGeometry, ...]] = []

    def lay(*kept_off: BaseGeometry) -> tuple[Trellis, ...]:
        asked.append(kept_off)
        return (row_at(14.0),) if kept_off else (row_at(33.0),)

    def costs_of(rows: tuple[Trellis, ...]) -> tuple[ShadeCost, ...]:
        return shade_costs(found, (), house, rows, scene)

    rows, costs = settle_rows(lay, costs_of, house)
    assert rows == (row_at(14.0),)
    assert between(costs) < 0.1
    assert len(asked) == 2
    assert asked[1][0].distance(row_at(33.0).line) == 0.0
    assert asked[1][0].contains(house.outline)
    stays, kept_costs = settle_rows(lambda *_: (row_at(33.0),), costs_of, house)
    assert stays == (row_at(33.0),), "there is no better place"
    assert between(kept_costs) > 0.25
    fewer, _ = settle_rows(lambda *off: () if off else (row_at(33.0),), costs_of, house)
    assert fewer == (row_at(33.0),), "no row is given up for it"
    assert settle_rows(lambda *_: (row_at(33.0),), lambda _: (), None) == ((row_at(33.0),), ())
