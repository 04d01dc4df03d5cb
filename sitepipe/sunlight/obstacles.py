"""What stands on the ground and takes the light: as drawn, and as a surface model shows it besides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import Float32Array
from sitepipe.site import STANDING, Feature, Kind, Leafy, Origin, Site
from sitepipe.sunlight.prisms import Prisms, Shape, prisms_of
from sitepipe.terrain.undrawn import undrawn_height


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

    A building drawn without a height stays as the surface model shows it, ridge and eaves.
    """
    drawn = [
        feature
        for feature in site.of_kind(*STANDING)
        if feature.kind is not Kind.BUILDING or feature.height_by is not Origin.SURFACE
    ]
    shown = undrawn_height(site, drawn).astype(np.float32)
    return Standing(shown, prisms_of([shape_of(feature) for feature in drawn], site.grid))


def shape_of(feature: Feature) -> Shape:
    """Return a drawn thing as the light meets it."""
    if isinstance(feature, Leafy):
        return Shape(feature.outline, feature.top, feature.trunk_height, feature.foliage)
    return Shape(feature.outline, feature.top)
