"""What a region will take, and which parcels cannot be run: told before anything is worked out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely

from sitepipe.reading.coordinates import metres_per_unit, move_geometry
from sitepipe.reading.frame import BYTES_PER_CELL
from sitepipe.reading.growth import NEARBY
from sitepipe.reading.place import EARTH
from sitepipe.reading.raster import HeightRaster
from sitepipe.reading.site import FEWEST_CELLS
from sitepipe.region.folder import Region
from sitepipe.region.parcel import METRES_PER_DEGREE, Cutter, Parcel, parcels_of
from sitepipe.region.work import BARE_PROCESS
from sitepipe.settings import Output

SECONDS, SECONDS_PER_CELL = 0.9, 1.2e-5
"""Of a parcel's core time with summary alone: what ours took (tests/benchmarks/test_region.py)."""
SECONDS_OF = {Output.PAGE: 0.8, Output.SHEETS: 0.35, Output.LAYERS: 0.65, Output.PLAN: 0.1, Output.TABLES: 0.01}
BYTES = 150_000.0
BYTES_OF = {Output.PAGE: 600_000.0, Output.SHEETS: 200_000.0, Output.PLAN: 200_000.0, Output.TABLES: 10_000.0}
LAYER_BYTES_PER_CELL = 30.0


@dataclass(frozen=True, slots=True)
class Forecast:
    """What is expected of all parcels; times, cells and sizes are rough, since windows grow where water asks for it.

    Parameters
    ----------
    parcels : int
    faults : tuple of (key, reason)
        Parcels that cannot be run.
    cells, most_cells : int
        Of the first windows: all of them, and the largest.
    core_seconds : float
    memory : float
        Of one worker at the largest window. [B]
    disk : float
        [B]
    """

    parcels: int
    faults: tuple[tuple[str, str], ...]
    cells: int
    most_cells: int
    core_seconds: float
    memory: float
    disk: float


def forecast(region: Region) -> Forecast:
    """Look at every parcel without working any out."""
    parcels, cutter, cell = parcels_of(region), Cutter(region), cell_of(region)
    tiles = shapely.STRtree([_extent(raster) for raster in region.rasters])
    faults: list[tuple[str, str]] = []
    cells: list[float] = []
    for parcel in parcels:
        reason = parcel.fault or _fault_of(parcel, tiles, region, cell)
        if reason:
            faults.append((parcel.key, reason))
            continue
        around = region.settings.ground.margin + NEARBY / 2.0  # Something drawn stands half as far as it may, say.
        west, south, east, north = cutter.box(parcel, around)
        side = _metres(region, parcel)
        window = (east - west) * side[0] * (north - south) * side[1] / cell**2
        cells.append(min(window, region.settings.ground.widest_window))
    wanted, total = region.settings.write, float(np.sum(cells))
    return Forecast(
        parcels=len(parcels),
        faults=tuple(faults),
        cells=int(total),
        most_cells=int(max(cells, default=0.0)),
        core_seconds=len(cells) * (SECONDS + sum(SECONDS_OF[one] for one in wanted)) + SECONDS_PER_CELL * total,
        memory=BARE_PROCESS + BYTES_PER_CELL * max(cells, default=0.0),
        disk=len(cells) * (BYTES + sum(BYTES_OF.get(one, 0.0) for one in wanted))
        + (LAYER_BYTES_PER_CELL * total if Output.LAYERS in wanted else 0.0),
    )


def cell_of(region: Region) -> float:
    """Return the cell that the parcels are worked at, roughly where the heights are in degrees. [m]."""
    if region.settings.ground.cell is not None:
        return region.settings.ground.cell
    width, height = region.heights.cell
    system = region.system
    if system is not None and system.is_geographic:
        return height * METRES_PER_DEGREE
    return max(width, height) * (metres_per_unit(system) if system is not None else 1.0)


def _metres(region: Region, parcel: Parcel) -> tuple[float, float]:
    """Return what one unit along x and along y is worth at a parcel. [m]."""
    system = region.system
    if system is None:
        return 1.0, 1.0
    if not system.is_geographic:
        return (metres_per_unit(system),) * 2
    latitude = move_geometry(parcel.outline, system, EARTH).centroid.y
    return METRES_PER_DEGREE * float(np.cos(np.radians(latitude))), METRES_PER_DEGREE


def _extent(raster: HeightRaster) -> shapely.Polygon:
    return shapely.Polygon(raster.corners)


def _fault_of(parcel: Parcel, tiles: shapely.STRtree, region: Region, cell: float) -> str:
    """Say what a run would refuse and can be seen without its heights, empty where nothing is."""
    outline = parcel.outline
    if outline.is_empty:
        return "it is drawn as a line or a point; it must be a polygon"
    if not outline.is_valid:
        return f"its outline crosses or touches itself ({shapely.is_valid_reason(outline)})"
    if tiles.query(outline, predicate="intersects").size == 0:
        return f"it lies off the heights of {region.heights.name}"
    side = _metres(region, parcel)
    if outline.area * side[0] * side[1] < FEWEST_CELLS * cell**2:
        return f"it has fewer than {FEWEST_CELLS:.0f} cells of the heights"
    return ""
