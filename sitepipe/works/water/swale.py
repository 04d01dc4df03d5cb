"""Swales as they were drawn: what is dug, how the ground falls along them, where they lead."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import Point

from sitepipe.site import DrawnWork, Work
from sitepipe.works.houses.roof_water import where_water_goes
from sitepipe.works.land import Land
from sitepipe.works.mounds.making import ground_at
from sitepipe.works.mounds.volumes import ridge_section
from sitepipe.works.water.record import Swale

DEPTH, BED_WIDTH, SIDE_SLOPE = 0.2, 0.4, 2.0
"""Of a swale drawn without them: a spade's blade deep, sides that can be mown. Common practice, no source. [m]"""


def draw_swales(land: Land) -> tuple[Swale, ...]:
    """Make the swales that stand or are wanted, as they were drawn."""
    return tuple(_swale(work, land) for work in land.site.works_of(Work.SWALE))


def _swale(work: DrawnWork, land: Land) -> Swale:
    depth, bed, slope = work.depth or DEPTH, work.width or BED_WIDTH, work.side_slope or SIDE_SLOPE
    x, y = shapely.get_coordinates(work.shape).T
    heights = ground_at(land.site, x, y)
    lower = int(np.nanargmin(heights[[0, -1]])) if np.isfinite(heights[[0, -1]]).any() else 0
    end = Point(work.shape.coords[-lower])
    section = float(ridge_section(np.array([depth]), bed, slope)[0])
    return Swale(
        work.number,
        line=work.shape,
        outline=work.shape.buffer(bed / 2.0 + slope * depth),
        depth=depth,
        bed_width=bed,
        side_slope=slope,
        dug=section * float(work.shape.length),
        fall=float(abs(heights[-1] - heights[0])),
        leads_to=where_water_goes(land.site, land.drainage, end.buffer(bed)),
        name=work.name,
        status=work.status,
        built=work.built,
    )
