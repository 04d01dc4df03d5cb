"""What places lose to all directions, held against tables looked up place by place with edges of another library."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.arrays import Float32Array, FloatArray, frozen
from sitepipe.grid import Grid
from sitepipe.site import Foliage
from sitepipe.sunlight.accumulate import SMOOTH, lose_at
from sitepipe.sunlight.losses import DOUBT, Window, azimuth_lines, light_of, losses, sight_of
from sitepipe.sunlight.prisms import LEAST_TANGENT, Shape, join, prisms_of
from sitepipe.sunlight.sweep import bearing, sweep_opaque
from sitepipe.sunlight.tables import BINS, LANES, SunTables, sky_lost

AZIMUTHS = np.array([0.0, 33.0, 58.0, 90.0, 135.0, 171.0, 215.0, 270.0, 300.0, 347.0])

FOLIAGE = Foliage.DECIDUOUS, Foliage.EVERGREEN, Foliage.OPAQUE

Band = tuple[int, int]


def invented_tables(seed: int) -> SunTables:
    """Tables of no real sun: any loss that grows with the horizon, any share of the sky, any height without loss."""
    random = np.random.default_rng(seed)
    lowest = random.integers(0, 60, AZIMUTHS.size)
    grown = np.cumsum(random.random((AZIMUTHS.size, BINS, LANES)), axis=1)
    grown -= np.take_along_axis(grown, lowest[:, None, None], axis=1)
    opaque = np.asarray(np.maximum(grown, 0.0), dtype=np.float32)
    return SunTables(
        azimuth=frozen(AZIMUTHS),
        sky_width=frozen(np.where(random.random(AZIMUTHS.size) < 0.6, random.random(AZIMUTHS.size), 0.0)),
        lowest=frozen(lowest.astype(np.int64)),
        opaque=frozen(opaque),
        foliage=frozen(np.stack([opaque * np.float32(0.7), opaque * np.float32(0.9)])),
        sky_stopped=frozen(np.array([1.0, 0.6, 0.8])),
        full=frozen(opaque[:, -1].sum(axis=0, dtype=np.float64)),
        sky_energy=1.0,
    )


def invented_shapes(random: np.random.Generator, count: int, wide: float) -> list[Shape]:
    """Triangles to pentagons, some opaque, some with leaves from a height or from the ground."""
    shapes = []
    for _ in range(count):
        spots = random.uniform(0.0, 4.0, (5, 2)) + random.uniform(0.0, wide, 2) - np.array([0.0, wide])
        foliage, top = FOLIAGE[int(random.integers(-1, 2))], float(random.uniform(2.0, 6.0))
        base = float(random.choice([0.0, 0.4 * top])) if foliage is not Foliage.OPAQUE else 0.0
        shapes.append(Shape(shapely.convex_hull(shapely.multipoints(spots)), top, base, foliage))
    return shapes


def bands_of(
    shapes: list[Shape], x: float, y: float, azimuth: float, floor: float
) -> tuple[int, dict[int, list[Band]]]:
    """Return the opaque edge and the bands of both kinds of foliage over level ground, by another library's cuts."""
    way = np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
    ray = shapely.linestrings([(x, y), tuple(np.array([x, y]) + 1000.0 * way)])
    hard, bands = 0, dict[int, list[Band]]({0: [], 1: []})
    for shape in shapes:
        cut, top, base = shapely.intersection(ray, shape.outline), shape.top, shape.base
        if cut.is_empty or cut.length == 0.0:
            continue
        away = np.hypot(*(shapely.get_coordinates(cut) - (x, y)).T)
        near, far = away.min(), away.max()
        if near > top / max(floor, LEAST_TANGENT):
            continue
        upper = BINS - 1 if near < 1e-9 else round(np.sin(np.arctan(top / near)) * (BINS - 1))
        lower = round(np.sin(np.arctan(base / far)) * (BINS - 1))
        if shape.foliage is Foliage.OPAQUE:
            hard = max(hard, upper)
        elif upper > lower:
            bands[FOLIAGE.index(shape.foliage)].append((lower, upper))
    return hard, bands


def looked_up(
    edges: tuple[int, dict[int, list[Band]]], tables: SunTables, a: int
) -> tuple[FloatArray, FloatArray, float]:
    """Return what a direction takes of sun and sky, and the doubt, bin by bin: the darkest thing in line decides."""
    hard, bands = edges
    kind_of = np.full(BINS, -1)
    kind_of[: hard + 1] = 9
    for kind in (0, 1):
        for lower, upper in bands[kind]:
            part = kind_of[lower + 1 : upper + 1]
            part[part < kind] = kind
    up, sideways = sky_lost()
    lost, taken = tables.opaque[a, hard].astype(np.float64), np.array([up[hard], sideways[hard]])
    for kind in (0, 1):
        for bin_ in np.flatnonzero(kind_of == kind):
            step = tables.foliage[kind, a, bin_].astype(np.float64) - tables.foliage[kind, a, bin_ - 1]
            lost += step
            taken += tables.sky_stopped[1 + kind] * np.array(
                [up[bin_] - up[bin_ - 1], sideways[bin_] - sideways[bin_ - 1]]
            )
    return lost, taken, doubt_of(edges, tables, a)


def doubt_of(edges: tuple[int, dict[int, list[Band]]], tables: SunTables, a: int) -> float:
    """Return the season's hours between crowns that are higher and lower, for crowns that touch as for one."""
    hard, bands = edges
    doubt = 0.0
    for kind, of_kind in bands.items():
        merged: list[Band] = []
        for lower, upper in sorted(of_kind):
            if merged and lower <= merged[-1][1]:
                merged[-1] = merged[-1][0], max(merged[-1][1], upper)
            else:
                merged.append((lower, upper))
        for lower, upper in merged:
            foot = max(lower, hard)
            if upper > max(foot, int(tables.lowest[a])):
                ends = [max(foot, _times(upper, factor)) for factor in (1.0 + DOUBT, 1.0 - DOUBT)]
                table = tables.foliage[kind, a, :, 12].astype(np.float64)
                doubt += table[ends[0]] - table[ends[1]]
    return doubt


def _times(bin_: int, factor: float) -> int:
    """Return the bin of an edge whose tangent is so many times as large."""
    tangent = factor * np.tan(np.arcsin(min(bin_ / (BINS - 1.0), 1.0 - 1e-16)))
    return int(np.rint(np.sin(np.arctan(tangent)) * (BINS - 1)))


def floor_of(tables: SunTables, a: int) -> float:
    sine = 0.0 if tables.sky_width[a] > 0.0 else tables.lowest[a] / (BINS - 1.0)
    return float(sine / np.sqrt(1.0 - sine**2))


def ground_edges(
    ground: FloatArray, raised: Float32Array, cell: float, window: Window, tables: SunTables, a: int
) -> FloatArray:
    """Return the bins of the ground's horizon of each cell: from the sweep, and between two lines as is promised."""
    way = bearing(float(tables.azimuth[a]))
    lines = azimuth_lines((ground.shape[0], ground.shape[1]), window, way, None)
    near = (ground - np.median(ground)).astype(np.float32)
    laid = [np.ascontiguousarray(values.T if way.along_columns else values) for values in (near, raised)]
    kept = np.zeros((lines.steps, lines.lines), dtype=np.uint16)
    shaded = np.zeros((lines.steps, lines.blocks), dtype=np.uint8)
    sweep_opaque(laid[0], laid[1], cell, way.from_far_end, way.drift, way.step, floor_of(tables, a), lines.first_line,
                 lines.first_step, BINS, kept, shaded)  # fmt: skip
    found = np.zeros(window.shape)
    for row, column in np.ndindex(window.shape):
        r, c = row + window.rows.start, column + window.columns.start
        along, across, length = (c, r, ground.shape[1]) if way.along_columns else (r, c, ground.shape[0])
        step = length - 1 - along if way.from_far_end else along
        place = across - way.drift * step - lines.first_line
        line, share = int(np.floor(place)), place - np.floor(place)
        first, second = (int(kept[step - lines.first_step, line + k]) for k in (0, 1))
        heard = max(-SMOOTH, min(SMOOTH, second - first))
        found[row, column] = (
            second - np.floor(heard * (1.0 - share) + 0.5) if share >= 0.5 else first + np.floor(heard * share + 0.5)
        )
    return found


@pytest.mark.parametrize(
    ("shape", "part"),
    [
        ((34, 67), (slice(0, 34), slice(0, 67))),
        ((34, 45), (slice(3, 34), slice(5, 41))),
        ((1, 75), (slice(0, 1), slice(2, 75))),
        ((20, 20), (slice(4, 5), slice(7, 8))),
    ],
)
def test_each_cell_loses_what_the_tables_say_of_its_own_horizon(
    shape: tuple[int, int], part: tuple[slice, slice]
) -> None:
    """Rough ground with things that only a surface model shows, across tiles of 32 cells and blocks of 64 lines."""
    tables, window, random = invented_tables(shape[1]), Window(*part), np.random.default_rng(shape[0])
    ground = random.normal(0.0, 0.2, shape)
    raised = np.where(random.random(shape) < 0.02, random.uniform(1.0, 4.0, shape), -0.3).astype(np.float32)
    found = losses(ground, raised, prisms_of([], Grid(0.0, 0.0, 2.0, *shape, "LOCAL")), 2.0, window, tables)
    lost, sky = np.zeros((*window.shape, LANES)), np.zeros((*window.shape, 3))
    for a, azimuth in enumerate(np.radians(tables.azimuth)):
        edges = ground_edges(ground, raised, 2.0, window, tables, a)
        direction = tables.sky_width[a] * np.array([1.0, np.sin(azimuth), np.cos(azimuth)])
        for row, column in np.ndindex(window.shape):
            taken = looked_up((int(edges[row, column]), {0: [], 1: []}), tables, a)
            lost[row, column] += taken[0]
            sky[row, column] += direction * taken[1][[0, 1, 1]]
    assert lost.max() > 10.0
    for ours, theirs in ((found.lost, lost), (found.sky, sky)):
        # Rounding a bin up or down at a tie may differ by one bin here and there, which is worth about one.
        apart = np.abs(ours - theirs)
        assert np.quantile(apart, 0.97) < 1e-3
        assert apart.max() < 2.5


@pytest.mark.parametrize("seed", range(4))
def test_each_place_loses_what_the_tables_say_of_things_in_line(seed: int) -> None:
    """Opaque things, crowns from the ground and crowns with light below them, one behind the other, near and far."""
    tables, random = invented_tables(seed), np.random.default_rng(seed)
    grid = Grid(0.0, 0.0, 1.0, 40, 36, "LOCAL")
    shapes = invented_shapes(random, 9, 34.0)
    flat, bare = np.zeros(grid.shape), np.zeros(grid.shape, dtype=np.float32)
    window = Window(slice(0, 40), slice(0, 36))
    found = losses(flat, bare, prisms_of(shapes, grid), 1.0, window, tables)
    chosen = random.integers(0, (40, 36), (60, 2))
    rows, columns = chosen.T
    by_place = np.zeros((60, LANES), dtype=np.float32)
    hard, eye = np.zeros((AZIMUTHS.size, 60), dtype=np.int64), np.zeros(60)
    sight = sight_of(prisms_of(shapes, grid), flat, tables)
    lose_at(by_place, columns + 0.5, -(rows + 0.5), eye, hard, flat, 1.0, sight, light_of(tables))
    np.testing.assert_allclose(by_place, found.lost[rows, columns], rtol=1e-6)
    apart = []
    for row, column in chosen:
        lost, sky, doubt = np.zeros(LANES), np.zeros(3), 0.0
        for a, azimuth in enumerate(tables.azimuth):
            edges = bands_of(shapes, column + 0.5, -(row + 0.5), float(azimuth), floor_of(tables, a))
            taken = looked_up(edges, tables, a)
            turn = np.radians(azimuth)
            lost += taken[0]
            sky += tables.sky_width[a] * np.array([1.0, np.sin(turn), np.cos(turn)]) * taken[1][[0, 1, 1]]
            doubt += taken[2]
        apart.append([np.abs(found.lost[row, column] - lost).max(), np.abs(found.sky[row, column] - sky).max() * 100.0,
                      abs(found.doubt[row, column] - doubt)])  # fmt: skip
    # An edge may be rounded to the bin beside, which is worth about one in the tables; hundreds are lost.
    assert np.quantile(apart, 0.9, axis=0).max() < 2.5
    assert np.median(apart, axis=0).max() < 0.02
    assert found.lost.max() > 500.0


@given(st.lists(st.tuples(st.integers(0, 1), st.integers(0, 40), st.integers(1, 12)), max_size=12))
def test_bands_that_touch_are_one(given_bands: list[tuple[int, int, int]]) -> None:
    bands, count = np.zeros((1, 13, 3), dtype=np.int32), 0
    for kind, lower, height in given_bands:
        count = join(bands, 0, count, kind, lower, lower + height)
    for kind in (0, 1):
        covered = {bin_ for k, low, high in given_bands if k == kind for bin_ in range(low + 1, low + high + 1)}
        found = [range(low + 1, high + 1) for k, low, high in bands[0, :count].tolist() if k == kind]
        assert sorted(bin_ for band in found for bin_ in band) == sorted(covered)
