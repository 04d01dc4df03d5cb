"""Names that look like markup, script or templates stay text."""

from __future__ import annotations

import pytest

from sitepipe.answers.names import tame
from sitepipe.mapping.page import draw_map
from sitepipe.reading.kinds import clean_text
from tests.browser.conftest import Opener
from tests.mapping.drawn_analysis import make_analysis

pytestmark = pytest.mark.browser

HOSTILE = {
    "markup": "<img src=x onerror=window.hit=1><b>bold</b>",
    "end of script": "</script><script>window.hit=1</script>",
    "comment": "<!--<script>",
    "quotes": "\"'><svg onload=window.hit=1>",
    "backticks": "`${window.hit=1}`",
    "template": "{{ 7*7 }}{% for x in y %}@Data_0001@",
    "turned": "\u202egnp.exe\u2066 abc",
    "long": "Ten thousand " + "letters" * 1500,
    "no room": "W" * 10_000,
    "separators": "a\u2028b\u2029c\x00d\x1b[31m",
}


CENTRE = """(() => {
    const box = house.getBoundingClientRect();
    return { bubbles: true, clientX: box.left + box.width / 3, clientY: box.top + box.height / 3 };
})()"""


def shown_name(name: str) -> str:
    """Return a name as the page must show it: on one line, without signs that hide or turn, not endless."""
    return " ".join(tame(clean_text(name)).split())


CASES = [(name, "phone") for name in HOSTILE] + [("markup", "desk"), ("no room", "desk"), ("turned", "desk")]


@pytest.mark.parametrize(("case", "size"), CASES)
def test_a_hostile_name_is_shown_and_never_run(look: Opener, case: str, size: str) -> None:
    name = HOSTILE[case]
    places = dict.fromkeys(("House", "Gate", "Tap", "Maple", "Septic", "Culvert", "crop", "Hazel"), name)
    seen = look(draw_map(make_analysis(places, site_name=name)), size)
    page = seen.page
    for number in range(4):
        seen.question(number)
        assert page.locator("main img, header img, main b b").count() == 0
    page.locator("#more").click()
    page.keyboard.press("Escape")
    seen.question(2)
    page.locator("[data-entry=mound-3]").evaluate("entry => entry.click()")
    assert "Mound 3" in page.locator("#card-title").inner_text()
    page.keyboard.press("Escape")
    page.locator(".kind-building .touch").first.evaluate(
        f"house => house.dispatchEvent(new MouseEvent('click', {CENTRE}))"
    )
    shown = page.locator("#card-title").inner_text().lower()
    assert shown == shown_name(name).lower()
    assert page.locator("main img, main b b, main svg[onload]").count() == 0
    assert page.evaluate("() => window.hit") is None
    assert page.evaluate("() => document.documentElement.scrollWidth <= window.innerWidth")
    assert page.evaluate(
        "() => document.getElementById('card').scrollWidth <= document.getElementById('card').clientWidth"
    )
    assert "\u202e" not in page.content()
    assert seen.asked == []
    assert seen.complaints == []


def test_markup_in_a_name_reads_as_it_was_written(look: Opener) -> None:
    seen = look(draw_map(make_analysis({"House": "<b>Old</b> house"})), "desk")
    assert seen.page.locator("text.name", has_text="<b>Old</b> house").count() == 1
