"""Where the drawing lies: its coordinate system, and whether it meets the heights."""

from __future__ import annotations

import math

import shapely
from pyproj import CRS
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError, SettingsError
from sitepipe.reading.coordinates import WGS84, horizontal, is_local, move_geometry, short_name
from sitepipe.reading.drawn import DrawnLayer
from sitepipe.reading.frame import Bounds, choose_plane
from sitepipe.settings import Settings
from sitepipe.units import compass_word

EARTH = CRS.from_user_input(WGS84)
FURTHEST_CLAIM = 0.1
"""A latitude or longitude in site.toml may be this far from where the files lie; about 10 km. [deg]"""


def system_of_drawing(layer: DrawnLayer, heights: str, heights_crs: CRS | None) -> CRS | None:
    """Return the coordinate system of a drawn layer, None for the local plane that it shares with the heights.

    Parameters
    ----------
    heights : str
        Name of the file of heights.
    heights_crs : CRS or None
        Its horizontal system; None where it states none.

    Raises
    ------
    InputError
        If the layer's numbers cannot be what it says, or the two cannot be brought together.
    """
    tied = None if heights_crs is None or is_local(heights_crs) else heights_crs
    if layer.crs is not None and not is_local(layer.crs):
        if tied is None:
            raise InputError(
                f"{heights} states no place on earth, and {layer.name} does ({short_name(layer.crs)}). "
                "Bring heights with a coordinate system, or draw in the heights' own metres"
            )
        _refuse_wrong_numbers(layer, layer.crs)
        return horizontal(layer.crs)
    if tied is None:
        return None
    if layer.crs is not None:
        raise InputError(
            f"{layer.name} is drawn on a plane of its own, and {heights} lies on the earth "
            f"({short_name(tied)}). Draw it on those heights, as with 'sitepipe sketch'"
        )
    if layer.is_in_degrees:
        return EARTH
    looks = _looks_like(layer, heights, tied)
    x, y = shapely.get_coordinates(layer.features[0].geometry)[0]
    raise InputError(
        f"{layer.name} has coordinates such as {x:.6g}, {y:.6g}, which are no degrees, and states no coordinate "
        f"system{looks}. Export it again as GeoJSON in degrees (WGS 84)"
    )


def plane_of_drawing_alone(
    layer: DrawnLayer, parcel: Polygon | MultiPolygon, settings: Settings
) -> tuple[CRS | None, tuple[float, float], CRS | None]:
    """Return (system of the drawing, (longitude, latitude), plane) of a site that has levels and no other heights.

    A layer that states no system is in degrees, unless site.toml gives a latitude and longitude that lie elsewhere:
    then it is drawn on a plane of its own.
    """
    said = settings.longitude, settings.latitude
    if layer.crs is not None and is_local(layer.crs):
        return None, middle_on_earth(parcel, None, layer, "levels.csv", settings), None
    if layer.crs is None and said[0] is not None and said[1] is not None:
        west, south, east, north = parcel.bounds
        is_there = (
            abs((west + east) / 2.0 - said[0]) < FURTHEST_CLAIM
            and abs((south + north) / 2.0 - said[1]) < FURTHEST_CLAIM
        )
        if not is_there:
            return None, (said[0], said[1]), None
    if layer.crs is None and not layer.is_in_degrees:
        middle_on_earth(parcel, None, layer, "levels.csv", settings)
    crs = horizontal(layer.crs) if layer.crs is not None else EARTH
    _refuse_wrong_numbers(layer, crs)
    place = middle_on_earth(parcel, crs, layer, "levels.csv", settings)
    plane, _ = choose_plane(layer.name, crs, *place)
    return crs, place, plane


def _refuse_wrong_numbers(layer: DrawnLayer, crs: CRS) -> None:
    if crs.is_geographic and not layer.is_in_degrees:
        x, y = shapely.get_coordinates(layer.features[0].geometry)[0]
        raise InputError(
            f"{layer.name} says that it is in degrees, and has coordinates such as {x:.6g}, {y:.6g}. "
            "Export it again with its true coordinate system"
        )


def _looks_like(layer: DrawnLayer, heights: str, heights_crs: CRS) -> str:
    code = heights_crs.to_epsg(min_confidence=70)
    area = None if code is None else CRS.from_epsg(code).area_of_use
    if area is None:
        return ""
    moved = move_geometry(layer.features[0].geometry, horizontal(heights_crs), EARTH)
    west, south, east, north = area.bounds
    x, y = moved.bounds[:2]
    if math.isfinite(x) and west - 1 <= x <= east + 1 and south - 1 <= y <= north + 1:
        return f"; they look like {short_name(heights_crs)}, the system of {heights}"
    return ""


def middle_on_earth(
    parcel: Polygon | MultiPolygon, crs: CRS | None, layer: DrawnLayer, heights: str, settings: Settings
) -> tuple[float, float]:
    """Return (longitude, latitude) of the parcel's middle. [deg].

    Raises
    ------
    SettingsError
        If the site is tied to no place and site.toml does not give one, or gives one that is far off.
    InputError
        If the parcel straddles the date line.
    """
    said = settings.longitude, settings.latitude
    if crs is None:
        if said[0] is None or said[1] is None:
            raise SettingsError(
                f"{heights} and {layer.name} are in a plane of their own, tied to no place on earth. If so, write "
                "latitude = 45.2 and longitude = -73.6 (degrees) in site.toml; if not, bring heights with a "
                "coordinate system"
            )
        return said[0], said[1]
    outline = move_geometry(parcel, crs, EARTH)
    west, south, east, north = outline.bounds
    if not all(math.isfinite(value) for value in (west, south, east, north)):
        raise InputError(f"{layer.name}: the parcel lies where {short_name(crs)} does not reach. Check its system")
    if east - west > 180.0:
        raise InputError(f"{layer.name}: the parcel straddles the 180th meridian. Bring it in a projected system")
    longitude, latitude = (west + east) / 2.0, (south + north) / 2.0
    for name, own, found in (("longitude", said[0], longitude), ("latitude", said[1], latitude)):
        if own is not None and abs(own - found) > FURTHEST_CLAIM:
            raise SettingsError(
                f"site.toml: {name} is {own:g}, and {layer.name} lies at {found:.4f}. Delete it, or correct one of them"
            )
    return longitude, latitude


def check_meeting(
    parcel: BaseGeometry,
    drawn: BaseGeometry,
    layer: DrawnLayer,
    crs: CRS | None,
    plane: CRS | None,
    reach: Bounds,
    name: str,
) -> tuple[str, ...]:
    """Say how much of the parcel lies beyond the heights, and raise if all of it does.

    Parameters
    ----------
    parcel, drawn : geometry
        The parcel on the site's plane, and as drawn.
    """
    extent = shapely.box(*reach)
    outside = 1.0 - parcel.intersection(extent).area / parcel.area
    if outside < 1e-6:
        return ()
    if outside < 1.0 - 1e-9:
        return (f"{outside:.0%} of the parcel lies beyond {name} and stays blank. Bring heights that cover it.",)
    if crs is not None and plane is not None and crs.is_geographic:
        turned = shapely.transform(drawn, lambda points: points[:, ::-1])
        bounds = turned.bounds
        if abs(bounds[1]) <= 90 and abs(bounds[3]) <= 90 and move_geometry(turned, crs, plane).intersects(extent):
            raise InputError(
                f"{layer.name}: the parcel misses {name}, and meets it with latitude and longitude exchanged. "
                "Export it again with longitude first, as GeoJSON asks"
            )
    there, here = parcel.centroid, extent.centroid
    apart = extent.distance(parcel)
    bearing = math.degrees(math.atan2(there.x - here.x, there.y - here.y))
    length = f"{apart / 1000.0:,.1f} km" if apart >= 1000.0 else f"{apart:,.0f} m"
    raise InputError(
        f"{layer.name}: the parcel lies {length} {compass_word(bearing)} of {name}. "
        "Bring heights that cover it, or check the coordinate system of either"
    )
