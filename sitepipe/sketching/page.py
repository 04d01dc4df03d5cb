"""The page on which a grower draws the parcel and what stands on it: one file, no network."""

from __future__ import annotations

import base64
import hashlib
import html
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from typing import Any

from sitepipe.reading.kinds import AREA, LINE, SHAPES
from sitepipe.site import Feature, Origin
from sitepipe.units import Units

MOST_BYTES = 4_000_000
"""A page larger than this does not travel by message."""

_SHAPE_TYPES = {AREA: "Polygon", LINE: "LineString"}


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
) -> str:
    """Write the page.

    Parameters
    ----------
    name : str
        Of the site; shown as text only.
    units : Units
    backdrop : Backdrop
    features : tuple of Feature
        What is drawn already, in site coordinates. [m]
    origin : (x, y)
        Site coordinates of the page's zero. [m]
    crs : str
        Name that the saved layer gives its coordinates, such as ``urn:ogc:def:crs:EPSG::32618``; a plane of the site's
        own has one too, so that nobody takes its metres for degrees or feet.
    file : str
        Name under which the drawing is saved.

    Returns
    -------
    str
        One HTML file that asks nothing of the network.
    """
    things = [_thing(feature, origin) for feature in features]
    picture = None
    if backdrop.picture is not None and backdrop.picture_bounds is not None:
        sides = zip(("west", "south", "east", "north"), backdrop.picture_bounds, strict=True)
        picture = {"address": backdrop.picture, **dict(sides)}
    data = {
        "name": name,
        "units": units.value,
        "kinds": {
            kind.value: [_SHAPE_TYPES.get(shape, "Point") for shape in shapes] for kind, shapes in SHAPES.items()
        },
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
    scripts = {"leaflet": leaflet(), "geoman": _asset("leaflet-geoman.js"), "script": _asset("sketch.js")}
    return _filled(
        _asset("sketch.html"),
        {
            "hashes": " ".join(f"'sha256-{_hash(text)}'" for text in scripts.values()),
            "title": html.escape(f"Draw {name}"),
            "style": leaflet_style() + _without_pictures(_asset("leaflet-geoman.css")) + _asset("sketch.css"),
            "ground": html.escape(backdrop.says),
            "data": json.dumps(data, ensure_ascii=True, separators=(",", ":")).replace("<", "\\u003c"),
            **scripts,
        },
    )


def leaflet() -> str:
    """Return the vendored map library."""
    return _without_map_lines(resources.files("sitepipe.mapping").joinpath("assets/leaflet.js").read_text("utf-8"))


def leaflet_style() -> str:
    """Return the vendored map library's style, without its pictures."""
    text = resources.files("sitepipe.mapping").joinpath("assets/leaflet.css").read_text("utf-8")
    return _without_pictures(text)


@lru_cache(maxsize=8)
def _asset(name: str) -> str:
    return _without_map_lines(resources.files("sitepipe.sketching").joinpath(f"assets/{name}").read_text("utf-8"))


def _without_pictures(style: str) -> str:
    """Drop every picture of a style sheet: the page uses none of the libraries' own."""
    return re.sub(r"url\((?:'[^']*'|\"[^\"]*\"|[^)]*)\)", "none", style)


def _without_map_lines(text: str) -> str:
    return "\n".join(line for line in text.splitlines() if "sourceMappingURL" not in line) + "\n"


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _filled(template: str, values: Mapping[str, str]) -> str:
    pieces = []
    rest = template
    while "{" in rest:
        before, _, after = rest.partition("{")
        word, _, rest = after.partition("}")
        pieces += [before, values[word]]
    return "".join(pieces) + rest


def _thing(feature: Feature, origin: tuple[float, float]) -> dict[str, Any]:
    from shapely import force_2d
    from shapely.affinity import translate
    from shapely.geometry import mapping

    shape = translate(force_2d(feature.geometry), -origin[0], -origin[1])
    geometry = json.loads(json.dumps(mapping(shape)))
    return {
        "kind": feature.kind.value,
        "name": "" if feature.name == feature.kind.value else feature.name,
        "height": _metres(feature.height, feature.height_by),
        "width": _metres(feature.width, feature.width_by),
        "more": dict(feature.attributes),
        "geometry": {"type": geometry["type"], "coordinates": _rounded(geometry["coordinates"])},
    }


def _metres(length: float, by: Origin) -> str:
    return f"{round(length, 4):g} m" if by is Origin.DRAWN else ""


def _rounded(value: Any) -> Any:
    return [_rounded(inner) for inner in value] if isinstance(value, list) else round(value, 3)


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
