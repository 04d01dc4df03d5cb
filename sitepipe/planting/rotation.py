"""Rotation: which bed takes what another had, so that no family of vegetables comes back too soon."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np
from scipy.optimize import linear_sum_assignment

from sitepipe.arrays import FloatArray
from sitepipe.planting.assign import Counts
from sitepipe.planting.beds import Bed
from sitepipe.planting.palette import Plant, rotated_families
from sitepipe.planting.record import Plot, PlotYear

YEARS = 4
"""For which it is worked: three to four years until a family comes back are usual. Common practice, no source."""


def moves(fits: FloatArray, families: Sequence[frozenset[str]]) -> list[list[int]]:
    """Say for each year which bed's plants of the first year stand in each bed.

    Parameters
    ----------
    fits : (beds, beds) float array
        Share of what grows in one bed at first, by ground, that another bed suits, 0 to 1.
    families : sequence of set of str
        Of what grows in each bed at first.

    Returns
    -------
    list of list of int
        For each year and bed the bed of the first year; every year one assignment in which what comes back too soon
        counts against what fits.

    Examples
    --------
    Three beds that suit everything: each takes another's plants every year.

    >>> three = [frozenset({"bean"}), frozenset({"cabbage"}), frozenset({"onion"})]
    >>> moves(np.ones((3, 3)), three)[:3]
    [[0, 1, 2], [1, 2, 0], [2, 0, 1]]
    """
    beds = len(families)
    found = [list(range(beds))]
    together = np.array([[bool(one & other) for other in families] for one in families])
    # Ties go to the next bed in the list.
    onward = (np.arange(beds)[:, None] - np.arange(beds)) % beds / (100.0 * beds)
    while len(found) < YEARS:
        soon = sum(together[:, earlier] / ago for ago, earlier in enumerate(reversed(found[1 - YEARS :]), 1))
        rows, columns = linear_sum_assignment(fits - soon - onward, maximize=True)
        here = dict(zip(columns.tolist(), rows.tolist(), strict=True))
        found.append([here[bed] for bed in range(beds)])
    return found


def usual_return(found: Sequence[Sequence[int]], families: Sequence[frozenset[str]]) -> int:
    """Return after how many years most families come back to a bed, ``YEARS`` where they do not."""
    least = dict.fromkeys(sorted(frozenset[str]().union(*families)), len(found))
    for year, later in combinations(range(len(found)), 2):
        for bed in range(len(families)):
            for family in families[found[year][bed]] & families[found[later][bed]]:
                least[family] = min(least[family], later - year)
    return sorted(least.values())[len(least) // 2] if least else 0


def rotation(
    beds: Sequence[Bed], palette: Sequence[Plant], counts: Counts, scores: FloatArray
) -> tuple[tuple[Plot, ...], int]:
    """Return the plots of vegetables year by year, and after how many years most families come back.

    Parameters
    ----------
    counts, scores : (kinds, beds) array
        What stands in each bed in the first year, and how well each kind fits there.
    """
    plots = [k for k, bed in enumerate(beds) if bed.is_rotated]
    names = rotated_families(palette)
    annual = np.array([plant.is_annual and plant.family in names for plant in palette])
    ground = np.where(annual, [plant.room for plant in palette], 0.0)[:, None] * counts[:, plots]
    if (ground > 0.0).any(axis=0).sum() < 2:
        return (), 0
    families = [frozenset(palette[int(k)].family for k in np.flatnonzero(column)) for column in ground.T]
    fits = ground.T @ (scores[:, plots] > 0.0) / np.maximum(ground.sum(axis=0), 1e-9)[:, None]
    found = moves(fits, families)

    def year_of(plot: int, year: Sequence[int]) -> PlotYear:
        came = year[plot]
        left_out = np.flatnonzero((ground[:, came] > 0.0) & (scores[:, plots[plot]] <= 0.0))
        return PlotYear(tuple(sorted(families[came])), tuple(palette[int(k)].common for k in left_out))

    refs = [beds[k].of for k in plots]
    return tuple(
        Plot(of, refs[:plot].count(of) + 1, refs.count(of), tuple(year_of(plot, year) for year in found))
        for plot, of in enumerate(refs)
    ), usual_return(found, families)
