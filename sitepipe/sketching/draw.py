"""From a site folder to the page to draw on, with whatever the folder holds already."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from pathlib import Path
from typing import Any

import shapely
from pyproj import CRS
from shapely import LineString

from sitepipe.errors import InputError
from sitepipe.reading.bare import read_bare_ground
from sitepipe.reading.coordinates import LOCAL_PLANE
from sitepipe.reading.site import read_site
from sitepipe.reading.source import open_folder
from sitepipe.reading.works import SLACK
from sitepipe.settings import Settings
from sitepipe.site import DrawnWork, Site, Status, Work
from sitepipe.sketching.backdrop import backdrop_of, plain_backdrop
from sitepipe.sketching.page import draw_sketch

DRAWING = "drawn.geojson"
PLAN = Path("out") / "plan.gpkg"
PROPOSED = {
    "crests": Work.MOUND,
    "hoop_houses": Work.HOOP_HOUSE,
    "trellises": Work.TRELLIS,
    "tipping_places": Work.TIPPING_PLACE,
}
"""Layers of a plan whose shapes can be taken over as they are; of a path only its ground is there, not its line."""


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
    own_works = () if source.works is None else source.works.features
    kept = {(work.properties.get("kind"), work.properties.get("number")) for work in own_works}
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
        read_proposal(folder / PLAN, site, kept),
    )


def read_proposal(file: Path, site: Site, kept: Collection[tuple[object, object]]) -> tuple[DrawnWork, ...]:
    """Return what an earlier run proposed and nobody kept since."""
    if not file.exists():
        return ()
    import pyogrio

    found = []
    try:
        for layer, kind in PROPOSED.items():
            for row in pyogrio.read_dataframe(file, layer=layer).itertuples():
                is_new = row.status == Status.PROPOSED and (kind.value, row.number) not in kept
                # A plan of another parcel is no proposal for this one.
                if is_new and site.parcel.buffer(SLACK).covers(row.geometry):
                    found.append(_taken_over(kind, row))
    except (pyogrio.errors.DataSourceError, pyogrio.errors.DataLayerError) as error:
        raise InputError(f"{file.name} of an earlier run cannot be read ({error}). Delete it, or run again") from error
    return tuple(found)


def _taken_over(kind: Work, row: Any) -> DrawnWork:
    sizes: dict[str, Any] = {}
    if kind is Work.MOUND:
        sizes = {"width": row.top_width_m, "crops": row.crops, "fill": row.fill}
    elif kind is not Work.TIPPING_PLACE:
        sizes = {"height": row.height_m}
    shape = row.geometry.centroid if kind is Work.TIPPING_PLACE else shapely.get_parts(row.geometry)[0]
    return DrawnWork(kind=kind, number=int(row.number), name="", status=Status.WANTED, built=None, shape=shape, **sizes)


def _flow(site: Site, settings: Settings) -> tuple[LineString, ...]:
    from sitepipe.drainage.stage import trace_drainage

    return tuple(line.line for line in trace_drainage(site, settings).flow_lines)


def _system(site: Site) -> str:
    code = CRS.from_user_input(site.grid.crs).to_epsg()
    return f"urn:ogc:def:crs:EPSG::{code}" if code else site.grid.crs
