"""The sun's way over any tapped place: horizons on a lattice, and the sun's arcs, packed for the page."""

from __future__ import annotations

from typing import Any

from sitepipe.analysis import Analysis
from sitepipe.mapping.frame import Frame
from sitepipe.mapping.picture import packed
from sitepipe.sunlight.place import LATTICE_STEP, horizon_lattice, sun_arcs

MOST_PLACES = 500
"""Places of the lattice; a tapped spot takes the nearest. About 60 kB in the page."""


def packed_horizons(analysis: Analysis, frame: Frame) -> dict[str, Any]:
    """Return horizons and arcs for the page.

    The arcs are those of the nearest whole degree of latitude, so that they tell a region and not a place, unless the
    grower shares the location anyway: half a degree moves the noon sun by half a degree.
    """
    site = analysis.site
    lattice = horizon_lattice(site, analysis.settings, most_places=MOST_PLACES)
    if not lattice.solid.size:
        return {"places": 0}
    raw = [part.tobytes() for part in (lattice.index, lattice.solid, lattice.crowns, lattice.gap)]
    is_shared = analysis.settings.page.share_location
    latitude = site.latitude if is_shared else float(round(site.latitude))
    return {
        "west": round(lattice.west - frame.west, 2),
        "north": round(lattice.north - frame.south, 2),
        "spacing": lattice.spacing,
        "rows": lattice.index.shape[0],
        "columns": lattice.index.shape[1],
        "places": lattice.solid.shape[0],
        "step": LATTICE_STEP,
        "sizes": [len(part) for part in raw],
        "packed": packed(b"".join(raw)),
        "isSouthern": latitude < 0.0,
        "arcs": sun_arcs(latitude, site.longitude if is_shared else 0.0, step_minutes=30.0),
    }
