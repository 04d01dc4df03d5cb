"""Upper and lower edges of crowns in one direction, along the same lines as the sweep over what is opaque."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import ByteArray, Float32Array, IntArray
from sitepipe.sunlight.sweep import BLOCK, BinArray, edge_bin, look_from_block, seen_edge

NOTHING = np.float32(-1e30)
"""Height of a crown where there is none. [m]"""


@kernel
def sweep_crowns(
    ground: Float32Array,
    raised: Float32Array,
    crown_top: Float32Array,
    crown_base: Float32Array,
    has_base: bool,
    cell: float,
    from_far_end: bool,
    drift: float,
    step: float,
    tangent_floor: float,
    first_line: int,
    first_step: int,
    bins: int,
    upper: BinArray,
    lower: BinArray,
    is_shaded: ByteArray,
) -> None:
    """Write the upper edge of the crowns as seen from each place, and the lower where light passes under them.

    Parameters
    ----------
    ground, raised, cell, from_far_end, drift, step, tangent_floor, first_line, first_step, bins
        As in ``sweep_opaque``.
    crown_top, crown_base : (along, across) float32 array
        Above the ground; top 0 where there is no crown. [m]
    has_base : bool
        Whether any crown begins above the ground; ``lower`` is left alone where none does.
    upper, lower : (steps, lines) uint16 array
        Written in place but beyond the heights, ``lower`` where ``upper`` is not 0. Under a crown the upper edge is
        overhead; the lower edge is that of the lowest crown in sight.
    is_shaded : (steps, blocks of lines) uint8 array
        1 where any line of a block sees a crown; written in place, must come as zeros.
    """
    along, across = ground.shape
    steps, lines = upper.shape
    last = first_step + steps
    top_at, top_high = np.empty((last + 1, lines), dtype=np.int32), np.empty((last + 1, lines), dtype=np.float32)
    base_at, base_high = np.empty((last + 1, lines), dtype=np.int32), np.empty((last + 1, lines), dtype=np.float32)
    tops, bases = np.zeros(lines, dtype=np.int32), np.zeros(lines, dtype=np.int32)
    ray = np.full(lines, -1e30, dtype=np.float32)
    eye, peak = np.empty(lines, dtype=np.float32), np.empty(lines, dtype=np.float32)
    foot = np.empty(lines, dtype=np.float32)
    run, scale, drop = cell * step, bins - 1.0, tangent_floor * cell * step
    for i in range(last):
        u = along - 1 - i if from_far_end else i
        place = first_line + drift * i
        shift = int(np.floor(place))
        row = i - first_step
        start, stop = max(0, -1 - shift + (place <= shift)), min(lines, across - shift)
        for block in range(start // BLOCK, (stop + BLOCK - 1) // BLOCK):
            first, end = max(start, block * BLOCK), min(stop, block * BLOCK + BLOCK)
            dark = look_from_block(ground, raised, u, first, end, shift, place - shift, drop, eye, foot, ray)
            dark += crowns_in_block(crown_top, crown_base, raised, u, first, end, shift, place - shift, eye, peak, foot)
            if dark == 0:
                if row >= 0:
                    upper[row, first:end] = 0
                continue
            if row >= 0:
                is_shaded[row, block] = 1
            for k in range(np.uintp(first), np.uintp(end)):
                over, under = 0, bins - 1
                if peak[k] > eye[k]:
                    over = bins - 1
                    under = 0 if foot[k] <= eye[k] else under
                elif eye[k] < ray[k]:
                    edge = seen_edge(top_at, top_high, tops[k], k, i, eye[k], 1.0)
                    over = edge_bin(top_high[edge, k] - eye[k], (i - top_at[edge, k]) * run, scale)
                if has_base and over > 0 and bases[k] > 0:
                    edge = seen_edge(base_at, base_high, bases[k], k, i, eye[k], -1.0)
                    under = min(under, edge_bin(base_high[edge, k] - eye[k], (i - base_at[edge, k]) * run, scale))
                if row >= 0:
                    upper[row, k] = over
                    if has_base:
                        lower[row, k] = under
                if peak[k] > NOTHING:
                    tops[k] = 0 if peak[k] >= ray[k] else seen_edge(top_at, top_high, tops[k], k, i, peak[k], 1.0) + 1
                    ray[k] = max(ray[k], peak[k])
                    top_at[tops[k], k], top_high[tops[k], k] = i, peak[k]
                    tops[k] += 1
                    if has_base:
                        push_foot(base_at, base_high, bases, k, i, foot[k])


@kernel
def push_foot(at: IntArray, high: Float32Array, size: IntArray, line: int, step: int, foot: float) -> None:
    """Lay the foot of a crown on the lower hull of a line."""
    if size[line] > 0:
        size[line] = seen_edge(at, high, size[line], line, step, foot, -1.0) + 1
    at[size[line], line] = step
    high[size[line], line] = foot
    size[line] += 1


@kernel
def crowns_in_block(
    crown_top: Float32Array,
    crown_base: Float32Array,
    raised: Float32Array,
    u: int,
    first: int,
    end: int,
    shift: int,
    share: float,
    eye: Float32Array,
    peak: Float32Array,
    foot: Float32Array,
) -> int:
    """Set peak and foot of the crowns in a block of lines, a peak of ``NOTHING`` where there is none; count them."""
    crowns = np.int32(0)
    row, near = np.uintp(u), np.uintp(1 if share >= 0.5 else 0)
    if first + shift >= 0 and end + shift < crown_top.shape[1]:
        for k in range(np.uintp(first), np.uintp(end)):
            j = np.uintp(k) + np.uintp(shift) + near
            crown = crown_top[row, j]
            bare = eye[k] - max(raised[row, j], np.float32(0.0))
            peak[k] = bare + crown if crown > np.float32(0.0) else NOTHING
            foot[k] = bare + crown_base[row, j]
            crowns += np.int32(crown > np.float32(0.0))
        return int(crowns)
    for line in range(first, end):
        at = min(line + shift + 1, crown_top.shape[1] - 1) if share >= 0.5 else max(line + shift, 0)
        crown = crown_top[u, at]
        bare = eye[line] - max(raised[u, at], np.float32(0.0))
        peak[line] = bare + crown if crown > np.float32(0.0) else NOTHING
        foot[line] = bare + crown_base[u, at]
        crowns += np.int32(crown > np.float32(0.0))
    return int(crowns)
