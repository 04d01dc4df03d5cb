"""Looked at from very near, the page stays whole: nothing is laid out far beyond what is shown."""

from __future__ import annotations

import pytest

from tests.browser.conftest import Opener

pytestmark = pytest.mark.browser

COUNT_NOTES = """() => {
    const real = Map.prototype.set;
    window.most = 0;
    Map.prototype.set = function (key, value) {
        const kept = real.call(this, key, value);
        window.most = Math.max(window.most, this.size);
        return kept;
    };
}"""


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_zooming_in_as_far_as_it_goes_stays_bounded(look: Opener, drawn_page: str, size: str) -> None:
    # Found on the sample: a screenful of zoom steps filled a table with sixteen million spots, and the page hung.
    seen = look(drawn_page, size)
    seen.question(2)
    seen.page.evaluate(COUNT_NOTES)
    for _ in range(14):
        seen.page.locator("#closer").click()
        seen.page.wait_for_timeout(60)
    seen.settle()
    assert seen.page.evaluate("window.most") < 250_000
    seen.page.locator("#wider").click()
    seen.settle()
    assert not seen.complaints
