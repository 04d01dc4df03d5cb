"""Coordinate systems: which one a file is in, its units, and the metric plane to work in."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from pyproj import CRS, Proj, Transformer
from pyproj.exceptions import CRSError, ProjError

from sitepipe.arrays import FloatArray
from sitepipe.errors import InputError

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

LOCAL_PLANE = 'LOCAL_CS["local plane of the site",UNIT["metre",1]]'
"""The coordinate system of a site that is measured from its own corner."""

WGS84 = "EPSG:4326"
LARGEST_DISTORTION = 0.01
"""Lengths on the plane may be off by this share before the heights are warped to a truer plane; own choice.

National grids and UTM stay within 0.001; EPSG:3857 is off by 0.41 at 45 degrees.
"""


@dataclass(frozen=True, slots=True)
class VerticalUnit:
    """What one unit of height is worth, and who says so."""

    metres: float
    source: str


def read_crs(text: str, where: str) -> CRS:
    """Read a coordinate system from any usual notation; ``where`` is named in the error."""
    try:
        return CRS.from_user_input(text)
    except CRSError as error:
        raise InputError(
            f"{where} names the coordinate system {text[:60]!r}, which is unknown. Save it again in a system "
            "with an EPSG code"
        ) from error


def horizontal(crs: CRS) -> CRS:
    """Return the part of a coordinate system that says where on the map."""
    if crs.is_compound:
        return horizontal(crs.sub_crs_list[0])
    if crs.is_bound and crs.source_crs is not None:
        return horizontal(crs.source_crs)
    return crs.to_2d() if len(crs.axis_info) == 3 else crs


def vertical_unit(crs: CRS | None) -> VerticalUnit | None:
    """Return the unit of height that a coordinate system states, if it has a vertical part."""
    if crs is None:
        return None
    for part in [crs, *crs.sub_crs_list]:
        axes = part.axis_info
        if part.is_vertical and not part.is_compound and axes:
            return VerticalUnit(float(axes[-1].unit_conversion_factor), f"the vertical system {part.name}")
        if len(axes) == 3 and not part.is_compound:
            return VerticalUnit(float(axes[2].unit_conversion_factor), f"the third axis of {part.name}")
    return None


def is_local(crs: CRS) -> bool:
    """Tell whether a coordinate system is a plane of its own, tied to no place on earth."""
    return crs.is_engineering


def metres_per_unit(crs: CRS) -> float:
    """Return the length of one unit of a projected or local system. [m]."""
    return float(crs.axis_info[0].unit_conversion_factor) if crs.axis_info else 1.0


def in_metres(crs: CRS) -> CRS:
    """Return the same projection with axes in metres; the system itself where they already are.

    Examples
    --------
    >>> feet = CRS.from_epsg(2249)
    >>> metres_per_unit(in_metres(feet))
    1.0
    """
    if metres_per_unit(crs) == 1.0:
        return crs
    described: dict[str, Any] = crs.to_json_dict()
    for axis in described["coordinate_system"]["axis"]:
        axis["unit"] = "metre"
    described["name"] = f"{described['name']} in metres"
    described.pop("id", None)
    for dropped in ("scope", "area", "bbox", "usages"):
        described.pop(dropped, None)
    return CRS.from_json_dict(described)


def local_plane(longitude: float, latitude: float) -> CRS:
    """Return the UTM zone of a place, on WGS 84."""
    if not -80.0 <= latitude <= 84.0:
        raise InputError(
            f"the parcel lies at {latitude:.2f} degrees of latitude; UTM ends at 84 north and 80 south. "
            "Bring heights in a projected system of the region"
        )
    zone = int(np.floor((longitude + 180.0) / 6.0)) % 60 + 1
    return CRS.from_epsg((32600 if latitude >= 0.0 else 32700) + zone)


def distortion(crs: CRS, longitude: float, latitude: float) -> float:
    """Return by which share lengths on the plane differ from lengths on the ground, the worse direction.

    Examples
    --------
    >>> round(distortion(CRS.from_epsg(3857), 9.0, 60.0), 2)
    1.0
    """
    try:
        factors = Proj(crs).get_factors(longitude, latitude)
    except ProjError:
        return float("inf")
    scales = np.array([factors.meridional_scale, factors.parallel_scale])
    return float(np.max(np.abs(scales - 1.0)))


@lru_cache(maxsize=32)
def transformer(source: CRS, target: CRS) -> Transformer:
    """Return the transformation between two systems, always in (east, north) order."""
    try:
        return Transformer.from_crs(source, target, always_xy=True)
    except ProjError as error:
        name = " ".join(source.name.split())[:80]
        raise InputError(
            f"there is no way from the coordinate system {name!r} to {target.name!r}: its definition is damaged or "
            "incomplete. Save the file again with an EPSG code"
        ) from error


def move_points(x: FloatArray, y: FloatArray, source: CRS, target: CRS) -> tuple[FloatArray, FloatArray]:
    """Carry points from one system to another; infinite where that cannot be."""
    if source == target:
        return x, y
    moved_x, moved_y = transformer(source, target).transform(x, y, errcheck=False)
    return np.asarray(moved_x, dtype=np.float64), np.asarray(moved_y, dtype=np.float64)


def move_geometry(geometry: BaseGeometry, source: CRS, target: CRS) -> BaseGeometry:
    """Carry a geometry from one system to another, vertex by vertex."""
    import shapely

    if source == target:
        return geometry

    def moved(points: FloatArray) -> FloatArray:
        return np.column_stack(move_points(points[:, 0], points[:, 1], source, target))

    return shapely.transform(geometry, moved)


def short_name(crs: CRS) -> str:
    """Return a system's name as people write it: its EPSG code where it has one."""
    code = crs.to_epsg(min_confidence=70)
    return f"EPSG:{code}" if code else crs.name
