"""A saved change: read to the millimetre, refused in one line."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from sitepipe.errors import InputError
from sitepipe.reading.changes import read_change

LINE = {"type": "LineString", "coordinates": [[1.001, 2.0], [8.25, 2.5]]}
MOUND = {"kind": "mound", "status": "wanted", "height": 0.6001, "width": 0.61, "side_slope": 1.5}


def saved(tmp_path: Path, *features: Any, **more: Any) -> Path:
    path = tmp_path / "change.geojson"
    path.write_text(json.dumps({"type": "FeatureCollection", "plane": "parcel", "features": features} | more))
    return path


def test_a_work_is_read_in_whole_steps(tmp_path: Path) -> None:
    out = {"geometry": None, "properties": {"kind": "mound", "status": "left out", "replaces": "mound 7"}}
    swale = {"geometry": LINE, "properties": {"kind": "swale", "depth": 0.3, "width": 0.6}}
    answer = dict.fromkeys(("next_door", "house", "road", "standing_before", "standing_after"), 1.5)
    path = saved(
        tmp_path, {"geometry": LINE, "properties": MOUND}, swale, out, ground=77, answer=answer | {"outlets": [40.0]}
    )
    change = read_change(path)
    mound, dug = change.works
    assert (mound.start, mound.end, mound.rise, mound.half, mound.slope) == ((1001, 2000), (8250, 2500), 6001, 305, 1.5)
    assert (dug.rise, dug.slope) == (3000, 0.0)
    assert change.left_out == ("mound 7",)
    assert (change.ground, change.outlets, change.page["road"]) == (77, (40.0,), 1.5)


@pytest.mark.parametrize(
    ("feature", "said"),
    [
        ({"geometry": LINE, "properties": MOUND | {"kind": "castle"}}, "work 1 is of no kind that the page tries"),
        ({"geometry": LINE, "properties": MOUND | {"height": 50}}, "work 1: height is '50'; it must be a number from"),
        ({"geometry": LINE, "properties": MOUND | {"height": float("nan")}}, "work 1: height is 'nan'"),
        ({"geometry": LINE, "properties": MOUND | {"width": True}}, "work 1: width is 'True'"),
        (
            {"geometry": {"type": "Point", "coordinates": [1, 2]}, "properties": MOUND},
            "work 1 is no line with two ends",
        ),
        ({"geometry": {"coordinates": [[1, 2], [3e9, 4]]}, "properties": MOUND}, "work 1: x is '3000000000.0'"),
        ("mound", "work 1 is of no kind"),
    ],
)
def test_what_cannot_be_is_refused_with_the_work(tmp_path: Path, feature: Any, said: str) -> None:
    with pytest.raises(InputError, match=said):
        read_change(saved(tmp_path, feature))


@pytest.mark.parametrize(
    "text", ["", "{", "[]", '{"features": []}', '{"plane": "parcel", "features": 3}', "[" * 90_000]
)
def test_another_file_is_no_change(tmp_path: Path, text: str) -> None:
    path = tmp_path / "other.geojson"
    path.write_text(text)
    with pytest.raises(InputError, match=r"other.geojson is no .* the page"):
        read_change(path)
