"""How high a mound must be, in its terms."""

from __future__ import annotations

import math
from statistics import NormalDist

from sitepipe.works.mounds.fills import NEVER_DRAINS, Fill
from sitepipe.works.mounds.record import MoundHeight


def finished_height(roots: float, fringe: float, depth_to_water: float) -> float:
    """Height of a settled mound whose roots stand in drained ground, never below 0. Lengths in m.

    Examples
    --------
    >>> round(finished_height(0.45, 0.15, 0.20), 2)
    0.4
    """
    return max(roots + fringe - depth_to_water, 0.0)


def built_height(finished: float, settlement: float) -> float:
    """Height to build so that ``finished`` is left after settlement (a share of the built height). [m].

    Examples
    --------
    >>> round(built_height(0.40, 0.30), 2)
    0.57
    """
    return finished / (1.0 - settlement)


def base_width(top: float, side_slope: float, built: float) -> float:
    """Width at the foot of a mound with equal sides of ``side_slope`` run per rise. [m].

    Examples
    --------
    >>> round(base_width(0.6, 1.5, 0.4 / 0.7), 1)
    2.3
    """
    return top + 2.0 * side_slope * built


def mound_height(roots: float, fill: Fill, depth_to_water: float, depth_error: float, chance: float) -> MoundHeight:
    """Height that keeps roots out of the water with the stated chance, term by term.

    Errors of the depth to water, the fringe and the settlement are taken as independent; the water can stand no
    higher than the surface, so its share of the allowance is never more than the depth itself.

    Parameters
    ----------
    roots : float
        Depth of drained ground that the crop wants. [m]
    fill : Fill
    depth_to_water, depth_error : float
        In the wet season, and its standard deviation. [m]
    chance : float
        From .5, which adds nothing, to below 1. [1]

    Returns
    -------
    MoundHeight

    Examples
    --------
    >>> from sitepipe.works.mounds.fills import find_fill
    >>> height = mound_height(0.45, find_fill("woody core", "loam", 0.1), 0.20, 0.0, 0.5)
    >>> round(height.finished, 2), round(height.built, 2)
    (0.4, 0.57)
    """
    deviations = NormalDist().inv_cdf(chance)
    plain = finished_height(roots, fill.fringe, depth_to_water)
    water = min(deviations * depth_error, max(depth_to_water, 0.0))
    settling = deviations * fill.settlement_error * built_height(plain, fill.settlement)
    allowance = math.hypot(water, deviations * fill.fringe_error, settling)
    finished = max(roots + fill.fringe - depth_to_water + allowance, 0.0)
    return MoundHeight(
        roots=roots,
        fringe=fill.fringe,
        depth_to_water=depth_to_water,
        allowance=allowance,
        finished=finished,
        built=built_height(finished, fill.settlement),
        settlement=fill.settlement,
        chance=chance,
        water_error=depth_error,
        settling_error=fill.settlement_error * built_height(finished, fill.settlement),
    )


def height_as_built(roots: float, fill: Fill, depth_to_water: float, depth_error: float, built: float) -> MoundHeight:
    """Return the terms of a mound that is built so high, with the chance that its roots stay dry.

    The errors are those of ``mound_height``, whose inverse this is from a chance of .5 on.

    Examples
    --------
    >>> from sitepipe.works.mounds.fills import find_fill
    >>> core = find_fill("woody core", "loam", 0.1)
    >>> wanted = mound_height(0.45, core, 0.20, 0.1, 0.8)
    >>> round(height_as_built(0.45, core, 0.20, 0.1, wanted.built).chance, 3)
    0.8
    """
    finished = built * (1.0 - fill.settlement)
    allowance = finished - (roots + fill.fringe - depth_to_water)
    # ``mound_height`` takes the error of settling from the height without allowance.
    plain = built_height(finished_height(roots, fill.fringe, depth_to_water), fill.settlement)
    others = math.hypot(fill.fringe_error, fill.settlement_error * plain)
    deviations = allowance / max(math.hypot(others, depth_error), 1e-9)
    if deviations * depth_error > max(depth_to_water, 0.0):
        # Water stands no higher than the ground: beyond that only fringe and settling can err.
        deviations = math.sqrt(max(allowance**2 - depth_to_water**2, 0.0)) / max(others, 1e-9)
    return MoundHeight(
        roots=roots,
        fringe=fill.fringe,
        depth_to_water=depth_to_water,
        allowance=allowance,
        finished=finished,
        built=built,
        settlement=fill.settlement,
        chance=NormalDist().cdf(deviations),
        water_error=depth_error,
        settling_error=fill.settlement_error * built,
    )


def will_do(height: MoundHeight, fill: Fill, highest: float) -> bool:
    """Tell whether a fill lets enough air in, and stays below what may be built. ``highest`` is as built. [m]."""
    return fill.fringe <= NEVER_DRAINS and height.built <= highest
