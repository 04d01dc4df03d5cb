"""The sun's way over any tapped place: horizons on a lattice, and the sun's arcs, packed for the page."""

from __future__ import annotations

import base64
from typing import Any

from sitepipe.analysis import Analysis
from sitepipe.mapping.frame import Frame
from sitepipe.mapping.picture import packed
from sitepipe.sunlight.place import horizon_lattice, sun_arcs

MOST_PLACES = 500
"""Places of the lattice; a tapped spot takes the nearest. About 60 kB in the page."""


def packed_horizons(analysis: Analysis, frame: Frame) -> dict[str, Any]:
    """Return horizons and arcs for the page.

    The arcs are those of the nearest whole degree of latitude, so that they tell a region and not a place, unless the
    grower shares the location anyway: half a degree moves the noon sun by half a degree.
    """
    site = analysis.site
    lattice = horizon_lattice(site, analysis.settings, most_places=MOST_PLACES)
    if not lattice["places"]:
        return {"places": 0}
    raw = {key: base64.b64decode(lattice[key]) for key in ("index", "solid", "crowns", "gap")}
    sizes = [len(raw[key]) for key in ("index", "solid", "crowns", "gap")]
    is_shared = analysis.settings.page.share_location
    latitude = site.latitude if is_shared else float(round(site.latitude))
    arcs = sun_arcs(latitude, site.longitude if is_shared else 0.0, step_minutes=30.0)
    return {
        "west": round(lattice["west_m"] - frame.west, 2),
        "north": round(lattice["north_m"] - frame.south, 2),
        "spacing": lattice["spacing_m"],
        "rows": lattice["rows"],
        "columns": lattice["columns"],
        "places": lattice["places"],
        "step": lattice["azimuth_step_deg"],
        "sizes": sizes,
        "packed": packed(b"".join(raw.values())),
        "isSouthern": latitude < 0.0,
        "arcs": [
            {
                "name": arc["name"],
                "hour": arc["hour"],
                "azimuth": arc["azimuth_deg"],
                "elevation": arc["elevation_deg"],
            }
            for arc in arcs
        ],
    }
