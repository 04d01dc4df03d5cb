"""Lines and areas of equal value, drawn from a raster."""

from __future__ import annotations

import itertools

import numpy as np
import shapely
from shapely import LineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import FloatArray


def lines_at(x: FloatArray, y: FloatArray, values: FloatArray, level: float) -> list[LineString]:
    """Lines along which a raster has one value; none where it is unknown.

    Parameters
    ----------
    x, y : (columns,), (rows,) float array
        Centres of columns and rows. [m]
    """
    from contourpy import contour_generator

    lines = contour_generator(x, y, np.ma.masked_invalid(values)).lines(level)
    return [LineString(line) for line in lines if len(line) > 1]


def area_between(
    x: FloatArray, y: FloatArray, values: FloatArray, low: float, high: float = np.inf, least: float = 0.0
) -> BaseGeometry:
    """Polygons over which a raster lies between two values; pieces and holes smaller than ``least`` m2 are let go."""
    from contourpy import FillType, contour_generator

    generator = contour_generator(x, y, np.ma.masked_invalid(values), fill_type=FillType.OuterOffset)
    outlines, offsets = generator.filled(low, high)[:2]
    pieces = []
    for points, starts in zip(outlines, offsets, strict=True):
        if points is None or starts is None:
            continue
        rings = [points[a:b] for a, b in itertools.pairwise(starts)]
        holes = [ring for ring in rings[1:] if len(ring) > 3 and Polygon(ring).area >= least]
        if len(rings[0]) > 3:
            piece = Polygon(rings[0], holes).buffer(0.0)
            if piece.area >= least:
                pieces.append(piece)
    return shapely.union_all(pieces) if pieces else MultiPolygon()
