"""Made for thumbs, keyboards, large type and screen readers."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from tests.browser.conftest import Opener, Seen

pytestmark = pytest.mark.browser

AXE = Path(__file__).parent / "assets" / "axe.min.js"


def faults_of(seen: Seen) -> list[str]:
    """Let axe-core (vendored, MPL 2.0) look at the page; its tools are put in past the page's own policy."""
    if not seen.page.evaluate("() => !!window.axe"):
        seen.page.evaluate(AXE.read_text(encoding="utf-8"))
    found: list[dict[str, Any]] = seen.page.evaluate("async () => (await axe.run()).violations")
    return [f"{fault['id']}: {fault['help']}: {[node['html'][:120] for node in fault['nodes'][:3]]}" for fault in found]


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_an_accessibility_checker_finds_nothing(look: Opener, drawn_page: str, size: str, scheme: str) -> None:
    seen = look(drawn_page, size, scheme)
    for number in range(4):
        seen.question(number)
        assert faults_of(seen) == []
    seen.page.locator("[data-entry]").first.evaluate("entry => entry.click()")
    assert faults_of(seen) == []
    seen.page.locator("#more").click()
    assert faults_of(seen) == []


@pytest.mark.parametrize("number", range(4))
def test_every_target_on_a_phone_is_at_least_44_pixels(look: Opener, drawn_page: str, number: int) -> None:
    seen = look(drawn_page)
    seen.question(number)
    small = seen.page.evaluate(
        """() => [...document.querySelectorAll('button, .tick')].filter(one => one.offsetParent !== null)
        .map(one => [one.textContent.slice(0, 20), one.getBoundingClientRect()])
        .filter(([, box]) => box.width < 43.5 || box.height < 43.5)
        .map(([text, box]) => text + ' ' + box.width + 'x' + box.height)"""
    )
    assert small == []


def test_the_page_works_from_the_keyboard_alone(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page, "desk")
    page = seen.page

    def focused() -> str:
        return str(page.evaluate("() => document.activeElement.textContent.trim() || document.activeElement.className"))

    stops = []
    for _ in range(12):
        page.keyboard.press("Tab")
        stops.append(focused())
    assert any("What do we build?" in stop for stop in stops)
    assert "Closer" in stops
    page.locator("#questions button").nth(2).focus()
    page.keyboard.press("Enter")
    assert page.locator("#questions [aria-current]").inner_text() == "What do we build?"
    page.locator("[data-entry=mound-2]").focus()
    page.keyboard.press("Enter")
    assert page.locator("#card-title").inner_text().endswith("Mound 2")
    page.keyboard.press("Escape")
    assert page.evaluate("() => document.activeElement.dataset.entry") == "mound-2"
    page.locator(".folium-map").focus()
    before = page.locator(".kind-boundary path").bounding_box()
    page.keyboard.press("ArrowRight")
    page.wait_for_timeout(400)
    after = page.locator(".kind-boundary path").bounding_box()
    assert before
    assert after
    assert after["x"] < before["x"] - 20


def test_large_text_is_respected_and_nothing_runs_off_the_side(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page)
    seen.page.evaluate(
        "() => { document.documentElement.style.fontSize = '32px'; window.dispatchEvent(new Event('resize')); }"
    )
    for number in range(4):
        seen.question(number)
        size = seen.page.evaluate("() => parseFloat(getComputedStyle(document.querySelector('.answer')).fontSize)")
        assert size == pytest.approx(34.0, abs=0.5)
        assert seen.page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")


def _boxes(seen: Seen, selector: str) -> list[tuple[str, float, float, float, float]]:
    found: list[list[Any]] = seen.page.evaluate(
        """(selector) => [...document.querySelectorAll(selector)].map(one => {
        const box = one.getBoundingClientRect();
        return [one.textContent, box.left, box.top, box.right, box.bottom];
    })""",
        selector,
    )
    return [(str(text), float(a), float(b), float(c), float(d)) for text, a, b, c, d in found]


@pytest.mark.parametrize("number", range(4))
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_no_two_names_or_rings_overlap_and_none_is_cut_off(
    look: Opener, drawn_page: str, size: str, number: int
) -> None:
    seen = look(drawn_page, size)
    seen.question(number)
    field = seen.page.locator("#field").bounding_box()
    assert field
    rings = _boxes(seen, ".ring-target .ring")
    names = [box for box in _boxes(seen, ".names text") if "level-name" not in box[0]]
    assert len(rings) >= (1 if number == 3 else 3)
    boxes = rings + names
    for k, (text, left, top, right, bottom) in enumerate(boxes):
        assert left >= field["x"] - 1, text
        assert right <= field["x"] + field["width"] + 1, text
        assert top >= field["y"] - 1, text
        assert bottom <= field["y"] + field["height"] + 1, text
        for other, left2, top2, right2, bottom2 in boxes[k + 1 :]:
            apart = right <= left2 + 1.5 or right2 <= left + 1.5 or bottom <= top2 + 4 or bottom2 <= top + 4
            assert apart, (text, other)


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_patterns_and_pens_keep_their_size_while_zooming(look: Opener, drawn_page: str, size: str) -> None:
    seen = look(drawn_page, size)
    measure = """() => {
        const drawing = document.querySelector('.drawing');
        const shape = document.querySelector('.kind-stands-8 path').getBoundingClientRect();
        const tile = document.getElementById('pattern-ripples').getAttribute('width');
        return [drawing.getScreenCTM().a, tile, shape.width];
    }"""
    scale, tile, width = seen.page.evaluate(measure)
    seen.page.locator("#closer").click()
    scale_after, tile_after, width_after = seen.page.evaluate(measure)
    assert (scale, tile) == (scale_after, tile_after) == (1, "16")
    assert width_after == pytest.approx(2.0 * width, rel=0.02)
