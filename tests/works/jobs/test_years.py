"""The plan by year: as good as the best of all subsets and orders, and never beyond what there is."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sitepipe.site import Ref, Work
from sitepipe.works.jobs.materials import CHIPS, LOGS, SOIL
from sitepipe.works.jobs.means import Means, Offer
from sitepipe.works.jobs.years import Candidate, choose_years

YEARS = 3


def path(number: int, chips: float) -> Candidate:
    return Candidate(Ref(Work.PATH, number), ({CHIPS: chips},), 2.0, 0.05)


def mound(number: int, wood: float, soil: float, good: float, hours: float = 5.0, after: int = 1) -> Candidate:
    needs = ({LOGS: wood, SOIL: soil}, {SOIL: 0.2 * soil})
    return Candidate(Ref(Work.MOUND, number), needs, hours, good, (Ref(Work.PATH, after),))


def is_allowed(candidates: Sequence[Candidate], years: Sequence[int], means: Means) -> bool:
    """Rule by rule, as one would check a plan on paper; 0 is never."""
    works = [each.work for each, year in zip(candidates, years, strict=True) if year]
    if len(works) != len(set(works)):
        return False
    stands = {each.work: year for each, year in zip(candidates, years, strict=True) if year}
    if any(
        stands.get(first, math.inf) > year
        for each, year in zip(candidates, years, strict=True)
        if year
        for first in each.after
    ):
        return False
    starts = sorted(year for work, year in stands.items() if work.kind is Work.MOUND)
    if len(starts) > 1 and starts[1] == starts[0]:
        return False
    bought = dict.fromkeys((CHIPS, SOIL), 0.0)
    for now in range(1, means.years + 1):
        hours = sum(each.hours for each, year in zip(candidates, years, strict=True) if year == now)
        if now <= YEARS and hours > means.hours[now - 1] + 1e-9:
            return False
        used = dict.fromkeys((CHIPS, LOGS, SOIL), 0.0)
        for each, year in zip(candidates, years, strict=True):
            for need in each.needs[: max(now - year + 1, 0)] if year else ():
                for material, volume in need.items():
                    used[material] += volume
        had = {material: means.at_hand(now - 1, material) for material in used}
        if used[CHIPS] > had[CHIPS] + 1e-6 or used[CHIPS] + used[LOGS] > had[CHIPS] + had[LOGS] + 1e-6:
            return False
        bought[SOIL] = max(bought[SOIL], used[SOIL] - had[SOIL])
        (offer,) = (offer for offer in means.offers if offer.price)
        if (
            bought[SOIL] > offer.come[now - 1] + 1e-6
            or bought[SOIL] * (offer.price or 0.0) > means.money[now - 1] + 1e-6
        ):
            return False
    return True


def worth(candidates: Sequence[Candidate], years: Sequence[int | None]) -> float:
    return sum(each.good * (YEARS + 1 - year) for each, year in zip(candidates, years, strict=True) if year)


volumes = st.floats(0.0, 6.0).map(lambda value: round(value, 1))


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(volumes, volumes, st.integers(1, 9), st.integers(1, 2)), min_size=1, max_size=3),
    st.tuples(volumes, volumes, volumes),
    st.sampled_from([6.0, 9.0, math.inf]),
    st.integers(0, 4),
)
def test_the_plan_is_worth_what_the_best_of_all_subsets_and_orders_is(
    mounds: list[tuple[float, float, int, int]], comes: tuple[float, float, float], hours: float, money: int
) -> None:
    candidates = [path(1, 2.0), path(2, 1.0)]
    candidates += [
        mound(number, wood, soil, float(good), after=after)
        for number, (wood, soil, good, after) in enumerate(mounds, 1)
    ]
    # Another way to build the first one: half the soil for more hours.
    wood, soil, good, after = mounds[0]
    candidates.append(mound(1, wood + soil / 2.0, soil / 2.0, 0.95 * good, 8.0, after))
    chips, logs, earth = comes
    offers = (
        Offer(CHIPS, tuple(chips * year for year in range(1, 6)), 0.0),
        Offer(LOGS, (0.0, logs, logs, logs, logs), 0.0),
        Offer(SOIL, (earth,) * 5, 0.0),
        Offer(SOIL, (0.0, 3.0, 3.0, 3.0, 3.0), 2.0),
    )
    means = Means(5, offers, (hours,) * 5, tuple(float(money * year) for year in range(1, 6)))
    every = (
        worth(candidates, years)
        for years in product(range(YEARS + 1), repeat=len(candidates))
        if is_allowed(candidates, years, means)
    )
    chosen = choose_years(candidates, means, YEARS).years
    assert is_allowed(candidates, [year or 0 for year in chosen], means)
    assert worth(candidates, chosen) == pytest.approx(max(every), rel=1e-4)
