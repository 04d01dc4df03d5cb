"""Which plant goes where: one assignment over all beds, solved exactly by a library."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array

from sitepipe.arrays import FloatArray

Counts: TypeAlias = npt.NDArray[np.int64]

CAPACITIES = ("ground", "floor", "edge", "support", "plants")
"""What a bed has to give: ground for shrubs and herbs [m2], floor for herbs and what covers the ground under shrubs
[m2], edge [m], support for climbers [m], plants in all; the columns of ``capacity`` and of each kind's ``takes``."""

NODES = 2_000
"""Of the solver's tree, counted and not timed, so that every machine stops at the same plan."""
CLOSE = 0.02
"""Share of the best value that a proposal may miss; whole plants make the last part expensive. [1]"""
TIED = 1e-7
"""By which an earlier place of an earlier kind is worth more: own choice, far below any difference that is meant."""
BEYOND = 0.25
"""Worth of ground given to a kind that has its share already, against the same ground for another kind: own choice."""


def assign(
    takes: FloatArray,
    worth: FloatArray,
    most: FloatArray,
    capacity: FloatArray,
    share: FloatArray | None = None,
    part: FloatArray | None = None,
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
    share : (kinds) float array or None
        Plants of a kind in all beyond which one more is worth ``BEYOND`` of what it was; a mixture asks for it.
    part : (kinds, beds) float array or None
        Plants of a kind in one bed.
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
    given = np.zeros(worth.shape, np.int64)
    if not kinds.size:
        return given
    count = kinds.size
    prize = worth[kinds, beds] * (1.0 - TIED * np.arange(1, count + 1))
    rows: list[tuple[npt.NDArray[np.intp], FloatArray, float]] = []
    for bed, resource in np.ndindex(capacity.shape):
        here = np.flatnonzero((beds == bed) & (takes[kinds, resource] > 0.0))
        if here.size:
            rows.append((here, takes[kinds[here], resource], float(capacity[bed, resource])))
    limited = [(kind, np.flatnonzero(kinds == kind)) for kind in np.flatnonzero(np.isfinite(most))]
    rows.extend((own, np.ones(own.size), float(most[kind])) for kind, own in limited)
    if share is not None:
        # One more column for each kind: its plants beyond the share, each costing what it is worth less.
        for kind in np.unique(kinds):
            own = np.flatnonzero(kinds == kind)
            rows.append((np.append(own, prize.size), np.append(np.ones(own.size), -1.0), float(share[kind])))
            prize = np.append(prize, -(1.0 - BEYOND) * worth[kind].max())
    whole = np.arange(prize.size) < count
    if family is not None and spread is not None:
        # One more column for each family in each bed, 1 where it stands there.
        of = family[kinds, beds]
        for number in np.unique(of[of >= 0]):
            columns = []
            for bed in np.unique(beds[of == number]):
                own = np.flatnonzero((of == number) & (beds == bed))
                filled = _share_of_bed(takes[kinds[own]], capacity[bed])
                columns.append(prize.size)
                rows.append((np.append(own, prize.size), np.append(filled, -float(len(CAPACITIES))), 0.0))
                prize = np.append(prize, 0.0)
            rows.append((np.array(columns), np.ones(len(columns)), float(spread[number])))
    upper = np.full(prize.size, np.inf)
    upper[whole.size :] = 1.0
    whole = np.append(whole, np.ones(prize.size - whole.size, bool))
    if part is not None:
        upper[:count] = part[kinds, beds]
    cells = [
        (row, column, entry)
        for row, (columns, entries, _) in enumerate(rows)
        for column, entry in zip(columns, entries, strict=True)
    ]
    row, column, entry = (np.array(each) for each in zip(*cells, strict=True))
    found = milp(
        -prize,
        integrality=whole.astype(int),
        bounds=Bounds(0.0, upper),
        constraints=LinearConstraint(
            coo_array((entry, (row, column)), shape=(len(rows), prize.size)).tocsr(),
            -np.inf,
            [limit for *_, limit in rows],
        ),
        options={"node_limit": NODES, "mip_rel_gap": 0.0 if share is None else CLOSE},
    )
    if found.x is not None:
        given[kinds, beds] = np.rint(found.x[:count]).astype(np.int64)
    return given


def _share_of_bed(takes: FloatArray, capacity: FloatArray) -> FloatArray:
    """Return the largest share of a capacity that one plant of each kind takes; all of it where there is none left."""
    left = np.where((capacity > 0.0) & np.isfinite(capacity), capacity, np.inf)
    return np.asarray((takes / left).max(axis=1))
