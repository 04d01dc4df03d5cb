"""Which work in which year, so that the most good ground comes soonest with what there is."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from sitepipe.site import Ref, Work
from sitepipe.works.jobs.materials import CHIPS, FILL, LOGS, SOIL
from sitepipe.works.jobs.means import Means, Offer

NODES = 2_000
"""Of the solver's tree, counted and not timed, so that every machine stops at the same plan."""
TIED = 1e-5
"""By which an earlier of two equal works is worth more: own choice, below any difference that is meant. [1]"""
SCALE = 1e3
"""Of the greatest worth: ties stay above what the solver takes for nothing (1e-6)."""
FRUGAL = 1e-4
"""Worth of a cubic metre that is not bought: own choice, so small that no work waits for it."""
POOLS = ((CHIPS,), (CHIPS, LOGS), (SOIL,), (FILL,))
"""What is counted together: paths take chips alone, a core any wood."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A work as it may be built.

    Parameters
    ----------
    work : Ref
        Several candidates may be ways to build the same one.
    needs : tuple of mapping
        Of each material in the year of building and in those after it; ``LOGS`` stands for any wood. [m3]
    hours : float
        [h]
    good : float
        Ground that it makes good, weighed by sun and way to carry. [m2]
    after : tuple of Ref
        What must stand first, or be built in the same year.
    """

    work: Ref
    needs: tuple[Mapping[str, float], ...]
    hours: float
    good: float
    after: tuple[Ref, ...] = ()


@dataclass(frozen=True, slots=True)
class Chosen:
    """The year of each candidate, from 1, None for what is not built; and what each offer gives by each year's end.

    What lies at hand for nothing is not listed, it is there to be used. [m3]
    """

    years: tuple[int | None, ...]
    taken: tuple[tuple[Offer, tuple[float, ...]], ...]


def choose_years(candidates: Sequence[Candidate], means: Means, last: int) -> Chosen:
    """Choose what is built, and when: the sum of good ground times the years that it is there is greatest.

    Parameters
    ----------
    candidates : sequence of Candidate
    means : Means
        Over the years of building and of looking after.
    last : int
        Years of building.

    Returns
    -------
    Chosen
        At most one mound is built before another stands: the trial. Equal plans are told apart by number.

    Examples
    --------
    Soil for one of two mounds: the better one.

    >>> from sitepipe.works.jobs.means import Offer
    >>> means = Means(1, (Offer(SOIL, (3.0,), 0.0),), (math.inf,), (0.0,))
    >>> mound = lambda number, good: Candidate(Ref(Work.MOUND, number), ({SOIL: 2.0},), 1.0, good)
    >>> choose_years([mound(1, 4.0), mound(2, 5.0)], means, 1).years
    (None, 1)
    """
    count = len(candidates)
    if not count:
        return Chosen((), ())
    bought = [offer for offer in means.offers if not offer.is_at_hand]
    # Columns: each candidate in each year, then what is taken of each offer by the end of each year.
    built = np.arange(count * last).reshape(count, last)
    taken = count * last + np.arange(len(bought) * means.years).reshape(len(bought), means.years)
    rows: list[tuple[dict[int, float], float]] = []
    for one in dict.fromkeys(each.work for each in candidates):
        own = [index for index, each in enumerate(candidates) if each.work == one]
        rows.append((dict.fromkeys(built[own].ravel().tolist(), 1.0), 1.0))
    for index, each in enumerate(candidates):
        for first in each.after:
            before = [other for other, one in enumerate(candidates) if one.work == first]
            for year in range(last) if before else ():
                row = dict.fromkeys(built[index, : year + 1].tolist(), 1.0)
                rows.append((row | dict.fromkeys(built[before, : year + 1].ravel().tolist(), -1.0), 0.0))
    mounds = [index for index, each in enumerate(candidates) if each.work.kind is Work.MOUND]
    for year in range(last) if mounds else ():
        row = dict.fromkeys(built[mounds, year].tolist(), 1.0)
        rows.append((row | dict.fromkeys(built[mounds, :year].ravel().tolist(), 1.0 - len(mounds)), 1.0))
    for year in range(means.years):
        for pool in POOLS:
            row = {
                int(built[index, start]): sum(
                    need.get(material, 0.0) for need in each.needs[: year - start + 1] for material in pool
                )
                for index, each in enumerate(candidates)
                for start in range(min(year + 1, last))
            }
            row |= {int(taken[index, year]): -1.0 for index, offer in enumerate(bought) if offer.material in pool}
            rows.append((row, means.at_hand(year, *pool)))
        row = {int(taken[index, year]): offer.price for index, offer in enumerate(bought) if offer.price is not None}
        rows.append((row, means.money[year]))
        row = {int(built[index, year]): each.hours for index, each in enumerate(candidates)} if year < last else {}
        for index, offer in enumerate(bought):
            row[int(taken[index, year])] = offer.hours
            if year:
                row[int(taken[index, year - 1])] = -offer.hours
                rows.append(({int(taken[index, year - 1]): 1.0, int(taken[index, year]): -1.0}, 0.0))
        rows.append((row, means.hours[year]))
    good = np.array([each.good for each in candidates]) * (1.0 - TIED * np.arange(count))
    prize = np.zeros(count * last + taken.size)
    prize[built] = np.outer(good, np.arange(last, 0, -1)) * SCALE / max(good.max(), 1e-9)
    prize[taken] = -FRUGAL
    rows = [(row, limit) for row, limit in rows if row and math.isfinite(limit)]
    entries = [(line, column, entry) for line, (row, _) in enumerate(rows) for column, entry in row.items() if entry]
    line, column, entry = (np.array(each) for each in zip(*entries, strict=True))
    upper = np.ones(prize.size)
    upper[taken] = np.array([offer.come for offer in bought]).reshape(taken.shape)
    found = milp(
        -prize,
        integrality=(np.arange(prize.size) < count * last).astype(int),
        bounds=Bounds(0.0, upper),
        constraints=LinearConstraint(
            coo_array((entry, (line, column)), shape=(len(rows), prize.size)).tocsr(),
            -np.inf,
            [limit for _, limit in rows],
        ),
        options={"node_limit": NODES, "mip_rel_gap": 0.0},
    )
    if found.x is None:
        return Chosen((None,) * count, ())
    given = (tuple(float(volume) for volume in found.x[columns]) for columns in taken)
    starts = (int(np.argmax(row)) + 1 if row.any() else None for row in np.rint(found.x[built]).astype(int))
    return Chosen(tuple(starts), tuple(zip(bought, given, strict=True)))
