"""Kernels written as JavaScript: what is said alike, and what is refused by name."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from playwright.sync_api import Browser

from sitepipe._jit import kernel
from sitepipe.arrays import FloatArray, IntArray
from sitepipe.errors import InternalError
from sitepipe.mapping.script import written

BESIDE = 2.5


@kernel
def _by_library(x: float) -> float:
    return float(np.hypot(x, 1.0))


@kernel
def _shifted(x: int) -> int:
    return x << 40


@kernel
def _every_other(row: FloatArray) -> FloatArray:
    return row[::2]


@kernel
def _swapped(a: float, b: float) -> float:
    a, b = b, a
    return a - b


@kernel
def _of_a_type_of_its_own(size: int) -> FloatArray:
    return np.zeros(size, dtype=np.float32)


@pytest.mark.parametrize(
    ("function", "said"),
    [
        (_by_library, r"_by_library, line \d+: 'np.hypot\(x, 1.0\)'"),
        (_shifted, r"_shifted, line \d+: 'x << 40'"),
        (_every_other, r"_every_other, line \d+: '::2'"),
        (_swapped, r"_swapped, line \d+: '\(a, b\)'"),
        (_of_a_type_of_its_own, r"_of_a_type_of_its_own, line \d+: 'np.zeros\(size, dtype=np.float32\)'"),
    ],
)
def test_what_no_other_language_rounds_or_orders_alike_is_refused_by_name(
    function: Callable[..., Any], said: str
) -> None:
    with pytest.raises(InternalError, match=said):
        written([function])


@kernel
def _walks(numbers: IntArray, table: FloatArray) -> tuple[float, int, int, float]:
    """Walk in every way that a kernel may."""
    rows, columns = table.shape
    total = 0.0
    last = -1
    for k in range(numbers.size - 1, -1, -1):
        total += numbers[k] * BESIDE
        last = k
    for row in range(rows):
        for column in range(columns):
            total -= table[row, column] if 0.0 < table[row, column] <= 4.0 else -1.0
    count = 0
    while True:
        count += 1
        if count % 7 == 3 and not (count < 10):
            break
    for one in (1, -2):
        count += one * (numbers[0] // 2)
    part = numbers[1:3].copy()
    part[0] = 99
    return total, last, count, float(numbers[1] - part[0]) / 7.0


@pytest.mark.browser
def test_every_way_to_walk_gives_the_same_in_both(chromium: Browser) -> None:
    numbers, table = np.array([-7, 5, 12, 4], dtype=np.int32), np.array([[0.1, 3.0, 5.0], [-1.0, 4.0, 0.3]])
    page = chromium.new_page()
    page.add_script_tag(content=written([_walks]))
    told = page.evaluate(
        "([numbers, table]) => _walks(Int32Array.from(numbers), shaped(Float64Array.from(table), [2, 3]))",
        json.loads(json.dumps([numbers.tolist(), table.ravel().tolist()])),
    )
    assert told == list(_walks(numbers, table))
    page.close()
