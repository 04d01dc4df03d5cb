"""Storms: rain of one depth, followed until it stands, soaks in, or leaves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from sitepipe._jit import kernel
from sitepipe.arrays import BoolArray, FloatArray, IntArray, LongArray, frozen
from sitepipe.drainage.cells import cells_inside
from sitepipe.drainage.curve_numbers import curve_number, runoff_depth
from sitepipe.drainage.drawn import building_cells, road_cells, water_cells
from sitepipe.drainage.fill_spill_merge import (
    DROPS_PER_METRE,
    DROPS_PER_STEP,
    Standing,
    fill_spill_merge,
    standing_depth,
)
from sitepipe.drainage.hollows import Hollows
from sitepipe.drainage.network import Network
from sitepipe.drainage.ponds import NamedPonds
from sitepipe.drainage.record import PondInStorm, Storm
from sitepipe.errors import InternalError
from sitepipe.settings import Settings
from sitepipe.site import Road, Site, Surface
from sitepipe.units import INCH, Units

SOAKING = {
    "sand": 0.1178,
    "loamy sand": 0.0299,
    "sandy loam": 0.0109,
    "loam": 0.0034,
    "silt loam": 0.0065,
    "sandy clay loam": 0.0015,
    "clay loam": 0.0010,
    "silty clay loam": 0.0010,
    "sandy clay": 0.0006,
    "silty clay": 0.0005,
    "clay": 0.0003,
}
"""How fast a puddle sinks by soil texture. [m/h] Rawls, Brakensiek & Miller (1983), Green-Ampt infiltration
parameters from soils data, Journal of Hydraulic Engineering 109:62-70 (values from memory but for silt loam and
silty clay). Where the water table stands at the surface nothing soaks in at all."""

RATE_DOUBT = 3.0
"""Factor within which a soil's rate is known from its texture: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Covers:
    """What covers each cell, as far as runoff asks.

    Parameters
    ----------
    number : (rows, columns) float array
        Curve number.
    roof, road, water : (rows, columns) bool array
    """

    number: FloatArray
    roof: BoolArray
    road: BoolArray
    water: BoolArray


def storm_depths(settings: Settings) -> tuple[float, ...]:
    """Depths of the storms to follow, smallest first. [m]."""
    if settings.storm.depths is not None:
        return tuple(sorted(settings.storm.depths))
    return (INCH, 2.0 * INCH) if settings.units is Units.IMPERIAL else (0.025, 0.050)


def covers_of(site: Site, settings: Settings) -> Covers:
    """Curve numbers from what is drawn; the settings' cover elsewhere."""
    group = settings.soil.group
    number = np.full(site.grid.shape, float(curve_number(settings.storm.cover, settings.storm.condition, group)))
    for road in site.drawn(Road):
        if road.surface is not Surface.GRASS:  # A lane in the grass sheds as the grass does.
            number[cells_inside(site.grid, road.outline)] = curve_number("road", road.surface.value, group)
    water = water_cells(site)
    number[water] = curve_number("water", "", group)
    roof = building_cells(site)
    number[roof] = curve_number("roof", "", group)
    return Covers(number, roof, road_cells(site) & ~roof, water)


def runoff_drops(rain: float, number: FloatArray, known: BoolArray) -> LongArray:
    """Runoff of each known cell in whole drops. [1e-7 m]."""
    return np.where(known, np.rint(runoff_depth(rain, number) * DROPS_PER_METRE), 0.0).astype(np.int64)


def follow_storm(
    rain: float,
    network: Network,
    hollows: Hollows,
    named: NamedPonds,
    covers: Covers,
    known: BoolArray,
    parcel: BoolArray,
    cell_area: float,
    soaking: float,
    limits: tuple[float, float],
) -> Storm:
    """Let a storm fall on all heights and account for every drop.

    Parameters
    ----------
    rain : float
        [m]
    network, hollows, named, covers
        Of the ground.
    known, parcel : (rows, columns) bool array
    cell_area : float
        [m2]
    soaking : float
        How fast standing water soaks in. [m/h]
    limits : (float, float)
        How long most vegetables bear water, and how long mosquitoes need it. [h]

    Raises
    ------
    InternalError
        If rain is not what stands, left and soaked in, to the drop.
    """
    drops = runoff_drops(rain, covers.number, known)
    standing = fill_spill_merge(network.heights, network.receiver, network.order, network.spill, hollows, drops)
    fallen = round(rain * DROPS_PER_METRE) * int(np.count_nonzero(known))
    run_off = int(drops.sum())
    if standing.stored + standing.left != run_off:
        raise InternalError(
            f"of {run_off} drops of runoff {standing.stored} stand and {standing.left} left; they must be equal: "
            "please report it with the heights"
        )
    depth = standing_depth(network.heights, hollows, standing)
    cubic = cell_area / DROPS_PER_METRE
    arrives = _arrivals(network, drops, standing, covers, parcel)
    arrives = {source: amount * cubic for source, amount in arrives.items()}
    kept = float(depth[parcel].sum()) * cell_area
    ponds = _ponds_in_storm(hollows, named, standing, depth, parcel, cell_area, soaking, limits)
    depth[~known] = np.nan
    return Storm(
        rain_depth=rain,
        rain=fallen * cubic,
        infiltrated=(fallen - run_off) * cubic,
        stored=standing.stored * cubic,
        left=standing.left * cubic,
        ponds=ponds,
        arrives=arrives,
        leaves=max(sum(arrives.values()) - kept, 0.0),
        depth=frozen(depth),
        runoff=frozen(drops / DROPS_PER_METRE),
    )


def _ponds_in_storm(
    hollows: Hollows,
    named: NamedPonds,
    standing: Standing,
    depth: FloatArray,
    parcel: BoolArray,
    cell_area: float,
    soaking: float,
    limits: tuple[float, float],
) -> tuple[PondInStorm, ...]:
    states = []
    is_full = standing.water >= hollows.capacity * DROPS_PER_STEP
    for index, node in enumerate(named.nodes):
        water = depth.ravel()[named.cells[index]]
        deepest = float(water.max())
        hours = deepest / soaking
        states.append(
            PondInStorm(
                pond=index,
                volume=float(water.sum()) * cell_area,
                volume_in_parcel=float(water[parcel.ravel()[named.cells[index]]].sum()) * cell_area,
                depth=deepest,
                area=float(np.count_nonzero(water > 0.0)) * cell_area,
                is_full=bool(is_full[node]),
                hours_to_drain=hours,
                hours_low=hours / RATE_DOUBT,
                hours_high=hours * RATE_DOUBT,
                drowns_crops=hours > limits[0],
                breeds_mosquitoes=hours > limits[1],
            )
        )
    return tuple(states)


def _arrivals(
    network: Network, drops: LongArray, standing: Standing, covers: Covers, parcel: BoolArray
) -> dict[str, int | float]:
    """Count the drops that come to the parcel by where they fell, less what hollows upstream keep."""
    spilled = np.ones(network.spill.size)
    came = standing.received > 0
    spilled[came] = 1.0 - standing.kept[came] / standing.received[came]
    outside = ~parcel
    plain = ~(covers.roof | covers.road)
    sources = {"roof": covers.roof, "road": covers.road, "neighbours": plain}
    arrives: dict[str, int | float] = {}
    for source, mask in sources.items():
        from_outside = entering(
            network.receiver.ravel(),
            network.order,
            network.hollow.ravel(),
            spilled,
            np.where(mask & outside, drops, 0).ravel(),
            parcel.ravel(),
        )
        on_parcel = int(drops[mask & parcel].sum())
        if source == "neighbours":
            arrives["neighbours"] = from_outside
            arrives["own"] = on_parcel
        else:
            arrives[source] = from_outside + on_parcel
    return arrives


@kernel
def entering(
    to: IntArray, order: IntArray, hollow: IntArray, spilled: FloatArray, amount: LongArray, parcel: BoolArray
) -> float:
    """Sum what crosses into the parcel for the first time."""
    flow = amount.astype(np.float64)
    entered = 0.0
    for cell in order[::-1]:
        below = to[cell]
        if below < 0 or flow[cell] == 0.0:
            continue
        passed = flow[cell]
        if hollow[cell] > 0 and hollow[below] != hollow[cell]:
            passed *= spilled[hollow[cell]]
        if parcel[below]:
            entered += passed
        else:
            flow[below] += passed
    return entered
