"""``python -m tests.wetness.table [SEED ...]``: each indicator and the whole, on invented and public ground.

Areas under the curve with 90 % bootstrap intervals: of points, by drawing points; of whole grounds by drawing blocks of
20 x 20 cells, since neighbours are wet together (Efron & Tibshirani 1993, chapters 8 and 13, from memory).
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, LongArray
from sitepipe.drainage.stage import trace_drainage
from sitepipe.site import Site
from sitepipe.terrain.stage import derive_terrain
from sitepipe.wetness.indicators import combined
from sitepipe.wetness.stage import _broad_index, _indicators
from tests.wetness.grounds import InventedGround, benches, drained, hills, kettles, mire, perched
from tests.wetness.points import interpreted_points
from tests.wetness.test_stage import SETTINGS, plain_index

NAMES = (
    "hollows",
    "height above drainage",
    "least climb",
    "wetness index",
    "gentle slope",
    "low ground",
    "water table",
)
GROUNDS = (kettles, mire, hills, perched, benches, drained)
BLOCK, DRAWS = 20, 400
DATA = Path(__file__).resolve().parents[3] / "shared" / "data"


def indicators(site: Site) -> dict[str, FloatArray]:
    """Return each indicator, the index as it is commonly drawn, and all of ours together."""
    terrain, drainage = derive_terrain(site, SETTINGS), trace_drainage(site, SETTINGS)
    ours = list(_indicators(site, terrain, drainage, _broad_index(site, terrain, SETTINGS.drainage)))
    return dict(zip(NAMES, ours, strict=True)) | {
        "plain index": plain_index(site, drainage),
        "together": combined(ours),
    }


def pairs(values: FloatArray, is_wet: BoolArray, group: LongArray) -> tuple[FloatArray, FloatArray]:
    """Return how often wet places of a group lie above dry ones of another, and of how many pairs (groups, groups)."""
    groups = int(group.max()) + 1
    wet, of_wet = values[is_wet], group[is_wet]
    above = np.zeros((groups, groups))
    dry_count = np.bincount(group[~is_wet], minlength=groups)
    for other in np.nonzero(dry_count)[0]:
        dry = np.sort(values[~is_wet & (group == other)])
        below = 0.5 * (np.searchsorted(dry, wet, "left") + np.searchsorted(dry, wet, "right"))
        above[:, other] = np.bincount(of_wet, below, minlength=groups)
    return above, np.outer(np.bincount(of_wet, minlength=groups), dry_count).astype(np.float64)


def judged(found: dict[str, FloatArray], is_wet: BoolArray, group: LongArray) -> dict[str, FloatArray]:
    """Return for each indicator its area under the curve, then those of the draws: groups drawn with replacement."""
    known = np.isfinite(found["together"])
    _, group = np.unique(group[known], return_inverse=True)
    groups = int(group.max()) + 1
    drawn = np.random.default_rng(1).multinomial(groups, np.full(groups, 1.0 / groups), size=DRAWS)
    weights = np.concatenate([np.ones((1, groups), dtype=np.int64), drawn])
    areas = {}
    for name, values in found.items():
        above, all_pairs = pairs(values[known], is_wet[known], group)
        areas[name] = np.einsum("di,ij,dj->d", weights, above, weights) / np.maximum(
            np.einsum("di,ij,dj->d", weights, all_pairs, weights), 1.0
        )
    return areas


def blocks(shape: tuple[int, int]) -> LongArray:
    """Return the number of the block that each cell lies in."""
    rows, columns = np.indices(shape) // BLOCK
    return np.asarray(rows * (columns.max() + 1) + columns, dtype=np.int64)


def columns(seeds: list[int]) -> Iterator[tuple[str, dict[str, FloatArray]]]:
    """Yield what each ground is called and what was judged there: invented ones as the mean of their seeds."""
    for ground in GROUNDS:
        yield ground.__name__, mean_of(ground, seeds)
    if DATA.is_dir():
        site, at, is_wet = interpreted_points(DATA, error=3.0)
        found = {name: values[at] for name, values in indicators(site).items()}
        east = at[1] > np.median(at[1])
        for name, some in (("points", is_wet | True), ("points east", east), ("points west", ~east)):
            here = {one: values[some] for one, values in found.items()}
            yield (
                f"{name} ({int(is_wet[some].sum())} of {int(some.sum())} wet)",
                judged(here, is_wet[some], np.arange(int(some.sum()))),
            )


def mean_of(ground: Callable[[int], InventedGround], seeds: list[int]) -> dict[str, FloatArray]:
    """Judge a kind of ground on each seed and take the mean, draw by draw."""
    each = []
    for seed in seeds:
        invented = ground(seed)
        group = blocks(invented.is_wet.shape)
        each.append(judged(indicators(invented.site), invented.is_wet, group))
    return {name: np.mean([one[name] for one in each], axis=0) for name in each[0]}


def main() -> None:
    """Write the table for the seeds that are given."""
    seeds = [int(seed) for seed in sys.argv[1:]] or [101, 102, 103]
    for name, found in columns(seeds):
        best = max(NAMES, key=lambda one: found[one][0])
        rows = found | {"together - best single": found["together"] - found[best]}
        sys.stdout.write(f"{name}\n")
        for one, drawn in rows.items():
            low, high = np.quantile(drawn[1:], (0.05, 0.95))
            mark = "  best single" if one == best else ""
            sys.stdout.write(f"  {one:22} {drawn[0]:.3f}  {low:.3f} to {high:.3f}{mark}\n")


if __name__ == "__main__":
    main()
