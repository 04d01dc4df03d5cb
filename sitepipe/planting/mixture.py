"""Mixture: the grower's own plants over all beds, then proposals that share the ground between many kinds."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from sitepipe.arrays import FloatArray
from sitepipe.planting.assign import Counts, assign, propose
from sitepipe.planting.beds import Bed
from sitepipe.planting.palette import Own, Plant, rotated_families
from sitepipe.settings import Settings

PROPOSED_FROM = 0.2
"""A kind that fits less is not proposed. [1]"""
KINDS_AT_LEAST = 8
"""Among so many kinds the ground is shared before any gets more of it: own choice."""
PART = {"canopy": 0.5, "shrub": 0.34, "climber": 0.5}
"""Of a bed that one kind may be proposed for, a fifth in the other layers: own choice, for a mixture. [1]"""


def mixture(
    own: Own, palette: Sequence[Plant], beds: Sequence[Bed], worth: FloatArray, scores: FloatArray, settings: Settings
) -> tuple[Counts, Counts]:
    """Return how many of each kind go into each bed: the grower's own, which never give way, and proposals.

    Parameters
    ----------
    worth, scores : (kinds, beds) float array
        What one plant is worth there, and how well it fits.

    Returns
    -------
    (kinds, beds) int array, twice
    """
    takes = _takes(palette)
    capacity = np.array([(*bed.capacity, np.inf) for bed in beds]).reshape(len(beds), takes.shape[1])
    family, area = _families(palette, beds), np.array([plant.room for plant in palette])
    most = np.array([float(sum(mine.count for kind, mine in own if kind is plant)) for plant in palette])
    # A family of vegetables keeps to one bed, or to as many as the grower's own plants of it ask for.
    asked = np.array([(area * most)[(family == k).any(axis=1)].sum() for k in range(family.max(initial=-1) + 1)])
    usual = float(np.mean([bed.ground.area for bed in beds if bed.is_rotated] or [1.0]))
    spread = np.maximum(np.ceil(asked / usual), 1.0).astype(np.int64)
    given = assign(takes, np.where(most[:, None] > 0.0, worth, 0.0), most, capacity, family=family, spread=spread)
    if not beds:
        return given, given
    capacity[:, -1] = settings.planting.most_plants
    capacity = np.maximum(capacity - given.T @ takes, 0.0)
    order = {use: k for k, use in enumerate(settings.planting.wanted)}
    wanted = np.array([min((order[use] for use in plant.uses if use in order), default=-1) for plant in palette])
    is_able = (wanted >= 0) & np.array([plant.room > 0.0 and plant.is_known for plant in palette])
    value = np.where(is_able[:, None] & (scores >= PROPOSED_FROM), worth, 0.0) * 0.9 ** np.maximum(wanted, 0)[:, None]
    size = takes[:, :4].max(axis=1)
    value = value * size[:, None]
    # A kind's share: an even part, among at least so many kinds, of all that its layer could have.
    room = np.array([capacity[:, np.argmax(row[:4])] for row in takes])
    reach = np.where(value > 0.0, room, 0.0).sum(axis=1)
    layers = np.array([plant.layer for plant in palette])
    rivals = np.array([((layers == layer) & (value > 0.0).any(axis=1)).sum() for layer in layers])
    size_or_one = np.where(size > 0.0, size, 1.0)
    share = np.maximum(np.floor(reach / np.maximum(rivals, KINDS_AT_LEAST) / size_or_one), 1.0)
    part = np.floor(np.array([PART.get(plant.layer, 0.2) for plant in palette])[:, None] * room / size_or_one[:, None])
    for k in range(len(spread)):
        stands = ((family == k) & (given > 0)).any(axis=0)
        if stands.any():
            value[(family == k) & ~stands] = 0.0
            spread[k] = stands.sum()
    return given, propose(takes, value, capacity, share, np.maximum(part, 1.0), family, spread)


def _families(palette: Sequence[Plant], beds: Sequence[Bed]) -> Counts:
    """Return the number of each vegetable's family in each bed whose families move on each year, -1 elsewhere."""
    names = rotated_families(palette)
    numbers = [names.index(plant.family) if plant.is_annual and plant.family in names else -1 for plant in palette]
    rotated = np.array([bed.is_rotated for bed in beds], dtype=bool)
    return np.where(rotated, np.array(numbers, dtype=np.int64)[:, None], -1)


def _takes(palette: Sequence[Plant]) -> FloatArray:
    """Return what one plant takes of each capacity, in the order of ``assign.CAPACITIES``."""
    rows = []
    for plant in palette:
        room, along = plant.room, plant.in_row or 0.0
        rows.append(
            {
                "climber": (0.0, 0.0, 0.0, along, 1.0),
                "edging": (0.0, 0.0, along, 0.0, 1.0),
                "ground cover": (0.0, room, 0.0, 0.0, 1.0),
                "herb": (room, room, 0.0, 0.0, 1.0),
            }.get(plant.layer, (room, 0.0, 0.0, 0.0, 1.0))
        )
    return np.array(rows)
