"""The plan on the earth, for other devices: GeoJSON, KML, GPX. They tell where the ground lies: only when asked for."""

from __future__ import annotations

import json
import math
import xml.etree.ElementTree as ET
from collections.abc import Callable
from typing import Any

import numpy as np
import shapely
from pyproj import CRS, Transformer
from shapely import LineString, Point, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.analysis import Analysis
from sitepipe.answers.names import without_controls
from sitepipe.answers.stakes import all_stakes, tapes
from sitepipe.arrays import FloatArray
from sitepipe.writing.tables import Table, Value, tables

DECIMALS = 7
"""Of a degree: a centimetre."""
KML = "http://www.opengis.net/kml/2.2"
GPX = "http://www.topografix.com/GPX/1/1"

ToEarth = Callable[[BaseGeometry], BaseGeometry]


def to_earth(analysis: Analysis) -> ToEarth:
    """Return the function that moves a shape from the site's plane to degrees east and north (WGS 84)."""
    change = Transformer.from_crs(CRS.from_user_input(analysis.site.grid.crs), "EPSG:4326", always_xy=True)

    def moved(geometry: BaseGeometry) -> BaseGeometry:
        def degrees(places: FloatArray) -> FloatArray:
            return np.round(np.column_stack(change.transform(places[:, 0], places[:, 1])), DECIMALS)

        return shapely.transform(shapely.force_2d(geometry), degrees)

    return moved


def plan_geojson(analysis: Analysis, move: ToEarth) -> bytes:
    """Return the plan as one feature collection (RFC 7946): degrees, outer rings against the clock."""
    features = [
        {
            "type": "Feature",
            "geometry": shapely.geometry.mapping(shapely.orient_polygons(move(geometry))),
            "properties": {"layer": table.name, **_properties(table, values)},
        }
        for table in tables(analysis)
        for geometry, values in table.rows
    ]
    text = json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False, allow_nan=False)
    return f"{text}\n".encode("utf-8", errors="replace")


def _properties(table: Table, values: tuple[Value, ...]) -> dict[str, Value]:
    told: dict[str, Value] = {}
    for name, value in zip(table.columns, values, strict=True):
        if isinstance(value, float):
            told[name] = round(value, 4) if math.isfinite(value) else None
        else:
            told[name] = value
    return told


def plan_kml(analysis: Analysis, move: ToEarth) -> bytes:
    """Return the plan as KML 2.2, a folder for each table; names are text and nothing else."""
    root = ET.Element("kml", {"xmlns": KML})
    document = ET.SubElement(root, "Document")
    ET.SubElement(document, "name").text = without_controls(analysis.site.name)
    for table in tables(analysis):
        if not table.rows:
            continue
        folder = ET.SubElement(document, "Folder")
        ET.SubElement(folder, "name").text = table.name.replace("_", " ")
        for number, (geometry, values) in enumerate(table.rows, start=1):
            mark = ET.SubElement(folder, "Placemark")
            told = {key: value for key, value in _properties(table, values).items() if value is not None}
            name = told.get("name") or told.get("stake") or f"{table.name.replace('_', ' ')} {number}"
            ET.SubElement(mark, "name").text = without_controls(str(name))
            described = "\n".join(f"{key}: {without_controls(str(value))}" for key, value in told.items())
            ET.SubElement(mark, "description").text = described
            _add_geometry(mark, move(geometry))
    return _as_xml(root)


def _add_geometry(parent: ET.Element, geometry: BaseGeometry) -> None:
    if isinstance(geometry, Point):
        ET.SubElement(ET.SubElement(parent, "Point"), "coordinates").text = _places(geometry.coords)
    elif isinstance(geometry, LineString):
        ET.SubElement(ET.SubElement(parent, "LineString"), "coordinates").text = _places(geometry.coords)
    elif isinstance(geometry, Polygon):
        polygon = ET.SubElement(parent, "Polygon")
        turned = shapely.orient_polygons(geometry)
        rings = [("outerBoundaryIs", turned.exterior), *(("innerBoundaryIs", ring) for ring in turned.interiors)]
        for name, ring in rings:
            line = ET.SubElement(ET.SubElement(polygon, name), "LinearRing")
            ET.SubElement(line, "coordinates").text = _places(ring.coords)
    else:
        group = ET.SubElement(parent, "MultiGeometry")
        for part in shapely.get_parts(geometry):
            _add_geometry(group, part)


def _places(coordinates: Any) -> str:
    return " ".join(f"{x:.{DECIMALS}f},{y:.{DECIMALS}f}" for x, y in coordinates)


def stakes_gpx(analysis: Analysis, move: ToEarth) -> bytes:
    """Return the stakes as waypoints (GPX 1.1); a phone finds them to some metres only, so the tapes stand beside."""
    root = ET.Element("gpx", {"xmlns": GPX, "version": "1.1", "creator": "sitepipe"})
    units = analysis.settings.units
    for what, stake in all_stakes(analysis):
        place = move(stake.place)
        point = ET.SubElement(root, "wpt", {"lat": f"{place.y:.{DECIMALS}f}", "lon": f"{place.x:.{DECIMALS}f}"})
        ET.SubElement(point, "name").text = without_controls(stake.label)
        first, second, side, level = tapes(stake, units)
        described = f"{what}: {first}, {second}, to the {side} from the first to the second; {level}"
        ET.SubElement(point, "desc").text = f"{described}. A phone is some metres out: use the tapes."
    return _as_xml(root)


def _as_xml(root: ET.Element) -> bytes:
    ET.indent(root)
    text: bytes = ET.tostring(root, encoding="utf-8", xml_declaration=True)
    return text + b"\n"
