"""What each criterion looks at."""

from __future__ import annotations

import numpy as np
import shapely

from sitepipe.arrays import FloatArray
from sitepipe.drainage.record import Drainage
from sitepipe.settings import Criterion, MoundUse, PathUse, ScoringSettings, Settings, WetPlantingUse
from sitepipe.site import Kind, Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.slope import gradient
from sitepipe.terrain.smoothing import smoothed
from sitepipe.wetness.record import WaterTable, Wetness

EASED = 5.0
"""Spacing of the points that stand for a gate or a road where distances are taken. [m]"""


def asked_of(use: MoundUse | WetPlantingUse | PathUse) -> dict[str, Criterion]:
    """Return the criteria of a use that weigh anything by name, in the order in which they are declared."""
    every = ((name, getattr(use, name)) for name in type(use).model_fields)
    return {name: criterion for name, criterion in every if criterion.weight > 0.0}


def looked_at(
    site: Site,
    drainage: Drainage,
    sunlight: Sunlight,
    wetness: Wetness,
    water_table: WaterTable,
    settings: Settings,
) -> dict[str, FloatArray]:
    """Return the values that the criteria look at, each in the unit of its name."""
    return {
        "sun_hours": sunlight.sun_hours,
        "standing_water_m": standing_water(drainage),
        "slope_percent": 100.0 * slope_under_works(site, settings.scoring),
        "water_behind_m2": water_passing(site, drainage, settings.scoring),
        "water_table_m": water_table.water_table_depth,
        "wetness": wetness.wetness,
        "wet_enough": wetness.wetness,
        "haul_m": way_to_carry(site),
        "depth_to_water_index_m": drainage.depth_to_water_index,
    }


def standing_water(drainage: Drainage) -> FloatArray:
    """Return the depth that stands after the larger storm, or in full hollows where no storm was followed. [m]."""
    depth = drainage.storms[-1].depth if drainage.storms else drainage.ponding_depth
    return np.asarray(np.where(drainage.known, np.nan_to_num(depth, nan=0.0), np.nan))


def water_passing(site: Site, drainage: Drainage, settings: ScoringSettings) -> FloatArray:
    """Return the most ground that drains past within half the least width of a zone: a work has an extent. [m2]."""
    reach = max(1.0, settings.least_width / 2.0 / site.grid.cell)
    return np.asarray(np.where(drainage.known, _most_within(drainage.upslope_area, reach), np.nan))


def slope_under_works(site: Site, settings: ScoringSettings) -> FloatArray:
    """Return rise per run of the ground, averaged over the least width of a zone. [1]."""
    east, north = gradient(smoothed(site.elevation, settings.least_width / 2.0 / site.grid.cell), site.grid.cell)
    return np.asarray(np.hypot(east, north))


def way_to_carry(site: Site) -> FloatArray:
    """Return how far each cell lies from a gate, or from a road or drive inside the parcel; 0 where none is drawn. [m].

    As the crow flies: the paths are not known yet.
    """
    starts = [feature.geometry for feature in site.of_kind(Kind.GATE)]
    starts += [
        f.geometry.intersection(site.parcel) for f in site.of_kind(Kind.ROAD) if f.geometry.intersects(site.parcel)
    ]
    if not starts:
        starts = [feature.geometry for feature in site.of_kind(Kind.ROAD)]
    if not starts:
        return np.zeros(site.grid.shape)
    points = shapely.get_coordinates(shapely.segmentize(shapely.geometrycollections(starts), EASED))
    from scipy.spatial import KDTree

    cells = np.stack(np.meshgrid(site.grid.x, site.grid.y), axis=-1)
    return np.asarray(KDTree(points).query(cells)[0])


def _most_within(values: FloatArray, reach: float) -> FloatArray:
    """Return the largest known value within a distance of each cell, in cells."""
    from scipy.ndimage import maximum_filter

    away = np.arange(-int(reach), int(reach) + 1)
    disc = np.hypot(away[:, None], away) <= reach
    known = np.where(np.isnan(values), -np.inf, values)
    return np.asarray(maximum_filter(known, footprint=disc, mode="constant", cval=-np.inf))
