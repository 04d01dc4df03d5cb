"""Invented grounds with an invented but physical truth: where steady ground water comes near the surface.

Three kinds on which single indices fail by turns: a hollow with steep sides, whose flat neighbours are dry; a flat
mire, where depressions mean nothing; hills with valleys. Three more whose low ground is not what is wet: mires above a
gravel valley, benches on tight layers, a drained bottom. The truth is not made from any
index: it is the solution of steady flow with recharge, held below the surface where it seeps out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.ndimage

from sitepipe.arrays import BoolArray, FloatArray
from sitepipe.site import Site
from tests.sites import make_site


@dataclass(frozen=True, slots=True)
class InventedGround:
    """Heights as measured, and where the ground is truly wet."""

    site: Site
    is_wet: BoolArray


def rough(size: int, cell: float, correlation: float, chance: np.random.Generator) -> FloatArray:
    """Return Gaussian hills of unit height."""
    hills = scipy.ndimage.gaussian_filter(chance.normal(size=(size + 60, size + 60)), correlation / cell, mode="wrap")
    hills = hills[30:-30, 30:-30]
    return np.asarray((hills - hills.mean()) / hills.std())


def ground_water(surface: FloatArray, cell: float, transmissivity_over_recharge: FloatArray | float) -> FloatArray:
    """Return the height of steady ground water under recharge, shut at the edges, seeping where it meets the surface.

    Between unlike cells the harmonic mean of their transmissivities carries the water. Red and black cells by turns,
    overrelaxed, held below the surface each time (projected successive overrelaxation; Cryer 1971).
    """
    carries = np.broadcast_to(transmissivity_over_recharge, surface.shape).astype(float)
    down = np.pad(2.0 / (1.0 / carries[1:] + 1.0 / carries[:-1]), ((1, 1), (0, 0)))
    across = np.pad(2.0 / (1.0 / carries[:, 1:] + 1.0 / carries[:, :-1]), ((0, 0), (1, 1)))
    together = down[:-1] + down[1:] + across[:, :-1] + across[:, 1:]
    head = surface.copy()
    rows, columns = np.indices(surface.shape)
    colours = [(rows + columns) % 2 == colour for colour in (0, 1)]
    for _ in range(1200):
        for colour in colours:
            around = np.pad(head, 1)
            arrives = down[:-1] * around[:-2, 1:-1] + down[1:] * around[2:, 1:-1] + cell * cell
            arrives += across[:, :-1] * around[1:-1, :-2] + across[:, 1:] * around[1:-1, 2:]
            head[colour] = np.minimum(head + 1.8 * (arrives / together - head), surface)[colour]
    return head


def _measured(surface: FloatArray, cell: float, error: float, water: FloatArray, seed: int) -> InventedGround:
    chance = np.random.default_rng(seed + 1000)
    heights = surface + error * (
        0.7 * rough(surface.shape[0], cell, 2 * cell, chance) + 0.7 * chance.normal(size=surface.shape)
    )
    site = make_site(heights, cell, height_error=error)
    site = replace(site, ground=replace(site.ground, vertical_error=error))
    return InventedGround(site, surface - water < 0.25)


def kettles(seed: int) -> InventedGround:
    """Build hummocks of drift with steep-sided closed hollows; flat ground beside them is dry."""
    chance = np.random.default_rng(seed)
    size, cell = 160, 3.0
    y, x = np.mgrid[0:size, 0:size] * cell
    surface = (
        100.0 + 1.2 * rough(size, cell, 40, chance) + 0.25 * rough(size, cell, 10, chance) + 0.004 * (size * cell - y)
    )
    for _ in range(3):
        east, south = chance.uniform(90, size * cell - 90, 2)
        radius, depth = chance.uniform(35, 60), chance.uniform(2.5, 5.0)
        surface -= depth / (1.0 + np.exp(6.0 * (np.hypot(x - east, y - south) / radius - 1.0)))
    return _measured(surface, cell, 0.08, ground_water(surface, cell, chance.uniform(6e4, 2e5)), seed)


def mire(seed: int) -> InventedGround:
    """Build peat that has filled the low ground between ridges to one gentle slope."""
    chance = np.random.default_rng(seed)
    size, cell = 160, 6.0
    y, _ = np.mgrid[0:size, 0:size] * cell
    fall = 0.003 * (size * cell - y)
    ridges = 2.5 * rough(size, cell, 90, chance) + 0.6 * rough(size, cell, 30, chance) + 2 * fall
    level = fall + float(np.quantile(ridges - fall, 0.35))
    surface = 0.25 * np.logaddexp(ridges / 0.25, level / 0.25) + 0.08 * rough(size, cell, 12, chance)
    return _measured(surface, cell, 0.1, ground_water(surface, cell, 3e4), seed)


def hills(seed: int) -> InventedGround:
    """Build rolling farm land with valleys of several sizes."""
    chance = np.random.default_rng(seed)
    size, cell = 160, 8.0
    y, x = np.mgrid[0:size, 0:size] * cell
    surface = (
        18 * rough(size, cell, 220, chance) + 5 * rough(size, cell, 70, chance) + 0.8 * rough(size, cell, 25, chance)
    )
    for k in range(4):
        course = size * cell * (k + 0.5) / 4 + 60 * np.sin(x / 150.0 + chance.uniform(0, 6))
        surface -= 6.0 * np.exp(-(((y - course) / 40.0) ** 2))
    surface += 0.15 * rough(size, cell, 16, chance)
    return _measured(surface, cell, 0.12, ground_water(surface, cell, 1.2e5), seed)


def perched(seed: int) -> InventedGround:
    """Build a plateau of tight till with mires, over a wide valley whose gravel swallows what comes."""
    chance = np.random.default_rng(seed)
    size, cell = 160, 6.0
    y, x = np.mgrid[0:size, 0:size] * cell
    side = size * cell
    away = np.abs(y - side * (0.5 + 0.12 * np.sin(x / 200.0 + chance.uniform(0, 6))))
    is_up = 1.0 / (1.0 + np.exp(-(away - 170.0) / 14.0))
    surface = is_up * (18.0 + 1.6 * rough(size, cell, 60, chance) + 0.3 * rough(size, cell, 20, chance))
    surface += (1.0 - is_up) * 0.5 * rough(size, cell, 40, chance) + 0.004 * (side - x)
    surface -= 1.5 * np.exp(-((away / 9.0) ** 2))
    return _measured(surface, cell, 0.1, ground_water(surface, cell, np.where(is_up > 0.3, 2.5e3, 1e6)), seed)


def benches(seed: int) -> InventedGround:
    """Build a hillside with level benches on tight layers, wet, above a foot of deep sand, dry."""
    chance = np.random.default_rng(seed)
    size, cell = 160, 5.0
    y, _ = np.mgrid[0:size, 0:size] * cell
    way = (size * cell - y) + 25.0 * rough(size, cell, 120, chance)
    bench = np.floor(way / 110.0)
    part = way / 110.0 - bench
    surface = 8.0 * (bench + np.clip((part - 0.55) / 0.45, 0.0, 1.0)) + 0.02 * way
    surface += 0.25 * rough(size, cell, 25, chance)
    carries = np.where((part < 0.6) & (bench >= 2), 4e2, np.where(bench >= 2, 8e3, 1e6))
    return _measured(surface, cell, 0.1, ground_water(surface, cell, carries), seed)


def drained(seed: int) -> InventedGround:
    """Build a valley whose bottom pipes keep 1.2 m dry; what is wet lies along its sides."""
    chance = np.random.default_rng(seed)
    size, cell = 160, 6.0
    y, x = np.mgrid[0:size, 0:size] * cell
    side = size * cell
    away = np.abs(y - side * (0.55 + 0.1 * np.sin(x / 180.0 + chance.uniform(0, 6))))
    surface = 10.0 * np.minimum(away / 250.0, 1.2) ** 1.5 + 0.4 * rough(size, cell, 25, chance) + 0.005 * (side - x)
    surface += 4.0 * rough(size, cell, 80, chance) * np.clip((away - 90.0) / 120.0, 0.0, 1.0)
    ceiling = np.where(away < 90.0, surface - 1.2, surface)
    return _measured(surface, cell, 0.1, ground_water(ceiling, cell, 5e3), seed)
