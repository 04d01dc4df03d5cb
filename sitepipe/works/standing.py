"""What stands already, as ground: mounds and swales that the heights are too old to show."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import pairwise

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import frozen
from sitepipe.drainage.heights import PER_METRE, UNKNOWN, whole_heights
from sitepipe.settings import Settings
from sitepipe.site import DrawnWork, Site, Status, Work
from sitepipe.works.mounds.fills import find_fill
from sitepipe.works.water.raised_ground import RIDGE, TRENCH, WholeGround, WholeWork, whole_ground, whole_steps
from sitepipe.works.water.swale import BED_WIDTH, DEPTH, SIDE_SLOPE


def with_standing(site: Site, settings: Settings) -> Site:
    """Build the mounds and swales that stand into the heights, where these were taken before they were built.

    Ground that no work changes keeps its height to the last digit.
    """
    newer = [work for work in site.works if work.status is Status.STANDING and not work.in_heights]
    ground = whole_ground(site, whole_heights(site.elevation)[0])
    rows = [ground.row(piece) for work in newer for piece in _pieces(work, ground, settings)]
    if not rows:
        return site
    steps = ground.with_works(np.array(rows)) - ground.heights
    changed = (steps != 0) & (ground.heights != UNKNOWN)
    return replace(site, elevation=frozen(np.where(changed, site.elevation + steps / PER_METRE, site.elevation)))


def _pieces(work: DrawnWork, ground: WholeGround, settings: Settings) -> Iterator[WholeWork]:
    """Yield the straight pieces of a mound or a swale."""
    if work.kind is Work.MOUND:
        fill = find_fill(work.fill or settings.mound.fills[0], settings.soil.texture, settings.mound.air)
        kind, rise, width = RIDGE, work.height or 0.0, work.width or settings.mound.top
        slope = work.side_slope or fill.side_slope
    elif work.kind is Work.SWALE:
        kind, rise, width = TRENCH, work.depth or DEPTH, work.width or BED_WIDTH
        slope = work.side_slope or SIDE_SLOPE
    else:
        return
    corners = _corners(work.shape)
    for start, end in pairwise(ground.place(x, y) for x, y in corners):
        yield WholeWork(kind, start, end, whole_steps(rise), round(500.0 * width), slope)


def _corners(line: BaseGeometry) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y, *_ in line.coords]
