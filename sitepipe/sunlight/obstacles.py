"""What stands on the ground and takes the light: as drawn, and as a surface model shows it besides."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import Float32Array
from sitepipe.settings import Settings
from sitepipe.site import STANDING, DrawnWork, Feature, Kind, Leafy, Origin, Site, Status, Work
from sitepipe.sunlight.prisms import Prisms, Shape, prisms_of
from sitepipe.terrain.undrawn import undrawn_height

LEAVES = 0.3
"""Thickness of a row in leaf: common practice, no source. [m]"""


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


def works_standing(site: Site, settings: Settings) -> Iterator[tuple[float, list[Shape]]]:
    """Yield what stands of hoop houses, rows and arches, each sort with the share of the light that it lets through."""
    house, row = settings.hoop_house, settings.trellis
    for kinds, passes, height in (
        ((Work.HOOP_HOUSE,), house.film, house.height),
        ((Work.TRELLIS, Work.ARCH), row.let_through, row.height),
    ):
        works = [work for work in site.works_of(*kinds) if work.status is Status.STANDING]
        shapes = [Shape(_outline(work), work.height or height) for work in works]
        if shapes:
            yield passes, shapes


def _outline(work: DrawnWork) -> BaseGeometry:
    """Return walls as they are, a row as thick as its leaves, an arch as wide as it spans."""
    if work.shape.area > 0.0:
        return work.shape
    return work.shape.buffer((work.width or LEAVES) / 2.0, cap_style="flat")


def shape_of(feature: Feature) -> Shape:
    """Return a drawn thing as the light meets it."""
    if isinstance(feature, Leafy):
        return Shape(feature.outline, feature.top, feature.trunk_height, feature.foliage)
    return Shape(feature.outline, feature.top)
