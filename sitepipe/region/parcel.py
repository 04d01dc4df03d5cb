"""A parcel of a region, its drawing cut from the region's layers, and the site folder that is made of it."""

from __future__ import annotations

import hashlib
import json
import math
import os
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import Any

import shapely
from shapely import MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from sitepipe.reading.coordinates import metres_per_unit
from sitepipe.reading.frame import Bounds
from sitepipe.reading.growth import NEARBY
from sitepipe.reading.kinds import COMMON, PROPERTIES, clean_text, plain_kind
from sitepipe.region.folder import Region
from sitepipe.site import Kind

FAR = 500.0
"""Ditches, culverts and open water this near turn the water that reaches a parcel; own choice. [m]"""
CARRIES_WATER = frozenset({Kind.DITCH, Kind.CULVERT, Kind.WATER})
WHOLE = frozenset({Kind.BUILDING, Kind.TREE, Kind.CULVERT})
"""Never cut at the edge: they are small, or what counts is where they end."""
METRES_PER_DEGREE = 111_320.0
DRAWING, SITE_FILE, RESULTS = "drawn.geojson", "site.toml", "out"
_PLAIN = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9._-]{0,62}[A-Za-z0-9_-])?")
_RESERVED = re.compile(r"(?:con|prn|aux|nul|com\d|lpt\d)(?:\..*)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Parcel:
    """One parcel: its key, its outlines (shapes with one key are one parcel), and why it cannot be run."""

    key: str
    shapes: tuple[BaseGeometry, ...]
    fault: str = ""

    @property
    def folder(self) -> str:
        """The name of its folder: the key where every system can bear it as a name."""
        if _PLAIN.fullmatch(self.key) and not _RESERVED.fullmatch(self.key):
            return self.key
        plain = re.sub(r"[^A-Za-z0-9]+", "-", self.key).strip("-")[:40]
        return f"{plain}-{hashlib.sha256(self.key.encode('utf-8', 'replace')).hexdigest()[:8]}".strip("-")

    @property
    def outline(self) -> Polygon | MultiPolygon:
        """All its areas in one shape, for maps and tables; empty where there are none."""
        parts = [part for shape in self.shapes for part in shapely.get_parts(shape) if isinstance(part, Polygon)]
        return MultiPolygon(parts)


def parcels_of(region: Region) -> tuple[Parcel, ...]:
    """Return every parcel, in the order of the file."""
    shapes: dict[str, list[BaseGeometry]] = defaultdict(list)
    faults: dict[str, str] = {}
    for drawn in region.parcels.features:
        said = drawn.properties.get(region.own.key)
        key = clean_text(str(said)).strip() if said is not None else ""
        if not key:
            key = f"feature {drawn.number}"
            faults[key] = f"{region.parcels.place(drawn)} has no {region.own.key}. Give it one"
        shapes[key].append(drawn.geometry)
        if drawn.fault:
            faults.setdefault(key, drawn.fault)
    found = [Parcel(key, tuple(parts), faults.get(key, "")) for key, parts in shapes.items()]
    names: dict[str, str] = {}
    for place, parcel in enumerate(found):
        other = names.setdefault(parcel.folder.lower(), parcel.key)
        if other != parcel.key and not parcel.fault:
            fault = f"its key {parcel.key!r} differs from {other!r} only in capitals. Change one of them"
            found[place] = Parcel(parcel.key, parcel.shapes, fault)
    return tuple(found)


class Cutter:
    """Cuts a parcel's drawing out of the region's layers."""

    def __init__(self, region: Region) -> None:
        self._region = region
        self._things = [
            (kind or _kind_of(drawn.properties), drawn) for kind, layer in region.things for drawn in layer.features
        ]
        self._tree = STRtree([drawn.geometry for _, drawn in self._things])

    def drawing(self, parcel: Parcel) -> bytes:
        """Return the parcel and all that stands near it, or carries water to it, as GeoJSON."""
        members = [_member({"kind": "parcel", "name": parcel.key}, shape) for shape in parcel.shapes]
        members.extend(_member(properties, shape) for properties, shape in self._near(parcel))
        system = self._region.heights.system
        authority = None if system is None else system.to_authority()
        named = None if system is None else ":".join(authority) if authority else system.to_wkt()
        crs = "" if named is None else f'"crs":{json.dumps({"type": "name", "properties": {"name": named}})},\n'
        listed = ",\n".join(members)
        return f'{{"type":"FeatureCollection",\n{crs}"features":[\n{listed}\n]}}\n'.encode()

    def box(self, parcel: Parcel, distance: float) -> Bounds:
        """Return the parcel's box with a distance in metres around it, in the region's system."""
        west, south, east, north = shapely.total_bounds(parcel.shapes).tolist()
        system = self._region.system
        if system is not None and system.is_geographic:
            up = distance / METRES_PER_DEGREE
            along = up / max(math.cos(math.radians((south + north) / 2.0)), 0.01)
        else:
            along = up = distance / (metres_per_unit(system) if system is not None else 1.0)
        return west - along, south - up, east + along, north + up

    def _near(self, parcel: Parcel) -> Iterator[tuple[dict[str, Any], BaseGeometry]]:
        near, far = (self.box(parcel, distance) for distance in (NEARBY, FAR))
        nearby = shapely.box(*near)
        for number in sorted(self._tree.query(shapely.box(*far), predicate="intersects").tolist()):
            kind, drawn = self._things[number]
            if kind not in CARRIES_WATER and not drawn.geometry.intersects(nearby):
                continue
            shape = drawn.geometry if kind in WHOLE else _cut(drawn.geometry, far)
            if not shape.is_empty:
                yield _read_of(drawn.properties, kind), shape


def _kind_of(properties: Mapping[str, Any]) -> Kind | None:
    word = next((value for name, value in properties.items() if str(name).strip().lower() == "kind"), None)
    try:
        return Kind(plain_kind(str(word)))
    except ValueError:
        return None


def _cut(shape: BaseGeometry, box: Bounds) -> BaseGeometry:
    """Return the part of a shape inside a box, as the sort of shape that it was."""
    whole = shapely.box(*box)
    if shapely.covers(whole, shape) or not shape.is_valid:
        return shape
    inside = shape.intersection(whole)
    dimension = shapely.get_dimensions(shape)
    parts = [part for part in shapely.get_parts(inside) if shapely.get_dimensions(part) == dimension]
    return shapely.union_all(parts) if len(parts) > 1 else parts[0] if parts else Polygon()


def _read_of(properties: Mapping[str, Any], kind: Kind | None) -> dict[str, Any]:
    """Return the properties that a drawing may have: whose house it is stays in the region's own files."""
    known = (*COMMON, *PROPERTIES.get(kind, ())) if kind is not None else ("kind",)
    kept = {
        name: value
        for name, value in ((str(key).strip().lower(), value) for key, value in properties.items())
        if value is not None and any(name == word or name.startswith(f"{word}_") for word in known)
    }
    return kept if kind is None else kept | {"kind": kind.value}


def _member(properties: Mapping[str, Any], shape: BaseGeometry) -> str:
    said = json.dumps(properties, ensure_ascii=False, default=str, sort_keys=True)
    return f'{{"type":"Feature","properties":{said},"geometry":{shapely.to_geojson(shape)}}}'


def write_site(region: Region, parcel: Parcel, drawing: bytes, folder: Path) -> None:
    """Make the parcel's site folder; what the user put there beside its two files stays."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, content in ((DRAWING, drawing), (SITE_FILE, site_toml(region, parcel, folder))):
        path = folder / name
        if not path.is_file() or path.read_bytes() != content:
            fresh = folder / f".{name}.new"
            fresh.write_bytes(content)
            fresh.replace(path)


def site_toml(region: Region, parcel: Parcel, folder: Path) -> bytes:
    """Return the parcel's settings: the region's own, its name and its files."""
    rasters = region.rasters
    index = repr([(raster.name, raster.rows, raster.columns, raster.transform) for raster in rasters])
    heights = (
        f"{len(rasters)} raster{'s' if len(rasters) > 1 else ''}, {hashlib.sha256(index.encode()).hexdigest()[:12]}"
    )
    own = {"name": parcel.key, "elevation": os.path.relpath(region.place, folder), "parcel": DRAWING}
    told = f"# One parcel of {clean_text(region.own.name)}, written anew by each 'sitepipe region'. Heights: {heights}."
    return f"{told}\n{''.join(_toml({**own, **region.shared}))}".encode()


def _toml(values: Mapping[str, Any], above: str = "") -> Iterator[str]:
    """Yield the lines of a table, its own values before the tables inside it."""
    plain = {key: value for key, value in values.items() if not isinstance(value, dict)}
    if above and plain:
        yield f"\n[{above}]\n"
    for key, value in plain.items():
        yield f"{_word(key)} = {_value(value)}\n"
    for key, value in values.items():
        if isinstance(value, dict):
            yield from _toml(value, f"{above}.{_word(key)}" if above else _word(key))


def _word(key: str) -> str:
    return key if re.fullmatch(r"[A-Za-z0-9_-]+", key) else json.dumps(key, ensure_ascii=False)


def _value(value: Any) -> str:
    if isinstance(value, list):
        return f"[{', '.join(map(_value, value))}]"
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_word(key)} = {_value(inner)}' for key, inner in value.items())}}}"
    if isinstance(value, date | datetime):
        return value.isoformat()
    if isinstance(value, float) and not math.isfinite(value):
        return str(value)
    # A text of JSON is one of TOML but for this one sign.
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def in_order_of_place(parcels: Iterable[Parcel]) -> list[Parcel]:
    """Return parcels by where they lie, so that neighbours follow one another and share what a worker keeps."""

    def place(parcel: Parcel) -> tuple[float, float, str]:
        west, south, _, _ = parcel.outline.bounds if parcel.shapes else (0.0, 0.0, 0.0, 0.0)
        return (south, west, parcel.key)

    return sorted(parcels, key=place)
