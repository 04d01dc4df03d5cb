"""Classes of light."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sitepipe.errors import SettingsError
from sitepipe.settings import make_settings
from sitepipe.sunlight.classes import LIGHT_NAMES, light_class


def test_six_hours_are_full_sun_and_four_part_sun() -> None:
    # Source: extension services as gathered in the trade's notes: full sun from 6 h, part sun 4 to 6 h.
    breaks = make_settings({}, "site.toml").sun.light_breaks
    names = [LIGHT_NAMES[k] for k in light_class(np.array([9.0, 6.0, 5.9, 4.0, 1.0]), breaks)]
    assert names == ["sun all day", "full sun", "part sun", "part sun", "shade"]


@given(st.lists(st.floats(0.0, 24.0), min_size=2, max_size=20))
def test_more_sun_is_never_a_darker_class(hours: list[float]) -> None:
    classes = light_class(np.sort(np.array(hours)), (8.0, 6.0, 4.0))
    assert (np.diff(classes) <= 0).all()


def test_breaks_must_fall() -> None:
    with pytest.raises(SettingsError, match="must be hours that fall"):
        make_settings({"sun": {"light_breaks": [4.0, 6.0, 8.0]}}, "site.toml")
