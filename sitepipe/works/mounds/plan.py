"""Where the mounds go: the ground that may carry them, the layout that holds least water back, each mound on it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon, Point
from shapely.geometry.base import BaseGeometry

from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.drainage.cells import outline_of
from sitepipe.drainage.depression_filling import filled
from sitepipe.drainage.drawn import find_drawn_things
from sitepipe.drainage.heights import whole_heights
from sitepipe.grid import Grid
from sitepipe.scoring.criteria import slope_under_works
from sitepipe.scoring.record import Use
from sitepipe.settings import Settings
from sitepipe.site import Kind, Site, Status, Work
from sitepipe.terrain.record import Terrain
from sitepipe.wetness.blocks import fold_blocks
from sitepipe.works.built import Built, these
from sitepipe.works.hazards import Act, kept_clear
from sitepipe.works.jobs.materials import CHIPS, LOGS, SOIL
from sitepipe.works.jobs.means import means_of
from sitepipe.works.land import Land
from sitepipe.works.mounds.fills import Fill, find_fill
from sitepipe.works.mounds.height import base_width
from sitepipe.works.mounds.layout import Layout, MoundGround, MoundShape, choose_block, search_layouts
from sitepipe.works.mounds.making import choose_fill, drawn_mound, least_depth, make_mound
from sitepipe.works.mounds.record import Lacking, Mound, MoundChoice, MoundHeight, RefusedFill
from sitepipe.works.mounds.rows import RowRules, crest_rows
from sitepipe.works.mounds.trials import Weighed, settle_layout
from sitepipe.works.obstacles import inside, inside_any
from sitepipe.works.water.impact import Baseline, weigh_impact
from sitepipe.works.water.tipped import rows_of, tipped_works

WINDOW_MARGIN = 30.0
"""Ground around the mound zones that a trial floods with them. [m]"""
TRIAL_CELLS = 60_000
"""Cells of a trial at most; a larger window is tried on coarser cells."""
DEEP_POND, LARGE_POND = 0.05, 4.0
"""Hollows deeper and larger than this store the storm and are left open: our own choice. [m], [m2]"""
LARGE_FIELD = 3000.0
"""Ground for mounds beyond which all directions are tried only around the best blocks of four of them. [m2]"""
FIELD_MARGIN = 8.0
"""Ground kept around such a block. [m]"""
LONGER_THAN_WIDE = 1.8
"""Foot of the shortest mound in widths, or it is a heap with little top for its fill: our own choice. [1]"""
CORNER = 0.05
"""Corners of the ground are told no finer. [m]"""
NEAR_WALLS = 2.0
"""A rise of water so near a building counts as one at the building. [m]"""
STEEPEST_CATCHMENT = 400.0
"""Catchment per width that a trial counts at most, so that one channel cell does not decide alone. [m]"""


@dataclass(frozen=True, slots=True)
class Recipe:
    """What the widest mound of the plan is made to. Lengths in m."""

    fill: Fill
    height: MoundHeight
    base: float


@dataclass(frozen=True, slots=True)
class MoundSearch:
    """What was tried on the ground for mounds, best first, and what was in the way."""

    layouts: tuple[Layout, ...]
    base: float = 0.0
    refused: tuple[RefusedFill, ...] = ()
    lacking: Lacking | None = None
    limit: tuple[float, str] = (math.inf, "")


def draw_mounds(land: Land) -> tuple[Mound, ...]:
    """Make the mounds that stand or are wanted, as they were drawn."""
    access = find_access(land.site)
    return tuple(drawn_mound(work, land, float(work.shape.distance(access))) for work in land.site.works_of(Work.MOUND))


def plan_mounds(land: Land, baseline: Baseline, drawn: Sequence[Built] = ()) -> tuple[tuple[Mound, ...], MoundChoice]:
    """Search a layout around what is drawn, and keep the best that leaves the neighbours' water alone.

    ``drawn`` is tried together with each layout, on a baseline on which it does no harm by itself.
    """
    search = search_mounds(land, drawn)
    if not search.layouts:
        return (), MoundChoice(refused=worst_refusals(search.refused), lacking=search.lacking)

    def weigh(layout: Layout) -> Weighed:
        mounds, refused = build_mounds(layout, search.base, land)
        tipped = tipped_works(land, baseline.ground, (*drawn, *mounds))
        impact = weigh_impact(land, baseline, rows_of(tipped))
        return Weighed(layout, mounds, refused, impact)

    weighed = settle_layout(search.layouts, weigh)
    return weighed.mounds, tell_choice(weighed, search, land)


def search_mounds(land: Land, drawn: Sequence[Built] = ()) -> MoundSearch:
    """Find the ground for mounds and try every layout on it; those that are drawn count among all that there may be."""
    options, own = land.settings.mound, these(Mound, drawn)
    most = options.most - len(own) if options.propose else 0
    if most <= 0:
        return MoundSearch(())
    ground = mound_ground(land, drawn)
    if ground.is_empty:
        return MoundSearch((), lacking=Lacking.GROUND)
    recipe, refused = widest_recipe(land, ground)
    if recipe is None:
        return MoundSearch((), refused=refused, lacking=None if refused else Lacking.WATER_TABLE)
    ground = ground_that_drains(land, ground)
    shortest = min(max(options.shortest, LONGER_THAN_WIDE * recipe.base), options.longest)
    rules = RowRules(recipe.base, options.between, options.gap, options.longest, shortest)
    limit, material = material_limit(recipe, land)
    shape = MoundShape(options.top, recipe.fill.side_slope, recipe.height.built, most, limit)
    to_build = np.array([mound.crest_length for mound in own if mound.status is not Status.STANDING])
    taken = float(shape.volumes(to_build, recipe.base).sum())  # As the search counts, so that kept ones bring no more.
    if limit <= taken:
        return MoundSearch((), refused=refused)
    shape = replace(shape, volume_limit=limit - taken)
    trial = prepare_trial(land, ground)
    if ground.area > LARGE_FIELD:
        ground = narrow_ground(trial, ground, shape, rules)
        trial = prepare_trial(land, ground)
    layouts = search_layouts(
        trial, crest_ground(ground, recipe.base), shape, rules, options.directions, options.offsets
    )
    lacking = None if layouts else Lacking.ROOM
    return MoundSearch(tuple(layouts), recipe.base, refused, lacking, (limit - taken, material))


def build_mounds(layout: Layout, base: float, land: Land) -> tuple[tuple[Mound, ...], tuple[RefusedFill, ...]]:
    """Make the mounds of a layout; those nearest to the access carry the first crop group, where it fits there."""
    access = find_access(land.site)
    middles = 0.5 * (layout.crests[:, :2] + layout.crests[:, 2:])
    ways = np.hypot(middles[:, 0] - access.x, middles[:, 1] - access.y)
    nearest = np.argsort(ways, kind="stable")
    groups = land.settings.mound.crops
    share = math.ceil(len(ways) / len(groups))
    wished = {int(index): groups[rank // share] for rank, index in enumerate(nearest)}
    first = land.site.next_number(Work.MOUND)
    mounds: list[Mound] = []
    refused: list[RefusedFill] = []
    for index, ends in enumerate(layout.crests):
        for crops in sorted(groups, key=lambda group: group != wished[index]):
            mound, refusals = make_mound(first + len(mounds), ends, crops, base, land, float(ways[index]))
            refused.extend(refusals)
            # Where water stands higher than in the layout's recipe a foot is wider: it keeps off those that stand.
            apart = 0.5 * land.settings.mound.between
            if mound is not None and all(mound.outline.distance(other.outline) >= apart for other in mounds):
                mounds.append(mound)
                break
    return tuple(mounds), tuple(refused)


def tell_choice(weighed: Weighed, search: MoundSearch, land: Land) -> MoundChoice:
    """Tell how the mounds came to lie as they do."""
    best: dict[float, float] = {}
    for layout in search.layouts:
        best[layout.bearing] = max(best.get(layout.bearing, 0.0), layout.score)
    highest = max(best.values())
    return MoundChoice(
        bearing=weighed.layout.bearing,
        fall=fall_direction(weighed.layout, land.terrain, land.site),
        haul=weighed.layout.haul,
        because=weighed.layout.because(search.layouts),
        directions_tried=tuple((bearing, score / highest) for bearing, score in sorted(best.items())),
        refused=worst_refusals((*search.refused, *weighed.refused)),
        spared=weighed.spared,
        left_out=weighed.left_out,
        limited_by=_limited_by(weighed.mounds, search, land),
    )


def _limited_by(mounds: Sequence[Mound], search: MoundSearch, land: Land) -> str:
    """Return the material for want of which no more mounds are laid out; nothing where another would be covered."""
    most, material = search.limit
    volume = sum(mound.volume for mound in mounds)
    another = volume / max(len(mounds), 1)
    return material if len(mounds) < land.settings.mound.most and volume + another > most else ""


def worst_refusals(refused: Sequence[RefusedFill]) -> tuple[RefusedFill, ...]:
    """Keep one refusal of each fill for each crop group: the highest that it would have to be built."""
    worst: dict[tuple[str, str], RefusedFill] = {}
    for one in refused:
        known = worst.setdefault((one.crops, one.fill), one)
        worst[one.crops, one.fill] = max(known, one, key=lambda each: each.built)
    return tuple(worst.values())


def find_access(site: Site) -> Point:
    """Return the place where barrows start: a gate, else the road's nearest point, else the parcel's middle."""
    for gate in site.of_kind(Kind.GATE):
        return gate.geometry.centroid
    for road in site.of_kind(Kind.ROAD):
        return Point(shapely.shortest_line(site.parcel, road.geometry).coords[0])
    return site.parcel.representative_point()


def mound_ground(land: Land, drawn: Sequence[Built] = ()) -> MultiPolygon:
    """Ground that may carry a mound: its zones less what is excluded, hollows that store the storm, and flow lines."""
    ground: BaseGeometry = shapely.unary_union([zone.outline for zone in land.zones.zones if zone.use is Use.MOUND])
    closed = [exclusion.outline for exclusion in land.scores.exclusions if exclusion.forbids(Work.MOUND)]
    closed += [pond.outline for pond in land.drainage.ponds if pond.depth >= DEEP_POND and pond.area >= LARGE_POND]
    closed += [kept.ground for kept in kept_clear(land.site, Act.COVERS, land.settings)]
    kept_apart = (*(bed.geometry for bed in land.site.of_kind(Kind.BED)), *(work.ground for work in drawn))
    closed += [ground.buffer(land.settings.mound.between) for ground in kept_apart]
    clear = land.settings.mound.clear_of_flow
    for line in land.drainage.flow_lines:
        if line.upslope_area and max(line.upslope_area) >= land.settings.mound.flow_area:
            closed.append(_carrying(line.line, line.upslope_area, land.settings.mound.flow_area).buffer(clear))
    ground = ground.difference(shapely.unary_union(closed)) if closed else ground
    steepest = land.settings.scoring.mound.slope_percent.none_at / 100.0
    return _without_cells(land.site, ground, slope_under_works(land.site, land.settings.scoring) > steepest)


def ground_that_drains(land: Land, ground: BaseGeometry) -> MultiPolygon:
    """Leave out where it is so wet that no crop group fits on a mound of the height allowed."""
    error = float(np.nanmedian(land.water_table.error[inside(ground, land.site.grid.x, land.site.grid.y)]))
    least = min(least_depth(crops, error, land.settings) for crops in land.settings.mound.crops)
    return _without_cells(land.site, ground, land.water_table.water_table_depth < least)


def _without_cells(site: Site, ground: BaseGeometry, closed: BoolArray) -> MultiPolygon:
    closed = closed & inside(ground, site.grid.x, site.grid.y)
    left = ground.difference(outline_of(site.grid, closed)) if closed.any() else ground
    return MultiPolygon([part for part in shapely.get_parts(left) if part.geom_type == "Polygon" and part.area > 0.0])


def narrow_ground(trial: MoundGround, ground: BaseGeometry, shape: MoundShape, rules: RowRules) -> BaseGeometry:
    """Keep, of a large field, what lies around the best block of each of four directions."""
    allowed = crest_ground(ground, rules.base)
    around = []
    for bearing in (0.0, 45.0, 90.0, 135.0):
        crests = crest_rows(allowed, bearing, 0.5, rules)
        chosen = crests[choose_block(trial, crests, shape, rules)]
        around += [shapely.box(*shapely.MultiPoint(chosen.reshape(-1, 2)).bounds).buffer(FIELD_MARGIN)] * bool(
            len(chosen)
        )
    kept = shapely.intersection(ground, shapely.unary_union(around)) if around else ground
    return MultiPolygon([part for part in shapely.get_parts(kept) if part.geom_type == "Polygon" and part.area > 0.0])


def crest_ground(ground: BaseGeometry, base: float) -> BaseGeometry:
    """Draw the ground in by half a base, so that a foot fits wherever a crest runs; its corners in straight pieces."""
    return ground.buffer(-base / 2.0 - CORNER, quad_segs=2).simplify(CORNER)


def _carrying(line: shapely.LineString, upslope_area: tuple[float, ...], least: float) -> BaseGeometry:
    """Return the lower part of a flow line, from where enough ground lies behind it."""
    points = list(line.coords)
    first = next(index for index, area in enumerate(upslope_area) if area >= least)
    lower = points[first:]
    return shapely.LineString(lower) if len(lower) > 1 else Point(lower[0])


def widest_recipe(land: Land, ground: BaseGeometry) -> tuple[Recipe | None, tuple[RefusedFill, ...]]:
    """Return what the widest mound would be made to, and the fills that will not do.

    It is made for the wetter part of the ground, or for as wet as a crop group can be helped on a mound of the height
    allowed, if that is drier. Without a known depth to water there is neither.
    """
    mask = inside(ground, land.site.grid.x, land.site.grid.y)
    depths = land.water_table.water_table_depth[mask]
    known = np.isfinite(depths)
    if not known.any():
        return None, ()
    wet, driest = float(np.quantile(depths[known], 0.10)), float(depths[known].max())
    error = float(np.median(land.water_table.error[mask][known]))
    recipes: list[Recipe] = []
    refused: list[RefusedFill] = []
    for crops in land.settings.mound.crops:
        depth = min(max(wet, least_depth(crops, error, land.settings)), driest)
        for at in dict.fromkeys((wet, depth)):
            fill, height, refusals = choose_fill(crops, at, error, land.settings)
            refused.extend(refusals)
        if fill is not None and height is not None:
            recipes.append(Recipe(fill, height, base_width(land.settings.mound.top, fill.side_slope, height.built)))
    return max(recipes, key=lambda recipe: recipe.base, default=None), tuple(refused)


def is_too_coarse(land: Land) -> bool:
    """Tell whether a cell of the heights is wider than the widest mound that the parcel's water asks for."""
    options = land.settings.mound
    recipe, _ = widest_recipe(land, land.site.parcel)
    widest = max(find_fill(name, land.settings.soil.texture, options.air).side_slope for name in options.fills)
    foot = recipe.base if recipe is not None else base_width(options.top, widest, options.highest)
    ground = land.site.ground
    return not ground.bears_works or max(land.site.grid.cell, ground.source_cell) > foot


def material_limit(recipe: Recipe, land: Land) -> tuple[float, str]:
    """Volume of mounds that the material of all years covers, and what there is least of.

    At least one load, for a trial mound. [m3]
    """
    materials, options = land.settings.materials, land.settings.mound
    built = recipe.height.built
    section = options.top * built + recipe.fill.side_slope * built**2
    left = max(built - materials.cover, 0.0)
    core = (options.top * left + recipe.fill.side_slope * left**2) / section if section > 0.0 else 0.0
    means = means_of(land.site.stock, land.settings, materials.years)
    wood, soil = means.in_reach(CHIPS, LOGS), means.in_reach(SOIL)
    if recipe.fill.name == "native soil":
        return math.inf, ""
    limits = [(soil / max(1.0 - core, 1e-6), SOIL), (wood / max(core, 1e-6), LOGS)] if recipe.fill.is_woody else []
    most, material = min(limits, default=(soil, SOIL))
    return max(most, materials.load), material


def prepare_trial(land: Land, ground: BaseGeometry) -> MoundGround:
    """Cut out the window around the mound ground, on coarser cells where it is large."""
    site, grid, access = land.site, land.site.grid, find_access(land.site)
    west, south, east, north = ground.bounds
    top = max(int((grid.north - north - WINDOW_MARGIN) / grid.cell), 0)
    bottom = min(math.ceil((grid.north - south + WINDOW_MARGIN) / grid.cell), grid.rows)
    left = max(int((west - WINDOW_MARGIN - grid.west) / grid.cell), 0)
    right = min(math.ceil((east + WINDOW_MARGIN - grid.west) / grid.cell), grid.columns)
    step = max(1, math.ceil(math.sqrt((bottom - top) * (right - left) / TRIAL_CELLS)))

    def coarse(values: FloatArray) -> FloatArray:
        return fold_blocks(values[top:bottom, left:right], step)[0]

    bare = coarse(site.elevation)
    rows, columns = bare.shape
    own = Grid(grid.west + left * grid.cell, grid.north - top * grid.cell, grid.cell * step, rows, columns, grid.crs)
    heights = land.drainage.heights[top:bottom, left:right]
    if step > 1:
        heights = routing_heights(replace(site, grid=own, elevation=bare), land.settings)
    down, east_fall = np.gradient(coarse(land.terrain.broad_elevation), own.cell)
    steepness = np.hypot(down, east_fall)
    steepness = np.where(steepness > 0.0, steepness, np.nan)
    catchment = np.minimum(coarse(land.drainage.specific_catchment_area), STEEPEST_CATCHMENT)
    flow = np.nan_to_num(np.stack([-east_fall / steepness * catchment, down / steepness * catchment]))
    return MoundGround(
        west=own.west,
        north=own.north,
        cell=own.cell,
        heights=heights,
        level=filled(heights),
        flow=flow,
        suitability=coarse(land.scores.suitability_mound),
        outside=coarse(_not_ours(site).astype(np.float64)) > 0.5,
        access=(access.x, access.y),
    )


def routing_heights(site: Site, settings: Settings) -> IntArray:
    """Heights of a site on cells of any size for routing: roofs, kerbs and drains are put in anew, never blurred."""
    bare, _ = whole_heights(site.elevation)
    return find_drawn_things(bare, site, settings.drainage).applied_to(bare)


def _not_ours(site: Site) -> BoolArray:
    """Cells where no rise is allowed: beyond the boundary, at buildings, on roads."""
    x, y = site.grid.x, site.grid.y
    near = [feature.geometry.buffer(NEAR_WALLS) for feature in site.of_kind(Kind.BUILDING)]
    near += [feature.footprint for feature in site.of_kind(Kind.ROAD)]
    return np.asarray(~inside(site.parcel, x, y) | inside_any(near, x, y))


def fall_direction(layout: Layout, terrain: Terrain, site: Site) -> float | None:
    """Direction that the broad ground falls to below the mounds, None where it is level. [deg]."""
    grid = site.grid
    down = np.gradient(terrain.broad_elevation, grid.cell, axis=0)
    east = np.gradient(terrain.broad_elevation, grid.cell, axis=1)
    middles = 0.5 * (layout.crests[:, :2] + layout.crests[:, 2:])
    cells = [grid.cell_at(float(x), float(y)) for x, y in middles]
    rises = [(down[cell], east[cell]) for cell in cells if grid.holds(*cell)]
    to_north = float(np.nansum([southward for southward, _ in rises]))
    to_east = -float(np.nansum([eastward for _, eastward in rises]))
    if math.hypot(to_north, to_east) < 1e-4 * max(len(rises), 1):
        return None
    return math.degrees(math.atan2(to_east, to_north)) % 360.0
