"""The page over all parcels in a real browser: it sorts by its questions, is quiet, and serves every reader."""

from __future__ import annotations

import pytest

from sitepipe.answers.region import ParcelAnswer, State
from sitepipe.region.folder import open_region
from sitepipe.region.page import draw_page
from sitepipe.region.parcel import parcels_of
from tests.browser.conftest import Opener, Seen
from tests.browser.test_hands import faults_of
from tests.reading.folders import WEST, polygon
from tests.region.districts import lots, make_region

HOSTILE = "<img src=x onerror=alert(1)>"


@pytest.fixture(scope="module")
def index(tmp_path_factory: pytest.TempPathFactory) -> str:
    """Draw a page of five parcels, one of them unread, one with a name that would be markup."""
    keys = ["First", "Second", HOSTILE, "Fourth", "Off"]
    shapes = [polygon(lot[1]["coordinates"][0], lot=key) for lot, key in zip(lots(5), keys, strict=True)]
    region = open_region(make_region(tmp_path_factory.mktemp("index"), shapes))
    answers = [
        ParcelAnswer(
            key, State.DONE, "", 1024.0, 0.1 * k, 0.0, 0.0, 9.0 - k, 50.0 * k, page=f"parcels/p{k}/out/map.html"
        )
        for k, key in enumerate(keys[:4])
    ]
    unread = ParcelAnswer("Off", State.FAILED, "it has no heights")
    return draw_page(region, parcels_of(region), [*answers, unread])


def names(seen: Seen) -> list[str]:
    """Return the entries of the list in their order."""
    return [text.split("\n")[1] for text in seen.page.locator("#list > li").all_inner_texts()]


@pytest.mark.browser
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_the_list_sorts_by_what_is_asked_and_asks_nothing_of_the_network(look: Opener, index: str, size: str) -> None:
    seen = look(index, size)
    assert names(seen) == ["First", "Second", HOSTILE, "Fourth"]
    seen.page.get_by_label("Where is room for mounds?").check(force=True)
    assert names(seen) == ["Fourth", HOSTILE, "Second", "First"]
    assert "Best at Fourth" in seen.page.locator("#answer").inner_text()
    assert "Off: it has no heights" in seen.page.locator("#unread").inner_text()
    link = seen.page.locator("#list a").first
    assert link.get_attribute("href") == "parcels/p3/out/map.html"
    assert not seen.asked
    assert not seen.complaints


@pytest.mark.browser
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_over_all_parcels_serves_readers_of_every_kind(look: Opener, index: str, scheme: str) -> None:
    assert faults_of(look(index, "desk", scheme)) == []


@pytest.mark.browser
def test_a_tap_on_the_map_chooses_its_parcel(look: Opener, index: str) -> None:
    seen = look(index, "desk")
    box = seen.page.locator("#map").bounding_box()
    assert box is not None
    seen.page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    seen.page.mouse.click(box["x"] + 60, box["y"] + box["height"] / 2)
    assert seen.page.locator("#list .is-chosen").count() == 1


def test_the_page_holds_no_coordinates(index: str) -> None:
    assert f"{WEST:.0f}"[:4] not in index.partition('id="region-data">')[2]
