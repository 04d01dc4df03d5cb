"""From the properties of a drawn thing to a typed feature with every default applied."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime
from enum import StrEnum
from typing import Any

from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.reading.kinds import plain_kind
from sitepipe.reading.masks import cells_in
from sitepipe.reading.properties import Properties
from sitepipe.settings import DrawnSettings
from sitepipe.site import (
    STANDING,
    Bed,
    Ditch,
    Feature,
    FixedMark,
    Foliage,
    Gate,
    KeepClear,
    Kind,
    Leafy,
    Observation,
    Origin,
    Road,
    Seen,
    Status,
    Surface,
    Work,
)

TALLEST = {Kind.TREE: 120.0, Kind.HEDGE: 30.0, Kind.WALL: 30.0}
"""Higher than any on earth. [m]"""
LEAST_SHOWN = 0.25
"""Share of an outline on which a surface model must show something to be believed; own choice. [1]"""
TALLEST_OF_ALL = 150.0
WIDEST = 1000.0
DEEPEST = 20.0
FASTEST = 3.0
"""Of a tree in a year. [m]"""

SURFACES: Mapping[str, Surface] = {
    **dict.fromkeys(("paved", "asphalt", "tarmac", "concrete", "sealed", "brick", "cobbles"), Surface.PAVED),
    **dict.fromkeys(("gravel", "crushed stone", "stone", "unpaved"), Surface.GRAVEL),
    **dict.fromkeys(("dirt", "earth", "soil", "sand"), Surface.DIRT),
    **dict.fromkeys(("grass", "turf", "green"), Surface.GRASS),
}
SEEN: Mapping[str, Seen] = {
    **dict.fromkeys(("wet", "puddle", "standing water", "soaked"), Seen.WET),
    **dict.fromkeys(("rushes", "rush", "sedge", "sedges"), Seen.RUSHES),
    **dict.fromkeys(("dry", "stayed dry", "firm"), Seen.DRY),
    "hole": Seen.HOLE,
}
"""Auger holes are drawn as observations as well; their readings speak through the water table."""
WORKS: Mapping[str, StrEnum] = {work.value: work for work in (*Work, Kind.BED)}
"""What ground may be kept clear of."""


def feature_of(
    properties: Properties, number: int, kind: Kind, geometry: BaseGeometry, settings: DrawnSettings
) -> Feature:
    """Return a drawn thing as its kind wants it, with every size that was not drawn taken from the settings.

    Raises
    ------
    InputError
        If a property cannot be read, or a trunk ends above its tree.
    """
    height, height_by = _size(properties, "height", TALLEST.get(kind, TALLEST_OF_ALL), _height(kind, settings))
    is_area = geometry.area > 0.0
    width = 0.0 if is_area else _width(kind, height, settings)
    width, width_by = _size(properties, "width", WIDEST, width)
    common = {
        "number": number,
        "kind": kind,
        "name": properties.text("name") or kind.value,
        "geometry": geometry,
        "height": height,
        "width": width,
        "height_by": height_by,
        "width_by": width_by,
        "attributes": properties.others(),
    }
    match kind:
        case Kind.TREE | Kind.HEDGE:
            return _leafy(properties, common, settings)
        case Kind.ROAD:
            return Road(**common, surface=properties.word("surface", SURFACES) or Surface.PAVED)
        case Kind.DITCH:
            return Ditch(**common, depth=properties.length("depth", DEEPEST) or 0.0)
        case Kind.KEEP_CLEAR:
            of = properties.words("of", WORKS)
            return KeepClear(**common, of=of) if of else KeepClear(**common)
        case Kind.BED:
            status, built = read_status(properties, Status.STANDING)
            is_nursery = "nursery" in (properties.said("purpose"), plain_kind(properties.text("kind")).split(" ")[0])
            return Bed(**common, status=status, built=built, is_nursery=is_nursery)
        case Kind.GATE:
            return Gate(**common)
        case Kind.FIXED_POINT:
            return FixedMark(**common, is_bench_mark=properties.truth("bench_mark"))
        case Kind.OBSERVATION:
            seen = SEEN.get(str(properties.said("seen") or "").strip().lower())
            return Observation(**common, seen=seen, hours=properties.hours("hours"))
        case _:
            return Feature(**common)


STATUSES: Mapping[str, Status] = {status.value: status for status in (Status.WANTED, Status.STANDING)}


def read_status(properties: Properties, otherwise: Status) -> tuple[Status, date | None]:
    """Read whose a work is, and when it was built."""
    status, built = properties.word("status", STATUSES) or otherwise, properties.day("built")
    if built is not None and status is not Status.STANDING:
        raise InputError(f"{properties.where} says when it was built, and is {status}. Write status = standing")
    if built is not None and built > datetime.now(tz=UTC).date():
        raise InputError(f"{properties.where}: built is {built}, a day to come. Write status = wanted, or the true day")
    return status, built


def _size(properties: Properties, what: str, longest: float, otherwise: float) -> tuple[float, Origin]:
    drawn = properties.size(what, longest)
    return (otherwise, Origin.GUESSED) if drawn is None else (drawn, Origin.DRAWN)


def _height(kind: Kind, settings: DrawnSettings) -> float:
    return {
        Kind.BUILDING: settings.building_height,
        Kind.TREE: settings.tree_height,
        Kind.HEDGE: settings.hedge_height,
        Kind.WALL: settings.wall_height,
        Kind.KERB: settings.kerb_height,
    }.get(kind, 0.0)


def _width(kind: Kind, height: float, settings: DrawnSettings) -> float:
    return {
        Kind.TREE: settings.crown_per_height * height,
        Kind.HEDGE: settings.hedge_width,
        Kind.WALL: settings.wall_width,
        Kind.ROAD: settings.road_width,
        Kind.GATE: settings.gate_width,
    }.get(kind, settings.line_width)


def _leafy(properties: Properties, common: dict[str, Any], settings: DrawnSettings) -> Leafy:
    where, is_tree = properties.where, common["kind"] is Kind.TREE
    growth = properties.length("growth_per_year", FASTEST) if is_tree else 0.0
    full = properties.size("full_height", TALLEST[Kind.TREE]) if is_tree else None
    leafy = Leafy(
        **common,
        foliage=_foliage(properties),
        trunk_height=properties.length("trunk_height", TALLEST[Kind.TREE]) or 0.0,
        trunk_width=settings.trunk_width if is_tree else 0.0,
        growth=(settings.tree_growth_per_year if growth is None else growth) * settings.years_ahead,
        full_height=math.inf if full is None else full,
    )
    if leafy.trunk_height >= leafy.top:
        raise InputError(
            f"{where}: trunk_height is {leafy.trunk_height:g} m and height {leafy.top:g} m; the trunk must end below "
            "the top. Correct one of them"
        )
    return leafy


def _foliage(properties: Properties) -> Foliage:
    leaf = properties.word("leaf", {str(kind): kind for kind in (Foliage.EVERGREEN, Foliage.DECIDUOUS)})
    return leaf or (Foliage.EVERGREEN if properties.truth("evergreen") else Foliage.DECIDUOUS)


def measured(features: Iterable[Feature], obstacle_height: FloatArray, grid: Grid) -> tuple[Feature, ...]:
    """Return the features, heights that were not drawn taken from the surface model where it shows them.

    Parameters
    ----------
    features : iterable of Feature
    obstacle_height : (rows, columns) float array
        What the surface model shows above the ground. [m]
    grid : Grid
    """
    return tuple(_measured(feature, obstacle_height, grid) for feature in features)


def _measured(feature: Feature, obstacle_height: FloatArray, grid: Grid) -> Feature:
    if feature.kind not in STANDING or feature.height_by is not Origin.GUESSED:
        return feature
    # Half a cell wider, so that a wall thinner than a cell meets some.
    heights = obstacle_height[cells_in(feature.outline.buffer(grid.cell / 2.0), grid)]
    shown = heights[heights > 0.0]
    if shown.size == 0 or shown.size < LEAST_SHOWN * heights.size:
        return feature
    height = float(shown.max())
    # A crown that was guessed from the guessed height grows with it.
    is_guessed = feature.kind is Kind.TREE and feature.width_by is Origin.GUESSED
    width = feature.width * height / feature.height if is_guessed else feature.width
    return replace(feature, height=height, height_by=Origin.SURFACE, width=width)


def said_of_heights(features: Sequence[Feature], years_ahead: float) -> tuple[str, ...]:
    """Say which heights were not drawn and where they come from."""
    said = []
    for kind in STANDING:
        own = [feature for feature in features if feature.kind is kind]
        shown = sum(feature.height_by is Origin.SURFACE for feature in own)
        if shown:
            said.append(f"{shown} of kind {kind} drawn without a height: taken from the surface model.")
        guessed = [feature for feature in own if feature.height_by is Origin.GUESSED]
        if guessed:
            said.append(f"{len(guessed)} of kind {kind} drawn without a height: taken as {guessed[0].height:g} m.")
    if years_ahead > 0.0 and any(feature.kind is Kind.TREE for feature in features):
        said.append(f"Trees are shown as high as they are thought to be in {years_ahead:g} years.")
    return tuple(said)
