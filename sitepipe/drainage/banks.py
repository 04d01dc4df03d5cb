"""Banks: ponds that a narrow rim dams may have a pipe that nobody drew; the run asks."""

from __future__ import annotations

import numpy as np
from shapely import LineString, Point

from sitepipe._jit import kernel
from sitepipe.arrays import IntArray
from sitepipe.drainage.heights import PER_METRE, UNKNOWN
from sitepipe.drainage.network import Network
from sitepipe.drainage.ponds import NamedPonds
from sitepipe.drainage.record import Bank, Pond
from sitepipe.settings import DrainageSettings
from sitepipe.site import Kind, Ref, Site

MOST_QUESTIONS = 5
MOST_STARTS = 1500
"""Cells of a pond from which a way over its rim is sought; of larger ponds each so-manieth."""


def ask_about_banks(
    network: Network, named: NamedPonds, ponds: tuple[Pond, ...], site: Site, settings: DrainageSettings
) -> tuple[Bank, ...]:
    """Ask "is there a pipe here?" where a bank holds back a pond that touches the parcel or its surroundings.

    A bank is a rim that stands at least ``bank_height`` above the pond's floor and beyond which, within ``bank_width``
    of the water, the ground is lower than the pond's lower half. A drawn culvert or ditch through it has already let
    the water out.
    """
    near = site.parcel.buffer(2.0 * settings.bank_width)
    nested = {index for pond in ponds for index in pond.inside}
    found: list[tuple[float, Bank]] = []
    for index, pond in enumerate(ponds):
        if index in nested or pond.depth < settings.bank_height or not pond.outline.intersects(near):
            continue
        crossing = narrowest_crossing(
            network.heights,
            network.hollow,
            named.cells[index][:: 1 + named.cells[index].size // MOST_STARTS],
            network.spill[network.hollow.ravel()[named.cells[index][0]]],
            pond.depth,
            settings.bank_width / site.grid.cell,
            round(settings.bank_height * PER_METRE),
        )
        start, crest, end, width = crossing
        if start < 0:
            continue
        place = Point(site.grid.centre(*divmod(int(crest), site.grid.columns)))
        across = LineString([site.grid.centre(*divmod(int(cell), site.grid.columns)) for cell in (start, crest, end)])
        road = next((road for road in site.of_kind(Kind.ROAD) if road.geometry.intersects(across)), None)
        of = None if road is None else Ref(road.kind, road.number)
        found.append((pond.volume, Bank(of, pond.depth, width * site.grid.cell, place)))
    found.sort(key=lambda one: -one[0])
    return tuple(bank for _, bank in found[:MOST_QUESTIONS])


@kernel
def narrowest_crossing(
    heights: IntArray,
    hollow: IntArray,
    pond: IntArray,
    spill: int,
    depth: float,
    reach: float,
    least_rise: int,
) -> tuple[int, int, int, float]:
    """Find the shortest straight way from the lower half of a pond over a rim to lower ground.

    Returns the first cell, the crest (of equally high cells the one nearest to the water) and the last, and the
    length in cells; -1 where there is none.
    """
    rows, columns = heights.shape
    ground = heights.ravel()
    inside = hollow.ravel()
    number = inside[pond[0]]
    half = ground[spill] - 0.5 * depth * PER_METRE
    best = (-1, -1, -1, reach + 1.0)
    for start in pond:
        if ground[start] > half:
            continue
        row = start // columns
        column = start % columns
        for k in range(32):
            down = np.sin(2.0 * np.pi * k / 32.0)
            right = np.cos(2.0 * np.pi * k / 32.0)
            crest = start
            distance = 1.0
            while distance < best[3]:
                to_row = int(np.floor(row + down * distance + 0.5))
                to_column = int(np.floor(column + right * distance + 0.5))
                if not (0 <= to_row < rows and 0 <= to_column < columns):
                    break
                cell = to_row * columns + to_column
                if ground[cell] == UNKNOWN:
                    break
                if ground[cell] > ground[crest]:
                    crest = cell
                if inside[cell] != number and ground[cell] < ground[start]:
                    if ground[crest] - ground[start] >= least_rise:
                        best = (start, crest, cell, distance)
                    break
                distance += 1.0
    return best
