"""Damaged files of every format end in a site or one line: no crash, no hang, no gigabyte.

``python -m tests.fuzz 6000`` tries many more of the same cases.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.fuzz.chase import Worker, chase
from tests.fuzz.damage import damaged
from tests.fuzz.seeds import seed_names

CASES = 44
"""For each of the fourteen seeds: more than six hundred in all."""


@pytest.fixture(scope="module")
def worker() -> Iterator[Worker]:
    with Worker() as warm:
        yield warm


@pytest.mark.parametrize("name", seed_names())
def test_damaged_files_end_in_a_site_or_one_line(name: str, tmp_path: Path, worker: Worker) -> None:
    found = chase(name, tmp_path / "site", CASES, worker)
    assert found.faults == ()
    assert found.tried == CASES
    assert 0 < found.peak < 2**30


def test_the_same_number_makes_the_same_damage_and_nearly_always_some() -> None:
    whole = bytes(range(256)) * 8
    cases = [damaged(whole, "a.tif", number) for number in range(200)]
    assert cases == [damaged(whole, "a.tif", number) for number in range(200)]
    assert len({*cases, whole}) == 201
