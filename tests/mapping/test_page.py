"""The file itself: same bytes, small, closed, and nothing in it that a name could open."""

from __future__ import annotations

import base64
import hashlib
import json
import re
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pytest

from sitepipe.answers.trial import NO_ROOM
from sitepipe.errors import InternalError, WritingError
from sitepipe.mapping import page as page_module
from sitepipe.mapping.inline import as_html
from sitepipe.mapping.page import draw_map
from sitepipe.mapping.sheet import MOST_BYTES, as_json, sheet_of
from sitepipe.mapping.values import HEIGHT_STEP, UNKNOWN_HEIGHT
from sitepipe.settings.output import PageSettings
from sitepipe.units import Units
from tests.mapping.drawn_analysis import SOUTH, WEST, make_analysis


@pytest.fixture(scope="module")
def page() -> str:
    return draw_map(make_analysis())


@pytest.fixture(scope="module")
def sheet() -> dict[str, Any]:
    return sheet_of(make_analysis())


def test_the_same_analysis_gives_the_same_bytes(page: str) -> None:
    assert draw_map(make_analysis()) == page


def test_the_page_is_well_under_its_limit(page: str) -> None:
    assert len(page.encode()) < 0.5 * MOST_BYTES


def test_a_page_that_would_be_too_large_is_refused_with_its_size(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_module, "MOST_BYTES", 100_000)
    with pytest.raises(WritingError, match=r"map\.html would be 0\.\d MB and the limit is"):
        draw_map(make_analysis())


def test_every_script_and_style_is_known_by_its_hash_and_no_other_may_run(page: str) -> None:
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy
    assert "unsafe" not in policy[1]
    assert "default-src 'none'" in policy[1]
    assert "connect-src 'none'" in policy[1]
    for tag in ("script", "style"):
        bodies = re.findall(rf"<{tag}>(.*?)</{tag}>", page, re.DOTALL)
        assert bodies
        for body in bodies:
            digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
            assert f"'sha256-{digest}'" in policy[1]
    assert not re.search(r"<[a-z][^<>]* (?:style|on[a-z]+)=", re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL))


def test_nothing_in_the_page_points_outside_it(page: str) -> None:
    active = re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL)
    assert not re.search(r"(?:src|href|action)=\"(?!#|data:)", active)
    assert "url(" not in "".join(re.findall(r"<style>(.*?)</style>", page, re.DOTALL))


def test_an_address_in_a_style_or_script_is_our_bug(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(page_module, "style_sheet", lambda: "a{background:url(https://tiles.example.org/1.png)}")
    with pytest.raises(InternalError, match="asks nothing of the network"):
        draw_map(make_analysis())


def test_no_coordinates_leave_unless_the_grower_asks(page: str) -> None:
    for coordinate in (str(int(WEST)), str(int(SOUTH)), "42.4713", "73.2891"):
        assert coordinate not in page


def test_the_latitude_of_the_suns_arcs_is_a_whole_degree(sheet: dict[str, Any]) -> None:
    """At the equinox the noon sun stands at 90 degrees less the latitude: 48 for 42, not 47.5 for 42.47."""
    equinox = next(arc for arc in sheet["horizons"]["arcs"] if arc["name"] == "equinox")
    assert max(equinox["elevation"]) == pytest.approx(90.0 - 42.0, abs=0.25)


def test_names_that_look_like_templates_or_places_stay_as_they_are() -> None:
    name = "{{ 7*7 }} @data_0001@ @title@"
    page = draw_map(make_analysis({"House": name}, site_name=name))
    assert f"<title>{name}" in page
    assert "49 @" not in page
    assert page.count("@title@") >= 2


def test_no_text_can_end_the_block_of_data() -> None:
    text = as_json({"a": "</script><!--<script>", "b": "\u2028&"})
    assert "<" not in text
    assert ">" not in text
    assert "&" not in text
    assert json.loads(text) == {"a": "</script><!--<script>", "b": "\u2028&"}


def test_signs_that_turn_or_hide_text_are_taken_out() -> None:
    sheet = sheet_of(make_analysis({"Tap": "a\u202eb\x00c\x1b[31m\u2066d"}))
    assert any(card["name"] == "Abc[31md" for card in sheet["things"].values())


def test_a_name_of_ten_thousand_letters_is_cut() -> None:
    sheet = sheet_of(make_analysis({"House": "x" * 10_000}))
    assert max(len(card["name"]) for card in sheet["things"].values()) < 200


def test_a_page_without_room_is_drawn_more_coarsely_and_says_so(sheet: dict[str, Any]) -> None:
    fine = len(as_json(sheet).encode())
    assert not any("This ground is large" in note for note in sheet["notes"])
    coarse = sheet_of(make_analysis(), most=fine - 10_000)
    assert len(as_json(coarse).encode()) <= fine - 10_000
    assert "draws edges to the nearest" in coarse["notes"][0]
    assert [view["places"] for view in coarse["views"]] == [view["places"] for view in sheet["views"]]
    assert {
        mark["thing"] for view in coarse["views"] for mark in view["marks"] if mark["mark"] == "mound-proposed"
    } == {f"mound-{mound.number}" for mound in make_analysis().plan.mounds}


def test_the_page_carries_the_day_that_it_is_given_and_no_other(sheet: dict[str, Any]) -> None:
    assert sheet["made"] == ""
    assert sheet_of(replace(make_analysis(), made_on=date(2027, 4, 10)))["made"] == "10 April 2027"


def test_the_page_says_what_it_is_made_of(sheet: dict[str, Any]) -> None:
    """A snapshot of the data's structure: what the scripts of the page read."""
    assert sorted(sheet) == [
        "area", "banks", "cautions", "frame", "ground", "heights", "horizons", "levels", "made", "marks", "name",
        "north", "notes", "share", "shores", "standing", "start", "things", "tiles", "trying",
        "units", "values", "views",
    ]  # fmt: skip
    assert [view["word"] for view in sheet["views"]] == ["Water", "Sun", "Build", "Today"]
    for view in sheet["views"]:
        assert 1 <= len(view["legend"]) <= 8
        assert len(view["answer"].replace("\u00a0", " ")) <= 105
        assert [place["ring"] for place in view["places"]] == [str(k + 1) for k in range(len(view["places"]))]
        assert all(place["thing"] in sheet["things"] for place in view["places"])
        touched = {mark["thing"] for mark in view["marks"] if mark.get("thing")}
        assert touched <= set(sheet["things"])


def test_every_card_says_how_sure_it_is(sheet: dict[str, Any]) -> None:
    for name, card in sheet["things"].items():
        strokes = [stroke for part in card["parts"] for stroke in part.get("strokes", ())]
        assert strokes, name
        assert {kind for kind, _ in strokes} <= {"solid", "dashes", "dots"}


def test_a_card_that_digs_says_whom_to_call(sheet: dict[str, Any]) -> None:
    for name, card in sheet["things"].items():
        if name.startswith(("mound-", "trellis-", "hoop-house")):
            assert "Only once the buried lines are marked" in card["caution"]
    assert "811" in sheet["views"][2]["caution"]
    assert any("811" in text for _, text in sheet["cautions"])


def test_lengths_are_said_in_the_growers_units() -> None:
    metric = sheet_of(make_analysis(units=Units.METRIC))
    text = json.dumps([metric["views"], metric["things"]], ensure_ascii=False)
    assert "44\u00a0m east of the gate" in text
    assert "\u00a0sq\u00a0ft" not in text


def test_the_packed_heights_are_the_sites_heights(sheet: dict[str, Any]) -> None:
    import zlib

    analysis = make_analysis()
    grid = sheet["heights"]
    raw = zlib.decompress(base64.b64decode(grid["packed"]), wbits=-15)
    differences = np.frombuffer(raw, "<u2").reshape(grid["rows"], grid["columns"]).astype(np.int64)
    steps = np.cumsum(differences, axis=1) % 65536
    known = steps != UNKNOWN_HEIGHT
    assert known.mean() > 0.9
    heights = steps * HEIGHT_STEP
    frame_west, frame_south, _, _ = analysis.site.parcel.bounds
    for row, column in ((40, 40), (100, 90), (20, 120)):
        x = frame_west + grid["west"] + (column + 0.5) * grid["cell"]
        y = frame_south + grid["north"] - (row + 0.5) * grid["cell"]
        at = analysis.site.grid.cell_at(x, y)
        rise = heights[row, column] - heights[60, 60]
        other = analysis.site.grid.cell_at(
            frame_west + grid["west"] + 60.5 * grid["cell"], frame_south + grid["north"] - 60.5 * grid["cell"]
        )
        assert rise == pytest.approx(analysis.site.elevation[at] - analysis.site.elevation[other], abs=0.02)


def test_a_site_without_works_or_water_still_makes_a_page() -> None:
    analysis = make_analysis()
    drainage = replace(analysis.drainage, ponds=(), flow_lines=(), crossings=(), storms=(), questions=())
    bare = replace(
        analysis,
        drainage=drainage,
        wetness=replace(analysis.wetness, soggy_places=()),
        plan=type(analysis.plan)(),
        planting=type(analysis.planting)(),
        zones=replace(analysis.zones, zones=()),
        site=replace(analysis.site, features=()),
    )
    sheet = sheet_of(bare)
    assert sheet["views"][2]["answer"].startswith("Nothing yet")
    assert sheet["views"][0]["answer"].startswith("Nowhere for long")
    assert len(draw_map(bare)) > 100_000


def test_a_notebook_gets_the_page_in_a_closed_frame() -> None:
    frame = as_html(make_analysis({}, site_name='A "quoted" <b>name</b>'))
    assert frame.startswith(
        '<iframe title="Map of A &quot;quoted&quot; &lt;b&gt;name&lt;/b&gt;" sandbox="allow-scripts"'
    )
    assert frame.count("<") == 2


def test_what_analyse_returns_shows_itself_in_a_notebook() -> None:
    import sitepipe

    shown = sitepipe.Analysis._repr_html_(make_analysis())  # type: ignore[attr-defined]
    assert shown == as_html(make_analysis())


def test_a_page_without_changes_to_try_holds_no_exact_heights() -> None:
    analysis = make_analysis()
    settings = analysis.settings.model_copy(update={"page": PageSettings(try_changes=False)})
    assert sheet_of(replace(analysis, settings=settings))["trying"] is None


def test_a_page_with_no_room_for_heights_goes_without_and_says_so() -> None:
    least = sheet_of(make_analysis(), 1)
    assert least["trying"] is None
    assert least["notes"][0] == NO_ROOM
