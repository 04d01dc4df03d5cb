"""What stands on the ground and takes the light: as drawn, and as a surface model shows it besides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from sitepipe.arrays import Float32Array
from sitepipe.site import Feature, Kind, Leafy, Origin, Site
from sitepipe.sunlight.prisms import Prisms, Shape, prisms_of

STANDS_FROM = 0.5
"""Height from which a surface model's difference counts as a thing that stands. [m]  Common practice, no source."""

CLAIMED = 2.0
"""Around a drawn outline what a surface model shows belongs to the thing drawn. [m]  Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Standing:
    """Everything that stands on a grid.

    Parameters
    ----------
    shown : (rows, columns) float32 array
        Height above the ground of what only the surface model shows, 0 where nothing does. [m]
    prisms : Prisms
        What is drawn.
    """

    shown: Float32Array
    prisms: Prisms


def standing(site: Site) -> Standing:
    """Return what is drawn as prisms, and what the surface model shows besides.

    What it shows within ``CLAIMED`` of a drawn outline belongs to the thing that is drawn there, whose outline is
    seldom exact. A building drawn without a height stays as it shows it, ridge and eaves.
    """
    shown = np.nan_to_num(site.obstacle_height, nan=0.0)
    shown = np.where(shown > STANDS_FROM, shown, 0.0).astype(np.float32)
    drawn = [
        feature
        for feature in site.of_kind(Kind.BUILDING, Kind.WALL, Kind.HEDGE, Kind.TREE)
        if feature.kind is not Kind.BUILDING or feature.height_by is not Origin.SURFACE
    ]
    if shown.any() and drawn:
        rows, columns = np.nonzero(shown)
        claims = shapely.union_all([feature.outline.buffer(CLAIMED) for feature in drawn])
        is_claimed = shapely.contains_xy(claims, site.grid.x[columns], site.grid.y[rows])
        shown[rows[is_claimed], columns[is_claimed]] = 0.0
    return Standing(shown, prisms_of([shape_of(feature) for feature in drawn], site.grid))


def shape_of(feature: Feature) -> Shape:
    """Return a drawn thing as the light meets it."""
    if isinstance(feature, Leafy):
        return Shape(feature.outline, feature.top, feature.trunk_height, feature.foliage)
    return Shape(feature.outline, feature.top)
