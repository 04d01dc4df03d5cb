"""Zones: pieces of the parcel with one use each, that together are the parcel."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, IntArray, frozen
from sitepipe.drainage.cells import cells_inside
from sitepipe.grid import Grid
from sitepipe.scoring.mosaic import Mosaic, cut, joined
from sitepipe.scoring.patches import tidied
from sitepipe.scoring.record import Exclusion, Scores, Use, Zone, Zones
from sitepipe.scoring.stage import SCORED
from sitepipe.settings import ScoringSettings, Settings
from sitepipe.site import Site
from sitepipe.sunlight.record import Sunlight
from sitepipe.terrain.outline import SOFT, border_lines, polygons_of, softened
from sitepipe.terrain.smoothing import smoothed
from sitepipe.wetness.record import Wetness

USES = (*SCORED, Use.LEAVE, Use.KEEP_CLEAR)
"""Labels of the cells and faces, by position."""

LEAVE, KEEP_CLEAR = USES.index(Use.LEAVE), USES.index(Use.KEEP_CLEAR)

LEAST_CELLS_ACROSS, LEAST_CELLS = 2.0, 12.0
"""Narrower or smaller, a zone would be drawn by the noise of single cells. Common practice, no source. [cells]"""

ROUNDING = 0.9
"""Softened corners may take this much off a zone's width. [1]"""


def draw_zones(site: Site, scores: Scores, wetness: Wetness, sunlight: Sunlight, settings: Settings) -> Zones:
    """Cut the parcel into zones: each cell's best use, tidied, outlined, and kept off every exclusion."""
    sizes = _told_apart(settings.scoring, site.grid)
    forbidden = {use: _union(scores.exclusions, (use,)) for use in SCORED}
    closed = _union(scores.exclusions, SCORED)
    inside = cells_inside(site.grid, site.parcel)
    labels = _labels(site, scores, inside, cells_inside(site.grid, closed) & inside, sizes)
    lines: list[BaseGeometry] = [
        softened(line, site.grid.cell, max(SOFT * site.grid.cell, sizes.least_width / 3.0))
        for line in border_lines(_spread_out(labels), site.grid)
    ]
    lines += [shape.boundary for shape in (*forbidden.values(), closed) if not shape.is_empty]
    mosaic = cut(site.parcel, lines)
    given = _settled(mosaic, labels, site, forbidden, closed, sizes)
    pieces = _pieces(mosaic, given, sizes)
    return _described(pieces, site, scores, wetness, sunlight)


def _told_apart(settings: ScoringSettings, grid: Grid) -> ScoringSettings:
    """Return settings whose least sizes are no finer than the cells can tell apart."""
    return settings.model_copy(
        update={
            "least_width": max(settings.least_width, LEAST_CELLS_ACROSS * grid.cell),
            "least_area_m2": max(settings.least_area_m2, LEAST_CELLS * grid.cell_area),
        }
    )


def _union(exclusions: tuple[Exclusion, ...], uses: Sequence[Use]) -> Polygon | MultiPolygon:
    """Return the ground that is closed to all of the uses, by the exclusions that name all of them."""
    return polygons_of(shapely.union_all([one.outline for one in exclusions if all(use in one.uses for use in uses)]))


def _labels(site: Site, scores: Scores, inside: BoolArray, is_closed: BoolArray, settings: ScoringSettings) -> IntArray:
    """Return the position in `USES` of what each cell is best for; -1 outside the parcel."""
    cell = site.grid.cell
    by_use = (scores.suitability_mound, scores.suitability_wet_planting, scores.suitability_path)
    calm = np.full((len(SCORED), *site.grid.shape), -np.inf)
    may_be = np.zeros((len(USES), *site.grid.shape), dtype=np.bool_)
    for number, (use, score) in enumerate(zip(SCORED, by_use, strict=True)):
        is_open = inside & (scores.limited_by[use] >= -1)
        averaged = smoothed(np.where(is_open, score, np.nan), settings.least_width / 2.0 / cell)
        calm[number] = np.where(np.isfinite(averaged), averaged, -np.inf)
        may_be[number] = is_open
    may_be[LEAVE] = inside & ~is_closed
    labels = np.where(calm.max(axis=0) >= settings.least_score, calm.argmax(axis=0), LEAVE).astype(np.int32)
    labels[is_closed] = KEEP_CLEAR
    labels[~inside] = -1
    return tidied(
        labels, may_be, is_closed, settings.least_width / 2.0 / cell, settings.least_area_m2 / site.grid.cell_area
    )


def _spread_out(labels: IntArray) -> IntArray:
    """Carry the labels over the boundary, so that lines cross it instead of following its steps."""
    if not (labels >= 0).any():
        return np.full_like(labels, LEAVE)
    from scipy.ndimage import distance_transform_edt

    nearest = distance_transform_edt(labels < 0, return_distances=False, return_indices=True)
    return np.asarray(labels[tuple(nearest)])


def _settled(
    mosaic: Mosaic,
    labels: IntArray,
    site: Site,
    forbidden: dict[Use, Polygon | MultiPolygon],
    closed: Polygon | MultiPolygon,
    settings: ScoringSettings,
) -> IntArray:
    """Give every face a use that it may have, and every group of faces a size that is worth a zone."""
    points = mosaic.points()
    shut = np.array([shapely.contains_xy(forbidden[use], points) for use in SCORED])
    is_closed = shapely.contains_xy(closed, points)
    spread = _spread_out(labels)
    cells = [site.grid.cell_at(x, y) for x, y in points.tolist()]
    rows = np.clip([row for row, _ in cells], 0, site.grid.rows - 1)
    columns = np.clip([column for _, column in cells], 0, site.grid.columns - 1)
    given = spread[rows, columns].astype(np.int32)
    given[given == KEEP_CLEAR] = LEAVE
    for number in range(len(SCORED)):
        given[(given == number) & shut[number]] = LEAVE
    given[is_closed] = KEEP_CLEAR

    def allows(face: int, label: int) -> bool:
        if is_closed[face] or label == KEEP_CLEAR:
            return False
        return label == LEAVE or not shut[label, face]

    def is_enough(label: int, shape: Polygon | MultiPolygon) -> bool:
        if label == KEEP_CLEAR:
            return True
        return bool(shape.area >= settings.least_area_m2) and _holds_disc(shape, 0.5 * ROUNDING * settings.least_width)

    return joined(mosaic, given, allows, is_enough, LEAVE)


def _holds_disc(shape: Polygon | MultiPolygon, radius: float) -> bool:
    """Tell whether a disc fits into a shape; most have room about a middle that is quickly found."""
    if shape.point_on_surface().distance(shape.boundary) >= radius:
        return True
    return not shape.buffer(-radius).is_empty


def _pieces(mosaic: Mosaic, given: IntArray, settings: ScoringSettings) -> list[tuple[Use, Polygon | MultiPolygon]]:
    """Return the groups of faces as shapes, largest first within a use; scraps of unused ground are kept together."""
    pieces: list[tuple[Use, Polygon | MultiPolygon]] = []
    scraps: dict[Use, list[int]] = {}
    for group in mosaic.groups(given):
        use = USES[given[group[0]]]
        if use in {Use.LEAVE, Use.KEEP_CLEAR} and mosaic.area(group) < settings.least_area_m2:
            scraps.setdefault(use, []).extend(group)
        else:
            pieces.append((use, mosaic.shape(group)))
    pieces += [(use, mosaic.shape(group)) for use, group in scraps.items()]
    return sorted(pieces, key=lambda piece: (USES.index(piece[0]), -piece[1].area, piece[1].bounds))


def _described(
    pieces: list[tuple[Use, Polygon | MultiPolygon]],
    site: Site,
    scores: Scores,
    wetness: Wetness,
    sunlight: Sunlight,
) -> Zones:
    """Return the zones, numbered, with what each is like on the average."""
    zone_at = np.full(site.grid.shape, np.nan)
    zones = []
    for number, (use, outline) in enumerate(pieces, start=1):
        here = cells_inside(site.grid, outline)
        zone_at[here] = number
        if not np.isfinite(wetness.wetness[here]).any():
            here = _nearest_known(site, outline, wetness.wetness)
        zones.append(
            Zone(
                number=number,
                use=use,
                outline=outline,
                area=float(outline.area),
                score=_mean(_score_of(use, scores), here),
                limit=_limit(use, scores, here),
                wetness=_mean(wetness.wetness, here),
                sun_hours=_mean(sunlight.sun_hours, here),
            )
        )
    return Zones(tuple(zones), frozen(zone_at))


def _nearest_known(site: Site, outline: Polygon | MultiPolygon, values: FloatArray) -> BoolArray:
    """Mark the known cell nearest to a scrap that is too narrow to hold the middle of one."""
    middle = outline.representative_point()
    away = np.hypot(site.grid.x[None, :] - middle.x, site.grid.y[:, None] - middle.y)
    nearest = np.zeros(values.shape, dtype=np.bool_)
    nearest.flat[int(np.argmin(np.where(np.isfinite(values), away, np.inf)))] = True
    return nearest


def _score_of(use: Use, scores: Scores) -> FloatArray:
    """Return the score of a use; for ground without one, the best that it could have had."""
    by_use = {
        Use.MOUND: scores.suitability_mound,
        Use.WET_PLANTING: scores.suitability_wet_planting,
        Use.PATH: scores.suitability_path,
    }
    return by_use[use] if use in by_use else np.maximum.reduce(list(by_use.values()))


def _mean(values: FloatArray, here: BoolArray) -> float:
    known = values[here & np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")


def _limit(use: Use, scores: Scores, here: BoolArray) -> str | Exclusion | None:
    """Return what most often limits a zone: the name of a criterion, or an exclusion."""
    if use in SCORED:
        counted = scores.limited_by[use][here]
        named = counted[counted >= 0]
        return scores.criteria[use][int(np.bincount(named).argmax())] if named.size else None
    counted = scores.limited_by[Use.PATH if use is Use.KEEP_CLEAR else Use.MOUND][here]
    reasons = -2 - counted[counted <= -2]
    if reasons.size and (use is Use.KEEP_CLEAR or reasons.size > counted.size / 2.0):
        return scores.exclusions[int(np.bincount(reasons).argmax())]
    named = counted[counted >= 0]
    return scores.criteria[Use.MOUND][int(np.bincount(named).argmax())] if named.size and use is Use.LEAVE else None
