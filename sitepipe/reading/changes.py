"""A change that was tried and saved on the page: works on the parcel's own plane, and what the page said of them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sitepipe.errors import InputError
from sitepipe.site import PAGE_FIGURES, SavedChange, TriedWork

KINDS = ("mound", "path", "swale", "pad", "pile")
FARTHEST = 20_000.0
"""No parcel reaches so far from its corner. [m]"""
HIGHEST, WIDEST, FLATTEST = 5.0, 30.0, 10.0
MOST_WORKS = 200


def read_change(path: Path) -> SavedChange:
    """Read a change as the page saves it: whole millimetres, and whole tenths of height.

    Raises
    ------
    InputError
        If the file is none, or says something of a work that cannot be.
    """
    try:
        saved = json.loads(path.read_text(encoding="utf-8"))
    except (ValueError, RecursionError) as error:
        raise InputError(f"{path.name} is no GeoJSON. Save the change once more on the page") from error
    features = saved.get("features") if isinstance(saved, dict) else None
    if not isinstance(features, list) or saved.get("plane") != "parcel" or len(features) > MOST_WORKS:
        raise InputError(f"{path.name} is no change that the page saved. Save it once more on the page")
    works, left_out = [], []
    for number, feature in enumerate(features, 1):
        where = f"{path.name}, work {number}"
        told, geometry = (feature.get(key) if isinstance(feature, dict) else None for key in ("properties", "geometry"))
        if not isinstance(told, dict) or told.get("kind") not in KINDS:
            raise InputError(f"{where} is of no kind that the page tries: {', '.join(KINDS)}")
        if told.get("status") == "left out":
            left_out.append(str(told.get("replaces", ""))[:100])
        else:
            works.append(_work(told, geometry, where))
    page = saved["answer"] if isinstance(saved.get("answer"), dict) else {}
    figures = {key: _number(page, key, -1e9, 1e9, path.name) for key in PAGE_FIGURES if page}
    ground, outlets = saved.get("ground"), page.get("outlets")
    areas = tuple(
        _number({"outlets": area}, "outlets", 0.0, 1e9, path.name)
        for area in (outlets if isinstance(outlets, list) else ())
    )
    return SavedChange(tuple(works), tuple(left_out), ground if isinstance(ground, int) else None, figures, areas)


def _work(told: Mapping[str, Any], geometry: Any, where: str) -> TriedWork:
    ends = geometry.get("coordinates") if isinstance(geometry, dict) else None
    if not isinstance(ends, list) or len(ends) != 2 or not all(isinstance(end, list) and len(end) == 2 for end in ends):
        raise InputError(f"{where} is no line with two ends. Save the change once more on the page")
    start, end = (
        (
            round(1000.0 * _number({"x": x}, "x", -FARTHEST, FARTHEST, where)),
            round(1000.0 * _number({"y": y}, "y", -FARTHEST, FARTHEST, where)),
        )
        for x, y in ends
    )
    kind = str(told["kind"])
    high = _number(told, "depth" if kind == "swale" else "height", 0.0, HIGHEST, where)
    slope = _number(told, "side_slope", 0.0, FLATTEST, where) if "side_slope" in told else 0.0
    half = round(500.0 * _number(told, "width", 0.0, WIDEST, where))
    return TriedWork(kind, str(told.get("replaces", ""))[:100], start, end, round(10_000.0 * high), half, slope)


def _number(told: Any, key: str, least: float, most: float, where: str) -> float:
    value = told.get(key) if isinstance(told, dict) else None
    if isinstance(value, int | float) and not isinstance(value, bool) and least <= value <= most:
        return float(value)
    raise InputError(f"{where}: {key} is {str(value)[:40]!r}; it must be a number from {least:g} to {most:g}")
