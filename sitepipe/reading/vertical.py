"""The unit of heights: from the coordinate system, then the band, then site.toml; and where it stays open, asked."""

from __future__ import annotations

import math

from pyproj import CRS

from sitepipe.errors import SettingsError
from sitepipe.reading.coordinates import VerticalUnit, horizontal, metres_per_unit, vertical_unit
from sitepipe.units import FOOT, METRES_PER, SURVEY_FOOT


def choose_height_unit(
    name: str, crs: CRS | None, band_unit: str, said: str | None
) -> tuple[VerticalUnit, tuple[str, ...]]:
    """Return the unit of a file's heights, and warnings.

    Parameters
    ----------
    name : str
        Of the file.
    crs : CRS or None
        As the file states it, a vertical part included.
    band_unit : str
        As the band states it, in lower case.
    said : str or None
        ``ground.unit`` of site.toml.

    Raises
    ------
    SettingsError
        If lengths are in feet and nothing says what the heights are in.
    """
    stated = vertical_unit(crs)
    if stated is None and band_unit in METRES_PER:
        stated = VerticalUnit(METRES_PER[band_unit], f"the unit of its band ({band_unit})")
    if said is not None:
        own = VerticalUnit(METRES_PER[said], "site.toml, ground.unit")
        if stated is not None and not math.isclose(stated.metres, own.metres, rel_tol=1e-9):
            return own, (
                (
                    f"{name} states heights in {called(stated.metres)} ({stated.source}), and site.toml says "
                    f"{called(own.metres)}: site.toml is believed."
                ),
            )
        return own, ()
    if stated is not None:
        return stated, ()
    plane = None if crs is None else horizontal(crs)
    if plane is not None and not plane.is_geographic and metres_per_unit(plane) != 1.0:
        raise SettingsError(
            f"{name} has lengths in {called(metres_per_unit(plane))} and does not say the unit of its heights. "
            "Under [ground] in site.toml write unit = 'ft', 'us-ft' or 'm'"
        )
    return VerticalUnit(1.0, "taken for granted: the file does not say"), ()


def called(metres: float) -> str:
    """Return what a unit of this many metres is called."""
    for name, value in (
        ("metres", 1.0),
        ("feet", FOOT),
        ("US survey feet", SURVEY_FOOT),
        ("centimetres", 0.01),
        ("millimetres", 0.001),
    ):
        if math.isclose(metres, value, rel_tol=1e-9):
            return name
    return f"units of {metres:g} m"
