"""Layer: title, unit and source of a map layer, said once, on the field of the record that holds it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Annotated, Any, get_args, get_origin, get_type_hints

from sitepipe.arrays import FloatArray


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


def layers_of(record_type: type) -> Iterator[tuple[str, Layer]]:
    """Yield (field name, layer) for every field of a record type that is declared as a layer."""
    hints = get_type_hints(record_type, include_extras=True)
    for field in fields(record_type):
        hint: Any = hints[field.name]
        if get_origin(hint) is Annotated:
            for mark in get_args(hint)[1:]:
                if isinstance(mark, Layer):
                    yield field.name, mark


def rasters_of(record: Any) -> Iterator[tuple[str, Layer, FloatArray]]:
    """Yield (field name, layer, array) for every layer that a record holds."""
    for name, layer in layers_of(type(record)):
        yield name, layer, getattr(record, name)
