"""Horizons of every cell in one direction, by walking parallel lines away from the sun."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import Float32Array

BinArray = np.ndarray[tuple[int, ...], np.dtype[np.uint16]]


@dataclass(frozen=True, slots=True)
class Bearing:
    """One direction to the sun, as steps of one cell along the axis that it runs closer to.

    Lines are numbered so that line ``k`` is at ``k + drift * i`` across the axis after ``i`` steps away from the sun's
    edge of the heights.

    Parameters
    ----------
    runs_along_rows : bool
        Whether the axis is that of the columns (the sun stands nearer to east or west than to north or south).
    from_far_end : bool
        Whether the sun's edge is the far end of that axis (east or south).
    drift : float
        Cells across for each cell along. [1]
    step : float
        Length of one step over the ground. [cells]
    """

    runs_along_rows: bool
    from_far_end: bool
    drift: float
    step: float


def bearing(azimuth: float) -> Bearing:
    """Return how lines run for a sun at an azimuth in degrees clockwise from north.

    Examples
    --------
    >>> bearing(90.0).runs_along_rows, bearing(90.0).from_far_end
    (True, True)
    """
    east, south = np.sin(np.radians(azimuth)), -np.cos(np.radians(azimuth))
    if abs(east) >= abs(south):
        return Bearing(True, bool(east > 0.0), float(-south / abs(east)), float(1.0 / abs(east)))
    return Bearing(False, bool(south > 0.0), float(-east / abs(south)), float(1.0 / abs(south)))


@kernel
def sweep_opaque(
    ground: Float32Array,
    opaque: Float32Array,
    cell: float,
    from_far_end: bool,
    drift: float,
    step: float,
    tangent_floor: float,
    first_line: int,
    first_step: int,
    bins: int,
    horizon: BinArray,
) -> None:
    """Write the horizon that ground and opaque things make, on lines one cell apart.

    The upper hull of what has been passed is kept on a stack (Timonen & Westerholm 2010), so a step costs the same
    however far the horizon is. Points that reach the lowest sun's ray past everything before them clear the stack:
    nothing before them can hide that sun, or any higher one, from what follows.

    Parameters
    ----------
    ground, opaque : (across, along) float32 array
        Heights of the ground, all known, and of what stands on it. [m]
    cell : float
        [m]
    from_far_end, drift, step
        As in ``Bearing``.
    tangent_floor : float
        Tangent of the lowest sun in this direction; horizons below it may be written as 0. [1]
    first_line, first_step : int
        Line and step that ``horizon[0, 0]`` stands for.
    bins : int
        Bin ``b`` of a horizon has the sine ``b / (bins - 1)``.
    horizon : (lines, steps) uint16 array
        Written in place; untouched where a line is beyond the heights.

    References
    ----------
    Dozier & Frew (1990), IEEE Trans. Geosci. Remote Sensing 28:963; Timonen & Westerholm (2010), Computer Graphics
    Forum 29:667.
    """
    across, along = ground.shape
    lines, steps = horizon.shape
    last = first_step + steps
    at = np.empty(last, dtype=np.float64)
    high = np.empty(last, dtype=np.float64)
    run = cell * step
    drop = tangent_floor * run
    scale = bins - 1.0
    for line in range(lines):
        size = 0
        ray = -1e30
        start = float(first_line + line)
        for i in range(last):
            place = start + drift * i
            if place <= -1.0 or place >= across:
                continue
            u = along - 1 - i if from_far_end else i
            j = int(np.floor(place))
            share = place - j
            below, above = max(j, 0), min(j + 1, across - 1)
            bare = ground[below, u] * (1.0 - share) + ground[above, u] * share
            top = bare + opaque[above if share >= 0.5 else below, u]
            ray -= drop
            if top >= ray:
                at[0], high[0] = i, top
                size = 1
                ray = top
                if i >= first_step:
                    horizon[line, i - first_step] = 0
                continue
            while size > 1 and (high[size - 2] - top) * (i - at[size - 1]) >= (high[size - 1] - top) * (
                i - at[size - 2]
            ):
                size -= 1
            if i >= first_step:
                tangent = (high[size - 1] - top) / ((i - at[size - 1]) * run)
                sine = tangent / np.sqrt(1.0 + tangent * tangent)
                horizon[line, i - first_step] = np.uint16(sine * scale + 0.5) if sine > 0.0 else 0
            at[size], high[size] = i, top
            size += 1


@kernel
def sweep_crowns(
    ground: Float32Array,
    opaque: Float32Array,
    crown_top: Float32Array,
    crown_base: Float32Array,
    has_base: bool,
    cell: float,
    from_far_end: bool,
    drift: float,
    step: float,
    first_line: int,
    first_step: int,
    bins: int,
    upper: BinArray,
    lower: BinArray,
) -> None:
    """Write the upper edge of the crowns as seen from each place, and the lower where light passes under them.

    Parameters
    ----------
    ground, opaque, cell, from_far_end, drift, step, first_line, first_step, bins
        As in ``sweep_opaque``.
    crown_top, crown_base : (across, along) float32 array
        Above the ground; top 0 where there is no crown. [m]
    has_base : bool
        Whether any crown begins above the ground; ``lower`` is left alone where none does.
    upper, lower : (lines, steps) uint16 array
        Written in place. Under a crown the upper edge is overhead; 0 and 0 where no crown is in sight.
    """
    across, along = ground.shape
    lines, steps = upper.shape
    last = first_step + steps
    top_at, top_high = np.empty(last, dtype=np.float64), np.empty(last, dtype=np.float64)
    base_at, base_high = np.empty(last, dtype=np.float64), np.empty(last, dtype=np.float64)
    run = cell * step
    scale = bins - 1.0
    for line in range(lines):
        tops = 0
        bases = 0
        start = float(first_line + line)
        for i in range(last):
            place = start + drift * i
            if place <= -1.0 or place >= across:
                continue
            u = along - 1 - i if from_far_end else i
            j = int(np.floor(place))
            share = place - j
            below, above = max(j, 0), min(j + 1, across - 1)
            near = above if share >= 0.5 else below
            crown = crown_top[near, u]
            if tops == 0 and crown <= 0.0:
                if i >= first_step:
                    upper[line, i - first_step] = 0
                    if has_base:
                        lower[line, i - first_step] = 0
                continue
            bare = ground[below, u] * (1.0 - share) + ground[above, u] * share
            eye = bare + opaque[near, u]
            if i >= first_step:
                if crown > opaque[near, u]:
                    upper[line, i - first_step] = np.uint16(bins - 1)
                else:
                    k = tops - 1
                    while k > 0 and (top_high[k - 1] - eye) * (i - top_at[k]) >= (top_high[k] - eye) * (
                        i - top_at[k - 1]
                    ):
                        k -= 1
                    tangent = (top_high[k] - eye) / ((i - top_at[k]) * run)
                    sine = tangent / np.sqrt(1.0 + tangent * tangent)
                    upper[line, i - first_step] = np.uint16(sine * scale + 0.5) if sine > 0.0 else 0
                if has_base:
                    if bases == 0:
                        lower[line, i - first_step] = np.uint16(bins - 1)
                    else:
                        k = bases - 1
                        while k > 0 and (base_high[k - 1] - eye) * (i - base_at[k]) <= (base_high[k] - eye) * (
                            i - base_at[k - 1]
                        ):
                            k -= 1
                        tangent = (base_high[k] - eye) / ((i - base_at[k]) * run)
                        sine = tangent / np.sqrt(1.0 + tangent * tangent)
                        lower[line, i - first_step] = np.uint16(sine * scale + 0.5) if sine > 0.0 else 0
            if crown > 0.0:
                peak = bare + crown
                while tops > 1 and (top_high[tops - 2] - peak) * (i - top_at[tops - 1]) >= (
                    top_high[tops - 1] - peak
                ) * (i - top_at[tops - 2]):
                    tops -= 1
                top_at[tops], top_high[tops] = i, peak
                tops += 1
                if has_base:
                    foot = bare + crown_base[near, u]
                    while bases > 1 and (base_high[bases - 2] - foot) * (i - base_at[bases - 1]) <= (
                        base_high[bases - 1] - foot
                    ) * (i - base_at[bases - 2]):
                        bases -= 1
                    base_at[bases], base_high[bases] = i, foot
                    bases += 1
