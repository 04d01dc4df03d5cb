"""The order of building, as access asks for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray
from sitepipe.works.jobs.record import YearOfWork
from sitepipe.works.mounds.record import Mound
from sitepipe.works.ways.record import Path, TippingPlace

SPACING = 0.5
"""Between the points that a path is walked by. [m]"""
JOIN = 1.2
"""Paths that come this near meet. [m]"""
BESIDE = 1.5
"""A path that comes this near a mound or a pile reaches it. [m]"""


def order_of_building(
    mounds: tuple[Mound, ...],
    place: TippingPlace | None,
    paths: tuple[Path, ...],
    years: tuple[YearOfWork, ...] = (),
    lanes: Sequence[BaseGeometry] = (),
) -> tuple[int, ...]:
    """Return the numbers of the mounds, first built first.

    Years come first where they are given. Within a year the mound farthest along the paths from the tipping place is
    built first, so that no barrow has to pass work that is finished: common practice, no source. Mounds that no path
    reaches come last, by number.
    """
    far = haul_along_paths({mound.number: mound.outline for mound in mounds}, place, paths, lanes)
    year_of = {number: year.year for year in years for number in year.builds}
    last = max(year_of.values(), default=0) + 1
    return tuple(
        mound.number
        for mound in sorted(
            mounds,
            key=lambda mound: (
                year_of.get(mound.number, last if years else 0),
                mound.number not in far,
                -far.get(mound.number, 0.0),
                mound.number,
            ),
        )
    )


def haul_along_paths(
    outlines: Mapping[int, BaseGeometry],
    place: TippingPlace | None,
    paths: tuple[Path, ...],
    lanes: Sequence[BaseGeometry] = (),
) -> Mapping[int, float]:
    """Metres along paths and drives from the tipping place to each outline that they reach. [m].

    They are walked from point to point, half a metre apart; where two come within ``JOIN`` one steps over.
    """
    from scipy.sparse.csgraph import dijkstra
    from scipy.spatial import KDTree

    if place is None or not (paths or lanes):
        return {}
    spots = np.vstack([*(_spots(path) for path in paths), *(_spots_on(lane) for lane in lanes)])
    apart = KDTree(spots).sparse_distance_matrix(KDTree(spots), JOIN, output_type="coo_matrix").tocsr()
    start = np.flatnonzero(shapely.distance(shapely.points(spots), place.outline) <= BESIDE)
    if start.size == 0:
        return {}
    far = dijkstra(apart, directed=False, indices=start, min_only=True)
    found: dict[int, float] = {}
    for number, outline in outlines.items():
        beside = shapely.distance(shapely.points(spots), outline) <= BESIDE
        nearest = float(far[beside].min()) if beside.any() else np.inf
        if np.isfinite(nearest):
            found[number] = nearest
    return found


def _spots_on(lane: BaseGeometry) -> FloatArray:
    """Places on a drive, ``SPACING`` apart each way."""
    west, south, east, north = lane.bounds
    x, y = np.meshgrid(np.arange(west, east, SPACING), np.arange(south, north, SPACING))
    on_it = shapely.contains_xy(lane, x, y)
    return np.column_stack([x[on_it], y[on_it]])


def _spots(path: Path) -> FloatArray:
    count = max(int(np.ceil(path.line.length / SPACING)), 1)
    along = np.linspace(0.0, path.line.length, count + 1)
    return np.asarray(shapely.get_coordinates(shapely.line_interpolate_point(path.line, along)))
