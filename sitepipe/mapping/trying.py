"""What the page needs to try a change on the ground: heights, storms, what must not get wetter, what is planned."""

from __future__ import annotations

import calendar
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import shapely

from sitepipe.analysis import Analysis
from sitepipe.answers.hazards import CARE, thing_named
from sitepipe.answers.trial import PATTERNS
from sitepipe.arrays import BoolArray, IntArray, frozen
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.descent import steepest_receivers
from sitepipe.drainage.fill_spill_merge import DROPS_PER_STEP, covering, poured, surfaces
from sitepipe.drainage.heights import PER_METRE, UNKNOWN
from sitepipe.drainage.hollows import nested
from sitepipe.drainage.routing import accumulated, route_level_ground
from sitepipe.drainage.trial import check_sum, exits_of
from sitepipe.grid import Grid
from sitepipe.mapping.frame import Frame, lines_of, polygons_of
from sitepipe.mapping.marks import plain, sample_of
from sitepipe.mapping.picture import packed
from sitepipe.mapping.script import written
from sitepipe.saying import say_length, say_rain
from sitepipe.site import Kind, Work
from sitepipe.wetness.blocks import fold_blocks
from sitepipe.works.hazards import Act, distances, things_hurt
from sitepipe.works.land import Land
from sitepipe.works.mounds.crops import CROP_GROUPS
from sitepipe.works.mounds.fills import find_fill
from sitepipe.works.mounds.plan import routing_heights
from sitepipe.works.water.boundary import Boundary, pieces_around
from sitepipe.works.water.impact import (
    FAILS_FROM,
    Baseline,
    changed_cells,
    drain_baseline,
    extreme_rises,
    standing_water,
)
from sitepipe.works.water.outlets import SAME_OUTLET, WIDTH, outlets_that_grow, summed_around, summed_by_piece
from sitepipe.works.water.raised_ground import LAYER, PAD, RIDGE, SHAPES, TRENCH, built_ground, work_row
from sitepipe.works.water.tipped import tipped_works

MOST_CELLS = 250_000
"""Cells that a page tries changes on at most: finer ones would answer too late and not pass by message."""
EXACT = 2**53
"""Whole numbers up to this are exact in every language."""
_LEGEND = (
    ("mound", "Being tried"),
    ("mound-proposed", "Proposed"),
    ("water-more", "More water"),
    ("water-less", "Less water"),
    ("water", "As now"),
)


@cache
def kernels_script() -> str:
    """Write the kernels that the page tries changes with."""
    numbers = f"const DROPS_PER_STEP = {DROPS_PER_STEP};\nconst STEPS_PER_METRE = {PER_METRE};\n"
    routed = (filled, steepest_receivers, route_level_ground, accumulated, exits_of, check_sum)
    stands = (nested, poured, covering, surfaces, work_row, built_ground, changed_cells)
    weighed = (extreme_rises, standing_water, pieces_around, summed_by_piece, summed_around, outlets_that_grow)
    return numbers + written([*routed, *stands, *weighed])


def trying(analysis: Analysis, frame: Frame) -> dict[str, Any] | None:
    """Return what a change is tried on; None where the user wants no heights in the page, or nothing can be tried."""
    if not analysis.settings.page.try_changes or not analysis.drainage.storms:
        return None
    land = coarser(land_of(analysis), MOST_CELLS)
    baseline = drain_baseline(land)
    ground, grid = baseline.ground, land.site.grid
    known = ground.heights != UNKNOWN
    span = int(ground.heights[known].max(initial=0))
    if grid.rows * grid.columns * max(span, 1) * DROPS_PER_STEP >= EXACT:
        return None
    settings, full = analysis.settings, analysis.site.grid
    storms = np.stack([drops.ravel() for drops in baseline.drops], axis=1)
    kinds, kind_at = np.unique(storms, axis=0, return_inverse=True)
    step = 1 if len(kinds) <= 256 else 2
    masks = [baseline.parcel, *baseline.places.values()]
    bits = sum(mask.astype(np.uint8) << bit for bit, mask in enumerate(masks))
    cells = exit_cells(baseline, known)
    rows, columns = np.divmod(cells, grid.columns)
    units = settings.units
    return {
        "cell": ground.cell,
        "rows": grid.rows,
        "columns": grid.columns,
        "area": grid.cell_area,
        "right": ground.right,
        "down": ground.down,
        "packed": [
            packed(foretold(ground.heights)),
            packed(np.asarray(bits, np.uint8).tobytes()),
            packed(kind_at.astype(f"<u{step}").tobytes()),
        ],
        "storms": kinds.T.tolist(),
        "rain": [say_rain(storm.rain_depth, units) for storm in analysis.drainage.storms],
        "exits": np.diff(cells, prepend=0).tolist(),
        "pieces": baseline.boundary.pieces_at(grid.x[columns], grid.y[rows]).tolist(),
        "first": baseline.boundary.first.tolist(),
        "middles": _middles(baseline.boundary, frame),
        "reaches": [SAME_OUTLET, 2 * SAME_OUTLET, WIDTH // 2],
        "share": settings.mound.outlet_growth,
        "failsFrom": FAILS_FROM,
        "rise": settings.mound.rise,
        "tell": analysis.site.ground.vertical_error,
        "planned": _planned(analysis, land, baseline),
        "shapes": SHAPES,
        "sizes": _sizes(analysis),
        "crops": [[group, CROP_GROUPS[group].roots] for group in settings.mound.crops],
        "month": analysis.sunlight.leanest_month - 1,
        "months": list(calendar.month_name)[1:],
        "load": settings.materials.load,
        "barrow": settings.jobs.barrow,
        "tip": [frame.place(place.place) for place in analysis.plan.tipping_places[:1]],
        "hazards": _hazards(analysis, frame),
        "words": PATTERNS,
        "legend": [{"marks": [plain(one) for one in sample_of(mark)], "text": text} for mark, text in _LEGEND],
        "coarse": [say_length(grid.cell, units), say_length(full.cell, units)] if grid.cell > full.cell else None,
    }


def land_of(analysis: Analysis) -> Land:
    """Return what the works were planned on."""
    names = ("site", "settings", "terrain", "drainage", "sunlight", "wetness", "water_table", "scores", "zones")
    return Land(**{name: getattr(analysis, name) for name in names})


def coarser(land: Land, most: int) -> Land:
    """Return the land on so many cells at most: bare heights are folded, roofs, kerbs and drains put in anew."""
    grid = land.site.grid
    step = int(np.ceil(np.sqrt(grid.rows * grid.columns / most)))
    if step <= 1:
        return land
    bare = fold_blocks(np.asarray(land.site.elevation), step)[0]
    rows, columns = bare.shape
    own = Grid(grid.west, grid.north, grid.cell * step, rows, columns, grid.crs)
    site = replace(land.site, grid=own, elevation=frozen(bare))
    heights = routing_heights(site, land.settings)
    storms = tuple(
        replace(storm, runoff=frozen(np.nan_to_num(fold_blocks(np.asarray(storm.runoff), step)[0])))
        for storm in land.drainage.storms
    )
    drainage = replace(land.drainage, heights=heights, known=heights != UNKNOWN, storms=storms)
    return replace(land, site=site, drainage=drainage)


def foretold(heights: IntArray) -> bytes:
    """Return heights as what is left when each is foretold from its neighbours west, north and north-west.

    Byte by byte, the lowest of all first; odd numbers stand for what is too low, so that the upper bytes are empty.

    Examples
    --------
    >>> foretold(np.array([[5, 6], [7, 8]], dtype=np.int32)).hex()
    '0a020400000000000000000000000000'
    """
    whole = np.zeros((heights.shape[0] + 1, heights.shape[1] + 1), np.int64)
    whole[1:, 1:] = heights
    left = whole[1:, 1:] - whole[1:, :-1] - whole[:-1, 1:] + whole[:-1, :-1]
    left = (left + 2**31) % 2**32 - 2**31
    folded = np.where(left < 0, -2 * left - 1, 2 * left)
    return folded.astype("<u4").view(np.uint8).reshape(-1, 4).T.tobytes()


def exit_cells(baseline: Baseline, known: BoolArray) -> np.ndarray:
    """Flat indices of the parcel's cells that have a neighbour outside it, or without a height."""
    inside = np.pad(baseline.parcel & known, 1)
    rows, columns = baseline.parcel.shape
    around = np.ones_like(baseline.parcel)
    for down in range(3):
        for right in range(3):
            around &= inside[down : down + rows, right : right + columns]
    return np.flatnonzero(baseline.parcel & known & ~around)


def _middles(boundary: Boundary, frame: Frame) -> list[float]:
    places = [frame.place(boundary.middle_of(piece)) for piece in range(int(boundary.first[-1]))]
    return [round(value, 1) for place in places for value in place]


def _planned(analysis: Analysis, land: Land, baseline: Baseline) -> list[dict[str, Any]]:
    """List the works that the plan builds into the ground, as the page takes them."""
    plan = analysis.plan
    if plan.impact is None:
        return []
    ground = baseline.ground
    works = tipped_works(land, ground, plan.works)
    named = {RIDGE: "mound", LAYER: "path", PAD: "pad", TRENCH: "swale"}
    return [
        {
            "name": str(work.work.kind.value) + f" {work.work.number}",
            "thing": f"{work.work.kind.value.replace(' ', '-')}-{work.work.number}",
            "kind": named[piece.kind] if work.work.kind is not Work.TIPPING_PLACE else "pile",
            "shape": piece.kind,
            "pieces": [[*one.start, *one.end] for one in work.pieces],
            "rise": piece.rise,
            "half": piece.half,
            "slope": piece.slope,
        }
        for work in works
        if work.work in plan.impact.built and work.pieces
        for piece in work.pieces[:1]
    ]


def _sizes(analysis: Analysis) -> dict[str, Any]:
    """Return what a work is made to until the grower says otherwise: rise in 0.1 mm, half width in mm, sides."""
    settings = analysis.settings
    fill = find_fill(settings.mound.fills[0], settings.soil.texture, settings.mound.air)
    built = [mound.height.built for mound in analysis.plan.mounds] or [min(0.6, settings.mound.highest)]
    half = round(500.0 * settings.mound.top)
    return {
        "mound": [round(sorted(built)[len(built) // 2] * 100) * 100, half, fill.side_slope],
        "path": [round(settings.path.chip_depth * PER_METRE), round(500.0 * settings.path.width), 0.0],
        "swale": [3000, 300, 2.0],
        "pad": [2000, 2000, 0.0],
        "settlement": fill.settlement,
        "fringe": min(fill.fringe, 9.0),
    }


def _hazards(analysis: Analysis, frame: Frame) -> list[dict[str, Any]]:
    """List what works keep off, how far from it a work that covers the ground stays, and one that cuts it."""
    rules = distances(analysis.settings.keep_clear)
    found = []
    for ref, shape in things_hurt(analysis.site):
        kind = ref.kind
        if not isinstance(kind, Kind) or Act.COVERS not in rules.get(kind, {}):
            continue
        simple = shapely.simplify(shape, 0.05)
        areas = [line for polygon in polygons_of(simple) for line in frame.lines(polygon)]
        lines = areas or [frame.line(line) for line in lines_of(simple)]
        found.append(
            {
                "name": thing_named(analysis, ref),
                "care": CARE[kind],
                "covers": rules[kind][Act.COVERS],
                "trenches": rules[kind].get(Act.TRENCHES, 0.0),
                "isArea": bool(areas),
                "lines": lines or [frame.place(shape.representative_point())],
            }
        )
    return found
