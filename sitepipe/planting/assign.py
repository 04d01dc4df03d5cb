"""Which plant goes where: the grower's own exactly, proposals nearly so, by a library."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from sitepipe.arrays import FloatArray

Counts: TypeAlias = npt.NDArray[np.int64]
_Row: TypeAlias = "tuple[npt.NDArray[np.intp], FloatArray, float]"

CAPACITIES = ("ground", "floor", "edge", "support", "plants")
"""What a bed has to give: ground for shrubs and herbs [m2], floor for herbs and what covers the ground under shrubs
[m2], edge [m], support for climbers [m], plants in all; the columns of ``capacity`` and of each kind's ``takes``."""

NODES = 2_000
"""Of the solver's tree, counted and not timed, so that every machine stops at the same plan."""
TIED = 1e-7
"""By which an earlier place of an earlier kind is worth more: own choice, far below any difference that is meant."""
BEYOND = 0.25
"""Worth of ground given to a kind that has its share already, against the same ground for another kind: own choice."""


def assign(
    takes: FloatArray,
    worth: FloatArray,
    most: FloatArray,
    capacity: FloatArray,
    family: Counts | None = None,
    spread: Counts | None = None,
) -> Counts:
    """Give each kind its places so that the sum of worth is greatest.

    Parameters
    ----------
    takes : (kinds, 5) float array
        What one plant of a kind takes of each of ``CAPACITIES``.
    worth : (kinds, beds) float array
        Of one plant there; 0 where it must not stand.
    most : (kinds) float array
        Plants of each kind in all, infinite where nothing limits it.
    capacity : (beds, 5) float array
        What each bed has of them.
    family : (kinds, beds) int array or None
        Number of the family that a kind counts for in a bed, below 0 where for none.
    spread : (families) int array
        In how many beds a family may stand.

    Returns
    -------
    (kinds, beds) int array
        Whole plants. Equal plans are told apart by number: the earlier kind and the earlier bed first.

    Examples
    --------
    Two kinds, two beds with room for one plant each; the first kind fits the first bed alone.

    >>> takes = np.array([[1.0, 0, 0, 0, 1], [1.0, 0, 0, 0, 1]])
    >>> capacity = np.array([[1.0, 9, 9, 9, 9], [1.0, 9, 9, 9, 9]])
    >>> assign(takes, np.array([[0.6, 0.0], [1.0, 0.9]]), np.ones(2), capacity).tolist()
    [[1, 0], [0, 1]]
    """
    kinds, beds = np.nonzero(worth > 0.0)
    rows = _rooms(takes, capacity, kinds, beds)
    for kind in np.unique(kinds[np.isfinite(most[kinds])]):
        own = np.flatnonzero(kinds == kind)
        rows.append((own, np.ones(own.size), float(most[kind])))
    stands = 0
    if family is not None and spread is not None:
        # One more column for each family in each bed, 1 where it stands there.
        of = family[kinds, beds]
        for number in np.unique(of[of >= 0]):
            columns = []
            for bed in np.unique(beds[of == number]):
                own = np.flatnonzero((of == number) & (beds == bed))
                left = np.where((capacity[bed] > 0.0) & np.isfinite(capacity[bed]), capacity[bed], np.inf)
                filled = (takes[kinds[own]] / left).max(axis=1)
                columns.append(kinds.size + stands)
                rows.append((np.append(own, columns[-1]), np.append(filled, -float(len(CAPACITIES))), 0.0))
                stands += 1
            rows.append((np.array(columns), np.ones(len(columns)), float(spread[number])))
    prize = np.append(worth[kinds, beds] * (1.0 - TIED * np.arange(1, kinds.size + 1)), np.zeros(stands))
    upper = np.append(np.full(kinds.size, np.inf), np.ones(stands))
    given = np.zeros(worth.shape, np.int64)
    given[kinds, beds] = np.rint(_solve(prize, rows, upper, is_whole=1)[: kinds.size])
    return given


def propose(
    takes: FloatArray,
    worth: FloatArray,
    capacity: FloatArray,
    share: FloatArray,
    part: FloatArray,
    family: Counts,
    spread: Counts,
) -> Counts:
    """Fill beds with a mixture: the best plan of parts of plants, rounded down, and the room left filled one by one.

    Parameters
    ----------
    takes, worth, capacity, family, spread
        As ``assign`` has them.
    share : (kinds) float array
        Plants of a kind in all beyond which one more is worth ``BEYOND`` of what it was.
    part : (kinds, beds) float array
        Most plants of a kind in one bed.

    Returns
    -------
    (kinds, beds) int array
    """
    worth = worth.copy()
    size = takes[:, :4].max(axis=1)
    members = [family == number for number in range(len(spread))]
    waiting = [number for number, its in enumerate(members) if (worth[its] > 0.0).any()]
    while True:
        ideal = _ideal(takes, worth, capacity, share, part)
        stands = ideal > 0.0
        if all((stands & members[number]).any(axis=0).sum() <= spread[number] for number in waiting):
            break
        # The family with most ground settles where it has most of it, and the others make room.
        ground = [(ideal * size[:, None] * members[number]).sum(axis=0) for number in waiting]
        settled = int(np.argmax([round(float(its.max()), 6) for its in ground]))
        number = waiting.pop(settled)
        keeps = np.argsort(-ground[settled].round(6), kind="stable")[: spread[number]]
        worth[members[number] & ~np.isin(np.arange(worth.shape[1]), keeps)] = 0.0
    for number in waiting:
        worth[members[number] & ~(stands & members[number]).any(axis=0)] = 0.0
    given = np.floor(ideal + 1e-6).astype(np.int64)
    left = capacity - given.T @ takes
    kinds, beds = np.nonzero(worth > 0.0)
    order = np.argsort(-(worth[kinds, beds] / size[kinds]).round(9), kind="stable")
    for most in (share, np.full(len(share), np.inf)):
        for kind, bed in zip(kinds[order], beds[order], strict=True):
            needs = takes[kind] > 0.0
            fits = np.floor(left[bed, needs] / takes[kind, needs] + 1e-9).min()
            more = int(max(min(fits, part[kind, bed] - given[kind, bed], most[kind] - given[kind].sum()), 0))
            given[kind, bed] += more
            left[bed] -= more * takes[kind]
    return given


def _ideal(
    takes: FloatArray, worth: FloatArray, capacity: FloatArray, share: FloatArray, part: FloatArray
) -> FloatArray:
    """Return the best mixture if plants could be cut. (kinds, beds)."""
    kinds, beds = np.nonzero(worth > 0.0)
    rows = _rooms(takes, capacity, kinds, beds)
    # One more column for each kind: its plants beyond the share, each costing what it is worth less.
    several = np.unique(kinds)
    for column, kind in enumerate(several, kinds.size):
        own = np.flatnonzero(kinds == kind)
        rows.append((np.append(own, column), np.append(np.ones(own.size), -1.0), float(share[kind])))
    prize = worth[kinds, beds] * (1.0 - TIED * np.arange(1, kinds.size + 1))
    prize = np.append(prize, -(1.0 - BEYOND) * worth[several].max(axis=1, initial=0.0))
    upper = np.append(part[kinds, beds], np.full(several.size, np.inf))
    ideal = np.zeros(worth.shape)
    ideal[kinds, beds] = _solve(prize, rows, upper, is_whole=0)[: kinds.size]
    return ideal


def _rooms(
    takes: FloatArray, capacity: FloatArray, kinds: npt.NDArray[np.intp], beds: npt.NDArray[np.intp]
) -> list[_Row]:
    """Return a row for all that each bed has: columns, what one plant takes, and how much there is."""
    rows: list[_Row] = []
    for bed, resource in np.argwhere(np.isfinite(capacity)):
        here = np.flatnonzero((beds == bed) & (takes[kinds, resource] > 0.0))
        if here.size:
            rows.append((here, takes[kinds[here], resource], float(capacity[bed, resource])))
    return rows


def _solve(prize: FloatArray, rows: list[_Row], upper: FloatArray, is_whole: int) -> FloatArray:
    """Return the columns of greatest prize, whole or not, zero where the solver stops without a plan."""
    if not prize.size:
        return prize
    column = np.concatenate([columns for columns, *_ in rows])
    row = np.repeat(np.arange(len(rows)), [columns.size for columns, *_ in rows])
    entry = np.concatenate([entries for _, entries, _ in rows])
    found = milp(
        -prize,
        integrality=np.full(prize.size, is_whole),
        bounds=Bounds(0.0, upper),
        constraints=LinearConstraint(
            coo_array((entry, (row, column)), shape=(len(rows), prize.size)).tocsr(),
            -np.inf,
            [limit for *_, limit in rows],
        ),
        options={"node_limit": NODES, "mip_rel_gap": 0.0},
    )
    return np.zeros(prize.size) if found.x is None else np.asarray(found.x)
