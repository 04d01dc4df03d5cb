"""The page opens from disk, asks nothing of the network and complains of nothing."""

from __future__ import annotations

import pytest

from sitepipe.mapping.inline import as_html
from tests.browser.conftest import Opener
from tests.mapping.drawn_analysis import make_analysis

pytestmark = pytest.mark.browser


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_every_question_is_drawn_without_a_request_or_a_complaint(
    look: Opener, drawn_page: str, size: str, scheme: str
) -> None:
    seen = look(drawn_page, size, scheme)
    for number, words in enumerate(("water", "sun", "build", "today")):
        seen.question(number)
        assert words in seen.page.locator("#card-title").inner_text().lower()
        assert seen.page.locator(".drawing path").count() > 50
        assert 1 <= seen.page.locator(".legend li").count() <= 8  # Whose a work is and what stands beside it, on Build.
    assert seen.asked == []
    assert seen.complaints == []


def test_a_script_that_the_page_did_not_bring_does_not_run(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page)
    seen.page.evaluate(
        """() => {
        const script = document.createElement('script');
        script.textContent = 'window.foreign = 1';
        document.body.appendChild(script);
        document.body.insertAdjacentHTML('beforeend', '<p id="lure" onclick="window.foreign = 2">x</p>');
        document.getElementById('lure').click();
    }"""
    )
    assert seen.page.evaluate("() => window.foreign") is None
    assert any("Content Security Policy" in complaint for complaint in seen.complaints)


def test_a_notebook_shows_the_page_in_a_closed_frame(look: Opener) -> None:
    frame = as_html(make_analysis())
    seen = look(f"<!DOCTYPE html><html lang='en'><body class='is-ready'>{frame}</body></html>", "desk")
    inside = seen.page.frame_locator("iframe")
    inside.locator("body.is-ready").wait_for()
    inside.locator("#questions button").nth(3).click()
    inside.locator(".tick input").first.click()
    assert inside.locator(".tick input:checked").count() == 1
    assert inside.locator("#card-title").inner_text() == "What do I do today?"
    assert seen.complaints == []
