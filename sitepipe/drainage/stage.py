"""The drainage stage: where water comes from, stands and leaves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from sitepipe.arrays import BoolArray, FloatArray, frozen
from sitepipe.drainage.banks import ask_about_banks
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.descent import LEAVES
from sitepipe.drainage.drawn import find_drawn_things, routed_ground
from sitepipe.drainage.edges import ask_about_edges, depends_on, edge_cells
from sitepipe.drainage.heights import PER_METRE
from sitepipe.drainage.hollows import Hollows, nest_hollows
from sitepipe.drainage.lines import draw_flow_lines, find_crossings
from sitepipe.drainage.multiple_flow import specific_catchment_area
from sitepipe.drainage.nearest_drainage import height_above_nearest_drainage, least_climb, steepness
from sitepipe.drainage.network import Network, route
from sitepipe.drainage.ponds import NamedPonds, name_ponds
from sitepipe.drainage.record import Drainage, Pond, Question, Storm
from sitepipe.drainage.storm import SOAKING, covers_of, follow_storm, storm_depths
from sitepipe.errors import InternalError
from sitepipe.settings import Settings
from sitepipe.site import Site
from sitepipe.terrain.smoothing import smoothed

LOST_SHARE = 1e-9
"""Of dispersed water, which is counted in floating point."""

FEWEST_CELLS = 4
"""A hollow of fewer cells is not told from a rough spot. Common practice, no source."""

SLOPE_DOUBT = 0.02
"""The climb to water is summed over slopes in which the heights' error stays below this. [1]"""


def trace_drainage(site: Site, settings: Settings) -> Drainage:
    """Flood, route, name the ponds, follow the storms; water is conserved or the run fails as our bug."""
    grid = site.grid
    bare, known, gaps = routed_ground(site.elevation, site, settings.drainage)
    drawn = find_drawn_things(bare, site, settings.drainage)
    heights = drawn.applied_to(bare)
    network = route(heights)
    catchment, dispersed = specific_catchment_area(network.level, network.receiver, grid.cell)
    if abs(dispersed - network.outflow_cells) > LOST_SHARE * network.outflow_cells:
        raise InternalError(
            f"{network.outflow_cells} cells were dispersed, but {dispersed:.6f} leave the heights; water was lost, "
            "which must never be: please report it with the heights"
        )
    parcel = cells_inside(grid, site.parcel) & known
    hollows = nest_hollows(heights, network.hollow, network.spill)
    named = name_ponds(
        network,
        hollows,
        grid,
        parcel,
        least_depth=least_pond_depth(site, settings),
        least_area=max(settings.drainage.least_area_m2, FEWEST_CELLS * grid.cell_area),
        least_apart=site.ground.vertical_error,
    )
    covers = covers_of(site, settings)
    soaking = SOAKING[settings.soil.texture]
    limits = settings.storm.crops_hours, settings.storm.mosquito_hours
    storms = tuple(
        follow_storm(rain, network, hollows, named, covers, known, parcel, grid.cell_area, soaking, limits)
        for rain in storm_depths(settings)
    )
    ponds = _ranked(named.ponds, storms[-1])
    channels = _channels(network, named, settings.drainage.channel_area_m2, grid.cell_area)
    above, climb = _heights_over_water(site, network, hollows, named, channels, covers.water, storms[-1])
    at_edge = edge_cells(known)
    edge_dependent = depends_on(network.receiver, network.order, at_edge & (network.receiver != LEAVES)) | at_edge
    in_pond = named.pond_at >= 0
    reach = 0.25 * max(site.parcel.bounds[2] - site.parcel.bounds[0], site.parcel.bounds[3] - site.parcel.bounds[1])
    near = cells_inside(grid, site.parcel.buffer(reach)) & known
    lines = draw_flow_lines(network.receiver, network.cells, in_pond, parcel, near, at_edge, grid)
    crossings = find_crossings(network.receiver, network.cells, parcel, site.parcel, edge_dependent, grid)
    questions: tuple[Question, ...] = (
        *drawn.questions,
        *ask_about_banks(network, named, ponds, site, settings.drainage),
        *ask_about_edges(network.receiver, network.order, known, parcel, edge_dependent, grid),
    )
    return Drainage(
        heights=frozen(heights),
        receiver=frozen(network.receiver),
        order=frozen(network.order),
        known=frozen(known),
        upslope_area=frozen(np.where(known, network.cells * grid.cell_area, np.nan)),
        specific_catchment_area=frozen(catchment),
        ponding_depth=frozen(network.depth),
        height_above_nearest_drainage=frozen(above),
        depth_to_water_index=frozen(climb),
        channels=frozen(channels),
        ponds=ponds,
        pond_at=frozen(named.pond_at),
        flow_lines=lines,
        crossings=crossings,
        storms=storms,
        edge_dependent=frozen(edge_dependent),
        questions=questions,
        gaps=gaps,
        outflow_cells=network.outflow_cells,
    )


def least_pond_depth(site: Site, settings: Settings) -> float:
    """Depth from which on a hollow is named: as set, or 3 cm, or half the heights' error if that is more. [m]."""
    if settings.drainage.least_depth is not None:
        return settings.drainage.least_depth
    return max(0.03, 0.5 * site.ground.vertical_error)


def _ranked(ponds: tuple[Pond, ...], storm: Storm) -> tuple[Pond, ...]:
    """Rank the outermost ponds of the parcel by the water that the larger storm leaves in it, most first."""
    nested = {index for pond in ponds for index in pond.inside}
    in_parcel = [index for index, pond in enumerate(ponds) if pond.share_in_parcel > 0.0 and index not in nested]
    in_parcel.sort(
        key=lambda index: (
            -storm.ponds[index].volume_in_parcel,
            -ponds[index].volume * ponds[index].share_in_parcel,
            index,
        )
    )
    rank = {index: place for place, index in enumerate(in_parcel, start=1)}
    return tuple(replace(pond, number=rank.get(index, 0)) for index, pond in enumerate(ponds))


def _channels(network: Network, named: NamedPonds, channel_area: float | None, cell_area: float) -> BoolArray:
    """Mark cells with enough ground behind them, outside ponds, in which water does not run but stand."""
    if channel_area is None:
        gathered = network.cells[network.cells > 0]
        least = float(np.partition(gathered, gathered.size * 49 // 50)[gathered.size * 49 // 50])
        least = max(least, 2.0)
    else:
        least = max(channel_area / cell_area, 2.0)
    return (network.cells >= least) & (named.pond_at < 0)


def _heights_over_water(
    site: Site,
    network: Network,
    hollows: Hollows,
    named: NamedPonds,
    channels: BoolArray,
    water: BoolArray,
    storm: Storm,
) -> tuple[FloatArray, FloatArray]:
    """Height above the drainage that a cell drains to, and the least climb from the nearest water."""
    elevation = np.asarray(site.elevation)
    shape = elevation.shape
    reference = np.where(channels | water, elevation, np.nan)
    floor = hollows.pit[named.nodes] / PER_METRE
    in_pond = named.pond_at >= 0
    reference[in_pond] = floor[named.pond_at[in_pond]]
    above = height_above_nearest_drainage(elevation, network.receiver, network.order, reference)
    stands = channels | water | (in_pond & (storm.depth > 0.0))
    stands.ravel()[hollows.pit_cell[named.nodes]] = True
    outlets = np.where(network.receiver.ravel() == LEAVES, network.cells.ravel(), 0)
    stands.ravel()[int(np.argmax(outlets))] = True
    noise = 0.433 * site.ground.vertical_error / site.grid.cell
    # White noise under Gaussian weights of spread s falls to 1 / (2 sqrt(pi) s) of its size.
    spread = min(noise / SLOPE_DOUBT / (2.0 * np.sqrt(np.pi)), 4.0) if noise > SLOPE_DOUBT else 0.0
    climb = least_climb(steepness(smoothed(elevation, spread), site.grid.cell), stands, site.grid.cell)
    climb = climb.reshape(shape)
    # Water that leaves the heights before it gathers has no drainage to be measured from: the climb stands in.
    unknown_base = np.isnan(above)
    above[unknown_base] = climb[unknown_base]
    return above, climb
