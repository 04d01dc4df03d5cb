"""Banks that may have a pipe in them."""

from __future__ import annotations

import numpy as np
import pytest
from shapely import box

from sitepipe.arrays import FloatArray
from sitepipe.drainage.banks import MOST_QUESTIONS, narrowest_crossing
from sitepipe.drainage.heights import UNKNOWN
from sitepipe.drainage.network import route
from sitepipe.drainage.record import Bank, Drainage
from sitepipe.drainage.stage import trace_drainage
from sitepipe.settings import DrainageSettings, Settings
from sitepipe.site import Feature, Kind
from tests.drainage.grounds import heights_of
from tests.sites import draw_thing, make_site


def dammed(wide: int = 4, high: float = 1.0, rows: int = 40, columns: int = 21) -> FloatArray:
    """Two level floors, the northern one 30 cm higher, in walls of 5 m; between them a level bank, in whole metres."""
    ground = np.full((rows, columns), 15.0)
    ground[1:20, 1:-1] = 10.3
    ground[20 : 20 + wide, 1:-1] = 10.3 + high
    ground[20 + wide :, 1:-1] = 10.0
    return ground


def crossing(ground: FloatArray, reach: float = 30.0, least_rise: float = 0.3) -> tuple[int, int, int, float]:
    """Narrowest crossing of the largest hollow, from all of its cells."""
    heights = heights_of(ground)
    network = route(heights)
    number = int(np.bincount(network.hollow[network.hollow > 0]).argmax())
    pond = np.flatnonzero(network.hollow.ravel() == number).astype(np.int32)
    spill = int(network.spill[number])
    depth = float(heights.ravel()[spill] - heights.ravel()[pond].min()) / 10_000
    return narrowest_crossing(heights, network.hollow, pond, spill, depth, reach, round(least_rise * 10_000))


@pytest.mark.parametrize("wide", [1, 2, 4, 7])
@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_the_way_over_a_bank_is_as_long_as_the_bank_is_wide_and_one_cell(wide: int, turns: int) -> None:
    """From the last cell of the water to the first below, whatever way the bank lies; the brink is its crest.

    Ways are walked in steps of one cell, so one that reaches the far side in as many steps may lie 26 degrees aslant.
    """
    ground = np.ascontiguousarray(np.rot90(dammed(wide), turns))
    start, crest, end, length = crossing(ground)
    where = np.rot90(np.arange(40 * 21).reshape(40, 21), turns).ravel()
    (first, column), (brink, _), (last, out) = (divmod(int(where[cell]), 21) for cell in (start, crest, end))
    assert length == wide + 1
    assert (first, brink, last) == (19, 20, 20 + wide)
    assert abs(out - column) <= 0.5 + length * np.sin(np.deg2rad(26.0))


def test_a_bank_that_lies_slantwise_is_crossed_at_right_angles() -> None:
    """A bank three cells wide along a diagonal: across it is about three cells, straight down over four."""
    row, column = np.mgrid[0:41, 0:41]
    across = (column - row) / np.sqrt(2.0)
    ground = np.where(across < -1.5, 10.3, np.where(across <= 1.5, 11.3, 10.0))
    ground[0] = ground[-1] = ground[:, 0] = 15.0
    start, _, end, length = crossing(ground)
    assert 3.0 <= length <= 4.0
    assert end // 41 < start // 41
    assert end % 41 > start % 41


@pytest.mark.parametrize(("reach", "is_found"), [(3.9, False), (4.0, False), (4.1, True)])
def test_no_way_longer_than_the_reach_is_taken(reach: float, is_found: bool) -> None:
    """A bank of four cells takes five steps, the last of them onto the ground below: four lie on the bank."""
    assert (crossing(dammed(4), reach=reach)[0] >= 0) == is_found


@pytest.mark.parametrize(("high", "is_found"), [(0.3, True), (0.29, False)])
def test_a_bank_that_rises_too_little_is_none(high: float, is_found: bool) -> None:
    assert (crossing(dammed(4, high))[0] >= 0) == is_found


def test_beyond_the_bank_the_ground_must_be_lower_than_the_water_s_floor() -> None:
    ground = dammed(4)
    ground[24:, 1:-1] = 10.3
    assert crossing(ground)[0] == -1
    ground[24:, 1:-1] = 10.2999
    assert crossing(ground)[0] >= 0


def test_ways_begin_in_the_lower_half_of_the_water() -> None:
    """The northern floor lies a third deep and near a bank of one cell; only the pit is deep enough to start from."""
    ground = np.full((9, 30), 15.0)
    ground[1:-1, 1:13] = 10.8
    ground[1:-1, 14:] = 10.0
    ground[1:-1, 13] = 11.0
    ground[4, 3] = 10.5
    start, crest, _, length = crossing(ground, least_rise=0.1)
    assert divmod(start, 30) == (4, 3)
    assert crest % 30 == 13
    assert length == 11.0
    ground[4, 3] = 10.8
    assert crossing(ground, least_rise=0.1)[3] == 2.0


def test_no_way_leads_over_unknown_ground_or_off_the_heights() -> None:
    ground = dammed(4)
    ground[22, :] = np.nan
    heights = heights_of(ground)
    assert (heights[22] == UNKNOWN).all()
    assert crossing(ground)[0] == -1
    walled = dammed(4)[:23]
    walled[22] = 11.3
    assert crossing(walled)[0] == -1


def asked(drainage: Drainage) -> list[Bank]:
    return [question for question in drainage.questions if isinstance(question, Bank)]


def ask(ground: FloatArray, cell: float = 1.0, features: tuple[Feature, ...] = (), **values: object) -> Drainage:
    settings = Settings(drainage=DrainageSettings.model_validate(values))
    return trace_drainage(make_site(ground, cell, features=features), settings)


@pytest.mark.parametrize("cell", [1.0, 0.5])
def test_the_question_names_depth_width_and_the_middle_of_the_bank(cell: float) -> None:
    """A bank of four cells, one metre high: the water behind is a metre deep, its far side five cells away."""
    (bank,) = asked(ask(dammed(4), cell))
    assert bank.road is None
    assert bank.depth == pytest.approx(1.0)
    assert bank.width == pytest.approx(5.0 * cell, abs=0.5)
    assert bank.place.y == 19.5 * cell


@pytest.mark.parametrize(("least", "questions"), [("0.99 m", 1), ("1.01 m", 0)])
def test_water_shallower_than_a_bank_is_high_is_not_asked_about(least: str, questions: int) -> None:
    assert len(asked(ask(dammed(4), bank_height=least))) == questions


@pytest.mark.parametrize(("away", "questions"), [(3.0, 1), (11.0, 0)])
def test_water_far_from_the_parcel_is_not_asked_about(away: float, questions: int) -> None:
    """Twice the widest bank, here 10 m, is near."""
    parcel = box(1.0, 1.0, 20.0, 20.0 - away)
    settings = Settings(drainage=DrainageSettings.model_validate({"bank_width": "5 m"}))
    assert len(asked(trace_drainage(make_site(dammed(4), parcel=parcel), settings))) == questions


def test_a_road_beside_the_bank_does_not_name_it() -> None:
    road = draw_thing(3, Kind.ROAD, "Mill Lane", box(0, 0, 21, 3))
    (bank,) = asked(ask(dammed(4), features=(road,)))
    assert bank.road is None


def test_of_many_banks_those_before_the_most_water_are_asked_about() -> None:
    """Seven troughs side by side, each a little wider than the last: the five widest are asked about, widest first."""
    widths = [3, 4, 5, 6, 7, 8, 9]
    strips = []
    for wide in widths:
        strip = dammed(4, columns=wide + 2)
        strips.append(strip)
    ground = np.concatenate(strips, axis=1)
    questions = asked(ask(ground))
    assert len(questions) == MOST_QUESTIONS == 5
    wests = np.cumsum([0, *(wide + 2 for wide in widths)])
    found = [int(np.searchsorted(wests, bank.place.x) - 1) for bank in questions]
    assert found == [6, 5, 4, 3, 2]


@pytest.mark.parametrize("columns", [120, 160])
def test_of_a_large_pond_some_cells_are_enough_to_find_the_bank(columns: int) -> None:
    """2242 or 3002 cells under water, each second or third of which is tried: the way is a cell or two longer."""
    (bank,) = asked(ask(dammed(4, columns=columns)))
    assert 5.0 <= bank.width <= 7.0
    assert 16.0 <= bank.place.y <= 20.0
