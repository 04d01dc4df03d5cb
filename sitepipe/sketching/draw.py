"""From a site folder to the page to draw on, with whatever the folder holds already."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from pyproj import CRS
from shapely import LineString

from sitepipe.reading.bare import read_bare_ground
from sitepipe.reading.coordinates import LOCAL_PLANE
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.sketching.backdrop import backdrop_of, plain_backdrop
from sitepipe.sketching.page import draw_sketch

DRAWING = "drawn.geojson"


def sketch_of(folder: Path, settings: Settings) -> str:
    """Write the page for a folder: on its own ground where there are heights, with its drawing where there is one."""
    has_heights = settings.elevation is not None and (folder / settings.elevation).exists()
    has_drawing = settings.parcel is not None and (folder / settings.parcel).exists()
    file = DRAWING
    if settings.parcel is not None and settings.parcel.suffix.lower() in (".geojson", ".json"):
        file = settings.parcel.name
    if not has_heights and not (has_drawing and settings.levels is not None):
        return draw_sketch(
            settings.name, settings.units, plain_backdrop(settings.units), (), (0.0, 0.0), LOCAL_PLANE, file
        )
    source = open_folder(folder, settings if has_drawing else settings.model_copy(update={"parcel": None}))
    # What stands in works.geojson stays there: saved into the drawing it would be there twice.
    source = replace(source, works=None)
    site = read_site(source) if has_drawing else read_bare_ground(source)
    west, south = site.parcel.bounds[:2]
    origin = (float(round(west)), float(round(south)))
    return draw_sketch(
        settings.name,
        settings.units,
        backdrop_of(site, _flow(site, settings), settings, origin),
        site.features,
        origin,
        _system(site),
        file,
        site.works,
    )


def _flow(site: Site, settings: Settings) -> tuple[LineString, ...]:
    from sitepipe.drainage.stage import trace_drainage

    return tuple(line.line for line in trace_drainage(site, settings).flow_lines)


def _system(site: Site) -> str:
    code = CRS.from_user_input(site.grid.crs).to_epsg()
    return f"urn:ogc:def:crs:EPSG::{code}" if code else site.grid.crs
