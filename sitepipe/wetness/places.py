"""The soggiest places of the parcel, ranked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.record import Drainage, PondingUncertainty
from sitepipe.drainage.storm import SOAKING
from sitepipe.settings import Settings, WetnessSettings
from sitepipe.site import Seen, Site
from sitepipe.terrain.outline import outlines, patches_of, polygons_of
from sitepipe.terrain.smoothing import smoothed
from sitepipe.wetness.observations import Sight
from sitepipe.wetness.record import SoggyPlace
from sitepipe.wetness.whereabouts import whereabouts

PIN_ERROR = 1.0
"""A pin set by hand lies within this of what it marks. Common practice, no source. [m]"""

LIKELY = 0.5
"""Chance from which on water is said to stand; the middle. [1]"""


@dataclass(frozen=True, slots=True)
class _Patch:
    outline: Polygon | MultiPolygon
    pond: int | None
    depth: float | None
    depth_low: float | None
    depth_high: float | None
    probability: float
    catchment_area: float
    hours_to_drain: float | None
    is_seen: bool = False

    @property
    def order(self) -> tuple[int, float]:
        """Where water likely stands before what was only seen soaked, before what is modelled so; then by area."""
        if self.probability >= LIKELY:
            return 2, float(self.outline.area * self.probability)
        return int(self.is_seen), float(self.outline.area)


def rank_places(
    site: Site,
    wetness: FloatArray,
    drainage: Drainage,
    uncertainty: PondingUncertainty,
    sights: tuple[Sight, ...],
    settings: Settings,
) -> tuple[SoggyPlace, ...]:
    """Name the soggiest places of the parcel.

    First those where water likely stands, by the flooded area to expect; then ground that was seen soaked, then
    ground that is modelled so, each by size.
    """
    inside = cells_inside(site.grid, site.parcel) & np.isfinite(site.elevation)
    patches = list(_flooded(site, inside, drainage, uncertainty, settings))
    covered = shapely.union_all([patch.outline for patch in patches])
    patches += _soaked(site, inside, covered, wetness, drainage, uncertainty, settings.wetness)
    patches += _only_seen(site, patches, drainage, sights, settings.wetness)
    weighed = [_with_sights(patch, sights) for patch in patches]
    weighed.sort(key=lambda patch: (-patch.order[0], -patch.order[1], patch.outline.bounds))
    return tuple(_place(rank, patch, site) for rank, patch in enumerate(weighed[: settings.wetness.places], start=1))


def _flooded(
    site: Site, inside: BoolArray, drainage: Drainage, uncertainty: PondingUncertainty, settings: Settings
) -> Iterator[_Patch]:
    """Yield the widest hollows that are likely enough to hold water, each once, never one within another.

    A place is the part of the parcel that is under water on at least half of the grounds on which the hollow holds any.
    """
    sure = {pond.pond: pond for pond in uncertainty.ponds}
    soaking = SOAKING[settings.soil.texture]
    nested = {inner for pond in drainage.ponds for inner in pond.inside}
    waiting = [index for index in range(len(drainage.ponds)) if index not in nested]
    while waiting:
        index = waiting.pop(0)
        pond = drainage.ponds[index]
        if pond.share_in_parcel == 0.0:
            continue
        found = sure[index]
        is_likely = found.probability >= settings.wetness.least_chance and found.depth_middle > 0.0
        if not is_likely or pond.depth < settings.wetness.least_depth:
            waiting += pond.inside
            continue
        # Only the box that holds it: a farm has thousands of hollows.
        box = site.grid.around(pond.outline.bounds)
        here = site.grid.part(box)
        is_under = inside[box] & cells_inside(here, pond.outline)
        is_under &= uncertainty.ponding_probability[box] >= 0.5 * found.probability
        outline = polygons_of(shapely.union_all(outlines(is_under, here)).intersection(site.parcel))
        if outline.area < settings.wetness.least_area_m2:
            continue
        yield _Patch(
            outline,
            index,
            found.depth_middle,
            found.depth_low,
            found.depth_high,
            found.probability,
            pond.catchment_area,
            found.depth_middle / soaking,
        )


def _soaked(
    site: Site,
    inside: BoolArray,
    covered: Polygon | MultiPolygon,
    wetness: FloatArray,
    drainage: Drainage,
    uncertainty: PondingUncertainty,
    settings: WetnessSettings,
) -> Iterator[_Patch]:
    """Yield patches among the wettest ground of the parcel that no named hollow covers."""
    grid = site.grid
    spread = 0.5 * np.sqrt(settings.least_area_m2) / grid.cell
    calm = smoothed(np.where(inside, wetness, np.nan), float(spread))
    if not np.isfinite(calm).any():
        return
    bar = max(settings.soaked_least, float(np.nanquantile(calm, 1.0 - settings.soaked_share)))
    is_soaked = inside & (np.nan_to_num(calm, nan=0.0) >= bar)
    if not covered.is_empty:
        is_soaked &= ~cells_inside(grid, covered)
    # A patch far too small is not worth outlining; on rough ground there are hundreds.
    patches = patches_of(np.where(is_soaked, 0, -1).astype(np.int32))
    sizes = np.bincount(patches.ravel() + 1) * grid.cell_area
    is_soaked &= sizes[patches + 1] >= 0.5 * settings.least_area_m2
    for rough in outlines(is_soaked, grid):
        outline = polygons_of(rough.intersection(site.parcel).difference(covered))
        if outline.area < settings.least_area_m2:
            continue
        box = grid.around(outline.bounds)
        here = cells_inside(grid.part(box), outline)
        chance = uncertainty.ponding_probability[box][here]
        behind = drainage.upslope_area[box][here]
        yield _Patch(
            outline,
            None,
            None,
            None,
            None,
            float(np.nanmean(chance)) if np.isfinite(chance).any() else 0.0,
            float(np.nanmax(behind)) if np.isfinite(behind).any() else 0.0,
            None,
        )


def _only_seen(
    site: Site,
    patches: list[_Patch],
    drainage: Drainage,
    sights: tuple[Sight, ...],
    settings: WetnessSettings,
) -> Iterator[_Patch]:
    """Yield a small place for each wet spot that was seen where the map names none."""
    radius = float(np.sqrt(settings.least_area_m2 / np.pi))
    named = shapely.union_all([patch.outline for patch in patches]).buffer(PIN_ERROR)
    for sight in sights:
        place = sight.feature.geometry.representative_point()
        if sight.is_wet and site.parcel.covers(place) and not named.covers(place):
            outline = polygons_of(place.buffer(max(radius, PIN_ERROR)).intersection(site.parcel))
            behind = float(drainage.upslope_area[sight.row, sight.column])
            yield _Patch(outline, None, None, None, None, 0.0, behind, None)


def _with_sights(patch: _Patch, sights: tuple[Sight, ...]) -> _Patch:
    """Let what was seen in a patch change its chance: each wet sight independently, then each dry one."""
    near = patch.outline.buffer(PIN_ERROR)
    here = [sight for sight in sights if near.intersects(sight.feature.geometry)]
    fails, stays = 1.0 - patch.probability, 1.0
    for sight in here:
        if sight.is_wet and sight.feature.seen is not Seen.RUSHES:
            fails *= 1.0 - sight.trust
        elif not sight.is_wet:
            stays *= 1.0 - sight.trust
    return replace(patch, probability=(1.0 - fails) * stays, is_seen=any(sight.is_wet for sight in here))


def _place(rank: int, patch: _Patch, site: Site) -> SoggyPlace:
    middle = patch.outline.centroid
    if not patch.outline.covers(middle):
        middle = patch.outline.representative_point()
    return SoggyPlace(
        rank=rank,
        outline=patch.outline,
        middle=middle,
        area=float(patch.outline.area),
        depth=patch.depth,
        depth_low=patch.depth_low,
        depth_high=patch.depth_high,
        probability=patch.probability,
        is_seen=patch.is_seen,
        pond=patch.pond,
        catchment_area=patch.catchment_area,
        hours_to_drain=patch.hours_to_drain,
        where=whereabouts(Point(middle), site),
    )
