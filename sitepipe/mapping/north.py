"""True north on a plane map: how far it lies from the map's own north, and what to say of compasses."""

from __future__ import annotations

import math

from sitepipe.site import Site

WORTH_SAYING = 0.5
"""Where true north lies at least this far off the map's, it is said in words. [deg]"""
NO_COMPASS = (
    "Directions count from the top of the map; a compass shows magnetic north, which can lie 10 degrees and more to "
    "one side of true north."
)


def convergence(site: Site) -> float:
    """Angle from true north to the map's north, clockwise, at the parcel's middle.

    Returns
    -------
    float
        [deg]; 0 where the site has no place on the earth. The arrow to true north is turned the other way.

    References
    ----------
    The angle comes from PROJ's own factors of the projection (meridian convergence).
    """
    from pyproj import CRS, Proj, Transformer
    from pyproj.exceptions import CRSError, ProjError

    try:
        crs = CRS.from_user_input(site.grid.crs)
        if not crs.is_projected or crs.geodetic_crs is None:
            return 0.0
        middle = site.parcel.centroid
        place = Transformer.from_crs(crs, crs.geodetic_crs, always_xy=True).transform(middle.x, middle.y)
        turned = float(Proj(crs).get_factors(*place).meridian_convergence)
    except (CRSError, ProjError):
        return 0.0
    return turned if math.isfinite(turned) else 0.0


def north_said(site: Site) -> str:
    """Say what the arrow shows, and that a compass shows something else."""
    turned = convergence(site)
    if abs(turned) < WORTH_SAYING:
        return NO_COMPASS
    side = "west" if turned > 0.0 else "east"
    return f"True north lies {abs(turned):.1f} degrees {side} of the top of the map, as the arrow shows. {NO_COMPASS}"
