"""Drawn things that turn water: roofs shed it, kerbs hold it, culverts and ditches let it through."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import Point

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray
from sitepipe.drainage.cells import cells_along, cells_inside
from sitepipe.drainage.heights import PER_METRE, UNKNOWN, whole_heights
from sitepipe.drainage.record import ClimbingCulvert, Gaps
from sitepipe.grid import Grid
from sitepipe.settings import DrainageSettings
from sitepipe.site import Feature, Kind, Ref, Site
from sitepipe.terrain.outline import patches_of


@dataclass(frozen=True, slots=True)
class DrawnThings:
    """Drawn things as the cells that they change, found once and applied to any number of grounds.

    Parameters
    ----------
    kerbs, roofs : tuple of (int32 array, int)
        Flat indices, and the rise of each. [0.1 mm]
    eaves : tuple of int32 arrays
        Of each roof: the cells under it and those it touches.
    drains : tuple of int32 arrays
        Flat indices along each ditch and culvert, from mouth to mouth.
    """

    kerbs: tuple[tuple[IntArray, int], ...]
    roofs: tuple[tuple[IntArray, int], ...]
    eaves: tuple[IntArray, ...]
    drains: tuple[IntArray, ...]
    questions: tuple[ClimbingCulvert, ...]

    def applied_to(self, bare: IntArray) -> IntArray:
        """Heights for routing: roofs and kerbs raised, drains cut, nothing else touched. [0.1 mm]."""
        routed = bare.copy()
        ground = routed.ravel()
        for cells, rise in self.kerbs:
            own = cells[ground[cells] != UNKNOWN]
            ground[own] += rise
        for (cells, rise), eaves in zip(self.roofs, self.eaves, strict=True):
            around = ground[eaves]
            around = around[around != UNKNOWN]
            if around.size:
                # Level above all that it covers or touches, so that water leaves it on all sides.
                own = cells[ground[cells] != UNKNOWN]
                ground[own] = around.max() + rise
        for path in self.drains:
            cut_drain(routed, path)
        return routed


def find_drawn_things(bare: IntArray, site: Site, settings: DrainageSettings) -> DrawnThings:
    """Find the cells that drawn kerbs, roofs, ditches and culverts change.

    Parameters
    ----------
    bare : (rows, columns) int32 array
        Bare ground, by which the mouths of drains are found. [0.1 mm]
    site : Site
    settings : DrainageSettings
    """
    grid = site.grid
    kerbs, roofs, eaves, drains = [], [], [], []
    questions: list[ClimbingCulvert] = []
    for kerb in site.of_kind(Kind.KERB):
        rise = round(kerb.height * PER_METRE)
        kerbs += [(_tight(cells, grid.columns), rise) for cells in cells_along(grid, kerb.geometry)]
    for building in site.of_kind(Kind.BUILDING):
        roof = cells_inside(grid, building.geometry)
        if roof.any():
            roofs.append((np.flatnonzero(roof).astype(np.int32), round(building.height * PER_METRE)))
            eaves.append(np.flatnonzero(_widened(roof)).astype(np.int32))
    for drain in site.of_kind(Kind.DITCH, Kind.CULVERT):
        if drain.geometry.geom_type.endswith("Polygon"):
            # A ditch drawn as an area is as low as its ground: nothing to cut.
            continue
        for cells in cells_along(grid, drain.geometry):
            path = _with_mouths(bare, cells, settings.drain_reach / grid.cell)
            drains.append(path)
            question = _climb(bare, path, drain, grid, site.ground.vertical_error)
            if question is not None:
                questions.append(question)
    return DrawnThings(tuple(kerbs), tuple(roofs), tuple(eaves), tuple(drains), tuple(questions))


def road_cells(site: Site) -> BoolArray:
    """Mark the cells of drawn roads."""
    mask = np.zeros(site.grid.shape, dtype=np.bool_)
    for road in site.of_kind(Kind.ROAD):
        mask |= cells_inside(site.grid, road.outline)
    return mask


def building_cells(site: Site) -> BoolArray:
    """Mark the cells of drawn buildings."""
    mask = np.zeros(site.grid.shape, dtype=np.bool_)
    for building in site.of_kind(Kind.BUILDING):
        mask |= cells_inside(site.grid, building.geometry)
    return mask


def water_cells(site: Site) -> BoolArray:
    """Mark the cells of drawn water: areas, streams drawn as lines, springs drawn as points."""
    mask = np.zeros(site.grid.shape, dtype=np.bool_)
    for water in site.of_kind(Kind.WATER):
        kind = water.geometry.geom_type
        if kind.endswith("Polygon"):
            mask |= cells_inside(site.grid, water.geometry)
        elif kind.endswith("LineString"):
            for cells in cells_along(site.grid, water.geometry):
                mask.ravel()[cells] = True
        elif kind == "Point":
            row, column = site.grid.cell_at(water.geometry.x, water.geometry.y)
            if site.grid.holds(row, column):
                mask[row, column] = True
    return mask


def routed_ground(elevation: FloatArray, site: Site, settings: DrainageSettings) -> tuple[IntArray, BoolArray, Gaps]:
    """Return the ground that water is routed over, where it is, and what became of the gaps in the heights.

    A gap is ground without heights. Small ones within the heights, and any there over drawn water, are closed: level
    with the lowest ground around them, so that they hold no water up and let none out. Those joined to the outer edge
    count as far as they lie in the parcel.

    Parameters
    ----------
    elevation : (rows, columns) float array
        Heights on the site's grid, NaN where unknown. [m]

    Returns
    -------
    heights : (rows, columns) int32 array
        ``UNKNOWN`` where water leaves. [0.1 mm]
    known : (rows, columns) bool array
    gaps : Gaps
    """
    heights, known = whole_heights(elevation)
    if known.all():
        return heights, known, Gaps()
    patches = patches_of(np.where(known, -1, 0).astype(np.int32))
    within = patches[~known]
    sizes = np.bincount(within) * site.grid.cell_area
    is_closed = sizes <= settings.closed_gap_m2
    is_closed[patches[water_cells(site) & ~known]] = True
    border = np.concatenate((patches[0], patches[-1], patches[:, 0], patches[:, -1]))
    is_inner = np.ones(sizes.size, dtype=np.bool_)
    is_inner[border[border >= 0]] = False
    is_closed &= is_inner
    lowest = np.full(sizes.size, UNKNOWN, dtype=np.int32)
    framed = np.pad(heights, 1, constant_values=UNKNOWN)
    rows, columns = np.nonzero(~known)
    for down in range(3):
        for right in range(3):
            np.minimum.at(lowest, within, framed[rows + down, columns + right])
    heights[rows, columns] = np.where(is_closed[within], lowest[within], UNKNOWN)
    is_open = is_inner & ~is_closed
    in_parcel = np.bincount(patches[cells_inside(site.grid, site.parcel) & ~known], minlength=sizes.size)
    at_edge = np.where(is_inner, 0.0, in_parcel * site.grid.cell_area)
    return (
        heights,
        heights != UNKNOWN,
        Gaps(
            int(is_closed.sum()),
            float(sizes[is_closed].sum()),
            int(is_open.sum()),
            float(sizes[is_open].sum()),
            int((at_edge > 0.0).sum()),
            float(at_edge.sum()),
        ),
    )


def cut_drain(heights: IntArray, path: IntArray) -> None:
    """Lower the humps along a path, in place, so that water runs from its higher end to its lower one.

    Going down from the higher end, no cell stays above those passed, nor is any cut below the lower end: humps
    go, dips stay, and nothing beside the path is touched.

    Examples
    --------
    >>> import numpy as np
    >>> ground = np.array([[50, 80, 45, 60, 40]], dtype=np.int32)
    >>> cut_drain(ground, np.arange(5, dtype=np.int32))
    >>> ground.tolist()
    [[50, 50, 45, 45, 40]]
    """
    ground = heights.ravel()
    way = path[ground[path] != UNKNOWN]
    if way.size == 0:
        return
    if ground[way[0]] < ground[way[-1]]:
        way = way[::-1]
    lowest_so_far = np.minimum.accumulate(ground[way])
    ground[way] = np.minimum(ground[way], np.maximum(lowest_so_far, ground[way[-1]]))


def _with_mouths(heights: IntArray, cells: IntArray, reach: float) -> IntArray:
    """Lead a drain on from each end to the lowest ground within reach, straight."""
    reach = min(reach, cells.size / 2.0)
    rows, columns = heights.shape
    ends = []
    for end in (int(cells[0]), int(cells[-1])):
        row, column = divmod(end, columns)
        around = int(reach)
        north, west = max(row - around, 0), max(column - around, 0)
        window = heights[north : row + around + 1, west : column + around + 1].astype(np.int64)
        down, right = np.ogrid[north : north + window.shape[0], west : west + window.shape[1]]
        far = (down - row) ** 2 + (right - column) ** 2
        # The lowest within reach, the nearest of equally low ones.
        best = int(
            np.argmin(np.where(far <= reach * reach, window * (rows + columns) ** 2 + far, np.iinfo(np.int64).max))
        )
        mouth = (north + best // window.shape[1], west + best % window.shape[1])
        ends.append(_straight(row, column, *mouth, columns))
    return np.concatenate((ends[0][::-1], cells[1:-1], ends[1])).astype(np.int32)


def _straight(row: int, column: int, to_row: int, to_column: int, columns: int) -> IntArray:
    """Cells on the straight way between two cells, both included."""
    steps = max(abs(to_row - row), abs(to_column - column), 1)
    down = np.rint(np.linspace(row, to_row, steps + 1)).astype(np.int32)
    right = np.rint(np.linspace(column, to_column, steps + 1)).astype(np.int32)
    way = down * columns + right
    return np.asarray(way[np.r_[True, np.diff(way) != 0]])


def _climb(heights: IntArray, path: IntArray, drain: Feature, grid: Grid, error: float) -> ClimbingCulvert | None:
    """Point out a culvert whose ground is higher where it ends than where it begins as drawn."""
    if drain.kind is not Kind.CULVERT:
        return None
    ground = heights.ravel()
    first, last = int(ground[path[0]]), int(ground[path[-1]])
    if UNKNOWN in (first, last):
        return None
    climb = (last - first) / PER_METRE
    if climb <= max(0.03, 1.5 * error):
        return None
    place = Point(grid.centre(*divmod(int(path[-1]), grid.columns)))
    return ClimbingCulvert(Ref(drain.kind, drain.number), climb, place)


@kernel
def _widened(mask: BoolArray) -> BoolArray:
    """Mark every cell that is marked or touches a marked one."""
    rows, columns = mask.shape
    wide = np.zeros((rows, columns), dtype=np.bool_)
    for row in range(rows):
        for column in range(columns):
            for to_row in range(max(row - 1, 0), min(row + 2, rows)):
                for to_column in range(max(column - 1, 0), min(column + 2, columns)):
                    wide[row, column] = wide[row, column] or mask[to_row, to_column]
    return wide


def _tight(cells: IntArray, columns: int) -> IntArray:
    """Cells of a line and one beside each diagonal step, so that no water slips through at a corner."""
    own = set(cells.tolist())
    for one, two in zip(cells[:-1].tolist(), cells[1:].tolist(), strict=True):
        # Of a straight step this is one of its own two cells.
        own.add(one // columns * columns + two % columns)
    return np.array(sorted(own), dtype=np.int32)
