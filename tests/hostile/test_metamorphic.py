"""Whole stages on ground that is lifted, turned, mirrored or set in unknown ground: nothing but the frame changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

import numpy as np
import pytest
from shapely import LineString, Point, box
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import Drainage
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import Settings, make_settings
from sitepipe.site import Feature, Kind
from sitepipe.sunlight.stage import trace_sunlight
from sitepipe.terrain.stage import derive_terrain
from tests.sites import draw_thing, make_site

SIZE = 48
Move = Callable[[np.ndarray], np.ndarray]
MOVES: dict[str, Move] = {
    "a quarter turn": np.rot90,
    "a half turn": lambda array: np.rot90(array, 2),
    "mirrored east to west": np.fliplr,
    "mirrored north to south": np.flipud,
    "lifted": lambda array: array,
}
LIFTS = {"lifted": 250.0}
TURNED_BY_THEMSELVES = {"aspect", "direction"}


def rough(seed: int) -> FloatArray:
    """Heights in whole tenths of a millimetre, all unlike, so that no tie has to be broken by direction."""
    rng = np.random.default_rng(seed)
    y, x = np.mgrid[0:SIZE, 0:SIZE]
    waves = 0.4 * np.sin(x / 7.0 + seed) + 0.4 * np.cos(y / 6.0 - seed) + 0.01 * y
    order = rng.permutation(SIZE * SIZE).reshape(SIZE, SIZE) * 1e-4
    return np.asarray(100.0 + np.round(waves, 1) * 3.0 + order)


def layers(record: object) -> dict[str, np.ndarray]:
    found = {field.name: getattr(record, field.name) for field in fields(record)}  # type: ignore[arg-type]
    return {name: array for name, array in found.items() if isinstance(array, np.ndarray) and array.ndim == 2}


def drained(heights: FloatArray) -> Drainage:
    return trace_drainage(make_site(heights), Settings())


@pytest.mark.parametrize("seed", [1, 2, 3])
@pytest.mark.parametrize("move", MOVES)
def test_water_stands_and_gathers_in_the_same_places(move: str, seed: int) -> None:
    plain = rough(seed)
    here, there = drained(plain), drained(MOVES[move](plain) + LIFTS.get(move, 0.0))
    assert np.array_equal(there.ponding_depth, MOVES[move](here.ponding_depth))
    # Across a full hollow, which is level, the way is free; where it is not full the water must come the same way.
    is_dry = there.ponding_depth == 0.0
    assert np.array_equal(there.upslope_area[is_dry], MOVES[move](here.upslope_area)[is_dry])
    assert there.outflow_cells == here.outflow_cells == SIZE * SIZE
    pairs = [sorted((round(pond.volume, 6), round(pond.depth, 6)) for pond in one.ponds) for one in (here, there)]
    assert pairs[0] == pairs[1]
    assert len(pairs[0]) > 0


@pytest.mark.parametrize("move", MOVES)
def test_slope_and_the_broad_ground_are_the_same(move: str) -> None:
    plain = rough(4)
    here = layers(derive_terrain(make_site(plain), Settings()))
    there = layers(derive_terrain(make_site(MOVES[move](plain) + LIFTS.get(move, 0.0)), Settings()))
    assert "slope" in here
    for name in here.keys() - TURNED_BY_THEMSELVES:
        wanted = MOVES[move](here[name])
        apart = there[name] - wanted
        is_height = np.allclose(apart, LIFTS.get(move, 0.0), atol=1e-6, equal_nan=True)
        assert is_height or np.allclose(apart[np.isfinite(wanted)], 0.0, atol=1e-6), name


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_digging_at_the_outlet_of_a_pond_never_raises_any_water(seed: int) -> None:
    plain = rough(seed)
    here = drained(plain)
    pond = max(here.ponds, key=lambda one: one.volume)
    row = int(SIZE - pond.spill_point.y)
    column = int(pond.spill_point.x)
    dug = plain.copy()
    dug[max(row - 1, 0) : row + 2, max(column - 1, 0) : column + 2] -= 0.05
    surface, lower = plain + here.ponding_depth, dug + drained(dug).ponding_depth
    assert (lower <= surface + 1e-9).all()
    assert (lower < surface - 1e-3).any()


@pytest.mark.parametrize("seed", [1, 2])
def test_unknown_ground_around_changes_no_water_within(seed: int) -> None:
    plain = rough(seed)
    padded = np.pad(plain, 5, constant_values=np.nan)
    here, there = drained(plain), drained(padded)
    for name in ("ponding_depth", "upslope_area"):
        found = getattr(there, name)
        assert np.allclose(found[5:-5, 5:-5], getattr(here, name), equal_nan=True), name
        assert np.isnan(found[:5]).all(), name


def test_a_window_with_room_around_it_has_the_slopes_of_the_whole() -> None:
    """A local measure needs no more than its own reach; what gathers from uphill is not asked here."""
    plain = rough(5)
    whole = layers(derive_terrain(make_site(plain, height_error=1e-6), exact()))
    part = layers(derive_terrain(make_site(plain[8:40, 4:44], height_error=1e-6), exact()))
    for name in ("slope", "aspect"):
        assert np.array_equal(part[name][3:-3, 3:-3], whole[name][11:37, 7:41], equal_nan=True), name


def exact() -> Settings:
    """Return settings under which the scale of the terrain stays one cell."""
    return make_settings({"terrain": {"broadest": "1 m"}}, "site.toml")


@pytest.mark.parametrize("cell", [0.25, 0.5, 1.0, 2.0])
def test_a_plane_sampled_anew_has_the_same_slope(cell: float) -> None:
    y, x = np.mgrid[0:40, 0:40] * cell
    heights = 100.0 + 0.03 * x + 0.04 * y
    slope = derive_terrain(make_site(heights, cell), Settings()).slope
    assert np.allclose(slope[2:-2, 2:-2], np.degrees(np.arctan(0.05)), atol=1e-7)


def test_the_order_in_which_things_were_drawn_changes_no_layer() -> None:
    """Names and numbers follow the drawing; water and sun do not."""
    things = (
        feature(1, Kind.BUILDING, box(10.0, 10.0, 18.0, 16.0)),
        feature(2, Kind.WALL, LineString([(4.0, 30.0), (30.0, 34.0)])),
        feature(3, Kind.DITCH, LineString([(2.0, 20.0), (46.0, 24.0)])),
        feature(4, Kind.TREE, Point(36.0, 12.0)),
        feature(5, Kind.TREE, Point(34.0, 14.0)),
        feature(6, Kind.ROAD, box(0.0, 40.0, 48.0, 46.0)),
    )
    plain = rough(6)
    found = []
    for order in (things, things[::-1], things[3:] + things[:3]):
        site = make_site(plain, features=order)
        drainage, sunlight = trace_drainage(site, Settings()), trace_sunlight(site, Settings())
        found.append({**layers(drainage), **layers(sunlight)})
    assert "sun_hours" in found[0]
    for other in found[1:]:
        assert [name for name, layer in other.items() if layer.tobytes() != found[0][name].tobytes()] == []


def feature(number: int, kind: Kind, geometry: BaseGeometry) -> Feature:
    return draw_thing(number, kind, str(kind), geometry)
