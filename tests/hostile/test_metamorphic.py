"""Whole stages on ground that is lifted, turned, mirrored or set in unknown ground: nothing but the frame changes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

import numpy as np
import pytest

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import Drainage
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import Settings
from sitepipe.terrain.stage import derive_terrain
from tests.sites import make_site

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
