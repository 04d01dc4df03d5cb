"""Horizons of every cell in one direction, by walking parallel lines away from the sun, side by side."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import ByteArray, Float32Array, IntArray

BinArray = np.ndarray[tuple[int, ...], np.dtype[np.uint16]]

BLOCK = 64
"""Lines that are looked at together; where none of them is in shade, nothing is kept but that."""


@dataclass(frozen=True, slots=True)
class Bearing:
    """One direction to the sun, as steps of one cell along the axis that it runs closer to.

    Line ``k`` is at ``k + drift * i`` across that axis after ``i`` steps away from the sun's edge of the heights.

    Parameters
    ----------
    along_columns : bool
        Whether a step goes to the next column (the sun stands nearer to east or west than to north or south).
    from_far_end : bool
        Whether the sun's edge is the far end of that axis (east or south).
    drift : float
        Cells across for each cell along. [1]
    step : float
        Length of one step over the ground. [cells]
    """

    along_columns: bool
    from_far_end: bool
    drift: float
    step: float


def bearing(azimuth: float) -> Bearing:
    """Return how lines run for a sun at an azimuth in degrees clockwise from north.

    Examples
    --------
    >>> bearing(90.0).along_columns, bearing(90.0).from_far_end
    (True, True)
    """
    east, south = np.sin(np.radians(azimuth)), -np.cos(np.radians(azimuth))
    if abs(east) >= abs(south):
        return Bearing(True, bool(east > 0.0), float(-south / abs(east)), float(1.0 / abs(east)))
    return Bearing(False, bool(south > 0.0), float(-east / abs(south)), float(1.0 / abs(south)))


@kernel
def edge_bin(rise: float, run: float, scale: float) -> int:
    """Return the bin of an edge that is ``rise`` higher at a distance of ``run``: its sine times ``scale``."""
    if rise <= 0.0:
        return 0
    return int(rise / np.sqrt(rise * rise + run * run) * scale + 0.5)


@kernel
def seen_edge(at: IntArray, high: Float32Array, size: int, line: int, step: int, eye: float) -> int:
    """Return which point of a hull a line's eye sees as the edge."""
    k = size - 1
    while k > 0:
        near, far = high[k, line] - eye, high[k - 1, line] - eye
        if far * (step - at[k, line]) - near * (step - at[k - 1, line]) < 0.0:
            break
        k -= 1
    return k


@kernel
def look_from_block(
    ground: Float32Array,
    raised: Float32Array,
    u: int,
    first: int,
    end: int,
    shift: int,
    share: float,
    drop: float,
    eye: Float32Array,
    top: Float32Array,
    ray: Float32Array,
) -> int:
    """Set eye, top and ray of a block of lines one step on, and return how many eyes are below their ray.

    ``eye`` is where the light is wanted, on the ground, ``top`` what takes it from others, ``ray`` the lowest sun's ray
    past all tops so far; ground between cells is interpolated, what stands on it is not.
    """
    dark = np.int32(0)
    here, there = np.float32(1.0 - share), np.float32(share)
    row, near = np.uintp(u), np.uintp(1 if share >= 0.5 else 0)
    is_inside = first + shift >= 0 and end + shift < ground.shape[1]
    if is_inside:
        for k in range(np.uintp(first), np.uintp(end)):
            j = np.uintp(k) + np.uintp(shift)
            eye[k] = ground[row, j] * here + ground[row, j + np.uintp(1)] * there
            top[k] = eye[k] + raised[row, j + near]
            ray[k] -= np.float32(drop)
            dark += np.int32(eye[k] < ray[k])
        return int(dark)
    for k in range(first, end):
        low, up = max(k + shift, 0), min(k + shift + 1, ground.shape[1] - 1)
        eye[k] = ground[u, low] * here + ground[u, up] * there
        top[k] = eye[k] + raised[u, up if share >= 0.5 else low]
        ray[k] -= np.float32(drop)
        dark += np.int32(eye[k] < ray[k])
    return int(dark)


@kernel
def start_hulls(
    first: int,
    end: int,
    step: int,
    top: Float32Array,
    ray: Float32Array,
    at: IntArray,
    high: Float32Array,
    size: IntArray,
) -> None:
    """Let the hulls of a block of lines in full light begin anew."""
    for k in range(np.uintp(first), np.uintp(end)):
        ray[k] = max(ray[k], top[k])
        high[np.uintp(0), k] = top[k]
        at[np.uintp(0), k] = step
        size[k] = 1


@kernel
def sweep_opaque(
    ground: Float32Array,
    raised: Float32Array,
    cell: float,
    from_far_end: bool,
    drift: float,
    step: float,
    tangent_floor: float,
    first_line: int,
    first_step: int,
    bins: int,
    horizon: BinArray,
    is_shaded: ByteArray,
) -> None:
    """Write the horizon that ground and opaque things make, on lines one cell apart.

    The upper hull of what has been passed is kept on a stack for each line (Timonen & Westerholm 2010), so a step
    costs the same however far the horizon is. An eye that the lowest sun of this direction reaches clears its stack:
    nothing before it can hide that sun, or any higher one, from what follows. With rises that are not believed, points
    that stick out of the hull by less than such a rise are let go of as well.

    Parameters
    ----------
    ground : (along, across) float32 array
        Heights of the ground, all known. [m]
    raised : (along, across) float32 array
        Height above the ground of the opaque thing there; where there is none, minus the rise of ground that is not
        believed. [m]
    cell : float
        [m]
    from_far_end, drift, step
        As in ``Bearing``.
    tangent_floor : float
        Tangent of the lowest sun in this direction; horizons below it are written as 0. [1]
    first_line, first_step : int
        Line and step that ``horizon[0, 0]`` stands for.
    bins : int
        Bin ``b`` of a horizon has the sine ``b / (bins - 1)``.
    horizon : (steps, lines) uint16 array
        Written in place but beyond the heights.
    is_shaded : (steps, blocks of lines) uint8 array
        1 where any line of a block has a horizon; written in place, must come as zeros.

    References
    ----------
    Dozier & Frew (1990), IEEE Trans. Geosci. Remote Sensing 28:963; Timonen & Westerholm (2010), Computer Graphics
    Forum 29:667.
    """
    along, across = ground.shape
    steps, lines = horizon.shape
    last = first_step + steps
    at, high = np.empty((last + 1, lines), dtype=np.int32), np.empty((last + 1, lines), dtype=np.float32)
    size = np.zeros(lines, dtype=np.int32)
    ray = np.full(lines, -1e30, dtype=np.float32)
    eye, top = np.empty(lines, dtype=np.float32), np.empty(lines, dtype=np.float32)
    run, scale, drop = cell * step, bins - 1.0, tangent_floor * cell * step
    for i in range(last):
        u = along - 1 - i if from_far_end else i
        place = first_line + drift * i
        shift = int(np.floor(place))
        row = i - first_step
        start, stop = max(0, -1 - shift + (place <= shift)), min(lines, across - shift)
        for block in range(start // BLOCK, (stop + BLOCK - 1) // BLOCK):
            first, end = max(start, block * BLOCK), min(stop, block * BLOCK + BLOCK)
            if look_from_block(ground, raised, u, first, end, shift, place - shift, drop, eye, top, ray) == 0:
                start_hulls(first, end, i, top, ray, at, high, size)
                if row >= 0:
                    horizon[row, first:end] = 0
                continue
            if row >= 0:
                is_shaded[row, block] = 1
            for k in range(np.uintp(first), np.uintp(end)):
                if eye[k] >= ray[k]:
                    ray[k] = max(ray[k], top[k])
                    high[np.uintp(0), k] = top[k]
                    at[np.uintp(0), k] = i
                    size[k] = 1
                    if row >= 0:
                        horizon[row, k] = 0
                    continue
                edge = seen_edge(at, high, size[k], k, i, eye[k])
                if row >= 0:
                    horizon[row, k] = edge_bin(high[edge, k] - eye[k], (i - at[edge, k]) * run, scale)
                if top[k] > eye[k]:
                    edge = seen_edge(at, high, edge + 1, k, i, top[k])
                    ray[k] = max(ray[k], top[k])
                high[edge + 1, k] = top[k]
                at[edge + 1, k] = i
                size[k] = edge + 2
