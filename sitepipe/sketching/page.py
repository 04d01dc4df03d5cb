"""The page on which a grower draws the parcel and what stands on it: one file, no network."""

from __future__ import annotations

import hashlib
import html
import json
from dataclasses import dataclass
from typing import Any

from sitepipe.mapping.texts import asset, filled, hashes, leaflet_script, style_of
from sitepipe.reading.kinds import AREA, LINE, PROPERTIES, SHAPES, WORK_SHAPES
from sitepipe.site import DrawnWork, Feature, Origin, Status, Work
from sitepipe.units import Units

_SHAPE_TYPES = {AREA: "Polygon", LINE: "LineString"}
OFFERED = {kind.value: shapes for kind, shapes in (*SHAPES.items(), *WORK_SHAPES.items())}
"""What may be drawn: things and works."""
STATUSES = {
    kind.value: (Status.WANTED if isinstance(kind, Work) else Status.STANDING).value
    for kind, properties in PROPERTIES.items()
    if "status" in properties
}
"""What may be wanted or stand, and which of the two it is if nothing is said."""


@dataclass(frozen=True, slots=True)
class Backdrop:
    """What is drawn on: in metres from the page's origin.

    Parameters
    ----------
    bounds : (west, south, east, north)
        What is shown first. [m]
    picture : str or None
        Data address of the shaded ground, None where there are no heights.
    picture_bounds : (west, south, east, north) or None
    levels, flow : tuple of lines
        Level lines and the ways that water takes. [m]
    says : str
        One sentence on what the ground is.
    """

    bounds: tuple[float, float, float, float]
    picture: str | None
    picture_bounds: tuple[float, float, float, float] | None
    levels: tuple[tuple[tuple[float, float], ...], ...]
    flow: tuple[tuple[tuple[float, float], ...], ...]
    says: str


def draw_sketch(
    name: str,
    units: Units,
    backdrop: Backdrop,
    features: tuple[Feature, ...],
    origin: tuple[float, float],
    crs: str,
    file: str,
    works: tuple[DrawnWork, ...] = (),
    proposed: tuple[DrawnWork, ...] = (),
) -> str:
    """Write the page.

    Parameters
    ----------
    name : str
        Of the site; shown as text only.
    units : Units
    backdrop : Backdrop
    features, works : tuple of Feature, tuple of DrawnWork
        What is drawn already, in site coordinates. [m]
    origin : (x, y)
        Site coordinates of the page's zero. [m]
    crs : str
        Name that the saved layer gives its coordinates, such as ``urn:ogc:def:crs:EPSG::32618``; a plane of the site's
        own has one too, so that nobody takes its metres for degrees or feet.
    file : str
        Name under which the drawing is saved.
    proposed : tuple of DrawnWork
        What an earlier run proposed, to take over, in site coordinates. [m]

    Returns
    -------
    str
        One HTML file that asks nothing of the network.
    """
    things = [*(_thing(feature, origin) for feature in features), *(_work(work, origin) for work in works)]
    picture = None
    if backdrop.picture is not None and backdrop.picture_bounds is not None:
        sides = zip(("west", "south", "east", "north"), backdrop.picture_bounds, strict=True)
        picture = {"address": backdrop.picture, **dict(sides)}
    data = {
        "name": name,
        "units": units.value,
        "kinds": {kind: [_SHAPE_TYPES.get(shape, "Point") for shape in shapes] for kind, shapes in OFFERED.items()},
        "statuses": STATUSES,
        "proposed": [_work(work, origin) for work in proposed],
        "bounds": backdrop.bounds,
        "picture": picture,
        "levels": backdrop.levels,
        "flow": backdrop.flow,
        "grid": [] if picture else _plain_grid(backdrop.bounds, units),
        "things": things,
        "origin": origin,
        "crs": crs,
        "file": file,
        "key": hashlib.sha256(f"{name}|{origin}|{crs}|{file}".encode()).hexdigest()[:16],
    }
    room = "sketching"
    scripts = {
        "@leaflet@": leaflet_script(),
        "@geoman@": asset("leaflet-geoman.js", room),
        "@script@": asset("sketch.js", room),
    }
    return filled(
        asset("sketch.html", room),
        {
            "@hashes@": hashes(scripts.values()),
            "@title@": html.escape(f"Draw {name}"),
            "@style@": style_of("leaflet.css") + style_of("leaflet-geoman.css", room) + asset("sketch.css", room),
            "@ground@": html.escape(backdrop.says),
            "@data@": json.dumps(data, ensure_ascii=True, separators=(",", ":")).replace("<", "\\u003c"),
            **scripts,
        },
    )


def _thing(feature: Feature, origin: tuple[float, float]) -> dict[str, Any]:
    from shapely import force_2d
    from shapely.affinity import translate
    from shapely.geometry import mapping

    shape = translate(force_2d(feature.geometry), -origin[0], -origin[1])
    geometry = mapping(shape)
    return {
        "kind": feature.kind.value,
        "name": "" if feature.name == feature.kind.value else feature.name,
        "height": _metres(feature.height, feature.height_by),
        "width": _metres(feature.width, feature.width_by),
        "more": dict(feature.attributes),
        "geometry": {"type": geometry["type"], "coordinates": _rounded(geometry["coordinates"])},
    }


def _work(work: DrawnWork, origin: tuple[float, float]) -> dict[str, Any]:
    from shapely.affinity import translate
    from shapely.geometry import mapping

    geometry = mapping(translate(work.shape, -origin[0], -origin[1]))
    lengths = {"height": work.height, "width": work.width, "depth": work.depth}
    told = {what: "" if length is None else f"{round(length, 4):g} m" for what, length in lengths.items()}
    more = {
        "number": work.number,
        "status": work.status.value,
        "built": "" if work.built is None else work.built.isoformat(),
        "side_slope": work.side_slope,
        "depth": told.pop("depth"),
        "crops": work.crops,
        "fill": work.fill,
    }
    return {
        "kind": work.kind.value,
        "name": work.name,
        **told,
        "more": {what: said for what, said in more.items() if said not in ("", None)},
        "geometry": {"type": geometry["type"], "coordinates": _rounded(geometry["coordinates"])},
    }


def _metres(length: float, by: Origin) -> str:
    return f"{round(length, 4):g} m" if by is Origin.DRAWN else ""


def _rounded(value: Any) -> Any:
    return [_rounded(inner) for inner in value] if isinstance(value, list | tuple) else round(value, 3)


def _plain_grid(bounds: tuple[float, float, float, float], units: Units) -> list[dict[str, Any]]:
    step = 3.048 if units is Units.IMPERIAL else 1.0
    west, south, east, north = bounds
    columns, rows = round((east - west) / step), round((north - south) / step)
    strong = 10
    lines: list[dict[str, Any]] = []
    for k in range(columns + 1):
        x = west + k * step
        lines.append({"line": [[x, south], [x, north]], "strong": k % strong == 0})
    for k in range(rows + 1):
        y = south + k * step
        lines.append({"line": [[west, y], [east, y]], "strong": k % strong == 0})
    return lines
