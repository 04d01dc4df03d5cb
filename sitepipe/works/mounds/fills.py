"""What a mound may be made of: how wet it stays above water, how far it settles, how steep it stands."""

from __future__ import annotations

import math
from dataclasses import dataclass

from sitepipe.errors import SettingsError


@dataclass(frozen=True, slots=True)
class Texture:
    """Water held by a soil, after van Genuchten (1980). ``alpha`` in 1/cm, water contents by volume."""

    residual: float
    saturated: float
    alpha: float
    n: float


TEXTURES = {
    "sand": Texture(0.045, 0.43, 0.145, 2.68),
    "loamy sand": Texture(0.057, 0.41, 0.124, 2.28),
    "sandy loam": Texture(0.065, 0.41, 0.075, 1.89),
    "loam": Texture(0.078, 0.43, 0.036, 1.56),
    "silt": Texture(0.034, 0.46, 0.016, 1.37),
    "silt loam": Texture(0.067, 0.45, 0.020, 1.41),
    "sandy clay loam": Texture(0.100, 0.39, 0.059, 1.48),
    "clay loam": Texture(0.095, 0.41, 0.019, 1.31),
    "silty clay loam": Texture(0.089, 0.43, 0.010, 1.23),
    "sandy clay": Texture(0.100, 0.38, 0.027, 1.23),
    "silty clay": Texture(0.070, 0.36, 0.005, 1.09),
    "clay": Texture(0.068, 0.38, 0.008, 1.09),
}
"""Carsel & Parrish (1988), Water Resources Research 24:755, table 6 (values from memory)."""

NEVER_DRAINS = 1.5
"""A fringe higher than this is as good as never on a mound built by hand: clay loam and all clays. [m]"""


def air_height(texture: Texture, air: float) -> float:
    """Height above a still water table at which air fills a share of the soil's volume.

    Parameters
    ----------
    texture : Texture
    air : float
        Share of air that roots need. [1]

    Returns
    -------
    float
        Infinite where the soil never gives so much air. [m]

    References
    ----------
    van Genuchten (1980), Soil Science Society of America Journal 44:892, equation 3 turned round.

    Examples
    --------
    >>> round(air_height(TEXTURES["loam"], 0.10), 2)
    0.37
    """
    left = (texture.saturated - air - texture.residual) / (texture.saturated - texture.residual)
    if left <= 0.0:
        return math.inf
    m = 1.0 - 1.0 / texture.n
    return float((left ** (-1.0 / m) - 1.0) ** (1.0 / texture.n) / texture.alpha) / 100.0


@dataclass(frozen=True, slots=True)
class Fill:
    """One way to fill a mound.

    Parameters
    ----------
    name : str
    fringe, fringe_error : float
        Height above the water that stays too wet for roots, and its standard deviation. [m]
    settlement, settlement_error : float
        Share of the built height that is lost, and its standard deviation. [1]
    side_slope : float
        Run per rise. [1]
    is_woody : bool
        Whether a core of wood lies under a cover of soil.
    source : str
    """

    name: str
    fringe: float
    fringe_error: float
    settlement: float
    settlement_error: float
    side_slope: float
    is_woody: bool
    source: str


FILL_NAMES = ("native soil", "soil and compost", "woody core")


def find_fill(name: str, native_texture: str, air: float) -> Fill:
    """Return a fill by name; for soil dug on the spot the fringe follows from its texture.

    Raises
    ------
    SettingsError
        If the fill or the texture has no such name.

    Examples
    --------
    >>> find_fill("woody core", "loam", 0.10).settlement
    0.3
    """
    if native_texture not in TEXTURES:
        raise SettingsError(f"soil.texture is {native_texture!r}; it must be one of {', '.join(TEXTURES)}")
    if name == "native soil":
        fringe = air_height(TEXTURES[native_texture], air)
        source = "fringe from texture (Carsel & Parrish 1988); settles 10 to 15 %: common practice"
        return Fill(name, fringe, 0.25 * min(fringe, 1.0), 0.125, 0.015, 2.0, False, source)
    if name == "soil and compost":
        source = "loose loamy fill; settles 15 to 25 %: common practice, no source"
        return Fill(name, 0.15, 0.04, 0.20, 0.03, 2.0, False, source)
    if name == "woody core":
        source = "settles 25 to 35 % in 1 to 2 years: common practice, practitioners' reports"
        return Fill(name, 0.15, 0.04, 0.30, 0.03, 1.5, True, source)
    raise SettingsError(f"mound.fills names {name!r}; it must be one of {', '.join(FILL_NAMES)}")
