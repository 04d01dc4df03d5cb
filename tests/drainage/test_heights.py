"""Heights in whole tenths of a millimetre."""

from __future__ import annotations

import numpy as np
import pytest

from sitepipe.drainage.heights import UNKNOWN, whole_heights
from sitepipe.errors import InputError


def test_a_height_is_rounded_to_the_nearest_tenth_of_a_millimetre() -> None:
    heights, known = whole_heights(np.array([[12.34567, -0.00005, 8848.86]]))
    assert heights.tolist() == [[123457, 0, 88488600]]
    assert heights.dtype == np.int32
    assert known.all()


def test_unknown_ground_stands_above_every_height() -> None:
    heights, known = whole_heights(np.array([[np.nan, 1.0, np.inf]]))
    assert heights.tolist() == [[UNKNOWN, 10000, UNKNOWN]]
    assert known.tolist() == [[False, True, False]]


def test_heights_beyond_any_ground_are_refused() -> None:
    with pytest.raises(InputError, match=r"the heights reach 3\.4e\+38 m; they must stay within 200 km"):
        whole_heights(np.array([[-3.4e38, 1.0]]))


def test_heights_without_a_known_cell_are_refused() -> None:
    with pytest.raises(InputError, match="no known cell"):
        whole_heights(np.full((2, 2), np.nan))
