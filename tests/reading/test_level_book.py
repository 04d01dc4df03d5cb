"""The level book against worked examples (shared check values, L01 to L05)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.errors import InputError
from sitepipe.reading.level_book import (
    Sight,
    allowance,
    heights_of_instrument,
    reduce_book,
)

BACK = (1.234, 0.987, 1.456, 1.102, 1.310)
FORE = (0.765, 1.543, 1.021, 1.690, 1.074)


def loop(back: tuple[float, ...] = BACK, fore: tuple[float, ...] = FORE, start: float = 100.0) -> list[Sight]:
    turns = [Sight(f"TP{number}", fore=fore[number - 1], back=back[number]) for number in range(1, len(back))]
    return [Sight("BM", back=back[0], known_height=start), *turns, Sight("BM", fore=fore[-1])]


def test_height_of_instrument_published() -> None:
    """L01, surveying textbook, published, source read: 820.00 + 8.42 - 1.20 = 827.22."""
    book = [Sight("mark", back=8.42), Sight("turn", fore=1.20)]
    assert heights_of_instrument(book, 820.00)[-1].height == pytest.approx(827.22, abs=1e-9)


def test_height_by_one_set_up_published() -> None:
    """L02, published, source read: 520.50 + 4.25 - 6.80 = 517.95."""
    book = [Sight("mark", back=4.25), Sight("turn", fore=6.80)]
    assert heights_of_instrument(book, 520.50)[-1].height == pytest.approx(517.95, abs=1e-9)


def test_a_loop_is_closed_and_shared_out_as_computed_by_hand() -> None:
    """L03, constructed for this project, computed by hand."""
    run = reduce_book(loop())
    assert run.misclosure == pytest.approx(-0.004, abs=1e-9)
    adjusted = [100.0, 100.4698, 99.9146, 100.3504, 99.7632, 100.0000]
    assert [one.height for one in run.points] == pytest.approx(adjusted, abs=1e-9)
    assert run.is_within_allowance
    assert run.arithmetic == "back sights 6.089 - fore sights 6.093 = -0.004; 100.000 -> 99.996 m"


def test_allowance_of_third_order_published() -> None:
    """L04: 12 mm x root km (constant read at its source); 0.2 km allows 5.37 mm."""
    assert allowance(200.0) == pytest.approx(0.00537, abs=5e-6)


def rises_and_falls(sights: list[Sight], start: float) -> list[float]:
    """Reduce by the other method of the trade: each reading less the one before it. [m]."""
    heights: list[float] = []
    height, before = start, float("nan")
    for sight in sights:
        reading = sight.middle if sight.middle is not None else sight.fore
        if reading is not None:
            height += before - reading
            before = reading
        heights.append(height)
        if sight.back is not None:
            before = sight.back
    return heights


@given(st.lists(st.tuples(st.integers(200, 3800), st.integers(200, 3800)), min_size=1, max_size=8))
def test_rise_and_fall_finds_the_same_heights(readings: list[tuple[int, int]]) -> None:
    sights = [Sight("BM", back=readings[0][0] / 1000.0, known_height=50.0)]
    for number, (back, fore) in enumerate(readings):
        sights.append(Sight(f"P{number}", middle=(back + fore) / 2000.0))
        sights.append(Sight(f"T{number}", back=back / 1000.0, fore=fore / 1000.0))
    by_instrument = [one.height for one in heights_of_instrument(sights, 50.0)]
    assert by_instrument == pytest.approx(rises_and_falls(sights, 50.0), abs=1e-9)


@given(st.floats(-0.02, 0.02))
def test_an_adjusted_loop_always_ends_on_its_bench_mark(misread: float) -> None:
    run = reduce_book(loop(fore=(*FORE[:-1], FORE[-1] - 0.004 + misread)))
    assert run.points[-1].height == pytest.approx(100.0, abs=1e-9)
    assert run.misclosure == pytest.approx(-misread, abs=1e-9)


def test_an_intermediate_sight_takes_the_share_of_its_set_up() -> None:
    sights = loop()
    sights.insert(2, Sight("corner", middle=1.5))
    run = reduce_book(sights)
    # Height by the second set-up: 100.469 + 0.987 - 1.5, and two shares of 0.8 mm.
    assert run.points[2].height == pytest.approx(100.469 + 0.987 - 1.5 + 0.0016, abs=1e-9)


def test_a_run_to_another_known_point_closes_there() -> None:
    run = reduce_book(
        [Sight("BM1", back=1.5, known_height=10.0), Sight("BM2", fore=0.5, known_height=11.003)], least=0.005
    )
    assert run.misclosure == pytest.approx(-0.003, abs=1e-9)


def test_an_open_run_has_no_misclosure() -> None:
    run = reduce_book([Sight("BM", back=1.5, known_height=10.0), Sight("A", middle=0.5)])
    assert run.misclosure is None
    assert run.points[-1].height == pytest.approx(11.0)


@pytest.mark.parametrize(
    ("sights", "said"),
    [
        ([Sight("A", middle=1.0, known_height=5.0)], "must be the back sight"),
        ([Sight("A", back=1.0, known_height=5.0), Sight("B")], "has no reading"),
        ([Sight("A", back=1.0, known_height=5.0), Sight("B", middle=1.0, fore=1.0)], "beside another"),
    ],
)
def test_a_book_that_cannot_be_reduced_is_refused(sights: list[Sight], said: str) -> None:
    with pytest.raises(InputError, match=said):
        reduce_book(sights)
