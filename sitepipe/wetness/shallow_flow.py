"""Steady flow of shallow ground water to drains and hollows, and the classic solutions for drains."""

from __future__ import annotations

import math

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray

LEAST_THICKNESS = 1e-6
"""Wet thickness kept above the base, so that a dry cell can fill again. [m]"""


@kernel
def _sweep(
    head: FloatArray, base: FloatArray, ceiling: FloatArray, supply: FloatArray, held: BoolArray, relaxation: float
) -> float:  # pragma: no cover (compiled)
    rows, columns = head.shape
    largest = 0.0
    for row in range(rows):
        for column in range(columns):
            own = base[row, column]
            if np.isnan(own) or held[row, column]:
                continue
            before = head[row, column]
            thickness = before - own
            balance = supply[row, column]
            slope = 0.0
            steepest = 0.0
            for side in range(4):
                r = row + (1 if side == 0 else -1 if side == 1 else 0)
                c = column + (1 if side == 2 else -1 if side == 3 else 0)
                if r < 0 or c < 0 or r >= rows or c >= columns or np.isnan(base[r, c]):
                    continue
                beside = head[r, c] - base[r, c]
                rise = head[r, c] - before
                steepest = max(steepest, abs(rise))
                mean = 0.5 * (thickness + beside)
                upstream = thickness if rise <= 0.0 else beside
                # A nearly dry cell gives no more than twice its own thickness would carry, or it would run empty.
                if mean <= 2.0 * upstream:
                    balance += mean * rise
                    slope += min(0.5 * rise - mean, -LEAST_THICKNESS)
                elif rise <= 0.0:
                    balance += 2.0 * thickness * rise
                    slope += 2.0 * rise - 2.0 * thickness
                else:
                    balance += 2.0 * beside * rise
                    slope -= 2.0 * beside
            # Thin water on a steep base flows as a wave, which over-relaxation would only shake.
            factor = relaxation if thickness > 4.0 * steepest else 1.0
            level = ceiling[row, column] if slope >= 0.0 else before - factor * balance / slope
            level = min(max(level, own + max(0.3 * thickness, LEAST_THICKNESS)), ceiling[row, column])
            head[row, column] = level
            largest = max(largest, abs(level - before))
    return largest


@kernel
def _relax(
    head: FloatArray,
    base: FloatArray,
    ceiling: FloatArray,
    supply: FloatArray,
    held: BoolArray,
    relaxation: float,
    tolerance: float,
    most_sweeps: int,
) -> int:  # pragma: no cover (compiled)
    for sweep in range(most_sweeps):
        if _sweep(head, base, ceiling, supply, held, relaxation) < tolerance:
            return sweep + 1
    return most_sweeps


def water_table(
    base: FloatArray,
    ceiling: FloatArray,
    supply_ratio: float,
    cell: float,
    start: FloatArray | None = None,
    held: BoolArray | None = None,
    tolerance: float = 1e-5,
    most_sweeps: int = 4000,
) -> FloatArray:
    """Level of a steady water table that rises no higher than its ceiling.

    Rain that soaks in flows sideways over a tight base (Dupuit and Forchheimer: no vertical gradients) and leaves
    where the table meets the ceiling: the surface in a hollow or at a spring, the bed in a ditch. Where that happens
    is not given beforehand but found, as an obstacle problem: the flow balances wherever the table is below the
    ceiling. No water passes the outer edge of the known cells, so beside a low edge the table is too high rather than
    too low.

    Parameters
    ----------
    base : (rows, columns) float array
        Height of the layer that lets no water through, NaN where unknown. [m]
    ceiling : (rows, columns) float array
        Highest level that the table can take: ground, or bed of a drain; infinite where nothing holds it. [m]
    supply_ratio : float
        Recharge over conductivity, both in the same unit. [1]
    cell : float
        Side of a cell. [m]
    start : (rows, columns) float array, optional
        First guess; the ceiling without it. [m]
    held : (rows, columns) bool array, optional
        Cells of open water, whose level is the ceiling whatever flows in or out.
    tolerance : float
        Largest change in one sweep at which the level counts as found. [m]
    most_sweeps : int
        Sweeps after which the search stops whatever the change.

    Returns
    -------
    (rows, columns) float array
        Level of the table, NaN where unknown. [m]

    References
    ----------
    Bear (1972), Dynamics of fluids in porous media, chapter 8 (value from memory); projected relaxation: Cryer (1971),
    SIAM Journal on Control 9:385 (value from memory).

    Examples
    --------
    Ditches 10 m apart with .6 m of water, K .5 m/d and 5 mm/d of rain: sqrt(.36 + .01 * 25) = .7810 m half-way.

    >>> base = np.zeros((1, 101))
    >>> ceiling = np.full((1, 101), np.inf)
    >>> ceiling[0, [0, -1]] = 0.6
    >>> level = water_table(base, ceiling, 0.01, 0.1, start=np.full((1, 101), 0.6), tolerance=1e-9, most_sweeps=20000)
    >>> round(float(level[0, 50]), 4)
    0.781
    """
    head = np.where(np.isnan(base), np.nan, ceiling if start is None else np.minimum(start, ceiling))
    held = np.zeros(base.shape, np.bool_) if held is None else held
    head[held] = ceiling[held]
    supply = np.full(base.shape, supply_ratio * cell * cell)
    relaxation = 2.0 / (1.0 + math.sin(math.pi / max(base.shape)))
    _relax(head, base, ceiling, supply, held, min(relaxation, 1.94), tolerance, most_sweeps)
    return head


def equivalent_depth(spacing: float, depth_below: float, radius: float) -> float:
    """Thickness of a layer whose level flow loses as much head as the real flow that bends towards a drain.

    Parameters
    ----------
    spacing : float
        Distance between drains. [m]
    depth_below : float
        From the drains down to the tight layer. [m]
    radius : float
        Of the drain, or wetted perimeter over pi for a ditch. [m]

    Returns
    -------
    float
        Never more than ``depth_below``. [m]

    References
    ----------
    Hooghoudt (1940) in the closed form of van der Molen & Wesseling (1991), Agricultural Water Management 19:1.

    Examples
    --------
    >>> round(equivalent_depth(20.0, 2.0, 0.1), 2)
    1.36
    """
    if depth_below <= 0.0:
        return 0.0
    x = 2.0 * math.pi * depth_below / spacing
    if x > 0.5:
        series = sum(4.0 * math.exp(-2.0 * n * x) / (n * (1.0 - math.exp(-2.0 * n * x))) for n in range(1, 60, 2))
    else:
        series = math.pi**2 / (4.0 * x) + math.log(x / (2.0 * math.pi))
    closed = math.pi * spacing / 8.0 / (math.log(spacing / (math.pi * radius)) + series)
    return min(closed, depth_below)


def drain_spacing(conductivity: float, rise: float, recharge: float, depth_below: float, radius: float) -> float:
    """Distance between parallel drains that keeps the table half-way no higher than ``rise`` above them.

    Parameters
    ----------
    conductivity, recharge : float
        [m/day]
    rise : float
        Of the table half-way, above the drains. [m]
    depth_below : float
        From the drains down to the tight layer. [m]
    radius : float
        Of the drain. [m]

    Returns
    -------
    float
        [m]

    References
    ----------
    Hooghoudt (1940): L^2 = (8 K d h + 4 K h^2) / q, with d itself from L.

    Examples
    --------
    The Dutch criterion in a fair loam (7 mm/d with the table .5 m above the drains), K .5 m/d: 17.2 m.

    >>> round(drain_spacing(0.5, 0.5, 0.007, 1.0, 0.05), 1)
    17.2
    """
    spacing = math.sqrt((8.0 * conductivity * depth_below * rise + 4.0 * conductivity * rise * rise) / recharge)
    for _ in range(200):
        depth = equivalent_depth(spacing, depth_below, radius)
        wanted = math.sqrt((8.0 * conductivity * depth * rise + 4.0 * conductivity * rise * rise) / recharge)
        if abs(wanted - spacing) < 1e-9:
            break
        spacing = 0.5 * (spacing + wanted)
    return spacing
