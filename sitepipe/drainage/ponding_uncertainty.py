"""Ponding uncertainty: the storm again on many equally likely grounds."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, Float32Array, FloatArray, IntArray, LongArray, frozen
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.drawn import DrawnThings, find_drawn_things, routed_ground
from sitepipe.drainage.edges import feeds
from sitepipe.drainage.fill_spill_merge import fill_spill_merge, standing_depth
from sitepipe.drainage.heights import PER_METRE, UNKNOWN
from sitepipe.drainage.hollows import nest_hollows
from sitepipe.drainage.network import route
from sitepipe.drainage.noise import ErrorFields, error_fields
from sitepipe.drainage.record import Drainage, Pond, PondingUncertainty, PondUncertainty
from sitepipe.drainage.storm import covers_of, runoff_drops, storm_depths
from sitepipe.grid import Grid
from sitepipe.settings import Settings
from sitepipe.site import Site

STANDS = 0.01
"""Water shallower than this is lost in the grass. Common practice, no source. [m]"""

MOST_GROUNDS, FEWEST_GROUNDS = 100, 40
CELLS_IN_ALL = 6_000_000
"""By default so many cells are tried in all, within those bounds: about a second and a half on two cores."""

SURROUNDINGS = 15
"""Cells kept around what feeds the parcel, so that the cut edge drains no pond of it. [1]"""


@dataclass(frozen=True, slots=True)
class Trial:
    """What every ground is tried with.

    Parameters
    ----------
    bare : (rows, columns) int32 array
        [0.1 mm]
    error : (rows, columns) float32 array
        Standard deviation of each height. [0.1 mm]
    drawn : DrawnThings
    fields : ErrorFields
    drops : (rows, columns) int64 array
        Runoff of the larger storm.
    outlines : tuple of int32 arrays
        Flat indices of the cells of each pond that is followed, as far as they lie in the parcel.
    """

    bare: IntArray
    error: Float32Array
    drawn: DrawnThings
    fields: ErrorFields
    drops: LongArray
    outlines: tuple[IntArray, ...]


def estimate_ponding_uncertainty(site: Site, drainage: Drainage, settings: Settings) -> PondingUncertainty:
    """Let the larger storm fall on many grounds that the heights' error allows, and count where water stands.

    Ground by ground a correlated error of the stated size is added to the bare heights; drawn roofs, kerbs and drains
    are put back; then flood, routes and storm run as on the measured ground. The grounds cover the part of the
    heights that feeds the parcel, with its surroundings; beyond it the chance is unknown (NaN).
    """
    window = _window(site, drainage)
    grid = site.grid.part(window)
    ground, known, _ = routed_ground(site.elevation, site, settings.drainage)
    bare, known = np.ascontiguousarray(ground[window]), known[window]
    followed = [index for index, pond in enumerate(drainage.ponds) if pond.share_in_parcel > 0.0]
    parcel = cells_inside(grid, site.parcel)
    cover = covers_of(site, settings).number[window]
    trial = Trial(
        bare=bare,
        error=(np.nan_to_num(site.height_error[window]) * PER_METRE).astype(np.float32),
        drawn=_cut_drawn(find_drawn_things(ground, site, settings.drainage), site.grid, window),
        fields=error_fields(grid.shape, site.ground.error_correlation / grid.cell, settings.uncertainty.seed),
        drops=runoff_drops(storm_depths(settings)[-1], cover, known),
        outlines=tuple(_cells_of(drainage.ponds[k], parcel, grid) for k in followed),
    )
    grounds = settings.uncertainty.grounds or _grounds_for(int(np.prod(grid.shape)))
    wet = np.zeros(grid.shape, dtype=np.int64)
    depths = np.zeros((grounds, len(followed)))
    volumes = np.zeros((grounds, len(followed)))
    threads = min(settings.uncertainty.threads, grounds)
    with ThreadPoolExecutor(threads) as pool:
        for counted, numbers, deepest, volume in pool.map(
            lambda numbers: _try_grounds(trial, numbers), _dealt(grounds, threads)
        ):
            wet += counted
            depths[numbers] = deepest
            volumes[numbers] = volume
    chance = np.full(site.grid.shape, np.nan)
    chance[window] = np.where(known, wet / grounds, np.nan)
    return PondingUncertainty(
        ponding_probability=frozen(chance),
        ponds=_sure_ponds(followed, [drainage.ponds[k].number for k in followed], depths, volumes),
        grounds=grounds,
    )


def _cells_of(pond: Pond, parcel: BoolArray, grid: Grid) -> IntArray:
    """Flat indices of a pond's cells on the parcel."""
    box = grid.around(pond.outline.bounds)
    row, column = np.nonzero(parcel[box] & cells_inside(grid.part(box), pond.outline))
    return np.asarray((row + box[0].start) * grid.columns + column + box[1].start, dtype=np.int32)


def _grounds_for(cells: int) -> int:
    return int(np.clip(CELLS_IN_ALL // cells, FEWEST_GROUNDS, MOST_GROUNDS))


def _dealt(grounds: int, threads: int) -> Iterator[range]:
    """Deal the numbers of the grounds out to the threads."""
    return (range(first, grounds, threads) for first in range(threads))


def _try_grounds(trial: Trial, numbers: range) -> tuple[IntArray, range, FloatArray, FloatArray]:
    """Count where water stands on some of the grounds, and measure the ponds on each."""
    wet = np.zeros(trial.bare.shape, dtype=np.int32)
    deepest = np.zeros((len(numbers), len(trial.outlines)))
    volume = np.zeros((len(numbers), len(trial.outlines)))
    for place, number in enumerate(numbers):
        heights = trial.drawn.applied_to(moved_heights(trial.bare, trial.error, trial.fields.field(number)))
        network = route(heights)
        hollows = nest_hollows(heights, network.hollow, network.spill)
        standing = fill_spill_merge(heights, network.receiver, network.order, network.spill, hollows, trial.drops)
        depth = standing_depth(heights, hollows, standing)
        wet += depth >= STANDS
        for k, cells in enumerate(trial.outlines):
            water = depth.ravel()[cells]
            deepest[place, k] = water.max(initial=0.0)
            volume[place, k] = water.sum()
    return wet, numbers, deepest, volume


@kernel
def moved_heights(bare: IntArray, error: Float32Array, field: Float32Array) -> IntArray:
    """Heights moved by their error, in whole steps."""
    rows, columns = bare.shape
    moved = np.empty((rows, columns), dtype=np.int32)
    for row in range(rows):
        for column in range(columns):
            own = bare[row, column]
            if own != UNKNOWN:
                own += np.int32(np.rint(error[row, column] * field[row, column]))
            moved[row, column] = own
    return moved


def _sure_ponds(
    followed: list[int], numbers: list[int], depths: FloatArray, volumes: FloatArray
) -> tuple[PondUncertainty, ...]:
    """Spread of depth and rank of each pond; nested ponds (number 0) have no rank of their own."""
    ranked = np.array([number > 0 for number in numbers], dtype=np.bool_)
    ranks = np.zeros(depths.shape)
    order = np.argsort(-volumes[:, ranked], axis=1, kind="stable")
    placed = np.zeros(order.shape)
    np.put_along_axis(placed, order, np.arange(1, order.shape[1] + 1)[None, :].repeat(order.shape[0], axis=0), axis=1)
    ranks[:, ranked] = placed
    sure = []
    for k, index in enumerate(followed):
        stands = depths[:, k] >= STANDS
        standing = depths[stands, k] if stands.any() else [0.0]
        low, middle, high = np.quantile(standing, (0.1, 0.5, 0.9)).tolist()
        first, last = np.quantile(ranks[:, k], (0.1, 0.9), method="closest_observation")
        sure.append(PondUncertainty(index, float(stands.mean()), middle, low, high, int(first), int(last)))
    return tuple(sure)


def _window(site: Site, drainage: Drainage) -> tuple[slice, slice]:
    """Return the rows and columns that hold the parcel, what feeds it, and the ponds that touch it."""
    wanted = cells_inside(site.grid, site.parcel) & drainage.known
    for pond in drainage.ponds:
        if pond.share_in_parcel > 0.0:
            box = site.grid.around(pond.outline.bounds)
            wanted[box] |= cells_inside(site.grid.part(box), pond.outline)
    wanted = feeds(drainage.receiver, drainage.order, wanted)
    rows = np.flatnonzero(wanted.any(axis=1))
    columns = np.flatnonzero(wanted.any(axis=0))
    if rows.size == 0:
        return slice(0, site.grid.rows), slice(0, site.grid.columns)
    return (
        slice(max(int(rows[0]) - SURROUNDINGS, 0), min(int(rows[-1]) + SURROUNDINGS + 1, site.grid.rows)),
        slice(max(int(columns[0]) - SURROUNDINGS, 0), min(int(columns[-1]) + SURROUNDINGS + 1, site.grid.columns)),
    )


def _cut_drawn(drawn: DrawnThings, grid: Grid, window: tuple[slice, slice]) -> DrawnThings:
    """Renumber the cells of drawn things within a window; those outside it go."""
    rows, columns = window

    def within(cells: IntArray) -> IntArray:
        row, column = np.divmod(cells, grid.columns)
        keep = (row >= rows.start) & (row < rows.stop) & (column >= columns.start) & (column < columns.stop)
        width = columns.stop - columns.start
        return np.asarray((row[keep] - rows.start) * width + column[keep] - columns.start, dtype=np.int32)

    return DrawnThings(
        kerbs=tuple((within(cells), rise) for cells, rise in drawn.kerbs),
        roofs=tuple((within(cells), rise) for cells, rise in drawn.roofs),
        eaves=tuple(within(cells) for cells in drawn.eaves),
        drains=tuple(within(cells) for cells in drawn.drains),
        questions=drawn.questions,
    )
