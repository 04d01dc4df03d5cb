"""What digs or loads keeps its distance from what it can hurt, and where it comes near it says so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from shapely import LineString, Point, Polygon, box, union_all

from sitepipe.settings import Settings
from sitepipe.site import Feature, Kind, Ref, Site, Work
from sitepipe.sunlight.stage import site_scene
from sitepipe.units import FOOT
from sitepipe.works.hazards import SLACK, SWALE, Act, Part, distances, hazards_of, kept_clear
from sitepipe.works.houses.house import choose_hoop_houses
from sitepipe.works.rows.trellis import lay_trellises
from sitepipe.works.ways.network import join_all
from sitepipe.works.ways.paths import dig_in, paths_of
from sitepipe.works.ways.record import Path
from sitepipe.works.ways.tipping import choose_tipping_places
from tests.sites import draw_thing, make_site, plane
from tests.works.grounds import PLAIN, house_on, known, mound, place_at, row_on

GATE = draw_thing(1, Kind.GATE, "Gate", Point(6.0, 12.0))


def a_site(*features: Feature, east: float = 0.0) -> Site:
    return make_site(plane(60, 60, 1.0, east=east), 1.0, (GATE, *features))


def pipe(*places: tuple[float, float]) -> Feature:
    return draw_thing(2, Kind.BURIED_LINE, "Pipe", LineString(places))


def path_along(line: LineString, width: float = 0.9) -> Path:
    outline = line.buffer(width / 2.0, cap_style="flat")
    assert isinstance(outline, Polygon)
    return Path(1, line, outline, (None, None), width, True, (), outline.area * 0.18, 0.0, 1.0, 1.0, 1.0)


def test_the_distances_are_those_of_the_trade() -> None:
    """Dig by hand 18 to 24 in either side of marks (811), and a foot for the drawing.

    Crops stay 10 ft off a septic field (extension services); the ground falls away from a house for 10 ft (IRC
    R401.3); compost stays 50 ft from a well (value from memory).
    """
    rules = distances(Settings().keep_clear)
    for act in Act:
        assert rules[Kind.BURIED_LINE][act] >= 2.0 * FOOT + 0.2
        assert rules[Kind.SEPTIC][act] >= 10.0 * FOOT - 1e-9
    assert rules[Kind.BUILDING][Act.TRENCHES] == pytest.approx(10.0 * FOOT)
    assert rules[Kind.WELL][Act.COVERS] == pytest.approx(50.0 * FOOT)


def test_a_post_a_pile_and_a_trench_beside_a_pipe_are_told_with_their_distances() -> None:
    """The pipe runs 1 m beside each: measured by hand."""
    site = a_site(pipe((10.0, 30.0), (50.0, 30.0)))
    house = house_on(box(20.0, 31.0, 29.0, 35.2), raised=0.2)
    pile = place_at(40.0, 28.0, radius=1.0)
    row = row_on(LineString([(12.0, 28.6), (18.0, 28.6)]))
    found = {(h.work.kind, h.part): h for h in hazards_of(site, (house, pile, row), PLAIN) if h.thing.number == 2}
    assert found[Work.HOOP_HOUSE, Part.POST].distance == pytest.approx(1.0)
    assert found[Work.HOOP_HOUSE, Part.POST].is_kept
    assert found[Work.HOOP_HOUSE, Part.SWALE].distance == pytest.approx(1.0 - SWALE)
    assert not found[Work.HOOP_HOUSE, Part.SWALE].is_kept
    assert found[Work.TIPPING_PLACE, Part.PILE].distance == pytest.approx(1.0)
    assert found[Work.TRELLIS, Part.POST].distance == pytest.approx(1.4)
    assert found[Work.TRELLIS, Part.POST].place.y == pytest.approx(28.6)


def test_a_stake_that_is_driven_near_a_pipe_is_told_by_its_label() -> None:
    from sitepipe.works.built import Side, Stake

    site = a_site(pipe((10.0, 30.0), (50.0, 30.0)))
    near = Stake("A1", Point(20.0, 30.3), (("Gate", 1.0), ("Gate", 1.0)), Side.LEFT, 90.0, 0.0)
    far = replace(near, label="A2", place=Point(20.0, 33.0))
    (told,) = hazards_of(site, (mound(1, 20.0, 40.0, 30.0, 40.0, stakes=(near, far)),), PLAIN)
    assert (told.label, told.part, told.thing) == ("A1", Part.STAKE, Ref(Kind.BURIED_LINE, 2))
    assert not told.is_kept


def test_a_path_is_dug_only_where_it_keeps_its_distance() -> None:
    site = a_site(pipe((30.0, 10.0), (30.0, 50.0)))
    path = path_along(LineString([(20.0, 30.0), (40.0, 30.0)]))
    dug = dig_in(path, site, PLAIN)
    assert dug.outline.distance(site.features[1].geometry) == pytest.approx(1.35, abs=SLACK)
    assert dug.grass_length == pytest.approx(1.8 + path.width, abs=2 * SLACK)
    assert dug.left_as_grass == (Ref(Kind.BURIED_LINE, 2),)
    assert dug.chips == pytest.approx(path.chips * 17.3 / 20.0, rel=1e-3)
    assert all(hazard.is_kept for hazard in hazards_of(site, (dug,), PLAIN))
    beside = dig_in(path_along(LineString([(29.0, 15.0), (29.0, 45.0)])), site, PLAIN)
    assert beside.outline.is_empty, "7 in deep beside the whole pipe: nothing of it may be dug"


def test_a_path_on_a_slope_is_not_cut_into_beside_a_pipe_or_roots() -> None:
    oak = draw_thing(3, Kind.TREE, "Oak", Point(20.0, 45.0), 10.0, 8.0)
    site = a_site(pipe((8.0, 30.0), (40.0, 30.0)), oak, east=0.10)
    land = known(site)
    paths = paths_of(join_all(land, (mound(1, 20.0, 52.0, 26.0, 52.0),)), land)
    cut = union_all([path.cut_ground for path in paths])
    assert sum(path.cut for path in paths) > 0.0
    assert not cut.is_empty
    assert cut.distance(site.features[1].geometry) >= 0.9 - SLACK
    assert cut.distance(Point(20.0, 45.0)) >= 4.0 - SLACK


places = st.tuples(st.floats(8.0, 52.0), st.floats(8.0, 52.0))


@settings(max_examples=8, deadline=None, phases=[Phase.explicit, Phase.generate])
@given(
    places,
    places,
    st.lists(st.tuples(places, st.sampled_from([Kind.TREE, Kind.WELL, Kind.SEPTIC, Kind.WALL])), max_size=3),
    st.integers(0, 3),
)
def test_nothing_on_an_invented_site_is_dug_or_laid_nearer_than_its_rule_without_a_word(
    start: tuple[float, float],
    end: tuple[float, float],
    things: list[tuple[tuple[float, float], Kind]],
    seed: int,
) -> None:
    """Every work of its own search keeps every rule on its own; what is told as not kept is a fault of the search."""
    drawn = [pipe(start, (end[0], end[1] + 0.5))]
    for number, ((x, y), kind) in enumerate(things, 3):
        shape = {
            Kind.SEPTIC: box(x - 3.0, y - 2.0, x + 3.0, y + 2.0),
            Kind.WALL: LineString([(x - 4.0, y), (x + 4.0, y)]),
        }.get(kind, Point(x, y))
        drawn.append(draw_thing(number, kind, f"Thing {number}", shape, 6.0 if kind is Kind.TREE else None))
    site = a_site(*drawn, east=0.04)
    land = known(site, wetness=np.random.default_rng(seed).uniform(0.0, 0.6, site.grid.shape))
    houses, _ = choose_hoop_houses(land, ())
    paths = paths_of(join_all(land, (mound(1, 30.0, 25.0, 30.0, 32.0), *houses[:1])), land)
    dug = [dig_in(path, site, PLAIN) for path in paths]
    rows = lay_trellises(land, (mound(1, 30.0, 25.0, 30.0, 32.0), *houses[:1]), (), site_scene(site, PLAIN))
    piles = choose_tipping_places(land)
    for hazard in hazards_of(site, (*houses, *paths, *dug, *rows, *piles), PLAIN):
        assert hazard.is_kept, hazard


def test_ground_kept_clear_is_as_wide_as_its_rule_says() -> None:
    site = a_site(pipe((10.0, 30.0), (50.0, 30.0)))
    (zone,) = (zone for zone in kept_clear(site, Act.TRENCHES, PLAIN) if zone.thing.number == 2)
    assert zone.ground.covers(Point(30.0, 30.89))
    assert not zone.ground.covers(Point(30.0, 30.91))
