"""What a surface model shows standing where nobody drew anything."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from scipy.ndimage import label
from shapely import MultiPolygon, Polygon

from sitepipe.arrays import FloatArray
from sitepipe.site import STANDING, Feature, Kind, Site
from sitepipe.terrain.outline import outlines, polygons_of

STANDS_FROM = 0.5
"""Height from which a surface model's difference counts as a thing that stands. [m]  Common practice, no source."""
DRAWN_TO = 2.0
"""A hand-drawn outline may lie so far within what it stands for: common practice, no source. [m]"""
SPREAD = 0.5
"""A crown may reach beyond its drawn outline by so much of its height: common practice, no source. [1]"""
LEAST_PATCH = 4.0
"""Smaller patches are posts, cars and noise: our own choice. [m2]"""


def undrawn_height(site: Site, claimants: Iterable[Feature]) -> FloatArray:
    """Return what a surface model shows and no drawn thing claims.

    A thing claims what is shown on its outline, and what hangs together with that nearby: as far as its outline may be
    off, or its crown may spread.

    Parameters
    ----------
    site : Site
    claimants : iterable of Feature

    Returns
    -------
    (rows, columns) float array
        Height above the ground, 0 where nothing stands or what stands is claimed. [m]
    """
    height = np.where(site.obstacle_height > STANDS_FROM, site.obstacle_height, 0.0)
    if not height.any():
        return height
    left = height.copy()
    for feature in claimants:
        reach = max(DRAWN_TO, SPREAD * feature.height) if feature.kind is Kind.TREE else DRAWN_TO
        own, near = feature.outline.buffer(0.71 * site.grid.cell), feature.outline.buffer(reach)
        west, south, east, north = near.bounds
        top, first = site.grid.cell_at(west, north)
        bottom, last = site.grid.cell_at(east, south)
        window = (slice(max(top, 0), max(bottom + 1, 0)), slice(max(first, 0), max(last + 1, 0)))
        x, y = np.meshgrid(site.grid.x[window[1]], site.grid.y[window[0]])
        patches, _ = label((height[window] > 0.0) & shapely.contains_xy(near, x, y), np.ones((3, 3)))
        is_claimed = np.isin(patches, np.unique(patches[shapely.contains_xy(own, x, y)])) & (patches > 0)
        left[window][is_claimed] = 0.0
    return left


def undrawn_ground(site: Site, least_height: float) -> Polygon | MultiPolygon:
    """Return the ground of the parcel on which something stands, at least so high, that is not drawn."""
    stands = undrawn_height(site, site.of_kind(*STANDING)) >= max(least_height, STANDS_FROM)
    patches, count = label(stands)
    own = np.bincount(patches.ravel(), minlength=count + 1) * site.grid.cell**2 >= LEAST_PATCH
    own[0] = False
    return polygons_of(shapely.union_all(outlines(own[patches], site.grid)).intersection(site.parcel))
