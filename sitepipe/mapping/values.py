"""Every layer's value for the finger, and the heights for tape and slope, packed small."""

from __future__ import annotations

from typing import Any

import numpy as np

from sitepipe.analysis import Analysis
from sitepipe.arrays import FloatArray
from sitepipe.fields import Layer, rasters_of
from sitepipe.mapping.frame import Frame
from sitepipe.mapping.picture import packed
from sitepipe.mapping.relief import CLEAR_FROM, sample
from sitepipe.units import Units

HEIGHT_STEP = 0.002
"""Heights are packed in steps of 2 mm. [m]"""
UNKNOWN_HEIGHT, UNKNOWN_VALUE = 65535, 255
MOST_HEIGHT_CELLS, MOST_VALUE_CELLS = 90_000, 16_000
SKIPPED = ("elevation", "aspect", "zone")


def height_grid(analysis: Analysis, frame: Frame) -> dict[str, Any]:
    """Heights around the parcel as whole steps above the lowest, row by row, each less its western neighbour."""
    heights, box, cell = _resampled(analysis, analysis.site.elevation, MOST_HEIGHT_CELLS)
    known = np.isfinite(heights)
    lowest = float(heights[known].min()) if known.any() else 0.0
    steps = np.full(heights.shape, UNKNOWN_HEIGHT, np.int64)
    steps[known] = np.minimum(np.round((heights[known] - lowest) / HEIGHT_STEP), UNKNOWN_HEIGHT - 1).astype(np.int64)
    left = np.zeros_like(steps)
    left[:, 1:] = steps[:, :-1]
    differences = ((steps - left) % 65536).astype("<u2")
    return _grid(frame, box, cell, heights.shape) | {"step": HEIGHT_STEP, "packed": packed(differences.tobytes())}


def value_grids(analysis: Analysis, frame: Frame) -> dict[str, Any]:
    """Return every layer of the analysis in 255 steps between its least and its most, on one coarse grid."""
    layers = []
    body = b""
    shape, box, cell = (0, 0), (0.0, 0.0), 1.0
    for name, layer, values in _layers(analysis):
        coarse, box, cell = _resampled(analysis, values, MOST_VALUE_CELLS)
        shape = coarse.shape
        known = np.isfinite(coarse)
        if not known.any():
            continue
        low, high = float(coarse[known].min()), float(coarse[known].max())
        if name == "upslope_area":
            coarse = np.log10(np.maximum(coarse, 1e-3))
            low, high = float(coarse[known].min()), float(coarse[known].max())
        span = high - low or 1.0
        steps = np.full(shape, UNKNOWN_VALUE, np.uint8)
        steps[known] = np.round(254 * (coarse[known] - low) / span).astype(np.uint8)
        body += steps.tobytes()
        said = _unit(layer.unit, analysis.settings.units)
        layers.append(
            {
                "name": name,
                "title": layer.title,
                "meaning": layer.meaning,
                "low": round(low, 6),
                "high": round(low + span, 6),
                "power": name == "upslope_area",
                **said,
            }
        )
    for month in range(12):
        coarse, box, cell = _resampled(analysis, analysis.sunlight.monthly_hours[month], MOST_VALUE_CELLS)
        known = np.isfinite(coarse)
        steps = np.full(coarse.shape, UNKNOWN_VALUE, np.uint8)
        steps[known] = np.clip(np.round(coarse[known] * 10.0), 0, 254).astype(np.uint8)
        body += steps.tobytes()
        shape = coarse.shape
    return _grid(frame, box, cell, shape) | {"layers": layers, "packed": packed(body)}


def _layers(analysis: Analysis) -> list[tuple[str, Layer, FloatArray]]:
    found = []
    for record in (
        analysis.terrain,
        analysis.drainage,
        analysis.ponding_uncertainty,
        analysis.sunlight,
        analysis.wetness,
        analysis.water_table,
        analysis.scores,
    ):
        found += [(name, layer, values) for name, layer, values in rasters_of(record) if name not in SKIPPED]
    return found


def _resampled(analysis: Analysis, values: FloatArray, most: int) -> tuple[FloatArray, tuple[float, float], float]:
    grid = analysis.site.grid
    west, south, east, north = analysis.site.parcel.buffer(CLEAR_FROM).bounds
    cell = max(grid.cell, float(np.sqrt((east - west) * (north - south) / most)))
    x = np.arange(west + cell / 2.0, east, cell)
    y = np.arange(north - cell / 2.0, south, -cell)
    return sample(values, grid, x, y), (west, north), cell


def _grid(frame: Frame, box: tuple[float, float], cell: float, shape: tuple[int, int]) -> dict[str, Any]:
    return {
        "west": round(box[0] - frame.west, 3),
        "north": round(box[1] - frame.south, 3),
        "cell": round(cell, 6),
        "rows": shape[0],
        "columns": shape[1],
    }


def _unit(unit: str, units: Units) -> dict[str, Any]:
    """Return the factor and the name of a unit in the user's own."""
    if units is Units.IMPERIAL:
        known = {"m": (39.37007874, "in"), "m2": (10.76391042, "sq\u00a0ft")}
        if unit in known:
            return {"times": known[unit][0], "unit": known[unit][1]}
    names = {"1": "", "deg": "°", "m2": "m²", "h/day": "h a day", "MJ/m2/day": "MJ/m² a day"}
    return {"times": 1.0, "unit": names.get(unit, unit)}
