"""What a field of a record is called outside the program, in what unit, and where it goes: said once, on the field."""

from __future__ import annotations

import types
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, fields, is_dataclass
from datetime import date
from enum import Enum, StrEnum
from functools import cache
from typing import Annotated, Any, Literal, Self, TypeAlias, Union, get_args, get_origin, get_type_hints

from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray

Data: TypeAlias = dict[str, Any]
Sayers: TypeAlias = Mapping[type, Mapping[str, Callable[[Any], Any]]]
"""What records of a type say beside their fields: key, and how to say it; a list only where they have no table."""


@dataclass(frozen=True, slots=True)
class Layer:
    """What a raster layer is called, what its numbers mean, and where the method comes from.

    Declared as ``slope: Annotated[FloatArray, Layer(...)]``; the legend, the GeoTIFF tags and
    ``sitepipe explain`` all read it from there.
    """

    title: str
    unit: str
    meaning: str
    source: str


class Key(str):
    """Name outside, where it is not the field's own; ``first_year.loads`` lies inside ``first_year``."""

    __slots__ = ()


class Unit(str):
    """Ends the name outside: an ``area`` in ``m2`` is told as ``area_m2``."""

    __slots__ = ()


class Shape(str):
    """The field is the geometry of this layer of ``plan.gpkg``; its record's other fields are the columns."""

    __slots__ = ()


class Parts(tuple[str, ...]):
    """Names of the entries of a tuple, or of each tuple in a tuple."""

    __slots__ = ()

    def __new__(cls, *names: str) -> Self:
        """Take the names one by one."""
        return super().__new__(cls, names)


class Goes(Enum):
    """Where a field goes that is not simply told."""

    INLINE = "its own fields are told among those of the record that holds it"
    PLACED = "it tells where the ground lies: only in plan.gpkg and the exports"
    SAID = "only in sentences, which answers/ makes of it"
    INTERNAL = "nowhere: the next room needs it"


Metres = Annotated[float, Unit("m")]
SquareMetres = Annotated[float, Unit("m2")]
CubicMetres = Annotated[float, Unit("m3")]
Degrees = Annotated[float, Unit("deg")]
Hours = Annotated[float, Unit("h")]
HoursADay = Annotated[float, Unit("h_per_day")]


@dataclass(frozen=True, slots=True)
class Field:
    """One declared field (or property with a declared return): ``key`` is a path of names."""

    name: str
    key: tuple[str, ...]
    kind: Any
    marks: tuple[Any, ...]

    def mark(self, sort: type) -> Any:
        """Return the first mark of a sort, None where there is none."""
        return next((mark for mark in self.marks if isinstance(mark, sort)), None)

    @property
    def is_told(self) -> bool:
        """Whether its value goes into ``summary.json`` under its key."""
        return self.mark(Layer) is None and self.mark(Shape) is None and self.mark(Goes) in (None, Goes.INLINE)


@cache
def fields_of(record_type: type) -> tuple[Field, ...]:
    """Return the fields of a record type, then its properties whose return is declared.

    Raises
    ------
    TypeError
        If a field can be told nowhere and is not marked, such as an array without a layer.
    """
    hints = get_type_hints(record_type, include_extras=True)
    declared = {field.name: hints[field.name] for field in fields(record_type)}
    for name, member in vars(record_type).items():
        hint = get_type_hints(member.fget, include_extras=True)["return"] if isinstance(member, property) else None
        if _marks(hint):
            declared[name] = hint
    return tuple(_field(record_type, name, hint) for name, hint in declared.items())


def _field(record_type: type, name: str, hint: Any) -> Field:
    marks = _marks(hint)
    key = next((mark for mark in marks if isinstance(mark, Key)), name)
    unit = next((mark for mark in marks if isinstance(mark, Unit)), "")
    field = Field(name, tuple(f"{key}_{unit}".rstrip("_").split(".")), _bare(hint), marks)
    if field.is_told and not _can_be_told(field.kind):
        raise TypeError(f"{record_type.__name__}.{name} reaches no output: declare where it goes, or mark it INTERNAL")
    return field


def _marks(hint: Any) -> tuple[Any, ...]:
    if get_origin(hint) is Annotated:
        return (*get_args(hint)[1:], *_marks(get_args(hint)[0]))
    if get_origin(hint) in (Union, types.UnionType):
        return tuple(mark for part in get_args(hint) for mark in _marks(part))
    return ()


def _bare(hint: Any) -> Any:
    """Return a type without its marks and without None; of several types, the first."""
    if get_origin(hint) is Annotated:
        return _bare(get_args(hint)[0])
    if get_origin(hint) in (Union, types.UnionType):
        return _bare(next(part for part in get_args(hint) if part is not type(None)))
    return hint


def _can_be_told(kind: Any) -> bool:
    if get_origin(kind) is tuple:
        inner = [_bare(part) for part in get_args(kind) if part is not Ellipsis]
        return all(_can_be_told(part) or _is_shape(part) for part in inner) and not all(map(_is_shape, inner))
    return _scalar(kind) is not None or get_origin(kind) is dict or is_dataclass(kind)


def _is_shape(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseGeometry)


def _scalar(kind: Any) -> type | None:
    """Return the plain type that a single value is written as, None where it is not a single value."""
    if get_origin(kind) is Literal:
        return str
    if not isinstance(kind, type):
        return None
    plain = (bool, int, float, str)
    return next((each for each in plain if issubclass(kind, each)), str if issubclass(kind, date) else None)


def told(record: object, sayers: Sayers) -> Data:
    """Return everything that a record tells, by the names that its fields declare; places are left out."""
    said: Data = {}
    for field, is_inline, content_of in _tellers(_type_of(record)):
        content = content_of(getattr(record, field.name), sayers)
        if is_inline:
            said |= content
        else:
            inside = said
            for name in field.key[:-1]:
                inside = inside.setdefault(name, {})
            inside[field.key[-1]] = content
    return said | {key: say(record) for key, say in sayers.get(type(record), {}).items()}


def _type_of(record: object) -> type:
    return type(record)


@cache
def _tellers(record_type: type) -> tuple[tuple[Field, bool, Callable[[Any, Sayers], Any]], ...]:
    """Return the fields of a type that are told, whether inline, and how their values are; found out once a type."""
    return tuple(
        (field, field.mark(Goes) is Goes.INLINE, _teller(field)) for field in fields_of(record_type) if field.is_told
    )


def _teller(field: Field) -> Callable[[Any, Sayers], Any]:
    parts = field.mark(Parts)
    inner = get_args(_bare(get_args(field.kind)[0])) if get_origin(field.kind) is tuple else ()
    if parts is not None and inner:
        return lambda value, _: [_named(entry, parts) for entry in value]
    if parts is not None:
        return lambda value, _: _named(value, parts)
    if inner and _is_shape(_bare(inner[-1])):
        return lambda value, sayers: [_plain(entry, sayers) for entry, _ in value]
    if inner and inner[-1] is not Ellipsis:
        return lambda value, sayers: {str(name): _plain(entry, sayers) for name, entry in value}
    return _plain


def _named(entry: tuple[Any, ...], parts: Parts) -> Data:
    return {name: _plain(value, {}) for name, value in zip(parts, entry, strict=True)}


def _plain(value: Any, sayers: Sayers) -> Any:
    if is_dataclass(value):
        return told(value, sayers)
    if isinstance(value, tuple):
        return [_plain(entry, sayers) for entry in value]
    if isinstance(value, Mapping):
        return {str(name): _plain(entry, sayers) for name, entry in value.items()}
    if isinstance(value, StrEnum | date):
        return str(value)
    return value


def columns_of(record_type: type, sayers: Sayers) -> dict[str, type]:
    """Return the columns of a table of records: every single value, lists of words as one text, and its sentences."""
    return {name: kind for name, kind, _ in _columns(record_type)} | dict.fromkeys(sayers.get(record_type, {}), str)


def row_of(record: object, sayers: Sayers) -> tuple[Any, ...]:
    """Return the values of a record in the order of its columns."""
    said = (say(record) for say in sayers.get(type(record), {}).values())
    return (*(value(record) for _, _, value in _columns(_type_of(record))), *said)


@cache
def _columns(record_type: type) -> tuple[tuple[str, type, Callable[[Any], Any]], ...]:
    return tuple(column for field in fields_of(record_type) for column in _columns_of_field(field))


def _columns_of_field(field: Field) -> Iterator[tuple[str, type, Callable[[Any], Any]]]:
    if not field.is_told and field.mark(Goes) is not Goes.PLACED:
        return
    name, key, plain = field.name, "_".join(field.key), _scalar(field.kind)
    if field.mark(Goes) is Goes.INLINE and is_dataclass(field.kind):
        inner: type = field.kind  # type: ignore[assignment]
        for column, kind, value in _columns(inner):
            yield column, kind, _inside(name, value)
    elif plain is not None:
        yield key, plain, lambda record: _plain(getattr(record, name), {})
    elif get_origin(field.kind) is tuple and _scalar(_bare(get_args(field.kind)[0])) and field.mark(Parts) is None:
        yield key, str, lambda record: ", ".join(str(entry) for entry in getattr(record, name))


def _inside(name: str, value: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return lambda record: value(getattr(record, name))


def shapes_of(record_type: type) -> Iterator[tuple[Shape, Field]]:
    """Yield (layer of ``plan.gpkg``, field) for every geometry that a record type puts there."""
    for field in fields_of(record_type):
        if (shape := field.mark(Shape)) is not None:
            yield shape, field


def records_of(record: object) -> dict[type, tuple[Any, ...]]:
    """Return the records that a record holds, one by one or in tuples, by their type in the order of its fields."""
    found: dict[type, tuple[Any, ...]] = {}
    for field in fields_of(_type_of(record)):
        value = getattr(record, field.name)
        kind = _bare(get_args(field.kind)[0]) if get_origin(field.kind) is tuple else field.kind
        if is_dataclass(kind) and isinstance(kind, type):
            held = value if isinstance(value, tuple) else () if value is None else (value,)
            found[kind] = (*found.get(kind, ()), *held)
    return found


def layers_of(record_type: type) -> Iterator[tuple[str, Layer]]:
    """Yield (field name, layer) for every field of a record type that is declared as a layer."""
    for field in fields_of(record_type):
        if (layer := field.mark(Layer)) is not None:
            yield field.name, layer


def rasters_of(record: Any) -> Iterator[tuple[str, Layer, FloatArray]]:
    """Yield (field name, layer, array) for every layer that a record holds."""
    for name, layer in layers_of(type(record)):
        yield name, layer, getattr(record, name)
