"""All that is tipped on the ground, as works that raise it: mounds, paths, a pad, a pile of chips."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, MultiPoint, Point
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from sitepipe.arrays import FloatArray
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Ref, Status
from sitepipe.works.built import Built, these
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.materials import CHIPS
from sitepipe.works.land import Land
from sitepipe.works.mounds.record import Mound
from sitepipe.works.water.raised_ground import LAYER, PAD, RIDGE, TRENCH, WholeGround, WholeWork, whole_steps
from sitepipe.works.water.record import Swale
from sitepipe.works.ways.record import Path, TippingPlace
from sitepipe.works.ways.tipping import pile_radius

LEAST_PAD = 0.02
"""A floor raised by less is no pad. [m]"""
CROSSING = 1.0
"""Length of path on each side of a flow line that is left level with the ground, so that the water passes. [m]"""


@dataclass(frozen=True, slots=True)
class Tipped:
    """One work that is tipped: the ground that it lies on, its straight pieces, and these laid on the ground.

    ``may_go`` says that it is a path that was only proposed, which may be dug in instead.
    """

    work: Ref
    foot: BaseGeometry
    pieces: tuple[WholeWork, ...]
    rows: FloatArray
    may_go: bool = False


def tipped_works(land: Land, ground: WholeGround, works: Iterable[Built]) -> tuple[Tipped, ...]:
    """List what is tipped or dug, each as if it were as tight as soil: chips let water through until they silt up.

    What stands is ground already. A pile of chips lies at the first tipping place as long as any are wanted.
    """
    wanted = [work for work in works if work.status is not Status.STANDING]

    def tipped(work: Built, foot: BaseGeometry, *pieces: WholeWork) -> Tipped:
        rows = np.array([ground.row(piece) for piece in pieces]).reshape(-1, 10)
        return Tipped(work.ref, foot, pieces, rows, isinstance(work, Path) and work.status is Status.PROPOSED)

    settings = land.settings
    mounds, paths = these(Mound, wanted), these(Path, wanted)
    found = [tipped(mound, mound.outline, *mound_pieces(mound, ground)) for mound in mounds]
    found += [
        tipped(path, path.outline, *path_pieces(path, ground, land.site.grid, settings))
        for path in paths
        if path.chips > 0.0
    ]
    found += [
        tipped(house, house.outline, pad_piece(house, ground))
        for house in these(HoopHouse, wanted)
        if house.raised > LEAST_PAD
    ]
    found += [tipped(swale, swale.outline, *swale_pieces(swale, ground)) for swale in these(Swale, wanted)]
    chips = [path.chips for path in paths] + [v for mound in mounds for name, v in mound.materials if name == CHIPS]
    if any(volume > 0.0 for volume in chips):
        found += [
            tipped(place, place.outline, pile_piece(place.place, ground, settings))
            for place in these(TippingPlace, works)[:1]
        ]
    return tuple(found)


def mound_pieces(mound: Mound, ground: WholeGround) -> Iterator[WholeWork]:
    """Yield the straight pieces of a mound as built, before it settles."""
    rise, half = whole_steps(mound.height.built), round(500.0 * mound.top_width)
    for start, end in pairwise(ground.place(x, y) for x, y in mound.crest.coords):
        yield WholeWork(RIDGE, start, end, rise, half, mound.side_slope)


def swale_pieces(swale: Swale, ground: WholeGround) -> Iterator[WholeWork]:
    """Yield the straight pieces of a swale, the bed of each level below its lower end."""
    depth, half = whole_steps(swale.depth), round(500.0 * swale.bed_width)
    for start, end in pairwise(ground.place(x, y) for x, y in swale.line.coords):
        yield WholeWork(TRENCH, start, end, depth, half, swale.side_slope)


def path_pieces(path: Path, ground: WholeGround, grid: Grid, settings: Settings) -> Iterator[WholeWork]:
    """Yield the chips of a path, none where it crosses a flow line.

    On coarse cells a path is as wide as holds water back on them: two thirds of a diagonal on each side of its line.
    """
    half = max(0.71 * grid.cell, path.width / 2.0)
    line: BaseGeometry = path.line.intersection(path.outline)
    if path.crossings:
        gap = max(CROSSING, path.width / 2.0, 1.5 * grid.cell)
        line = line.difference(MultiPoint(path.crossings).buffer(gap))
    for part in shapely.get_parts(line):
        if isinstance(part, LineString):
            # Pieces end round: drawn in by half a width they reach as far as the path.
            kept = part if part.is_closed else substring(part, half, max(part.length - half, half))
            for start, end in pairwise(ground.place(x, y) for x, y in kept.coords):
                yield WholeWork(LAYER, start, end, whole_steps(settings.path.chip_depth), round(1000.0 * half))


def pad_piece(house: HoopHouse, ground: WholeGround) -> WholeWork:
    """Return the level pad under a hoop house; higher ground within it stays."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(house.outline).exterior)[:4]
    if np.linalg.norm(corners[1] - corners[0]) < np.linalg.norm(corners[2] - corners[1]):
        corners = np.roll(corners, -1, axis=0)
    a, b, c, d = corners
    start, end = ground.place(*(a + d) / 2.0), ground.place(*(b + c) / 2.0)
    return WholeWork(PAD, start, end, whole_steps(house.raised), round(500.0 * float(np.linalg.norm(d - a))))


def pile_piece(place: Point, ground: WholeGround, settings: Settings) -> WholeWork:
    """Return the cone that one load makes."""
    middle, high = ground.place(place.x, place.y), settings.tipping.pile_height
    return WholeWork(LAYER, middle, middle, whole_steps(high), 0, pile_radius(settings) / high)


def rows_of(works: Sequence[Tipped]) -> FloatArray:
    """Rows of all works, to be built in together."""
    return np.concatenate([np.empty((0, 10)), *(work.rows for work in works)])
