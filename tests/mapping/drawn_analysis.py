"""A whole analysis set down by hand, so that the page can be drawn and tested without the other rooms."""

# ruff: noqa: E501 (a drawing set down as tables reads better in long lines)

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache
from typing import Any
from unittest import mock

import numpy as np
from shapely import LineString, Point, Polygon, box
from shapely.affinity import rotate, scale, translate

from sitepipe.analysis import Analysis, analyse_site
from sitepipe.arrays import FloatArray, frozen
from sitepipe.grid import Grid
from sitepipe.planting.record import BedPlan, PlantChoice, Planting, Reason, Unknown
from sitepipe.settings import Settings
from sitepipe.site import Feature, Found, Ground, Kind, Ref, Site, Status, Work
from sitepipe.units import INCH, Units
from sitepipe.works.built import Side, Stake
from sitepipe.works.houses.record import (
    Fault,
    FaultKind,
    HoopHouse,
    HouseCriterion,
    PlaceScore,
    Refusal,
    RidgeReason,
    RoofWater,
    WaterEnd,
)
from sitepipe.works.jobs.record import Job, Quantity, Task, YearOfWork
from sitepipe.works.mounds.record import Because, Mound, MoundChoice, MoundHeight
from sitepipe.works.record import Plan
from sitepipe.works.rows.record import Trellis
from sitepipe.works.water.record import BoundaryChange, Impact
from sitepipe.works.ways.record import Path, TippingPlace
from tests.sites import draw_thing

WEST, SOUTH, SIZE, CELL = 431_000.0, 4_702_000.0, 110.0, 0.5
PARCEL = Polygon([(20.0, 20.0), (90.0, 20.8), (89.2, 85.5), (20.8, 89.0)])
HOLLOWS = (
    # (x, y, half length, half width, degrees, depth)
    (73.5, 26.5, 6.6, 5.2, -35.0, 0.20),
    (53.0, 44.5, 5.2, 2.6, -15.0, 0.09),
    (81.0, 51.5, 2.9, 3.8, 0.0, 0.06),
)


def shifted(geometry: Any) -> Any:
    """Move a shape from the drawing's corner to where the site lies."""
    return translate(geometry, WEST, SOUTH)


def _ellipse(x: float, y: float, long: float, short: float, degrees: float, factor: float = 1.0) -> Polygon:
    circle = Point(0.0, 0.0).buffer(1.0, quad_segs=24)
    return translate(rotate(scale(circle, long * factor, short * factor), degrees, origin=(0, 0)), x, y)


def _distance(x: FloatArray, y: FloatArray, hollow: tuple[float, ...]) -> FloatArray:
    middle_x, middle_y, long, short, degrees, _ = hollow
    turn = math.radians(degrees)
    along = (x - middle_x) * math.cos(turn) + (y - middle_y) * math.sin(turn)
    across = (y - middle_y) * math.cos(turn) - (x - middle_x) * math.sin(turn)
    return np.asarray(np.hypot(along / long, across / short))


def _ground(x: FloatArray, y: FloatArray) -> FloatArray:
    height = 100.0 + 0.022 * (y - 20.0) + 0.10 * np.sin(x / 17.0) * np.cos(y / 23.0)
    height -= 0.35 * np.exp(-(((x - 58.0 - 0.25 * (60.0 - y)) / 13.0) ** 2)) * np.exp(-(((y - 38.0) / 26.0) ** 2))
    for hollow in HOLLOWS:
        height -= 1.6 * hollow[5] * np.exp(-(_distance(x, y, hollow) ** 2) / 1.2)
    height += np.clip((19.0 - y) / 1.8, 0.0, 1.0) * 0.75 * (np.abs(x - 55.0) > 0.0)
    return np.asarray(height)


def _features(names: dict[str, str]) -> tuple[Feature, ...]:
    house = Polygon(
        [(27.8, 75.4), (40.4, 74.0), (39.6, 67.2), (40.6, 67.0), (39.9, 61.8), (34.2, 62.5), (34.8, 67.1), (27.0, 68.0)]
    )
    shed = rotate(box(48.2, 74.2, 53.2, 77.6), 8.0)
    drawn: list[tuple[Kind, str, object, float | None, float | None, dict[str, str | float | bool]]] = [
        (Kind.PARCEL, "parcel", PARCEL, None, None, {}),
        (Kind.BUILDING, "House", house, 6.5, None, {}),
        (Kind.BUILDING, "Shed", shed, 2.6, None, {}),
        (Kind.TREE, "Plum", Point(64.5, 81.5), 6.0, 8.4, {}),
        (Kind.TREE, "Maple", Point(77.5, 72.0), 12.0, 12.6, {"height_guessed": True}),
        *[
            (Kind.TREE, name, Point(x, y), 9.0, w, {})
            for name, x, y, w in (
                ("Alder", 84.0, 58.5, 7.0),
                ("Alder", 84.8, 51.3, 6.2),
                ("Alder", 86.5, 44.4, 5.8),
                ("Alder", 86.8, 34.0, 6.4),
                ("Alder", 84.9, 27.2, 7.2),
                ("Apple", 26.2, 41.2, 5.6),
                ("Apple", 25.8, 33.0, 5.2),
                ("Ash", 57.2, 17.0, 5.4),
                ("Ash", 81.0, 17.0, 6.2),
            )
        ],
        (Kind.HEDGE, "Hedge", LineString([(21.6, 83.5), (20.9, 55.0), (20.6, 24.0)]), 2.0, 1.6, {}),
        (Kind.ROAD, "Road", Polygon([(-20, 15), (130, 15), (130, 9.5), (-20, 9.5)]), None, None, {}),
        (Kind.GATE, "Gate", LineString([(28.6, 20.1), (32.2, 20.15)]), None, None, {}),
        (Kind.TAP, "Tap", Point(42.4, 64.5), None, None, {}),
        (Kind.CULVERT, "Culvert", LineString([(74.0, 21.2), (74.6, 8.6)]), None, 0.3, {}),
        (Kind.SEPTIC, "Septic", Polygon([(46.0, 61.5), (56.3, 60.5), (55.8, 53.6), (45.4, 54.6)]), None, None, {}),
        (
            Kind.BURIED_LINE,
            "Water pipe",
            LineString([(42.3, 63.0), (41.6, 52.5), (39.4, 47.0), (35.2, 42.0)]),
            None,
            None,
            {},
        ),
        (Kind.OBSERVATION, "standing water", Point(73.0, 28.5), None, None, {"what": "standing water", "seen": "wet"}),
        (Kind.OBSERVATION, "standing water", Point(49.8, 44.9), None, None, {"what": "standing water", "seen": "wet"}),
        (Kind.OBSERVATION, "stayed dry", Point(32.0, 52.0), None, None, {"what": "stayed dry", "seen": "dry"}),
    ]
    return tuple(
        draw_thing(number, kind, names.get(name, name), shifted(shape), height, width, extra)
        for number, (kind, name, shape, height, width, extra) in enumerate(drawn, start=1)
    )


def _stakes(number: int, crest: LineString) -> tuple[Stake, ...]:
    gate, corner = Point(32.2, 20.15), Point(27.0, 68.0)
    return tuple(
        Stake(f"{letter}{number}", shifted(Point(end)),
              (("east gate post", gate.distance(Point(end))), ("house corner", corner.distance(Point(end)))), Side.RIGHT, 64.0, 0.62, 2 * number + k)
        for k, (letter, end) in enumerate(zip("AB", crest.coords, strict=True))
    )  # fmt: skip


def _house(rank: int, outline: Polygon, score: float) -> HoopHouse:
    fared = (
        PlaceScore(HouseCriterion.DRY, 0.7, 0.6),
        PlaceScore(HouseCriterion.SHOULDER_SUN, 0.9, 11.0),
        PlaceScore(HouseCriterion.DIRECTION, 1.0, 86.5),
    )
    water = RoofWater(WaterEnd.HOLLOW, 6.0, Ref(Found.HOLLOW, 2))
    door = Point(outline.exterior.coords[0])
    return HoopHouse(
        rank,
        outline,
        86.5,
        12.0,
        6.4,
        score,
        fared,
        1.8,
        water,
        ((0.025, 1.8),),
        door,
        RidgeReason.LOW_WINTER_SUN,
        status=Status.PROPOSED if rank == 1 else Status.ANOTHER,
    )


def _plan(names: dict[str, str]) -> Plan:
    mounds = []
    for number in range(1, 6):
        x = 36.5 + 4.35 * (number - 1)
        crest = LineString([(x + 1.1, 28.2), (x - 0.3, 34.8)])
        finished = (18 + number // 2) * INCH
        built = finished / 0.7
        height = MoundHeight(18 * INCH, 6 * INCH, 6 * INCH, 2 * INCH, finished, built, 0.3, 0.9, 4 * INCH, 2 * INCH)
        mounds.append(
            Mound(number, shifted(crest), shifted(crest.buffer(1.45)), names.get("crop", "hazels and strawberries"),
                  "woody core", height, 0.6, 2.9, 12.0,
                  (("logs and brush", 4.6), ("chips and leaves", 3.8), ("soil", 3.6)), 170, 14.0,
                  stakes=_stakes(number, crest))
        )  # fmt: skip
    house = rotate(box(59.0, 50.6, 71.0, 57.0), -3.5)
    row = LineString([(35.2, 38.8), (56.6, 38.2)])
    way = LineString([(31.4, 41.6), (45, 40.6), (56.6, 39.6), (60.2, 43.5), (61.2, 50.6)])
    jobs = (
        Job(Task.ASK, shifted(Point(54.5, 42.8)), 1, 0.2, number=1),
        Job(Task.STAKE, shifted(Point(45.2, 31.5)), 2, 1.4, least_people=2, digs=True, number=2, after=(1,)),
        Job(Task.LAY_PATHS, shifted(Point(32.6, 41.5)), 3, 6.0, (Ref(Work.PATH, 1),), number=3, after=(2,)),
        Job(Task.BUILD_MOUND, shifted(Point(68.2, 29.8)), 2, 2.0, (Ref(Work.MOUND, 3),), digs=True, is_soft=True,
            number=4, after=(2, 3)),
        Job(Task.LOOK_AGAIN, shifted(Point(80.2, 51.0)), 1, 0.1, months=(3, 4), number=5),
    )  # fmt: skip
    change = BoundaryChange(180.0, shifted(Point(74, 20.6)), 41.0, 41.2, 0.02, 0.02, 900.0, 905.0, 0.01, 0.01, False)
    return Plan(
        mounds=tuple(mounds),
        hoop_houses=(_house(1, shifted(house), 0.78),),
        other_hoop_houses=(_house(2, shifted(translate(house, -24, 20)), 0.55),),
        hoop_house_refusals=(Refusal(shifted(Point(70, 30)), 7.5, (Fault(FaultKind.HOLLOW, Ref(Found.HOLLOW, 1)),)),),
        trellises=(Trellis(1, shifted(row), 1.8, 91.0, Ref(Work.MOUND, 2), 0.75, 10, ((6, 1.0, 2.0),), 0.1, 0.2, 1.9,
                           False),),
        paths=(Path(1, shifted(way), shifted(way.buffer(0.6, cap_style="flat")), (Ref(Kind.ROAD, 16), Ref(Work.HOOP_HOUSE, 1)), 1.2, True,
                    (), 7.2, 0.0, 50.0, 46.0, 46.0),),
        tipping_places=(TippingPlace(1, shifted(Point(30.5, 25.0)), shifted(box(29, 23.5, 32, 26.5)), 310.0,
                                     Ref(Kind.GATE, 17), 30.0, 4.0, can_turn=True),),
        impact=Impact(150.0, 151.0, 0.2, 0.2, 0.1, (change,), (), (), tuple(mound.ref for mound in mounds)),
        quantities=(Quantity("logs and brush", 23.0, 3.0, 320, 23.0, 0.0),
                    Quantity("chips and leaves", 26.0, 2.5, 360, 26.0, 0.0),
                    Quantity("soil", 18.0, 2.0, 250, 6.0, 12.0)),
        years=(YearOfWork(1, (1,), (), 2.0, 12.0, ((1, 0.45),)), YearOfWork(2, (2, 3, 4, 5), (1,), 6.0, 48.0, ())),
        jobs=jobs,
        mound_choice=MoundChoice(10.0, 15.0, 24.0, Because.HOLDS_BACK),
        bench_mark="top of the culvert's mouth",
    )  # fmt: skip


def _planting(names: dict[str, str]) -> Planting:
    def choice(common: str, latin: str, count: int, caution: str = "") -> PlantChoice:
        return PlantChoice(latin, names.get(common, common), 0.8, ("fruit",), count, 1.8, "shrub",
                           reasons=(Reason.BEARS_SATURATED_GROUND,), unknowns=(Unknown.SPREAD,), caution=caution,
                           is_chosen=count > 0)  # fmt: skip

    beds = [
        BedPlan(Ref(Work.MOUND, n), (choice("Hazel", "Corylus americana", 4), choice("Strawberry", "Fragaria virginiana", 60)),
                year=1)
        for n in range(1, 6)
    ]  # fmt: skip
    beds += [
        BedPlan(Ref(Found.ZONE, n), (choice("Elder", "Sambucus canadensis", 12, "cooked only"),)) for n in (1, 2, 3)
    ]
    return Planting(tuple(beds))


def make_analysis(
    names: dict[str, str] | None = None, site_name: str = "Rushy Bottom", units: Units = Units.IMPERIAL
) -> Analysis:
    """Return the analysis; ``names`` replaces names of features, crops and plants."""
    names = names or {}
    drawn = _worked_out(tuple(names.items()), site_name, units)
    return replace(drawn, plan=_plan(names), planting=_planting(names))


@cache
def _worked_out(names: tuple[tuple[str, str], ...], site_name: str, units: Units) -> Analysis:
    """Take the drawn ground through the pipeline as a run does, but for works and plants: these are set down by hand."""
    count = int(SIZE / CELL)
    grid = Grid(WEST, SOUTH + SIZE, CELL, count, count, "LOCAL")
    x, y = np.meshgrid(grid.x - WEST, grid.y - SOUTH)
    elevation = _ground(x, y)
    elevation[(x <= 6) | (x >= 104) | (y <= 6) | (y >= 104)] = np.nan
    site = Site(
        site_name, grid, frozen(elevation), frozen(np.zeros(grid.shape)), frozen(np.full(grid.shape, 0.012)),
        shifted(PARCEL), _features(dict(names)), Ground("levelled by hand", CELL, 0.012, 5.0, "the levelling loop"),
        42.4713, -73.2891, open_edge=True, assumptions=("The growing season is taken from the latitude.",),
        warnings=("More water comes from outside the heights on the west side.",),
    )  # fmt: skip
    with (
        mock.patch("sitepipe.analysis.plan_works", return_value=Plan()),
        mock.patch("sitepipe.analysis.choose_plants", return_value=Planting(())),
    ):
        return analyse_site(site, Settings(name=site_name[:200] or "Site", units=units))
