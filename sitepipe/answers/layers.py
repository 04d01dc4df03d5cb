"""Every map layer that a run finds, gathered from the records that declare them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import is_dataclass
from typing import get_type_hints

from sitepipe.analysis import Analysis
from sitepipe.arrays import FloatArray
from sitepipe.fields import Layer, layers_of, rasters_of


def declared_layers() -> dict[str, Layer]:
    """Return every declared layer by name, in the order in which they are found out."""
    hints = get_type_hints(Analysis)
    return {
        name: layer
        for hint in hints.values()
        if isinstance(hint, type) and is_dataclass(hint)
        for name, layer in layers_of(hint)
    }


def rasters(analysis: Analysis) -> Iterator[tuple[str, Layer, FloatArray]]:
    """Yield (name, layer, array) for every layer of an analysis, in the same order."""
    for part in get_type_hints(Analysis):
        record = getattr(analysis, part)
        if is_dataclass(record):
            yield from rasters_of(record)
