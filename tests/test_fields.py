"""A field is declared once: what it is called outside, its unit, and where it goes."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from typing import Annotated, Any, get_args

import numpy as np
import pytest
from shapely import Point, box
from shapely.geometry import Polygon

from sitepipe.analysis import Analysis
from sitepipe.answers import summary
from sitepipe.fields import (
    Field,
    Goes,
    Key,
    Metres,
    Parts,
    Sayers,
    Shape,
    SquareMetres,
    Unit,
    columns_of,
    fields_of,
    row_of,
    told,
)
from sitepipe.writing import tables
from tests.mapping.drawn_analysis import make_analysis


class Sort(StrEnum):
    HIGH = "high"


@dataclass(frozen=True, slots=True)
class Inner:
    depth: Metres | None
    sort: Sort


@dataclass(frozen=True, slots=True)
class Outer:
    number: Annotated[int, Key("rank")]
    area: SquareMetres
    inner: Annotated[Inner, Goes.INLINE]
    outline: Annotated[Polygon, Shape("things")]
    height: Annotated[Metres, Goes.PLACED]
    day: date
    first: Annotated[float, Key("room.count")]
    second: Annotated[SquareMetres, Key("room.area")]
    lost: Annotated[tuple[tuple[int, float], ...], Parts("month", "hours_h")]
    pairs: Annotated[tuple[tuple[str, float], ...], Unit("m3")]
    asked: tuple[tuple[str, Point], ...]
    names: tuple[str, ...]

    @property
    def half(self) -> Annotated[SquareMetres, Key("half_area")]:
        """Half of it."""
        return self.area / 2.0

    @property
    def unsaid(self) -> float:
        """Without a declared return it is told nowhere."""
        return 0.0


OUTER = Outer(
    3, 8.0, Inner(None, Sort.HIGH), box(0, 0, 1, 1), 102.5, date(2025, 4, 9), 4.0, 5.0,
    ((1, 0.5), (2, 0.25)), (("logs", 1.5),), (("Is there a pipe?", Point(4, 5)),), ("a", "b"),
)  # fmt: skip


def test_a_record_tells_its_fields_by_the_names_that_they_declare() -> None:
    assert told(OUTER, {Outer: {"why": lambda outer: f"for {outer.area:g}"}}) == {
        "rank": 3,
        "area_m2": 8.0,
        "depth_m": None,
        "sort": "high",
        "day": "2025-04-09",
        "room": {"count": 4.0, "area_m2": 5.0},
        "lost": [{"month": 1, "hours_h": 0.5}, {"month": 2, "hours_h": 0.25}],
        "pairs_m3": {"logs": 1.5},
        "asked": ["Is there a pipe?"],
        "names": ["a", "b"],
        "half_area_m2": 4.0,
        "why": "for 8",
    }


def test_a_table_has_the_single_values_under_the_same_names_and_what_tells_the_place() -> None:
    sayers: Sayers = {Outer: {"why": lambda outer: f"for {outer.area:g}"}}
    assert dict(zip(columns_of(Outer, sayers), row_of(OUTER, sayers), strict=True)) == {
        "rank": 3,
        "area_m2": 8.0,
        "depth_m": None,
        "sort": "high",
        "height_m": 102.5,
        "day": "2025-04-09",
        "room_count": 4.0,
        "room_area_m2": 5.0,
        "names": "a, b",
        "half_area_m2": 4.0,
        "why": "for 8",
    }


def test_an_array_that_goes_nowhere_is_refused() -> None:
    @dataclass(frozen=True, slots=True)
    class Silent:
        depth: np.ndarray

    with pytest.raises(TypeError, match=r"Silent\.depth reaches no output"):
        fields_of(Silent)


BY_HAND = {"Analysis", "Drainage", "PondingUncertainty", "Scores", "Zones"}
"""Records whose parts the summary puts in place one by one."""


def test_every_field_of_every_record_reaches_an_output_or_is_marked(monkeypatch: pytest.MonkeyPatch) -> None:
    """A record that a section of the summary or a table forgets is found by who asked for its sentences."""
    asked: set[type] = set()

    class Spy(dict[type, Mapping[str, Callable[[Any], Any]]]):
        def get(self, record_type: Any, otherwise: Any = None) -> Any:
            asked.add(record_type)
            return super().get(record_type, otherwise)

    analysis = make_analysis()
    sayers = Spy(summary.sayers_of(analysis))
    monkeypatch.setattr(summary, "sayers_of", lambda _: sayers)
    monkeypatch.setattr(tables, "sayers_of", lambda _: sayers)
    said = summary.summarise(analysis)
    columns = {name for table in tables.tables(analysis) for name in table.columns}
    reached = {inner for record in asked for inner in _told_below(record)}
    for record in _records(Analysis):
        if record.__name__ not in BY_HAND:
            assert record in reached, f"{record.__name__} is told nowhere"
            continue
        for field in fields_of(record):
            inside = set(_records_in(field))
            known = inside <= reached | {each for each in inside if each.__name__ in BY_HAND}
            assert not field.is_told or (inside and known) or field.key[-1] in _keys(said) | columns, field


def _records(record: type) -> set[type]:
    """Return a record type and all that its fields hold, without what is internal or said in sentences."""
    found = {record}
    for field in fields_of(record):
        if field.mark(Goes) not in (Goes.INTERNAL, Goes.SAID):
            found |= {each for inner in _records_in(field) for each in _records(inner)}
    return found


def _told_below(record: type) -> set[type]:
    inner = (each for field in fields_of(record) if field.is_told for each in _records_in(field))
    return {record, *(below for each in inner for below in _told_below(each))}


def _records_in(field: Field) -> Iterator[type]:
    for kind in (field.kind, *get_args(field.kind)):
        if isinstance(kind, type) and dataclasses.is_dataclass(kind):
            yield kind


def _keys(value: Any) -> set[str]:
    if isinstance(value, dict):
        return {*value, *(key for inner in value.values() for key in _keys(inner))}
    return {key for inner in value for key in _keys(inner)} if isinstance(value, list) else set()
