"""How well two coordinate systems are tied to each other: where a table of corrections is missing, by metres only."""

from __future__ import annotations

import math
import warnings

from pyproj import CRS
from pyproj.exceptions import ProjError
from pyproj.transformer import TransformerGroup

from sitepipe.reading.coordinates import horizontal, is_local, short_name
from sitepipe.reading.notes import Notes

DOUBTFUL = 5.0
"""A shift known no better than this is warned of: more than a path and a bed. [m]"""


def shift_error(source: CRS, target: CRS) -> float:
    """Return how well places carried from one system to another are known.

    Parameters
    ----------
    source, target : CRS
        Two systems on the earth.

    Returns
    -------
    float
        Metres, as PROJ states them for the best way that needs no table which is not at hand; 0 on one datum, nan
        where nobody has stated it.

    Examples
    --------
    >>> shift_error(CRS.from_epsg(4326), CRS.from_epsg(32618))
    0.0
    >>> shift_error(CRS.from_epsg(4267), CRS.from_epsg(32618)) > 5.0
    True
    """
    from_base, to_base = horizontal(source).geodetic_crs, horizontal(target).geodetic_crs
    if from_base is not None and to_base is not None and from_base.equals(to_base, ignore_axis_order=True):
        return 0.0  # Mere projection, of which PROJ 9.8 states no accuracy.
    with warnings.catch_warnings():
        # The library warns of each table that it would fetch from the network; the figure says it for all.
        warnings.simplefilter("ignore", UserWarning)
        try:
            ways = TransformerGroup(horizontal(source), horizontal(target), always_xy=True).transformers
        except ProjError:
            return math.nan
    stated = ways[0].accuracy if ways else -1.0
    return float(stated) if stated >= 0.0 else math.nan


def said_of_shift(drawing: str, drawn_in: CRS | None, heights: str, heights_in: CRS | None) -> Notes:
    """Say what is taken for granted, or to be looked at, about the tie of a drawing to heights.

    Parameters
    ----------
    drawing, heights : str
        What the two files are called.
    drawn_in, heights_in : CRS or None
        Their systems; None for a plane of its own.
    """
    if drawn_in is None or heights_in is None or is_local(drawn_in) or is_local(heights_in):
        return Notes()
    error = shift_error(drawn_in, heights_in)
    if error == 0.0:
        return Notes()
    tie = (
        f"{drawing} is in {short_name(horizontal(drawn_in))} and {heights} in {short_name(horizontal(heights_in))}: "
        "the two are tied to each other "
    )
    if error <= DOUBTFUL:
        return Notes(
            (f"{tie}to about {error:.2g} m, as PROJ states it; what is drawn may lie so far off the heights.",)
        )
    known = "nobody has stated how well" if math.isnan(error) else f"to {error:,.0f} m only"
    doubt = (
        f"{tie}{known}, because a table of corrections is not at hand. Check on the map that a drawn wall or ditch "
        "lies on its own heights, or save both files in one system."
    )
    return Notes(warnings=(doubt,))
