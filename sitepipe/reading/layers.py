"""Reading a drawn layer, of whatever kind its file is; GeoJSON here, what the vector library reads beside it."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from pyproj import CRS
from shapely.geometry.base import BaseGeometry

from sitepipe.errors import InputError
from sitepipe.reading.coordinates import WGS84, read_crs
from sitepipe.reading.drawn import HAND_DRAWN, Drawn, DrawnLayer, Limits, drawn_as
from sitepipe.reading.files import FileType, recognise
from sitepipe.reading.kinds import clean_text
from sitepipe.reading.vectors import read_other_layer


def read_layer(path: Path) -> DrawnLayer:
    """Read a drawn layer.

    Raises
    ------
    InputError
        If the file is of no kind that is read, is broken, empty, or too large, or a feature has no usable shape.
    """
    layer = read_members(path, HAND_DRAWN)
    for drawn in layer.features:
        if drawn.fault:
            raise InputError(drawn.fault)
    return layer


def read_members(path: Path, limits: Limits) -> DrawnLayer:
    """Read a layer, a feature without a usable shape with its fault.

    Raises
    ------
    InputError
        If the file is of no kind that is read, is broken, empty, or too large.
    """
    kind = recognise(path)
    if kind is FileType.GEOJSON:
        layer = _read_geojson(path, limits)
    elif kind in {FileType.GEOPACKAGE, FileType.KML, FileType.ZIP}:
        layer = read_other_layer(path, kind, limits)
    elif kind is FileType.SHAPEFILE or path.suffix.lower() == ".shp":
        raise InputError(f"{path.name} is one file of a shapefile's several. Zip all of them and name the .zip")
    else:
        what = "a layer that points to other files" if kind is FileType.VIRTUAL else f"no drawn layer ({kind.value})"
        raise InputError(f"{path.name} is {what}. Bring GeoJSON, GeoPackage, KML or a zipped shapefile")
    vertices = sum(int(shapely.get_num_coordinates(drawn.geometry)) for drawn in layer.features)
    _refuse_too_many(len(layer.features), vertices, path.name, limits)
    return layer


def _refuse_too_many(features: int, vertices: int, name: str, limits: Limits) -> None:
    if features > limits.features or vertices > limits.vertices:
        raise InputError(
            f"{name} holds {features:,} features with {vertices:,} vertices; at most "
            f"{limits.features:,} and {limits.vertices:,} are read. Simplify the outlines to a decimetre"
        )


def _pairs(members: list[Any]) -> int:
    """Count the vertices of a feature collection before any of them becomes a geometry."""
    waiting: list[Any] = [member.get("geometry") for member in members if isinstance(member, dict)]
    count = 0
    while waiting:
        item = waiting.pop()
        if isinstance(item, dict):
            waiting.extend((item.get("coordinates"), item.get("geometries")))
        elif isinstance(item, list):
            if item and isinstance(item[0], (int, float)):
                count += 1
            else:
                waiting.extend(item)
    return count


def _read_geojson(path: Path, limits: Limits) -> DrawnLayer:
    try:
        document = json.loads(path.read_text(encoding="utf-8-sig"))
    except UnicodeDecodeError as error:
        raise InputError(f"{path.name} is not UTF-8 text, as GeoJSON must be. Export it again") from error
    except (ValueError, RecursionError) as error:
        raise InputError(f"{path.name} is not valid JSON: {error}. Export it again") from error
    if not isinstance(document, dict) or document.get("type") not in {"FeatureCollection", "Feature"}:
        raise InputError(f"{path.name} is JSON but no GeoJSON feature collection. Export it again as GeoJSON")
    if document["type"] == "Feature":
        document = {"features": [document], "crs": document.get("crs")}
    members = document.get("features")
    if not isinstance(members, list):
        raise InputError(f"{path.name}: features is not a list. Export it again as GeoJSON")
    _refuse_too_many(len(members), _pairs(members), path.name, limits)
    features = tuple(_geojson_features(members, path.name))
    crs, numbers = _geojson_crs(document.get("crs"), path.name), _numbers(document.get("numbers"), path.name)
    return DrawnLayer(path.name, features, crs, _is_on_parcel(document.get("plane"), path.name), numbers)


def _is_on_parcel(member: Any, name: str) -> bool:
    if member not in (None, "parcel"):
        raise InputError(f"{name}: plane is {clean_text(str(member))[:40]!r}; it must be 'parcel', or left out")
    return member is not None


def _numbers(member: Any, name: str) -> dict[str, int]:
    """Read which numbers were handed out."""
    given = member or {}
    if not isinstance(given, dict) or not all(type(value) is int and 0 <= value < 10**6 for value in given.values()):
        raise InputError(f"{name}: numbers must be the highest number of each kind of work. Save it again with 'keep'")
    return {str(kind): value for kind, value in given.items()}


def _geojson_features(members: list[Any], name: str) -> Iterator[Drawn]:
    for number, member in enumerate(members, start=1):
        where = f"{name}, feature {number}"
        if not isinstance(member, dict):
            raise InputError(f"{where} has no geometry. Draw it again, or delete it")
        properties = member.get("properties") or {}
        if not isinstance(properties, dict):
            raise InputError(f"{where}: its properties are no list of names and values. Export it again")
        yield drawn_as(number, partial(geojson_geometry, member["geometry"]), properties, name)


def geojson_geometry(described: Any, where: str) -> BaseGeometry:
    """Make a geometry from its GeoJSON description."""
    from shapely.errors import GEOSException, ShapelyError
    from shapely.geometry import shape

    try:
        if not isinstance(described, dict) or not (described.get("coordinates") or described.get("geometries")):
            raise InputError(f"{where} has no geometry. Draw it again, or delete it")
        with np.errstate(invalid="ignore"):  # A corner that is no number is told of when the shape is looked at.
            return shape(described)
    except (GEOSException, ShapelyError, ValueError, TypeError, KeyError, AttributeError, IndexError) as error:
        kind = str(described.get("type"))[:30]
        raise InputError(
            f"{where} is a {kind} that cannot be drawn ({error}); a polygon needs at least three corners. Draw it again"
        ) from error


def _geojson_crs(member: Any, name: str) -> CRS | None:
    """Read the ``crs`` member that GeoJSON had before 2016 and that programs still write."""
    if member is None:
        return None
    try:
        text = str(member["properties"]["name"])
    except (TypeError, KeyError) as error:
        raise InputError(f"{name}: its crs member names no coordinate system. Export it again in degrees") from error
    if text.upper().endswith(("CRS84", "4326")):
        return CRS.from_user_input(WGS84)
    return read_crs(text, name)
