"""All that is tipped on the ground, as height that it adds: mounds, paths, a pad, a pile of chips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from shapely import MultiPoint
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.units import say_length
from sitepipe.works.jobs.materials import CHIPS
from sitepipe.works.obstacles import inside
from sitepipe.works.record import HoopHouse, Mound, Path, TippingPlace
from sitepipe.works.water.impact import raise_mounds
from sitepipe.works.ways.tipping import pile_radius

LEAST_PAD = 0.02
"""A floor raised by less is no pad. [m]"""
CROSSING = 1.0
"""Length of path on each side of a flow line that is left level with the ground, so that the water passes. [m]"""


class Tip(Enum):
    """What is tipped."""

    MOUND = "mound"
    PATH = "path"
    PAD = "pad"
    PILE = "pile"


@dataclass(frozen=True, slots=True)
class Tipped:
    """One thing that is tipped.

    Parameters
    ----------
    kind : Tip
    name : str
        As the plan calls it, such as ``path 2``.
    foot : geometry
        Ground that it lies on. [m]
    added : (rows, columns) float array
        Height that it adds to each cell, 0 beside it. [m]
    path : int or None
        Number of the path that it is: only a path can be dug in instead.
    """

    kind: Tip
    name: str
    foot: BaseGeometry
    added: FloatArray
    path: int | None = None


def tipped_works(
    site: Site,
    ground: FloatArray,
    mounds: Sequence[Mound],
    house: HoopHouse | None,
    places: Sequence[TippingPlace],
    paths: Sequence[Path],
    settings: Settings,
) -> tuple[Tipped, ...]:
    """List what is tipped, each as if it were as tight as soil: chips let water through until they are silted up."""
    works = [
        Tipped(Tip.MOUND, f"mound {mound.number}", mound.outline, raise_mounds(site, ground, [mound], settings))
        for mound in mounds
    ]
    works += [
        Tipped(Tip.PATH, f"path {path.number}", path.outline, raise_path(site.grid, path, settings), path.number)
        for path in paths
        if path.chips > 0.0
    ]
    if house is not None and house.raised > LEAST_PAD:
        works.append(Tipped(Tip.PAD, "the pad of the hoop house", house.outline, raise_pad(site.grid, ground, house)))
    wanted = [path.chips for path in paths] + [v for mound in mounds for name, v in mound.materials if name == CHIPS]
    if places and any(volume > 0.0 for volume in wanted):
        pile = raise_pile(site.grid, places[0], settings)
        name = f"the pile of chips at tipping place {places[0].rank}"
        works.append(Tipped(Tip.PILE, name, places[0].outline, pile))
    return tuple(works)


def raise_path(grid: Grid, path: Path, settings: Settings) -> FloatArray:
    """Height that the chips of a path add, none where it crosses a flow line. [m].

    On coarse cells a path is as wide as holds water back on them: two thirds of a diagonal on each side of its line.
    """
    wider = max(0.71 * grid.cell - path.width / 2.0, 0.0)
    shape: BaseGeometry = path.outline.buffer(wider) if wider > 0.0 else path.outline
    if path.crossings:
        gap = max(CROSSING, path.width / 2.0, 1.5 * grid.cell) + wider
        shape = shape.difference(MultiPoint(path.crossings).buffer(gap))
    return np.where(inside(shape, grid.x, grid.y), settings.path.chip_depth, 0.0)


def raise_pad(grid: Grid, ground: FloatArray, house: HoopHouse) -> FloatArray:
    """Height that a level pad adds to the ground under a hoop house; higher ground within it stays. [m]."""
    mask = inside(house.outline, grid.x, grid.y)
    known = ground[mask & np.isfinite(ground)]
    if not known.size:
        return np.zeros(grid.shape)
    level = float(known.mean()) + house.raised
    return np.where(mask, np.maximum(np.nan_to_num(level - ground), 0.0), 0.0)


def raise_pile(grid: Grid, place: TippingPlace, settings: Settings) -> FloatArray:
    """Height of the cone that one load makes. [m]."""
    away = np.hypot(grid.x[None, :] - place.place.x, grid.y[:, None] - place.place.y)
    return np.asarray(np.maximum(settings.tipping.pile_height * (1.0 - away / pile_radius(settings)), 0.0))


def height_of(works: Sequence[Tipped], grid: Grid) -> FloatArray:
    """Height that works add together: where two lie on each other the higher one stands. [m]."""
    added = np.zeros(grid.shape)
    for work in works:
        np.maximum(added, work.added, out=added)
    return added


def say_works(works: Sequence[Tipped], house: HoopHouse | None, settings: Settings) -> tuple[str, ...]:
    """Say what was built into the ground that was tried."""
    mounds = sum(work.kind is Tip.MOUND for work in works)
    paths = sum(work.kind is Tip.PATH for work in works)
    said = [f"{mounds} mound{'s' if mounds > 1 else ''} as built"] * bool(mounds)
    if paths:
        thick = say_length(settings.path.chip_depth, settings.units)
        said.append(f"{paths} path{'s' if paths > 1 else ''} with {thick} of chips")
    for work in works:
        if work.kind is Tip.PAD and house is not None:
            said.append(f"{work.name} ({say_length(house.raised, settings.units)} high)")
        elif work.kind is Tip.PILE:
            said.append(work.name)
    return tuple(said)
