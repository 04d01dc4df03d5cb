"""Which plant goes where: the solver's plan is as good as the best of all plans."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.arrays import FloatArray
from sitepipe.planting.assign import Counts, assign, propose

PLENTY = 99.0
ALONE, NO_FAMILIES = np.full((3, 1), -1), np.zeros(0, np.int64)


def ground_alone(rooms: list[float]) -> FloatArray:
    return np.array([[room, 0.0, 0.0, 0.0, 1.0] for room in rooms])


def best_of_all(
    takes: FloatArray, worth: FloatArray, most: FloatArray, capacity: FloatArray, family: Counts | None = None
) -> float:
    """Worth of the best plan, by trying every one; a family stands in one bed."""
    kinds, beds = worth.shape
    best = 0.0
    for plan in product(*[range(int(most[k]) + 1) for k in range(kinds) for _ in range(beds)]):
        counts = np.array(plan).reshape(kinds, beds)
        if (counts.sum(axis=1) > most).any() or (counts[worth == 0.0] > 0).any():
            continue
        if (counts.T @ takes > capacity + 1e-9).any():
            continue
        if family is not None and any(
            (counts[(family == number).any(axis=1)].sum(axis=0) > 0).sum() > 1 for number in range(family.max() + 1)
        ):
            continue
        best = max(best, float((counts * worth).sum()))
    return best


@given(st.data())
def test_no_other_plan_is_worth_more(data: st.DataObject) -> None:
    # Independent: brute force over every plan of up to three kinds, two beds and two plants of a kind.
    kinds, beds = data.draw(st.integers(1, 3)), 2
    rooms = data.draw(st.lists(st.sampled_from([0.5, 1.0, 1.5]), min_size=kinds, max_size=kinds))
    score = st.sampled_from([0.0, 0.25, 0.5, 1.0])
    worth = np.array([[data.draw(score) for _ in range(beds)] for _ in range(kinds)])
    most = np.array([float(data.draw(st.integers(0, 2))) for _ in range(kinds)])
    capacity = np.array([[data.draw(st.sampled_from([1.0, 2.0])), PLENTY, PLENTY, PLENTY, PLENTY] for _ in range(beds)])
    takes = ground_alone(rooms)
    found = assign(takes, worth, most, capacity)
    assert (found.T @ takes <= capacity + 1e-9).all()
    assert (found.sum(axis=1) <= most).all()
    assert not found[worth == 0.0].any()
    assert (found * worth).sum() == pytest.approx(best_of_all(takes, worth, most, capacity), abs=1e-4)
    family = np.array([[0, 0], [0, 0], [1, 1]])[:kinds]
    apart = assign(takes, worth, most, capacity, family=family, spread=np.array([1, 1]))
    assert (apart * worth).sum() == pytest.approx(best_of_all(takes, worth, most, capacity, family), abs=1e-4)


def test_a_mixture_gives_no_kind_more_than_its_share_while_others_wait() -> None:
    takes = ground_alone([1.0, 1.0, 1.0])
    worth = np.array([[1.0], [0.9], [0.8]])
    capacity = np.array([[9.0, PLENTY, PLENTY, PLENTY, PLENTY]])
    found = propose(takes, worth, capacity, np.full(3, 3.0), np.full((3, 1), 9.0), ALONE, NO_FAMILIES)
    assert found.ravel().tolist() == [3, 3, 3]


def test_one_kind_takes_no_more_of_a_bed_than_its_part() -> None:
    takes = ground_alone([1.0, 1.0])
    capacity = np.array([[9.0, PLENTY, PLENTY, PLENTY, PLENTY]])
    worth, part = np.array([[1.0], [0.1]]), np.array([[2.0], [4.0]])
    found = propose(takes, worth, capacity, np.full(2, 9.0), part, ALONE[:2], NO_FAMILIES)
    assert found.ravel().tolist() == [2, 4]


def test_equal_plans_are_told_apart_by_number_and_each_time_alike() -> None:
    takes, worth = ground_alone([1.0, 1.0]), np.ones((2, 2))
    capacity = np.array([[1.0, PLENTY, PLENTY, PLENTY, PLENTY]] * 2)
    plans = {assign(takes, worth, np.ones(2), capacity).tobytes() for _ in range(5)}
    assert len(plans) == 1
    assert assign(takes, worth, np.full(2, 2.0), capacity).sum() == 2


def test_without_beds_nothing_is_planted() -> None:
    assert assign(ground_alone([1.0]), np.zeros((1, 0)), np.ones(1), np.zeros((0, 5))).shape == (1, 0)
