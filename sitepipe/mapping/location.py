"""Tie the page to the earth, only where the grower asks for it."""

from __future__ import annotations

from typing import Any

import numpy as np

from sitepipe.site import Site


def tie_to_earth(site: Site) -> dict[str, Any]:
    """Return what turns a phone's degrees into the page's metres: a plane fitted over the parcel.

    Over a kilometre the plane is off by centimetres, a phone by metres.
    """
    from pyproj import CRS, Transformer

    projected = CRS.from_user_input(site.grid.crs)
    to_degrees = Transformer.from_crs(projected, CRS.from_epsg(4326), always_xy=True)
    west, south, east, north = site.parcel.bounds
    x = np.array([west, east, west, east, (west + east) / 2.0])
    y = np.array([south, south, north, north, (south + north) / 2.0])
    longitude, latitude = (np.asarray(values) for values in to_degrees.transform(x, y))
    middle = float(longitude[-1]), float(latitude[-1])
    terms = np.column_stack([np.ones(5), longitude - middle[0], latitude - middle[1]])
    across, up = (np.linalg.lstsq(terms, values, rcond=None)[0] for values in (x - west, y - south))
    return {
        "longitude": round(middle[0], 7),
        "latitude": round(middle[1], 7),
        "x": [round(float(term), 4) for term in across],
        "y": [round(float(term), 4) for term in up],
    }
