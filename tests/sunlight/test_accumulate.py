"""What cells lose to all azimuths, held against the tables looked up cell by cell."""

from __future__ import annotations

import numpy as np
import pytest

from sitepipe.arrays import Float32Array, FloatArray, frozen
from sitepipe.site import Foliage
from sitepipe.sunlight.accumulate import SMOOTH
from sitepipe.sunlight.crowns import sweep_crowns
from sitepipe.sunlight.losses import DOUBT, Window, _lines, losses
from sitepipe.sunlight.obstacles import Crowns
from sitepipe.sunlight.sweep import bearing, sweep_opaque
from sitepipe.sunlight.tables import BINS, LANES, SunTables, sky_lost

AZIMUTHS = np.array([0.0, 33.0, 58.0, 90.0, 135.0, 171.0, 215.0, 270.0, 300.0, 347.0])


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
        deciduous=frozen(np.asarray(opaque * np.float32(0.7), dtype=np.float32)),
        evergreen=frozen(np.asarray(opaque * np.float32(0.9), dtype=np.float32)),
        sky_stopped=frozen(np.array([1.0, 0.6, 0.8])),
        full=frozen(opaque[:, -1].sum(axis=0, dtype=np.float64)),
        sky_energy=1.0,
    )


def invented_ground(seed: int, shape: tuple[int, int], kinds: tuple[Foliage, ...], has_base: bool) -> tuple[
    FloatArray, Float32Array, tuple[Crowns, ...]
]:  # fmt: skip
    """Rough ground with walls and crowns here and there."""
    random = np.random.default_rng(seed)
    ground = random.normal(0.0, 0.2, shape)
    raised = np.where(random.random(shape) < 0.02, random.uniform(1.0, 4.0, shape), -0.3).astype(np.float32)
    crowns = []
    for foliage in kinds:
        top = np.where(random.random(shape) < 0.03, random.uniform(2.0, 6.0, shape), 0.0).astype(np.float32)
        crowns.append(Crowns(foliage, top, np.asarray(top * np.float32(0.4 * has_base), dtype=np.float32)))
    return ground, raised, tuple(crowns)


def looked_up(
    ground: FloatArray, raised: Float32Array, crowns: tuple[Crowns, ...], cell: float, window: Window, tables: SunTables
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Look up what each cell of a window loses, azimuth by azimuth, in float64. Slow, and plain to read."""
    lost, sky, doubt = np.zeros((*window.shape, LANES)), np.zeros((*window.shape, 3)), np.zeros(window.shape)
    table = {Foliage.DECIDUOUS: tables.deciduous, Foliage.EVERGREEN: tables.evergreen}
    stops = {Foliage.DECIDUOUS: tables.sky_stopped[1], Foliage.EVERGREEN: tables.sky_stopped[2]}
    up, sideways = sky_lost()
    for a, azimuth in enumerate(tables.azimuth):
        edges = edges_of(ground, raised, crowns, cell, window, float(azimuth), tables, a)
        direction = np.array([1.0, np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
        for row, column in np.ndindex(window.shape):
            hard = int(edges[None][0][row, column])
            low = int(tables.lowest[a])
            if hard > low:
                lost[row, column] += tables.opaque[a, hard]
            taken = np.array([up[hard], sideways[hard]])
            bands = {}
            for kind in crowns:
                upper, lower = (int(edge[row, column]) for edge in edges[kind.foliage])
                lower = max(lower, hard)
                bands[kind.foliage] = upper, lower
                of = table[kind.foliage][a].astype(np.float64)
                if upper > lower:
                    taken += stops[kind.foliage] * np.array([up[upper] - up[lower], sideways[upper] - sideways[lower]])
                    if upper > low:
                        lost[row, column] += of[upper] - of[lower]
                        higher, shorter = (max(lower, _times(upper, factor)) for factor in (1.0 + DOUBT, 1.0 - DOUBT))
                        doubt[row, column] += of[higher, 12] - of[shorter, 12]
            if len(bands) == 2:
                # Where both stand in line, only the evergreen counts.
                upper, lower = (
                    pick(of_both) for pick, of_both in zip((min, max), zip(*bands.values(), strict=True), strict=True)
                )
                if upper > lower:
                    of = tables.deciduous[a].astype(np.float64)
                    lost[row, column] -= of[upper] - of[lower]
                    taken -= tables.sky_stopped[1] * np.array(
                        [up[upper] - up[lower], sideways[upper] - sideways[lower]]
                    )
            sky[row, column] += tables.sky_width[a] * direction * taken[[0, 1, 1]]
    return lost, sky, doubt


def _times(bin_: int, factor: float) -> int:
    """Return the bin of an edge whose tangent is so many times as large."""
    tangent = factor * np.tan(np.arcsin(min(bin_ / (BINS - 1.0), 1.0 - 1e-16)))
    return int(np.rint(np.sin(np.arctan(tangent)) * (BINS - 1)))


def edges_of(
    ground: FloatArray, raised: Float32Array, crowns: tuple[Crowns, ...], cell: float, window: Window, azimuth: float,
    tables: SunTables, a: int,
) -> dict[Foliage | None, list[FloatArray]]:  # fmt: skip
    """Return horizon bins of each cell in one direction: from the sweeps, and between two lines as is promised."""
    way = bearing(azimuth)
    lines = _lines((ground.shape[0], ground.shape[1]), window, way, None)
    near = (ground - np.median(ground)).astype(np.float32)

    def laid(values: Float32Array) -> Float32Array:
        return np.ascontiguousarray(values.T if way.along_columns else values)

    sine = 0.0 if tables.sky_width[a] > 0.0 else tables.lowest[a] / (BINS - 1.0)
    run = (cell, way.from_far_end, way.drift, way.step, sine / np.sqrt(1.0 - sine**2), lines.first_line,
           lines.first_step, BINS)  # fmt: skip

    def empty() -> tuple[np.ndarray, np.ndarray]:
        kept = np.zeros((lines.steps, lines.lines), dtype=np.uint16)
        return kept, np.zeros((lines.steps, lines.blocks), dtype=np.uint8)

    def at_cells(kept: np.ndarray) -> FloatArray:
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
                second - np.floor(heard * (1.0 - share) + 0.5)
                if share >= 0.5
                else first + np.floor(heard * share + 0.5)
            )
        return found

    kept, shaded = empty()
    sweep_opaque(laid(near), laid(raised), *run, kept, shaded)
    edges: dict[Foliage | None, list[FloatArray]] = {None: [at_cells(kept)]}
    for kind in crowns:
        (upper, shaded), (lower, _) = empty(), empty()
        has_base = bool((kind.base > 0.0).any())
        sweep_crowns(
            laid(near), laid(raised), laid(kind.top), laid(kind.base), has_base, *run, upper, lower, shaded
        )  # fmt: skip
        edges[kind.foliage] = [at_cells(upper), at_cells(lower)]
    return edges


@pytest.mark.parametrize(
    ("shape", "part", "kinds", "has_base"),
    [
        ((34, 67), (slice(0, 34), slice(0, 67)), (Foliage.DECIDUOUS, Foliage.EVERGREEN), True),
        ((34, 45), (slice(3, 34), slice(5, 41)), (Foliage.EVERGREEN,), False),
        ((1, 75), (slice(0, 1), slice(2, 75)), (Foliage.DECIDUOUS,), True),
        ((75, 2), (slice(1, 70), slice(0, 2)), (), False),
        ((20, 20), (slice(4, 5), slice(7, 8)), (Foliage.DECIDUOUS, Foliage.EVERGREEN), False),
    ],
)
def test_each_cell_loses_what_the_tables_say_of_its_own_horizons(
    shape: tuple[int, int], part: tuple[slice, slice], kinds: tuple[Foliage, ...], has_base: bool
) -> None:
    """Across tiles of 32 cells and blocks of 64 lines, in every direction, with and without crowns."""
    tables, window = invented_tables(shape[1]), Window(*part)
    ground, raised, crowns = invented_ground(shape[0], shape, kinds, has_base)
    found = losses(ground, raised, crowns, 2.0, window, tables)
    lost, sky, doubt = looked_up(ground, raised, crowns, 2.0, window, tables)
    assert lost.max() > 10.0
    for ours, theirs in ((found.lost, lost), (found.sky, sky), (found.doubt, doubt)):
        # Rounding a bin up or down at a tie may differ by one bin here and there, which is worth about one.
        apart = np.abs(ours - theirs)
        assert np.quantile(apart, 0.97) < 1e-3
        assert apart.max() < 2.5
