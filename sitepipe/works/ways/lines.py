"""The line of a path: straightened where that costs nothing, its corners rounded, and what it costs and cuts."""

from __future__ import annotations

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray
from sitepipe.works.ways.least_cost import _slope_factor
from sitepipe.works.ways.walking import WalkingGround

WORTH_STRAIGHT = 1.05
"""A straight piece may cost this much more than the way that it replaces: fewer pegs, less edging."""
WORTH_SMOOTH = 1.10
"""And its rounded corners as much again: a barrow takes curves, not corners."""
LEVEL_ACROSS = 1.0 / 48.0
"""Cross slope that asks for no cut: 2010 ADA, value from memory. [1]"""


@kernel
def line_cost(pace: FloatArray, height: FloatArray, steepest: float, places: FloatArray) -> float:
    """Cost of going along a line of straight pieces, sampled four times a cell. [cells].

    Parameters
    ----------
    pace, height, steepest : as ``least_cost`` takes them
    places : (n, 2) float array
        Vertices as (row, column), a cell's centre at whole numbers. [cells]

    Returns
    -------
    float
        Infinite where the line goes over a blocked cell or leaves the cells.
    """
    rows, columns = pace.shape
    total = 0.0
    for k in range(places.shape[0] - 1):
        down, right = places[k + 1, 0] - places[k, 0], places[k + 1, 1] - places[k, 1]
        length = float(np.hypot(down, right))
        if length == 0.0:
            continue
        count = int(np.ceil(length * 4.0))
        piece = length / count
        before = _between(height, places[k, 0], places[k, 1])
        for part in range(count):
            row = places[k, 0] + down * (part + 0.5) / count
            column = places[k, 1] + right * (part + 0.5) / count
            near, over = int(np.floor(row + 0.5)), int(np.floor(column + 0.5))
            if near < 0 or near >= rows or over < 0 or over >= columns:
                return np.inf
            after = _between(
                height, places[k, 0] + down * (part + 1.0) / count, places[k, 1] + right * (part + 1.0) / count
            )
            total += pace[near, over] * piece * _slope_factor(after - before, piece, steepest)
            before = after
    return total


@kernel
def _between(values: FloatArray, row: float, column: float) -> float:
    """Value between four cell centres, linear each way."""
    rows, columns = values.shape
    row, column = min(max(row, 0.0), rows - 1.0), min(max(column, 0.0), columns - 1.0)
    top, left = int(row), int(column)
    below, beside = min(top + 1, rows - 1), min(left + 1, columns - 1)
    down, right = row - top, column - left
    upper = values[top, left] * (1.0 - right) + values[top, beside] * right
    lower = values[below, left] * (1.0 - right) + values[below, beside] * right
    return float(upper * (1.0 - down) + lower * down)


@kernel
def straightened(pace: FloatArray, height: FloatArray, steepest: float, places: FloatArray, worth: float) -> FloatArray:
    """Leave out vertices where the straight piece costs no more than ``worth`` times the way between. [cells]."""
    count = places.shape[0]
    piece_cost = np.zeros(count)
    for k in range(1, count):
        piece_cost[k] = piece_cost[k - 1] + line_cost(pace, height, steepest, places[k - 1 : k + 1])
    kept = np.empty_like(places)
    kept[0] = places[0]
    size, at = 1, 0
    ends = np.empty((2, 2))
    while at < count - 1:
        onward = at + 1
        for k in range(count - 1, at + 1, -1):
            ends[0], ends[1] = places[at], places[k]
            if line_cost(pace, height, steepest, ends) <= worth * (piece_cost[k] - piece_cost[at]):
                onward = k
                break
        kept[size] = places[onward]
        size += 1
        at = onward
    return kept[:size].copy()


def rounded(places: FloatArray, times: int = 2) -> FloatArray:
    """Cut the corners of a line, its ends kept.

    References
    ----------
    Chaikin (1974), An algorithm for high-speed curve generation, Computer Graphics and Image Processing 3, 346-349.

    Examples
    --------
    >>> rounded(np.array([[0.0, 0.0], [0.0, 4.0], [4.0, 4.0]]), times=1).tolist()
    [[0.0, 0.0], [0.0, 3.0], [1.0, 4.0], [4.0, 4.0]]
    """
    for _ in range(times):
        if places.shape[0] < 3:
            return places
        early, late = 0.75 * places[:-1] + 0.25 * places[1:], 0.25 * places[:-1] + 0.75 * places[1:]
        cut = np.stack([early, late], axis=1).reshape(-1, 2)
        cut[0], cut[-1] = places[0], places[-1]
        places = cut
    return places


def eased(places: FloatArray, pace: FloatArray) -> FloatArray:
    """Round each corner of a line: widely where nothing stands in it, else more narrowly, or swung out round it."""
    if places.shape[0] < 3:
        return places
    level = np.zeros_like(pace)
    line = [places[0]]
    for before, corner, after in zip(places, places[1:], places[2:], strict=False):
        inwards = sum((other - corner) / max(float(np.hypot(*(other - corner))), 1e-9) for other in (before, after))
        bends = (
            rounded(np.array([tip + share * (before - tip), tip, tip + share * (after - tip)]), 3)
            for swing in (0.0, 0.5, 1.0)
            for tip in (corner - swing * inwards,)
            for share in (0.48, 0.2)
        )
        line += [*next((bend for bend in bends if line_cost(pace, level, 0.0, bend) < np.inf), [corner])]
    return np.array([*line, places[-1]])


def laid_line(cells: list[int], walking: WalkingGround, steepest: float, via: int = -1) -> tuple[FloatArray, float]:
    """Turn a way over cells into the vertices of a line, (row, column), and its cost; ``via`` is not cut off. [cells].

    The straightened line is taken, its corners rounded as far as nothing stands in them, where it costs little more
    than the way itself; else the way itself, rounded.
    """
    places = np.array([divmod(cell, walking.grid.columns) for cell in cells], dtype=np.float64)
    height = walking.height_in_cells
    own = line_cost(walking.pace, height, steepest, places)
    turn = cells.index(via) if via in cells else len(cells) - 1
    there, along = (
        straightened(walking.pace, height, steepest, part, WORTH_STRAIGHT)
        for part in (places[: turn + 1], places[turn:])
    )
    straight = np.vstack([there[:-1], along])
    for line in (eased(straight, walking.pace), straight, eased(places, walking.pace)):
        cost = line_cost(walking.pace, height, steepest, line)
        if cost <= WORTH_SMOOTH * own:
            return line, float(cost)
    return places, float(own)


def profile(walking: WalkingGround, places: FloatArray, spacing: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Distance along a line, height, and slope across it, at even spacing. [m], [m], [1]."""
    steps = np.hypot(*np.diff(places, axis=0).T) * walking.grid.cell
    along = np.concatenate([[0.0], np.cumsum(steps)])
    count = max(int(np.ceil(along[-1] / spacing)), 1)
    stations = np.linspace(0.0, along[-1], count + 1)
    height = walking.height_in_cells
    rows, columns = np.interp(stations, along, places[:, 0]), np.interp(stations, along, places[:, 1])
    middle = np.array([_between(height, r, c) for r, c in zip(rows, columns, strict=True)])
    forward = np.gradient(np.column_stack([rows, columns]), axis=0)
    forward /= np.maximum(np.hypot(forward[:, 0], forward[:, 1]), 1e-12)[:, None]
    side = np.column_stack([-forward[:, 1], forward[:, 0]]) * 0.5
    left, right = (
        np.array([_between(height, r, c) for r, c in np.column_stack([rows, columns]) + sign * side])
        for sign in (1.0, -1.0)
    )
    return stations, middle * walking.grid.cell, left - right


def bench_cut(width: float, across: FloatArray, stations: FloatArray) -> float:
    """Soil cut from the upper half of a path to lay it level across; it fills the lower half. [m3].

    Half the width cut to a wedge: an area of width^2 * slope / 8 for each metre, nothing up to ``LEVEL_ACROSS``.
    """
    area = np.where(np.abs(across) > LEVEL_ACROSS, width**2 * np.abs(across) / 8.0, 0.0)
    return float(np.trapezoid(area, stations))


def grade_depth(height: FloatArray, stations: FloatArray, steepest: float) -> FloatArray:
    """Depth to cut along a path so that it is nowhere steeper than asked, with cutting alone. [m].

    The finished profile is the highest line below the ground whose slope stays within ``steepest``.
    """
    reach = np.abs(stations[:, None] - stations[None, :]) * steepest
    return np.asarray(height - (height[None, :] + reach).min(axis=1))


def steepest_over(height: FloatArray, stations: FloatArray, span: float = 2.0) -> float:
    """Greatest rise per run of a profile over a span that a wheel feels. [1]."""
    if stations[-1] == 0.0:
        return 0.0
    span = min(span, float(stations[-1]))
    starts = stations[stations <= stations[-1] - span + 1e-9]
    rises = np.interp(starts + span, stations, height) - np.interp(starts, stations, height)
    return float(np.nanmax(np.abs(rises)) / span)
