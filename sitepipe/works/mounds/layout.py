"""Which way the mounds run: every direction tried on the drainage, the one that holds least water back wins."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.heights import PER_METRE, UNKNOWN
from sitepipe.works.mounds.blocks import block_around
from sitepipe.works.mounds.record import Because
from sitepipe.works.mounds.rows import RowRules, crest_rows
from sitepipe.works.water.raised_ground import LAYER, built_ground

WATER_HALVES = 0.01
"""Water held back, spread over the mounds' own area, that halves a layout's score: our own choice. [m]"""
FLOW_HALVES = 25.0
"""Ground whose run-off a metre of crest stands in the way of, that halves the score: our own choice. [m2/m]"""
HAUL_HALVES = 60.0
"""Way from the access to the mounds that takes three parts in ten off the score: our own choice. [m]"""
SEED_WORK = 20_000
"""Crests times seeds at most that blocks are grown from: what a large field costs."""
SIDE_BY_SIDE = 1.05
"""Mounds are neighbours up to so many spacings, or gaps in line. [1]"""
OTHERWISE = 30.0
"""Rows that turn by so much run another way. [deg]"""
RISE_HALVES = 0.01
"""Rise of full hollows next door, at the house or on the road that halves the score: our own choice. [m]"""


@dataclass(frozen=True, slots=True)
class MoundGround:
    """The ground that layouts are tried on.

    Parameters
    ----------
    west, north, cell : float
        Outer north-west corner and side of the cells. [m]
    heights : (rows, columns) int32 array
        For routing, drains let through. [0.1 mm]
    level : (rows, columns) int32 array
        The same ground flooded to its spills. [0.1 mm]
    flow : (2, rows, columns) float array
        Specific catchment area as a vector down the fall, east and north. [m]
    suitability : (rows, columns) float array
        0 to 1.
    outside : (rows, columns) bool array
        Cells that are the neighbours', the house's or the road's.
    access : (float, float)
        Where barrows start. [m]
    """

    west: float
    north: float
    cell: float
    heights: IntArray
    level: IntArray
    flow: FloatArray
    suitability: FloatArray
    outside: BoolArray
    access: tuple[float, float]


@dataclass(frozen=True, slots=True)
class MoundShape:
    """The mound that layouts are tried with. ``volume_limit`` is for all mounds together. Lengths in m, m3."""

    top: float
    side_slope: float
    built: float
    most: int
    volume_limit: float

    def volumes(self, lengths: FloatArray, base: float) -> FloatArray:
        """Return what mounds of so long a crest hold, ``base`` wide at the foot. [m3]."""
        section = self.top * self.built + self.side_slope * self.built**2
        return section * (lengths + 0.6 * base)


@dataclass(frozen=True, slots=True)
class Layout:
    """One direction and offset, tried.

    Parameters
    ----------
    bearing : float
        Of the rows, clockwise from north. [deg]
    crests : (mounds, 4) float array
        x and y of both ends. [m]
    held_back : float
        Water that stands outside the mounds and did not before. [m3]
    in_the_way : float
        Ground whose run-off meets the mounds' flanks, for each metre of crest. [m2/m]
    haul : float
        Mean way from the access. [m]
    losses : mapping of Because to float
        What each divides the score by, from 1: short crests, water held back, run-off met, a long way, a rise next
        door. [1]
    """

    bearing: float
    crests: FloatArray
    held_back: float
    in_the_way: float
    haul: float
    losses: Mapping[Because, float]

    @property
    def score(self) -> float:
        """0 to 1; 1 for the longest crests with no water held back and no way to go."""
        return 1.0 / math.prod(self.losses.values())

    def because(self, others: Sequence[Layout]) -> Because:
        """Tell what speaks most for it, against the best of those that run quite another way."""
        rival = next((other for other in others if self.turn_to(other) >= OTHERWISE), self)
        return max(self.losses, key=lambda term: rival.losses[term] / self.losses[term])

    def turn_to(self, other: Layout) -> float:
        """Angle between the rows of two layouts, 0 to 90. [deg]."""
        return abs((self.bearing - other.bearing + 90.0) % 180.0 - 90.0)


def search_layouts(
    ground: MoundGround, allowed: BaseGeometry, shape: MoundShape, rules: RowRules, directions: int, offsets: int
) -> list[Layout]:
    """Try every direction and offset on the drainage.

    Parameters
    ----------
    ground : MoundGround
    allowed : polygon
        Where a crest may run. [m]
    shape : MoundShape
    rules : RowRules
    directions : int
        Over half a turn, evenly.
    offsets : int
        Shifts of the rows, evenly over their spacing.

    Returns
    -------
    list of Layout
        Best first; of equals the one tried first. Empty where nothing fits.
    """
    tried: list[tuple[float, FloatArray]] = []
    for direction in range(directions):
        bearing = 180.0 * direction / directions
        for shift in range(offsets):
            crests = crest_rows(allowed, bearing, (shift + 0.5) / offsets, rules)
            chosen = choose_block(ground, crests, shape, rules)
            if chosen.size:
                tried.append((bearing, crests[chosen]))
    if not tried:
        return []
    longest = max(float(_lengths(crests).sum()) for _, crests in tried)
    layouts = [try_layout(ground, bearing, crests, shape, rules, longest) for bearing, crests in tried]
    return sorted(layouts, key=lambda layout: -layout.score)


def choose_block(ground: MoundGround, crests: FloatArray, shape: MoundShape, rules: RowRules) -> LongArray:
    """Choose the best block of neighbouring mounds that the material covers: suitable, together, near the access.

    Crests (all, or as many as ``SEED_WORK`` allows, spread evenly) are tried as the middle of a block that grows from
    neighbour to neighbour, the nearest to the middle first, until material or mounds run out.

    Parameters
    ----------
    ground : MoundGround
    crests : (mounds, 4) float array
        Parallel, all of one bearing. [m]
    shape : MoundShape
    rules : RowRules

    Returns
    -------
    (chosen,) int array
        Rows of ``crests``, in order.
    """
    if not crests.size:
        return np.empty(0, np.int64)
    lengths = _lengths(crests)
    middles = 0.5 * (crests[:, :2] + crests[:, 2:])
    volumes = shape.volumes(lengths, rules.base)
    worth = lengths * _sample(ground, crests)
    way = (crests[0, 2:] - crests[0, :2]) / lengths[0]
    along = np.column_stack([crests[:, :2] @ way, crests[:, 2:] @ way])
    across = middles @ np.array([way[1], -way[0]])
    far = np.hypot(middles[:, 0] - ground.access[0], middles[:, 1] - ground.access[1])
    count = min(len(crests), max(12, SEED_WORK // len(crests)))
    seeds = np.unique(np.linspace(0, len(crests) - 1, count).astype(np.int64))
    side, end = SIDE_BY_SIDE * rules.spacing, SIDE_BY_SIDE * (rules.base + rules.gap)
    best = 0.0
    chosen = np.array([int(np.argmax(worth))])
    for seed in seeds:
        block = block_around(int(seed), along, across, volumes, side, end, shape.most, shape.volume_limit)
        haul = float(far[block].mean())
        value = float(worth[block].sum()) / math.sqrt(1.0 + haul / HAUL_HALVES)
        if value > best:
            best, chosen = value, block
    return np.sort(chosen)


def try_layout(
    ground: MoundGround, bearing: float, crests: FloatArray, shape: MoundShape, rules: RowRules, longest: float
) -> Layout:
    """Build a layout into the ground, flood it again, and weigh what comes of it."""
    lengths = _lengths(crests)
    length = float(lengths.sum())
    heights = built_ground(ground.heights, 1000.0 * ground.cell, _rows(ground, crests, shape))
    known, is_raised = ground.heights != UNKNOWN, heights != ground.heights
    level = filled(heights)
    rise = np.where(known & ~is_raised, level.astype(np.int64) - ground.level, 0)
    rise = np.maximum(rise, 0)
    held_back = float(rise.sum()) / PER_METRE * ground.cell**2
    outside = rise[ground.outside]
    rise_outside = float(outside.max()) / PER_METRE if outside.size else 0.0
    middles = 0.5 * (crests[:, :2] + crests[:, 2:])
    far = np.hypot(middles[:, 0] - ground.access[0], middles[:, 1] - ground.access[1])
    haul = float(np.average(far, weights=lengths))
    in_the_way = _in_the_way(ground, crests, bearing)
    losses = {
        Because.ROOM: longest / length,
        Because.HOLDS_BACK: 1.0 + held_back / (WATER_HALVES * rules.base * length),
        Because.IN_THE_WAY: 1.0 + in_the_way / FLOW_HALVES,
        Because.HAUL: math.sqrt(1.0 + haul / HAUL_HALVES),
        Because.NEXT_DOOR: 1.0 + rise_outside / RISE_HALVES,
    }
    return Layout(bearing, crests, held_back, in_the_way, haul, losses)


def _rows(ground: MoundGround, crests: FloatArray, shape: MoundShape) -> FloatArray:
    """Lay crests on the ground as rows for ``built_ground``, each as high above the ground all along."""
    rows = np.zeros((len(crests), 10))
    rows[:, 0], rows[:, 7:] = LAYER, (round(500.0 * shape.top), shape.side_slope, round(shape.built * PER_METRE))
    rows[:, 1:5] = np.rint(1000.0 * (crests - (ground.west, ground.north) * 2) * (1, -1, 1, -1))
    return rows


def _in_the_way(ground: MoundGround, crests: FloatArray, bearing: float) -> float:
    """Run-off that meets the flanks: catchment per width, times the sine between fall and crest. [m2/m]."""
    rows, columns = _cells_along(ground, crests)
    across = (math.cos(math.radians(bearing)), -math.sin(math.radians(bearing)))
    met = np.abs(ground.flow[0, rows, columns] * across[0] + ground.flow[1, rows, columns] * across[1])
    return float(np.nanmean(met)) if np.isfinite(met).any() else 0.0


def _sample(ground: MoundGround, crests: FloatArray) -> FloatArray:
    """Mean suitability along each crest. [1]."""
    share = np.linspace(0.0, 1.0, 7)
    x = crests[:, None, 0] + share * (crests[:, None, 2] - crests[:, None, 0])
    y = crests[:, None, 1] + share * (crests[:, None, 3] - crests[:, None, 1])
    rows, columns = _cells(ground, x, y)
    found = ground.suitability[rows, columns]
    return np.asarray(np.where(np.isfinite(found), found, 0.0).mean(axis=1))


def _cells_along(ground: MoundGround, crests: FloatArray) -> tuple[LongArray, LongArray]:
    share = np.linspace(0.0, 1.0, 15)
    x = crests[:, None, 0] + share * (crests[:, None, 2] - crests[:, None, 0])
    y = crests[:, None, 1] + share * (crests[:, None, 3] - crests[:, None, 1])
    return _cells(ground, x.ravel(), y.ravel())


def _cells(ground: MoundGround, x: FloatArray, y: FloatArray) -> tuple[LongArray, LongArray]:
    rows = np.floor((ground.north - y) / ground.cell).astype(np.int64)
    columns = np.floor((x - ground.west) / ground.cell).astype(np.int64)
    return np.clip(rows, 0, ground.heights.shape[0] - 1), np.clip(columns, 0, ground.heights.shape[1] - 1)


def _lengths(crests: FloatArray) -> FloatArray:
    return np.asarray(np.hypot(crests[:, 2] - crests[:, 0], crests[:, 3] - crests[:, 1]))
