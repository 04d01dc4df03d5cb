"""Beds: every place of the plan where plants are set."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, Point, contains_xy
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import PondingUncertainty
from sitepipe.planting.match import Place, Purpose, fit
from sitepipe.planting.palette import Host, Own, Plant
from sitepipe.planting.setting_out import Outline, bed_beside, cut_across, start_of
from sitepipe.scoring.record import Use
from sitepipe.settings import Settings
from sitepipe.site import STANDING, Found, Kind, Ref, Site, Status, Work
from sitepipe.site import Bed as DrawnBed
from sitepipe.terrain.outline import outlines, polygons_of
from sitepipe.works.jobs.listing import years_of
from sitepipe.works.land import Land
from sitepipe.works.record import Plan
from sitepipe.works.rows.record import Arch, Trellis

PURPOSES = {
    "strawberries": Purpose.STRAWBERRIES,
    "shallow vegetables": Purpose.VEGETABLES,
    "deep vegetables": Purpose.VEGETABLES,
    "blueberries": Purpose.BLUEBERRIES,
    "berry bushes": Purpose.SHRUBS,
    "fruit trees": Purpose.TREES,
}
"""What a mound that was raised for a group of crops is for."""
STANDS = 0.8
"""Ground that stands under water with more than this chance is left open. Common practice, no source. [1]"""
BESIDE_POSTS = 0.5
"""Kept from a trellis. Common practice, no source. [m]"""
PACKED = 0.8
"""Of a bed that plants of many sizes take at most, set by hand or by ``setting_out``: measured there. [1]"""
EDGED = 1.0 / 3.0
"""Of a bed's edge that edging is proposed for: the side from which one works. Common practice, no source. [1]"""
NAMES = {
    Host.NUT_TREE: re.compile(r"\b(walnut|butternut|hickory|pecan|juglans|carya)\b", re.IGNORECASE),
    Host.WHITE_PINE: re.compile(r"\b(white pine|pinus strobus)\b", re.IGNORECASE),
    Host.JUNIPER: re.compile(r"\b(juniper|juniperus|red cedar)\b", re.IGNORECASE),
}
"""What drawn trees, and the grower's own plants, are called that harm others from afar."""
PLOTS = 4
"""So many plots of vegetables at least: years until a family comes back. Common practice, no source."""
LEAST_PLOT = 1.0
"""A plot is no smaller: own choice. [m2]"""


@dataclass(frozen=True, slots=True)
class Bed:
    """A place to plant.

    Parameters
    ----------
    of : Ref
    place : Place
    ground : polygon
        That may be planted. [m]
    left : float
        Ground of its zone beside it. [m2]
    supports : tuple of line
        For climbers. [m]
    year : int or None
        In which its mound is built.
    """

    of: Ref
    place: Place
    ground: Outline
    left: float = 0.0
    supports: tuple[LineString, ...] = ()
    year: int | None = None

    @property
    def is_rotated(self) -> bool:
        """Whether its vegetables move on each year."""
        return self.place.purpose is Purpose.VEGETABLES

    @property
    def capacity(self) -> tuple[float, ...]:
        """What it has to give, in the order of ``assign.CAPACITIES`` without the count of plants."""
        if self.supports:
            return 0.0, 0.0, 0.0, sum(line.length for line in self.supports)
        edged = 1.0 if self.place.purpose is Purpose.STRAWBERRIES else EDGED
        packed = PACKED * self.ground.area
        return packed, packed, edged * self.ground.length, 0.0


def beds_of(land: Land, uncertainty: PondingUncertainty, plan: Plan, own: Own, palette: Sequence[Plant]) -> list[Bed]:
    """List every place to plant: wet ground beside the paths, drawn beds, mounds, trellises.

    Each piece of wet ground may be larger by the ground that the grower's ``own`` plants take.
    """
    site, settings, water_table = land.site, land.settings, land.water_table
    wanted = sum(plant.room * mine.count for plant, mine in own)
    reach = _reach_of_hosts(site, own, settings)
    first, last = land.sunlight.season
    season = float((last - first).days % 365)
    x, y = np.meshgrid(site.grid.x, site.grid.y)

    def place(shape: BaseGeometry, purpose: Purpose, width: float, raised: float = 0.0, lost: float = 0.0) -> Place:
        box = site.grid.around(shape.bounds)
        here = contains_xy(shape, x[box], y[box]) & np.isfinite(water_table.water_table_depth[box])
        if not here.any():
            here[site.grid.part(box).cell_at(shape.centroid.x, shape.centroid.y)] = True
        is_mound = raised > 0.0
        error = _middle(water_table.error[box][here], 0.1)
        return Place(
            drained=raised or _middle(water_table.water_table_depth[box][here], 0.0),
            drained_error=min(error, 0.1) if is_mound else error,
            standing=0.0 if is_mound else _middle(uncertainty.ponding_probability[box][here], 0.0),
            sun=max(_middle(land.sunlight.sun_hours[box][here], 6.0) - lost, 0.0),
            width=width,
            area=float(shape.area),
            coldest=settings.planting.coldest_night,
            is_mound=is_mound,
            purpose=purpose,
            season=season,
            near=frozenset(host for host, there in reach.items() if there.intersects(shape)),
        )

    beds = []
    taken = _taken(site, plan, uncertainty, settings)
    for zone in land.zones.zones if land.site.ground.bears_works else ():
        ground = polygons_of(zone.outline.difference(taken)) if zone.use is Use.WET_PLANTING else Point().buffer(0.0)
        if ground.is_empty:
            continue
        there = place(zone.outline, Purpose.WET, math.sqrt(zone.area))
        bed = bed_beside(ground, start_of(ground, site, plan), settings.planting.bed_area + wanted)
        beds.append(Bed(Ref(Found.ZONE, zone.number), there, bed, ground.area - bed.area))
    for drawn in site.drawn(DrawnBed):
        ground = polygons_of(drawn.geometry)
        width = 2.0 * float(shapely.maximum_inscribed_circle(ground, tolerance=0.01).length)
        there = place(ground, Purpose.NURSERY if drawn.is_nursery else Purpose.VEGETABLES, width)
        if not drawn.is_nursery and not any(plant.is_annual and fit(plant, there).score > 0.0 for plant in palette):
            there = replace(there, purpose=Purpose.WET)  # too wet for any vegetable: what bears it is planted
        beds.append(Bed(Ref(Kind.BED, drawn.number), there, ground))
    year_of = years_of(plan)
    losses = dict(plan.own_shade)
    for mound in plan.mounds:
        if mound.ref in plan.waiting:
            continue
        raised = mound.height.finished + mound.height.depth_to_water
        purpose = PURPOSES.get(mound.crops, Purpose.SHRUBS)
        there = place(mound.outline, purpose, mound.base_width, raised, losses.get(mound.number, 0.0))
        year = None if mound.status is Status.STANDING else year_of.get(mound.ref, 1)
        beds.append(Bed(Ref(Work.MOUND, mound.number), there, polygons_of(mound.outline), year=year))
    rows: tuple[Trellis | Arch, ...] = (*plan.trellises, *plan.arches)
    for row in rows:
        if row.ref in plan.waiting:
            continue
        lines = row.feet if isinstance(row, Arch) else (row.line,)
        strip = polygons_of(shapely.union_all([line.buffer(BESIDE_POSTS) for line in lines]))
        there = replace(place(strip, Purpose.VINES, 1.0), area=row.length * row.length)
        its = row.beside if row.beside is not None and row.beside.kind is Work.MOUND else None
        year = year_of.get(row.ref, None if its is None else year_of.get(its, 1))
        beds.append(Bed(row.ref, there, strip, supports=lines, year=year))
    return _in_plots(beds)


def _reach_of_hosts(site: Site, own: Own, settings: Settings) -> dict[Host, BaseGeometry]:
    """Return the ground that each host harms; the spores of rusts fly over all of a parcel (common practice)."""
    found: dict[Host, BaseGeometry] = {}
    for host, name in NAMES.items():
        trees = [tree.geometry for tree in site.of_kind(Kind.TREE) if name.search(tree.name)]
        if host is Host.NUT_TREE:
            found[host] = shapely.union_all(trees).buffer(settings.planting.juglone_reach)
        elif trees or any(name.search(f"{plant.common} {plant.latin}") for plant, _ in own):
            found[host] = site.parcel
    return found


def _in_plots(beds: Sequence[Bed]) -> list[Bed]:
    """Cut the beds of vegetables across, where they are too few for families to move from one to the next."""
    rotated = [bed for bed in beds if bed.is_rotated]
    found: list[Bed] = []
    for bed in beds:
        count = -(-PLOTS // max(len(rotated), 1)) if bed in rotated else 1
        count = min(count, max(int(bed.ground.area / LEAST_PLOT), 1))
        pieces = cut_across(bed.ground, count)
        found += [replace(bed, ground=piece, place=replace(bed.place, area=float(piece.area))) for piece in pieces]
    return found


def _taken(site: Site, plan: Plan, uncertainty: PondingUncertainty, settings: Settings) -> BaseGeometry:
    """Return the ground that no plant of a zone is set on: what is built or stands, and water that likely stands."""
    built = [thing.outline for thing in site.of_kind(*STANDING, Kind.BED)]
    built += [site.parcel.boundary.buffer(settings.planting.boundary_room)]
    built += [path.outline for path in plan.paths]
    built += [mound.outline for mound in plan.mounds]
    built += [house.outline for house in plan.hoop_houses]
    built += [place.outline for place in plan.tipping_places]
    built += [trellis.line.buffer(BESIDE_POSTS) for trellis in plan.trellises]
    built += [arch.ground for arch in plan.arches]
    built += outlines(np.nan_to_num(uncertainty.ponding_probability, nan=0.0) >= STANDS, site.grid)
    return shapely.union_all(built)


def _middle(values: FloatArray, otherwise: float) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if len(known) else otherwise
