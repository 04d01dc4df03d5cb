"""Single plants in a real browser: from near only, over the mounds, and light enough to pan."""

from __future__ import annotations

import pytest

from sitepipe.mapping.page import draw_map
from tests.browser.conftest import Opener
from tests.mapping.test_plants import planted_analysis

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_plants_appear_from_near_and_lie_over_their_mound(look: Opener, size: str) -> None:
    seen = look(draw_map(planted_analysis()), size)
    seen.question(2)
    assert seen.page.locator("[class^='kind-plant'] path").count() == 0
    seen.page.locator("[data-entry='mound-1']").click()
    for _ in range(2):
        seen.page.locator("#closer").click()
    seen.settle()
    assert seen.page.locator("[class^='kind-plant'] path").count() > 0
    order = seen.page.evaluate(
        "() => [...document.querySelectorAll('.drawing > g > g')].map((one) => one.getAttribute('class'))"
    )
    assert order.index("kind-plant-tuft") > order.index("kind-mound-proposed")
    assert not seen.complaints


def test_thousands_of_plants_are_a_handful_of_shapes_and_only_those_near_the_screen(look: Opener) -> None:
    seen = look(draw_map(planted_analysis(3000)), "phone")
    seen.question(2)
    seen.page.locator("[data-entry='mound-1']").click()
    seen.settle()
    assert 0 < seen.page.locator("[class^='kind-plant'] path").count() <= 4
    for _ in range(8):
        seen.page.locator("#closer").click()
    seen.settle()
    drawn = seen.page.evaluate(
        "() => [...document.querySelectorAll('[class^=kind-plant] path')].reduce("
        "(sum, one) => sum + (one.getAttribute('d') || '').length, 0)"
    )
    assert drawn < 250_000  # Some 100 square metres at the closest look; all 3,000 would be several times that.
    assert not seen.complaints
