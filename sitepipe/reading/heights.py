"""Heights as numbers: what cannot be a height is made unknown, what looks wrong is said."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.errors import InputError
from sitepipe.grid import Grid
from sitepipe.saying import say_area
from sitepipe.units import Units

LOWEST, HIGHEST = -440.0, 8850.0
"""The shore of the Dead Sea and the top of Everest, rounded outwards; value from memory. [m]"""
SUSPECT_NUMBERS = (-9999.0, -32768.0, -32767.0, -99999.0, -999999.0, 65535.0)
"""Numbers that files use for unknown without saying so; common practice, no source."""
COARSE_STEP = 0.05
"""Heights in steps of this or more turn a lawn into terraces: the fall of 5 m at 1 %; own choice. [m]"""
SPIKE = 2.0
"""A cell that stands this far above or below the middle one of its neighbours is no lawn; own choice. [m]"""
MOST_SPIKES_NAMED = 3
ROWS_AT_ONCE = 256
REMNANT_STEP = 1.5
"""From one cell to the next, a side steeper than 45 degrees and this high is no lawn; own choice. [m]"""
REMNANT_CELLS, REMNANT_LEAST, REMNANT_MOST, REMNANT_COARSEST = 8, 3.0, 60.0, 2.0
"""Edge cells of a remnant, its least and largest side, and the coarsest cell that shows one; own choice. [m]"""


@dataclass(frozen=True, slots=True)
class CleanHeights:
    """Heights with everything impossible made unknown, and what was found.

    Parameters
    ----------
    elevation : (rows, columns) float array
        NaN where unknown. [m]
    step : float
        Smallest step between heights where they come in steps, 0 where they do not. [m]
    warnings : tuple of str
    """

    elevation: FloatArray
    step: float
    warnings: tuple[str, ...]


def clean_heights(elevation: FloatArray, name: str, metres: float) -> CleanHeights:
    """Make unknown what cannot be a height.

    Parameters
    ----------
    elevation : (rows, columns) float array
        As read, NaN where the file says unknown. [m]
    name : str
        Of the file, for the warnings.
    metres : float
        What one unit of the file is worth: the suspect numbers are written in that unit.
    """
    warnings: list[str] = []
    cleaned = elevation
    with np.errstate(invalid="ignore"):
        is_possible = np.isnan(cleaned) | ((cleaned >= LOWEST) & (cleaned <= HIGHEST))
    if is_possible.all():
        return CleanHeights(np.ascontiguousarray(cleaned), height_step(cleaned), ())
    infinite = np.isinf(cleaned)
    if infinite.any():
        warnings.append(f"{name} holds {_cells(infinite)} of infinite height; they are taken as unknown.")
        cleaned = np.where(infinite, np.nan, cleaned)
    for number in SUSPECT_NUMBERS:
        found = np.abs(cleaned - number * metres) < 1e-6 * abs(number) * metres
        if found.any() and not LOWEST <= number * metres <= HIGHEST:
            warnings.append(
                f"{name} holds the number {number:g} in {_cells(found)} without declaring it; it is taken as unknown."
            )
            cleaned = np.where(found, np.nan, cleaned)
    with np.errstate(invalid="ignore"):
        impossible = (cleaned < LOWEST) | (cleaned > HIGHEST)
    if impossible.any():
        worst = float(cleaned[impossible][0])
        warnings.append(
            f"{name} holds {_cells(impossible)} of heights that are not on earth, such as {worst:.4g} m; they "
            "are taken as unknown."
        )
        cleaned = np.where(impossible, np.nan, cleaned)
    return CleanHeights(np.ascontiguousarray(cleaned), height_step(cleaned), tuple(warnings))


def refuse_empty(elevation: FloatArray, in_parcel: BoolArray, name: str) -> None:
    """Raise if there are no heights, or none in the parcel."""
    is_known = np.isfinite(elevation)
    if not is_known.any():
        raise InputError(
            f"{name} has no known height near the parcel: every cell there is unknown. Bring heights that cover it"
        )
    if not is_known[in_parcel].any():
        raise InputError(f"{name} has no known height inside the parcel. Bring heights that cover it")


def height_step(elevation: FloatArray) -> float:
    """Return the step that most heights stand on, 0 where there is none of a millimetre or more.

    Examples
    --------
    >>> height_step(np.array([[1.0, 2.0, 4.0], [3.0, 7.0, 9.123]]))
    1.0
    """
    known = elevation[np.isfinite(elevation)]
    levels, counts = np.unique(np.round(known[:: max(1, known.size // 20_000)], 5), return_counts=True)
    if levels.size < 2:
        return 0.0
    # The commonest level, and the fewest others that hold half of what is left: warping leaves heights between steps.
    order = np.argsort(-counts, kind="stable")
    held = np.cumsum(counts[order][1:])
    common = np.sort(levels[order][: int(np.searchsorted(held, 0.5 * (counts.sum() - counts.max()))) + 2])
    step = float(np.diff(common).min())
    if step < 1e-3:
        return 0.0
    # Two levels are two ponds as well as two steps: steps are round numbers.
    parts = (common - (common[0] if common.size > 2 else 0.0)) / step
    return step if bool(np.all(np.abs(parts - np.round(parts)) < 1e-3 * np.maximum(1.0, np.abs(parts)))) else 0.0


def doubts(clean: CleanHeights, in_parcel: BoolArray, grid: Grid, name: str, units: Units) -> tuple[str, ...]:
    """Say what looks wrong about heights that are possible: constant, terraced, spiked, with holes."""
    elevation = clean.elevation
    known = elevation[np.isfinite(elevation)]
    found: list[str] = []
    if known.min() == known.max():
        found.append(
            f"{name} is a constant raster: every height is {known.min():.3f} m, as a program that was stopped "
            "leaves it. "
            "Fetch it again."
        )
        return tuple(found)
    if clean.step >= COARSE_STEP:
        found.append(
            f"The heights of {name} come in steps of {clean.step:.3g} m: the lawn is terraced, and its "
            "hollows and slopes "
            "are not to be trusted. Level it yourself, or bring finer heights."
        )
    found.extend(_said_of_spikes(elevation, grid, name))
    found.extend(_said_of_buildings(elevation, grid, name))
    hole = in_parcel & ~np.isfinite(elevation)
    if hole.any():
        share = float(hole.sum() / in_parcel.sum())
        part = f"{share:.0%}" if share >= 0.005 else "Less than 1%"
        area = say_area(float(hole.sum()) * grid.cell_area, units)
        found.append(f"{part} of the parcel ({area}) has no known height in {name}; it stays blank.")
    return tuple(found)


def spikes(elevation: FloatArray, cell: float) -> list[tuple[int, int, float]]:
    """Return (row, column, metres above the middle neighbour) of cells that stand out alone, the worst first.

    Wide cells differ as hills do: one stands out where it is also steeper than 45 degrees to its neighbours.
    """
    limit = max(SPIKE, cell)
    found = []
    rows = elevation.shape[0]
    for first in range(0, rows, ROWS_AT_ONCE):
        low, high = max(first - 1, 0), min(first + ROWS_AT_ONCE + 1, rows)
        for row, column, apart in _spikes(elevation[low:high], limit):
            if first <= row + low < first + ROWS_AT_ONCE:
                found.append((row + low, column, apart))
    return sorted(found, key=lambda one: (-abs(one[2]), one[0], one[1]))


def _spikes(elevation: FloatArray, limit: float) -> list[tuple[int, int, float]]:
    rows, columns = elevation.shape
    padded = np.pad(elevation, 1, constant_values=np.nan)
    nearby = np.stack(
        [padded[1 + d : 1 + d + rows, 1 + e : 1 + e + columns] for d, e in ((-1, 0), (1, 0), (0, -1), (0, 1))]
    )
    is_known = np.isfinite(nearby)
    mean = np.where(is_known, nearby, 0.0).sum(axis=0) / np.maximum(is_known.sum(axis=0), 1)
    with np.errstate(invalid="ignore"):
        row, column = np.nonzero(np.abs(elevation - mean) > 0.75 * limit)
    others = np.delete(sliding_window_view(padded, (3, 3))[row, column].reshape(-1, 9), 4, axis=1)
    is_judged = np.isfinite(others).sum(axis=1) >= 4
    row, column, others = row[is_judged], column[is_judged], others[is_judged]
    middle = np.nanmedian(others, axis=1)
    spread = np.nanmedian(np.abs(others - middle[:, None]), axis=1)
    apart = elevation[row, column] - middle
    return [
        (int(row[one]), int(column[one]), float(apart[one]))
        for one in np.nonzero(np.abs(apart) > limit + 4.0 * spread)[0]
    ]


def remnants(elevation: FloatArray, cell: float) -> list[tuple[slice, slice]]:
    """Return the boxes of what stands up from the ground with steep sides, as a building left in the heights does."""
    step = max(REMNANT_STEP, cell)
    upper = np.zeros(elevation.shape, dtype=np.bool_)
    with np.errstate(invalid="ignore"):
        step_east = np.diff(elevation, axis=1)
        upper[:, 1:] |= step_east > step
        upper[:, :-1] |= step_east < -step
        del step_east
        step_south = np.diff(elevation, axis=0)
        upper[1:] |= step_south > step
        upper[:-1] |= step_south < -step
    if int(upper.sum()) < REMNANT_CELLS:
        return []
    from scipy.ndimage import find_objects, label

    labels, _ = label(upper, structure=np.ones((3, 3)))
    sizes = np.bincount(labels.ravel())
    found = []
    for number, box in enumerate(find_objects(labels), start=1):
        sides = [(part.stop - part.start) * cell for part in box]
        if sizes[number] >= REMNANT_CELLS and min(sides) >= REMNANT_LEAST and max(sides) <= REMNANT_MOST:
            found.append((box[0], box[1]))
    return found


def _said_of_buildings(elevation: FloatArray, grid: Grid, name: str) -> list[str]:
    if grid.cell > REMNANT_COARSEST:
        return []
    found = remnants(elevation, grid.cell)
    if not found:
        return []
    rows, columns = found[0]
    x, y = grid.centre((rows.start + rows.stop) // 2, (columns.start + columns.stop) // 2)
    size = f"{(columns.stop - columns.start) * grid.cell:.0f} x {(rows.stop - rows.start) * grid.cell:.0f} m"
    more = f", and {len(found) - 1} more" if len(found) > 1 else ""
    told = f"{name}: something of {size} stands up like a building at x {x:.1f}, y {y:.1f}{more}."
    return [f"{told} If it is one, these are no heights of the bare ground: bring some, and draw the building."]


def _said_of_spikes(elevation: FloatArray, grid: Grid, name: str) -> list[str]:
    found = spikes(elevation, grid.cell)
    if not found:
        return []
    places = "; ".join(
        f"{abs(apart):.1f} m {'above' if apart > 0.0 else 'below'} at x {grid.centre(row, column)[0]:.1f}, y "
        f"{grid.centre(row, column)[1]:.1f}"
        for row, column, apart in found[:MOST_SPIKES_NAMED]
    )
    count = f"{len(found)} single cells" if len(found) > 1 else "one cell"
    return [f"{name} has {count} far off their neighbours ({places}): a bird, a roof or an error. Look there."]


def _cells(mask: BoolArray) -> str:
    count = int(mask.sum())
    return "1 cell" if count == 1 else f"{count:,} cells"
