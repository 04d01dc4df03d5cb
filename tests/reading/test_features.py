"""A drawn thing is resolved once: its properties, its sizes, and who says so."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import LineString, Point, box

from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.features import feature_of, measured, said_of_heights
from sitepipe.reading.properties import Properties
from sitepipe.settings import DrawnSettings
from sitepipe.site import Ditch, Foliage, Gate, Kind, Leafy, Observation, Origin, Road, Seen, Surface
from sitepipe.units import FOOT, Units
from tests.reading.folders import NORTH, WEST, make_folder, point, polygon, read, write_drawing
from tests.sites import draw_thing

LINE = LineString([(0.0, 0.0), (10.0, 0.0)])


def tree(**properties: Any) -> Leafy:
    made = draw_thing(1, Kind.TREE, "Oak", Point(20, 20), attributes=properties)
    assert isinstance(made, Leafy)
    return made


def test_a_tree_drawn_with_nothing_but_its_place_has_every_size() -> None:
    oak = tree()
    assert (oak.height, oak.height_by) == (8.0, Origin.GUESSED)
    assert oak.width == pytest.approx(0.6 * 8.0)
    assert oak.outline.area == pytest.approx(3.1416 * 2.4**2, rel=0.01)
    assert oak.footprint.area == pytest.approx(3.1416 * 0.5**2, rel=0.01)


@pytest.mark.parametrize(
    ("properties", "foliage"),
    [
        ({}, Foliage.DECIDUOUS),
        ({"leaf": "evergreen"}, Foliage.EVERGREEN),
        ({"evergreen": True}, Foliage.EVERGREEN),
        ({"evergreen": "no"}, Foliage.DECIDUOUS),
        ({"leaf": "Deciduous"}, Foliage.DECIDUOUS),
    ],
)
def test_trees_are_deciduous_unless_drawn_as_evergreen(properties: dict[str, Any], foliage: Foliage) -> None:
    assert tree(**properties).foliage is foliage


@pytest.mark.parametrize(
    ("written", "surface"),
    [
        (None, Surface.PAVED),
        ("Gravel", Surface.GRAVEL),
        ("crushed gravel", Surface.GRAVEL),
        ("gravel, worn", Surface.GRAVEL),
        (" GRASS ", Surface.GRASS),
        ("unpaved", Surface.GRAVEL),
        ("packed_earth", Surface.DIRT),
    ],
)
def test_a_road_has_its_surface_however_it_is_written(written: str | None, surface: Surface) -> None:
    road = draw_thing(1, Kind.ROAD, "Lane", LINE, attributes={"surface": written})
    assert isinstance(road, Road)
    assert road.surface is surface


@pytest.mark.parametrize(("written", "depth"), [(None, 0.0), ("2 ft", 2 * FOOT), (0.5, 0.5), ("18 in", 0.4572)])
def test_the_depth_of_a_ditch_is_a_length_like_every_other(written: object, depth: float) -> None:
    ditch = draw_thing(1, Kind.DITCH, "Ditch", LINE, attributes={"depth": written})
    assert isinstance(ditch, Ditch)
    assert ditch.depth == pytest.approx(depth)


def test_a_depth_may_have_its_unit_in_its_name() -> None:
    ditch = draw_thing(1, Kind.DITCH, "Ditch", LINE, attributes={"depth_ft": 3})
    assert isinstance(ditch, Ditch)
    assert ditch.depth == pytest.approx(3 * FOOT)


@pytest.mark.parametrize(("written", "hours"), [(None, None), (48, 48.0), ("48 h", 48.0), ("0", 0.0)])
def test_hours_since_rain_are_a_number(written: object, hours: float | None) -> None:
    sight = draw_thing(1, Kind.OBSERVATION, "Pool", Point(0, 0), attributes={"seen": "Puddle", "hours": written})
    assert isinstance(sight, Observation)
    assert (sight.seen, sight.hours) == (Seen.WET, hours)


def test_an_observation_in_other_words_is_said_and_not_used(tmp_path: Path) -> None:
    frogs = point(WEST + 30.0, NORTH - 30.0, kind="observation", name="Pool", seen="frogs")
    write_drawing(make_folder(tmp_path) / "parcel.geojson", polygon(kind="parcel"), frogs)
    assert (
        "Observation 2 (Pool) says seen = 'frogs'; it is not used. Write wet, rushes or dry." in read(tmp_path).warnings
    )


@pytest.mark.parametrize(
    ("kind", "properties", "message"),
    [
        (Kind.TREE, {"leaf": "plastic"}, "leaf is 'plastic'; write one of: evergreen, deciduous"),
        (Kind.TREE, {"evergreen": "maybe"}, "evergreen is 'maybe'; write yes or no"),
        (Kind.TREE, {"trunk_height": "tall"}, "trunk_height: 'tall' is not a length"),
        (Kind.TREE, {"trunk_height": "9 m"}, "trunk_height is 9 m and height 8 m; the trunk must end below the top"),
        (Kind.TREE, {"growth_per_year": -1.0}, "growth_per_year is -1 m; it must lie between 0 and 3 m"),
        (Kind.TREE, {"height": 0}, "height is 0; write what it is, or leave it out"),
        (Kind.TREE, {"height": "400 ft"}, "height is 400 ft; it must lie between 0 and 120 m"),
        (Kind.TREE, {"height": 10**400}, "height is '1000.*; it has too many digits"),
        (Kind.TREE, {"height": "nan"}, "height: 'nan' is not a length"),
        (Kind.TREE, {"height": float("nan")}, "height is nan m; it must lie between"),
        (Kind.TREE, {"height": ["8 m"]}, "height is .* write one word or number"),
        (Kind.DITCH, {"depth": "two feet"}, "depth: 'two feet' is not a length"),
        (Kind.DITCH, {"depth": -1}, "depth is -1 m; it must lie between 0 and 20 m"),
        (Kind.KEEP_CLEAR, {"of": "mound, ponds"}, "of names 'ponds'; write some of: mound, path, hoop house, trellis"),
        (Kind.ROAD, {"surface": "porridge"}, "surface is 'porridge'; write one of: paved, gravel, dirt, grass"),
        (Kind.ROAD, {"surface": "gravel or grass"}, "surface is 'gravel or grass'; write one of"),
        (Kind.OBSERVATION, {"hours": "two days"}, "hours is 'two days'; it must be a number"),
        (Kind.OBSERVATION, {"hours": "nan"}, "hours is nan; it must be hours since rain"),
        (Kind.OBSERVATION, {"hours": -5}, "hours is -5; it must be hours since rain"),
    ],
)
def test_what_cannot_be_is_named_with_its_value(kind: Kind, properties: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        draw_thing(1, kind, "Thing", LINE, attributes=properties)


@pytest.mark.parametrize("what", ["height", "width", "trunk_height", "growth_per_year"])
def test_a_length_without_a_unit_is_asked_about_where_the_site_is_in_feet(what: str) -> None:
    properties = Properties({what: 2}, "drawn.geojson, feature 3", Units.IMPERIAL)
    with pytest.raises(InputError, match=rf"feature 3: {what} is 2 without a unit, .* write '2 ft' or '2 m'"):
        feature_of(properties, 3, Kind.TREE, Point(0, 0), DrawnSettings())


def test_what_is_too_large_is_said_in_the_units_of_the_plan() -> None:
    properties = Properties({"height": "400 ft"}, "drawn.geojson, feature 3", Units.IMPERIAL)
    with pytest.raises(InputError, match=r"height is 400 ft; it must lie between 0 and 393\.7 ft"):
        feature_of(properties, 3, Kind.TREE, Point(0, 0), DrawnSettings())


def test_a_wall_ends_where_it_is_drawn() -> None:
    wall = draw_thing(1, Kind.WALL, "Wall", LINE, attributes={"width": "2 m"})
    assert wall.outline.area == pytest.approx(2.0 * LINE.length)
    assert wall.outline.bounds[0] == pytest.approx(LINE.bounds[0])


def test_a_gate_opens_as_wide_as_it_is_drawn() -> None:
    parcel = box(0.0, 0.0, 50.0, 50.0)
    across = draw_thing(1, Kind.GATE, "Gate", LineString([(10.0, 0.0), (14.0, 0.0)]))
    point = draw_thing(2, Kind.GATE, "Gate", Point(0.0, 20.0))
    assert isinstance(across, Gate)
    assert isinstance(point, Gate)
    assert (across.opening, point.opening) == (4.0, 3.0)
    assert point.threshold(parcel).bounds == pytest.approx((0.0, 18.5, 0.0, 21.5)), "along the boundary"


def test_a_surface_model_gives_a_tree_its_height_and_the_crown_that_goes_with_it() -> None:
    grid = Grid(0.0, 40.0, 1.0, 40, 40, "LOCAL")
    surface = np.zeros(grid.shape)
    surface[15:25, 15:25] = 16.0
    (oak,) = measured((tree(),), surface, grid)
    assert (oak.height, oak.height_by) == (16.0, Origin.SURFACE)
    assert oak.width == pytest.approx(0.6 * 16.0)
    (drawn,) = measured((tree(width="5 m"),), surface, grid)
    assert (drawn.height, drawn.width) == (16.0, 5.0)
    (bare,) = measured((tree(),), np.zeros(grid.shape), grid)
    assert (bare.height, bare.height_by) == (8.0, Origin.GUESSED)


def test_heights_that_were_not_drawn_are_said() -> None:
    features = [draw_thing(1, Kind.BUILDING, "A", box(5, 5, 9, 9)), tree(), tree()]
    assert said_of_heights(features, 0.0) == (
        "1 of kind building drawn without a height: taken as 5 m.",
        "2 of kind tree drawn without a height: taken as 8 m.",
    )
    assert "in 10 years" in said_of_heights(features, 10.0)[-1]
