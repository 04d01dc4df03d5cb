"""Invented districts: rolling ground, lots in rows, houses on them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from sitepipe.arrays import FloatArray
from tests.reading.folders import NORTH, WEST, Feature, polygon, ring, write_drawing, write_heights

TOML = """\
name = "Sallow Brook"
heights = "heights.tif"
parcels = "parcels.geojson"
key = "lot"
units = "metric"
write = []

[things.houses]
file = "houses.geojson"
kind = "building"

[ground]
widest_window = 20_000

[uncertainty]
grounds = 10
"""
"""The smallest that a parcel can write."""


def rolling(rows: int, columns: int, first_row: int = 0, noise: float = 0.02) -> FloatArray:
    """Heights that fall to the south over hollows of some 30 m, with noise. [m]."""
    y, x = np.mgrid[first_row : first_row + rows, 0:columns].astype(np.float64)
    waves = 0.4 * np.sin(x / 9.0) * np.cos(y / 11.0) + 0.8 * np.sin(x / 47.0 + y / 61.0)
    generator = np.random.default_rng([7, first_row])
    return np.asarray(120.0 - 0.01 * y + waves + generator.normal(0.0, noise, x.shape), dtype=np.float64)


def lots(count: int, side: float = 32.0, apart: float = 40.0, across: int = 4) -> list[Feature]:
    """Square lots in rows from the north-west, each with a key."""
    corners = ((WEST + 20.0 + apart * (k % across), NORTH - 20.0 - apart * (k // across)) for k in range(count))
    return [polygon(ring(x, y - side, x + side, y), lot=f"L{k:04d}") for k, (x, y) in enumerate(corners)]


def houses_of(parcels: Sequence[Feature]) -> list[Feature]:
    """Put a house into the north-west corner of every second lot."""
    corners = (shape["coordinates"][0][3] for _, shape in parcels[::2] if shape["coordinates"])
    return [polygon(ring(x + 3.0, y - 11.0, x + 11.0, y - 4.0), height="6 m") for x, y in corners]


def make_region(folder: Path, parcels: Sequence[Feature], heights: Any = None, toml: str = TOML) -> Path:
    """Make a region folder."""
    folder.mkdir(parents=True, exist_ok=True)
    write_heights(folder / "heights.tif", (rolling(140, 200) if heights is None else heights).astype(np.float32))
    write_drawing(folder / "parcels.geojson", *parcels)
    write_drawing(folder / "houses.geojson", *houses_of(parcels))
    (folder / "region.toml").write_text(toml, encoding="utf-8")
    return folder
