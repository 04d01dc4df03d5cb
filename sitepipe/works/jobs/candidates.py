"""The works as candidates for the years, as wished for and in ways round what is short."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import product

import numpy as np
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from sitepipe.arrays import FloatArray
from sitepipe.scoring.membership import membership
from sitepipe.site import Ref, Stuff, Work
from sitepipe.works.houses.record import HoopHouse
from sitepipe.works.jobs.hours import (
    TURNING,
    arch_hours,
    house_hours,
    mound_hours,
    path_hours,
    planting_hours,
    row_hours,
    swale_hours,
)
from sitepipe.works.jobs.materials import CHIPS, FILL, LOGS, SODS, SOIL, split_volume
from sitepipe.works.jobs.means import BULK
from sitepipe.works.jobs.order import haul_along_paths
from sitepipe.works.jobs.record import Ease
from sitepipe.works.jobs.sinking import crest_life
from sitepipe.works.jobs.years import Candidate
from sitepipe.works.land import Land
from sitepipe.works.mounds.crops import CROP_GROUPS
from sitepipe.works.mounds.fills import find_fill
from sitepipe.works.mounds.making import lay_crest, make_mound
from sitepipe.works.mounds.record import Mound
from sitepipe.works.obstacles import inside
from sitepipe.works.rows.record import Arch, Trellis
from sitepipe.works.water.record import Swale
from sitepipe.works.ways.record import Path, TippingPlace

IN_BEDS = 0.6
"""Share of a hoop house's floor that is bed: own choice. [1]"""
AT_A_ROW = 0.3
"""Width of ground that a row of vines makes good: own choice. [m]"""
OF_A_PATH = 0.005
"""Good that a path does by itself, so that one gets about dry: own choice, below that of any bed. [1]"""
LESS = {Ease.SODS: 0.98, Ease.THINNER: 0.96, Ease.LOWER: 0.9, Ease.SHORTER: 1.0}
"""What a bed is worth that is built otherwise than wished for: own choice. [1]"""
THIN_COVER = 0.15
"""Least soil over wood (practitioners). [m]"""
SHORTER = 0.6
"""Length of a shortened crest: own choice. [1]"""


@dataclass(frozen=True)
class Works:
    """All that is to be built, where chips are tipped, the lanes there, and the firm fill of the floor [m3]."""

    mounds: tuple[Mound, ...]
    paths: tuple[Path, ...] = ()
    house: HoopHouse | None = None
    rows: tuple[Trellis, ...] = ()
    place: TippingPlace | None = None
    lanes: tuple[BaseGeometry, ...] = ()
    floor: float = 0.0
    arches: tuple[Arch, ...] = ()
    swales: tuple[Swale, ...] = ()

    @cached_property
    def ways(self) -> Mapping[Ref, float]:
        """Along paths and lanes from where chips are tipped, to each mound and path that they reach. [m]."""
        mounds = haul_along_paths(
            {each.number: each.outline for each in self.mounds}, self.place, self.paths, self.lanes
        )
        middles = {path.number: path.line.interpolate(0.5, normalized=True) for path in self.paths}
        paths = haul_along_paths(middles, self.place, self.paths, self.lanes)
        return {Ref(Work.MOUND, number): way for number, way in mounds.items()} | {
            Ref(Work.PATH, number): way for number, way in paths.items()
        }

    def leading_to(self, ref: Ref | None) -> Path | None:
        """Return the path that ends at a work."""
        return next((path for path in self.paths if path.joins[1] == ref), None) if ref is not None else None


@dataclass(frozen=True, slots=True)
class Built:
    """A mound in one way of building it."""

    mound: Mound
    eases: tuple[Ease, ...] = ()


def other_candidates(works: Works, land: Land) -> list[Candidate]:
    """List swales, paths, hoop house, rows and arches; the mounds are added by ``mound_candidate``."""
    jobs = land.settings.jobs
    found = [
        Candidate(each.ref, ({},), swale_hours(each, jobs), OF_A_PATH * float(each.outline.area))
        for each in works.swales
    ]
    for path in works.paths:
        start = path.joins[0]
        ref = Ref(Work.PATH, path.number)
        after = (start,) if start is not None and start.kind is Work.PATH else _reached_by(start, works)
        hours = path_hours(path, works.ways.get(ref, path.length), jobs)
        found.append(Candidate(ref, ({CHIPS: path.chips},), hours, OF_A_PATH * float(path.outline.area), after))
    if works.house is not None:
        house = works.house
        ref = Ref(Work.HOOP_HOUSE, house.number)
        good = IN_BEDS * house.length * house.width * _weight(house.outline, 0.0, land)
        found.append(Candidate(ref, ({FILL: works.floor},), house_hours(house), good, _before(ref, works)))
    for row in works.rows:
        after = (row.beside,) if row.beside is not None and row.beside.kind is Work.MOUND else ()
        good = AT_A_ROW * row.length * _weight(row.line, 0.0, land)
        found.append(Candidate(Ref(Work.TRELLIS, row.number), ({},), row_hours(row), good, after))
    for arch in works.arches:
        good = 2.0 * AT_A_ROW * arch.length * _weight(arch.line, 0.0, land)
        after = () if arch.beside is None else (arch.beside,)
        found.append(Candidate(arch.ref, ({},), arch_hours(arch), good, after))
    return found


def mound_candidate(built: Built, works: Works, land: Land, years: int) -> Candidate:
    """Make a candidate of a mound: its parts in its first year, what tops it up in those after."""
    mound, settings = built.mound, land.settings
    ref = Ref(Work.MOUND, mound.number)
    life = crest_life(mound, years, settings.materials)
    needs: list[dict[str, float]] = [{life.material: lift} for lift in life.lifts]
    for name, volume in mound.materials:
        name = LOGS if name == CHIPS else name
        needs[0][name] = needs[0].get(name, 0.0) + volume
    good = mound.crest_length * mound.top_width * _weight(mound.outline, works.ways.get(ref, 0.0), land)
    for ease in built.eases:
        good *= LESS[ease]
    hours = mound.hours + planting_hours(mound)
    return Candidate(ref, tuple(needs), hours, good, _before(ref, works))


def _before(ref: Ref, works: Works) -> tuple[Ref, ...]:
    """Return what comes before a work that is heaped up: its path, and the swales that it was tried with."""
    return *_reached_by(ref, works), *(swale.ref for swale in works.swales)


def _reached_by(ref: Ref | None, works: Works) -> tuple[Ref, ...]:
    path = works.leading_to(ref)
    return () if path is None else (Ref(Work.PATH, path.number),)


def count_hours(mound: Mound, works: Works, land: Land) -> Mound:
    """Count a mound's hours along the paths from where the chips are tipped, sods that are turned included."""
    ref = Ref(Work.MOUND, mound.number)
    if ref not in works.ways:
        return mound
    path = works.leading_to(ref)
    steepest = 0.0 if path is None else path.steepest
    wetness = _mean(land.wetness.wetness, mound.outline, land)
    hours = mound_hours(mound, works.ways[ref], steepest, wetness, land.settings.jobs)
    sods = sum(volume for name, volume in mound.materials if name == SODS) / BULK[Stuff.LAWN].middle
    return replace(mound, hours=hours + sods / TURNING)


def ways_round(mound: Mound, works: Works, land: Land) -> Iterator[Built]:
    """Yield the other ways to build a mound: lower or shorter, with thinner cover, with its own sods as cover.

    One that was drawn keeps its shape.
    """
    shapes = (None, Ease.LOWER, Ease.SHORTER) if mound.is_proposed else (None,)
    for shape, cover, sods in product(shapes, (None, Ease.THINNER), (None, Ease.SODS)):
        eases = tuple(ease for ease in (shape, cover, sods) if ease is not None)
        other = _reshaped(mound, shape, land) if eases else None
        if other is not None and cover:
            other = _thinly_covered(other, land)
        if other is not None and sods:
            other = _with_its_sods(other)
        if other is not None:
            yield Built(count_hours(other, works, land), eases)


def _reshaped(mound: Mound, shape: Ease | None, land: Land) -> Mound | None:
    if shape is None:
        return mound
    crops, line = mound.crops, mound.crest
    if shape is Ease.LOWER:
        roots = CROP_GROUPS[crops].roots
        shallower = [name for name, group in CROP_GROUPS.items() if group.roots < roots]
        if not shallower:
            return None
        crops = shallower[-1]
    else:
        line = substring(line, 0.0, SHORTER, normalized=True)
        if line.length < land.settings.mound.shortest:
            return None
    ends = np.array([*line.coords[0], *line.coords[-1]])
    made, _ = make_mound(mound.number, ends, crops, mound.base_width, land, 0.0)
    if made is None or not 0.0 < made.volume < mound.volume:
        return None
    return made


def _thinly_covered(mound: Mound, land: Land) -> Mound | None:
    """Cover the core as thinly as will do; nothing where there is no core or it is so covered."""
    fill = find_fill(mound.fill, land.settings.soil.texture, land.settings.mound.air)
    if not fill.is_woody or land.settings.materials.cover <= THIN_COVER:
        return None
    crest = lay_crest(land.site, mound.crest)
    parts = split_volume(
        crest.heights(mound.height.built),
        mound.top_width,
        crest.spacing,
        fill,
        THIN_COVER,
        land.settings.materials.logs,
    )
    return replace(mound, materials=parts)


def _with_its_sods(mound: Mound) -> Mound | None:
    """Cover it with the sods of its own foot; the hole that they leave is filled with wood."""
    parts = dict(mound.materials)
    core = parts.get(LOGS, 0.0) + parts.get(CHIPS, 0.0)
    moved = min(parts.get(SOIL, 0.0), BULK[Stuff.LAWN].middle * float(mound.outline.area))
    if core <= 0.0 or moved <= 0.0:
        return None
    for name in (LOGS, CHIPS):
        parts[name] *= 1.0 + moved / core
    parts[SOIL] -= moved
    return replace(mound, materials=(*parts.items(), (SODS, moved)))


def _weight(shape: BaseGeometry, way: float, land: Land) -> float:
    """Weigh ground by its sun and by the way to carry, each 0 to 1. [1]."""
    sun = min(_mean(land.sunlight.sun_hours, shape, land) / land.settings.sun.light_breaks[1], 1.0)
    haul = land.settings.scoring.mound.haul_m
    carry = membership(np.array([[way]]), haul.none_at, haul.full_at, haul.least)
    return sun * float(carry[0, 0])


def _mean(values: FloatArray, shape: BaseGeometry, land: Land) -> float:
    """Mean of a layer over a shape, of the nearest cell where it holds none; 0 where unknown."""
    grid = land.site.grid
    mask = inside(shape.buffer(grid.cell), grid.x, grid.y)
    known = values[mask & np.isfinite(values)]
    return float(known.mean()) if known.size else 0.0
