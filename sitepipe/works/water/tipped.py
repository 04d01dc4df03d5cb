"""All that is tipped on the ground, as height that it adds: mounds, paths, a pad, a pile of chips."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from shapely import MultiPoint
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Ref, Work
from sitepipe.works.jobs.materials import CHIPS
from sitepipe.works.land import Land
from sitepipe.works.obstacles import inside
from sitepipe.works.record import HoopHouse, Mound, Path, TippingPlace
from sitepipe.works.water.impact import raise_mounds
from sitepipe.works.ways.tipping import pile_radius

LEAST_PAD = 0.02
"""A floor raised by less is no pad. [m]"""
CROSSING = 1.0
"""Length of path on each side of a flow line that is left level with the ground, so that the water passes. [m]"""


@dataclass(frozen=True, slots=True)
class Tipped:
    """One work that is tipped: the ground that it lies on, and the height that it adds to each cell. [m]."""

    work: Ref
    foot: BaseGeometry
    added: FloatArray


def tipped_works(
    land: Land,
    ground: FloatArray,
    mounds: Sequence[Mound],
    house: HoopHouse | None,
    places: Sequence[TippingPlace],
    paths: Sequence[Path],
) -> tuple[Tipped, ...]:
    """List what is tipped, each as if it were as tight as soil: chips let water through until they are silted up."""
    grid, settings = land.site.grid, land.settings
    works = [
        Tipped(Ref(Work.MOUND, mound.number), mound.outline, raise_mounds(land, ground, [mound])) for mound in mounds
    ]
    works += [
        Tipped(Ref(Work.PATH, path.number), path.outline, raise_path(grid, path, settings))
        for path in paths
        if path.chips > 0.0
    ]
    if house is not None and house.raised > LEAST_PAD:
        works.append(Tipped(Ref(Work.HOOP_HOUSE, house.rank), house.outline, raise_pad(grid, ground, house)))
    wanted = [path.chips for path in paths] + [v for mound in mounds for name, v in mound.materials if name == CHIPS]
    if places and any(volume > 0.0 for volume in wanted):
        pile = raise_pile(grid, places[0], settings)
        works.append(Tipped(Ref(Work.TIPPING_PLACE, places[0].rank), places[0].outline, pile))
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
    return np.asarray(np.max([np.zeros(grid.shape), *(work.added for work in works)], axis=0))
