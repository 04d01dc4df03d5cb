"""Single plants on the page: as many as are listed, where they are set out, and no more than a page can hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from sitepipe.answers.plants import plants as plants_said
from sitepipe.mapping import plants
from sitepipe.mapping.build import build_view
from sitepipe.mapping.frame import frame_of
from sitepipe.mapping.relief import draw_ground
from sitepipe.mapping.view import Desk
from sitepipe.planting.record import BedPlan, PlantChoice, Planting
from sitepipe.scoring.record import Use
from sitepipe.site import Found, Ref, Work
from tests.mapping.drawn_analysis import make_analysis


def planted_analysis(many: int = 40):  # type: ignore[no-untyped-def]
    """Return the drawn analysis with a zone set out in part and a mound set out whole."""
    analysis = make_analysis()
    zone = next(zone for zone in analysis.zones.zones if zone.use is Use.WET_PLANTING)
    mound = analysis.plan.mounds[0]
    middle = zone.outline.representative_point()
    ground = zone.outline.intersection(box(middle.x - 3, middle.y - 3, middle.x + 3, middle.y + 3))
    spots = [ground.representative_point()] * 3
    elder = PlantChoice("Sambucus canadensis", "elder", 1.0, ("edible",), 3, 1.8, "shrub")
    mint = PlantChoice("Mentha canadensis", "field mint", 1.0, ("edible",), many, 0.4, "herb")
    crest = [mound.crest.interpolate(k / max(many - 1, 1), normalized=True) for k in range(many)]
    beds = (
        BedPlan(Ref(Found.ZONE, zone.number), (elder,), tuple(("elder", spot) for spot in spots), ground, 70, 120.0),
        BedPlan(Ref(Work.MOUND, 1), (mint,), tuple(("field mint", Point(p.x, p.y)) for p in crest), mound.outline),
    )
    return replace(analysis, planting=Planting(beds))


def desk_of(analysis) -> Desk:  # type: ignore[no-untyped-def]
    return Desk(analysis, frame_of(analysis.site), draw_ground(analysis.site))


def test_as_many_plants_are_drawn_as_are_listed_and_where_they_are_set_out() -> None:
    analysis = planted_analysis()
    desk = desk_of(analysis)
    marks = [mark for mark in build_view(desk).marks if mark.mark.startswith("plant")]
    assert [mark.name for mark in marks] == ["3 of elder", "40 of field mint"]
    for mark, bed in zip(marks, analysis.planting.beds, strict=True):
        drawn = np.reshape(mark.at, (-1, 2))
        real = np.array([(p.x - desk.frame.west, p.y - desk.frame.south) for _, p in bed.positions])
        assert np.abs(drawn - real).max() <= 0.0051
        assert len(drawn) == bed.choices[0].count
        assert mark.half == pytest.approx(bed.choices[0].spacing / 2)
    assert [mark.mark for mark in marks] == ["plant-ring", "plant-tuft"]


def test_the_bed_of_a_zone_lies_in_it_and_the_rest_says_how_many_more() -> None:
    analysis = planted_analysis()
    desk = desk_of(analysis)
    marks = build_view(desk).marks
    first = next(k for k, mark in enumerate(marks) if mark.mark == "set-out")
    zone, bed = (
        shapely.union_all([Polygon(np.reshape(rings[0], (-1, 2))) for rings in mark.area])
        for mark in marks[first - 1 : first + 1]
    )
    room = next(mark for mark in marks if mark.mark == "room")
    assert zone.buffer(0.02).covers(bed)
    assert not bed.contains(Point(room.at))
    assert room.name == "room for 70 more"
    assert "has room for about 70 more" in " ".join(plants_said(analysis))


def test_beds_beyond_what_a_page_holds_are_listed_and_not_drawn(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(plants, "MOST_DRAWN", 20)
    marks = [mark for mark in build_view(desk_of(planted_analysis())).marks if mark.mark.startswith("plant")]
    assert [mark.name for mark in marks] == ["3 of elder"]
