"""What stands on the ground, from a surface model: buildings and canopy for the sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.errors import SettingsError
from sitepipe.units import FOOT

LEAST_HEIGHT = 0.5
"""Less than this is grass and noise; own choice. [m]"""
OPEN_SHARE = 20.0
"""The lowest fifth of the excess is taken to be open ground; own choice. [percent]"""
LARGEST_OFFSET = 0.15
"""Beyond this the two models are on different levels and the surface is shifted; own choice. [m]"""
TALLEST = 150.0


@dataclass(frozen=True, slots=True)
class Obstacles:
    """Height of what stands on each cell, 0 where nothing or unknown [m], and what was found."""

    height: FloatArray
    assumptions: tuple[str, ...]
    warnings: tuple[str, ...]


def obstacles_of(surface: FloatArray, elevation: FloatArray, name: str, is_same_survey: bool = False) -> Obstacles:
    """Return the excess of a surface over the ground.

    Parameters
    ----------
    surface, elevation : (rows, columns) float array
        On one grid, NaN where unknown. [m]
    name : str
        Of the surface's file.
    is_same_survey : bool
        Whether ground and surface come from the same points, and so lie on one level.

    Raises
    ------
    SettingsError
        If the two are plainly in different units.

    Examples
    --------
    >>> ground = np.zeros((3, 3)); top = ground.copy(); top[1, 1] = 6.0
    >>> float(obstacles_of(top, ground, "dsm.tif").height.max())
    6.0
    """
    known = np.isfinite(surface) & np.isfinite(elevation)
    if not known.any():
        return Obstacles(
            np.zeros_like(elevation), (), (f"{name} (surface) does not reach the window; nothing of it is used.",)
        )
    if not is_same_survey:
        _ask_about_unit(surface[known], elevation[known], name)
    excess = np.where(known, surface - elevation, 0.0)
    offset = float(np.percentile(excess[known], OPEN_SHARE))
    warnings: list[str] = []
    if abs(offset) > LARGEST_OFFSET and not is_same_survey:
        warnings.append(
            f"{name} (surface) lies {offset:+.2f} m off the ground where nothing stands; it is shifted by as much. "
            "If all of it is wood or roof, bring ground heights of the same survey."
        )
        excess = excess - offset
    height = np.where(known & (excess >= LEAST_HEIGHT), excess, 0.0)
    tall = height > TALLEST
    if tall.any():
        warnings.append(
            f"{name} (surface) stands more than {TALLEST:.0f} m above the ground in {int(tall.sum())} cells; left out."
        )
        height = np.where(tall, 0.0, height)
    share = float((height > 0.0).mean())
    said = f"{name} shows something standing on {share:.0%} of the window, up to {height.max():.1f} m high."
    return Obstacles(np.asarray(np.round(height, 4), dtype=np.float64), (said,), tuple(warnings))


def _ask_about_unit(surface: FloatArray, elevation: FloatArray, name: str) -> None:
    """Raise where a surface in feet was laid on ground in metres, or the other way round."""
    low_surface, low_ground = (float(np.percentile(values, OPEN_SHARE)) for values in (surface, elevation))
    if abs(low_ground) < 10.0:
        return
    ratio = low_surface / low_ground
    for factor, unit in ((1.0 / FOOT, "ft"), (FOOT, "m")):
        if abs(ratio / factor - 1.0) < 0.02:
            raise SettingsError(
                f"{name} (surface) is {ratio:.2f} times as high as the ground: it seems to be in other units. "
                f"In site.toml write surface_unit = '{unit}'"
            )
