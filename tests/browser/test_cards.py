"""A tap says what, why and how sure; the list says the same for those who do not use the map."""

from __future__ import annotations

from datetime import date

import pytest

from sitepipe.answers.names import capital, joined
from sitepipe.answers.today import WAITS, before_the_first_spade, tools_of
from sitepipe.saying import say_work
from sitepipe.works.jobs.ready import jobs_of_day
from tests.browser.conftest import Opener, Seen
from tests.mapping.drawn_analysis import make_analysis

pytestmark = pytest.mark.browser


def _screen_place(seen: Seen, x: float, y: float) -> tuple[float, float]:
    """Where a place in metres from the parcel's corner lies on the screen, read off the drawn boundary."""
    box = seen.page.evaluate(
        """() => {
        const corner = document.querySelector('.kind-boundary path').getBoundingClientRect();
        return [corner.left, corner.top, corner.width, corner.height];
    }"""
    )
    left, top, width, height = box
    return left + x / 70.0 * width, top + (69.0 - y) / 69.0 * height


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_tapped_zone_says_what_why_and_how_sure(look: Opener, drawn_page: str, size: str) -> None:
    seen = look(drawn_page, size)
    seen.question(2)
    seen.page.mouse.click(*_screen_place(seen, 42.0, 52.0))
    assert seen.page.locator("#card-title").inner_text() == "Ground for paths"
    said = seen.page.locator("#card-body").inner_text()
    assert "Why." in said
    assert "How sure." in said
    assert "Covers" in said


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_mound_says_numbers_then_caution_then_reasons(look: Opener, drawn_page: str, size: str) -> None:
    seen = look(drawn_page, size)
    seen.question(2)
    if size == "phone":
        seen.page.locator("#card-aside").click()
    seen.page.locator("[data-entry=mound-3]").click()
    said = seen.page.locator("#card-body").inner_text()
    order = [
        said.index(word)
        for word in ("Build it", "Caution.", "Why so high.", "How sure.", "Materials", "Plants.", "Stakes.")
    ]
    assert order == sorted(order)
    assert "Only once the buried lines are marked" in said
    assert "2 ft 3 in" in said.replace("\u00a0", " ")
    assert seen.page.locator("#card-body svg.section").count() == 1
    assert seen.page.evaluate("() => document.activeElement.id") == "card-title"


def test_a_ring_opens_the_same_card_as_its_entry_in_the_list(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page, "desk")
    for ring in seen.page.locator(".ring-target").all():
        number = ring.inner_text()
        entry = seen.page.locator(f"[data-entry]:has(.ring:text-is('{number}'))")
        entry.click()
        from_list = seen.page.locator("#card-body").inner_text()
        seen.page.keyboard.press("Escape")
        seen.page.locator(f".ring-target[data-rings='{number}']").click()
        assert seen.page.locator("#card-body").inner_text() == from_list
        seen.page.keyboard.press("Escape")


def test_a_bracketed_ring_zooms_until_its_places_part(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page)
    seen.question(2)
    seen.page.locator(".ring-target[data-rings='1–5']").click()
    apart = {ring.inner_text() for ring in seen.page.locator(".ring-target").all()}
    assert {"2", "3", "4"} <= apart


def test_a_spot_gives_every_layer_and_the_sun_by_month(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page, "desk")
    seen.page.mouse.click(*_screen_place(seen, 25.0, 58.0))
    seen.page.wait_for_selector("#card-title:has-text('This spot')")
    said = seen.page.locator("#card-body").inner_text()
    for answer in ("Water. ", "Below. In the wet season", "a day in the growing season", "Use. "):
        assert answer in said
    assert "Slope" not in said, "values are one step behind"
    seen.page.locator("summary").click()
    said = seen.page.locator("#card-body").inner_text()
    for layer in ("Slope", "Chance of standing water", "Hours of direct sun", "Depth to water in the wet season"):
        assert layer in said
    pictures = seen.page.locator("#card-body svg.section")
    assert "June solstice: the sun is clear" in (pictures.nth(0).get_attribute("aria-label") or "")
    assert "January to December" in (pictures.nth(1).get_attribute("aria-label") or "")


@pytest.mark.parametrize(
    ("on", "people", "hours", "done"),
    [
        (date(2027, 4, 10), 4, 5.0, ()),
        (date(2027, 4, 10), 1, 6.0, (1,)),
        (date(2027, 7, 3), 2, 2.0, (1,)),
        (date(2027, 7, 3), 9, 9.0, (1, 2)),
        (date(2027, 4, 3), 3, 6.5, (1, 2, 3)),
    ],
)
def test_the_page_chooses_the_jobs_of_a_day_as_the_command_does(
    look: Opener, drawn_page: str, on: date, people: int, hours: float, done: tuple[int, ...]
) -> None:
    drawn = make_analysis()
    day = jobs_of_day(drawn.plan.jobs, on, (people, hours), done, drawn.settings.water_table.wet_at(42.0))
    seen = look(drawn_page, "desk")
    seen.question(3)
    for number in done:
        seen.page.locator(f"[data-tick=job-{number}]").check()
    seen.page.locator(".crew input[type=date]").fill(on.isoformat())
    seen.page.get_by_label("people").fill(str(people))
    hour_box = seen.page.get_by_label("hours")
    hour_box.fill(f"{hours:g}")
    hour_box.dispatch_event("change")
    seen.page.get_by_label("people").dispatch_event("change")
    said = {
        int(entry.get_attribute("data-entry").removeprefix("job-")): entry.inner_text()  # type: ignore[union-attr]
        for entry in seen.page.locator("[data-entry]").all()
    }
    waiting = {job.number: f"Waits {WAITS[why]}." for job, why in day.waiting}
    assert {number: text.split("Waits ")[-1] for number, text in said.items() if "Waits " in text} == {
        number: text.removeprefix("Waits ") for number, text in waiting.items()
    }
    begun = {share.job.number: say_work(share.people_hours) for share in day.shares if not share.is_finished}
    assert {number: text for number, text in said.items() if " of it today." in text}.keys() == begun.keys()
    assert all(f"{begun[number]} of it today." in said[number] for number in begun)
    work = sum(share.people_hours for share in day.shares)
    answer = seen.page.locator(".answer").inner_text()
    named = [str(share.job.number) for share in day.shares]
    if not named:
        assert answer.startswith("Nothing is ready on this day.")
    else:
        assert answer.startswith(f"Job{'s' if len(named) > 1 else ''} {joined(named)}, {say_work(work)} of work.")
    tools = tools_of(day, drawn)
    assert not tools or f"Bring. {capital(joined(tools))}." in seen.page.locator("#card-body").inner_text()
    assert before_the_first_spade(day) in seen.page.locator("#card-body").inner_text()
    assert seen.complaints == []


def test_ticks_stay_on_the_device_and_make_room_for_the_next_job(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page)
    seen.question(3)
    seen.page.locator("#card-aside").click()
    seen.page.locator("[data-tick=job-1]").check()
    seen.page.reload()
    seen.settle()
    seen.question(3)
    assert seen.page.locator("[data-tick=job-1]").is_checked()
    assert not seen.page.locator("[data-tick=job-2]").is_checked()
    assert seen.page.locator(".ring-target[data-rings='1']").count() == 0


def test_the_tape_and_the_slope_read_true(look: Opener, drawn_page: str) -> None:
    """The boundary's west side is 69 m long by construction: 226 ft 4 in, and the ground rises by 2.2 in 100."""
    seen = look(drawn_page, "desk")
    seen.page.locator("#more").click()
    seen.page.locator("text=Tape measure").click()
    for place in ((30.0, 10.0), (30.0, 60.0)):
        seen.page.mouse.click(*_screen_place(seen, *place))
    words = seen.page.locator(".measure-words").inner_text().replace("\u00a0", " ")
    feet = float(words.split("Tape. ")[1].split(" ft")[0])
    assert feet == pytest.approx(50.0 / 0.3048, abs=2.0)
    assert "up " in words
    ring = seen.page.locator(".ring-target").first.bounding_box()
    assert ring
    seen.page.mouse.click(ring["x"] + 20, ring["y"] + 20)
    assert "in all" in seen.page.locator(".measure-words").inner_text()
    seen.page.locator(".measure-end").click()
    seen.page.locator("#more").click()
    seen.page.locator("text=Slope between two taps").click()
    for place in ((5.0, 55.0), (5.0, 65.0)):
        seen.page.mouse.click(*_screen_place(seen, *place))
    words = seen.page.locator(".measure-words").inner_text().replace("\u00a0", " ")
    assert "rises" in words
    assert 1.0 < float(words.split(", ")[-1].split(" in 100")[0]) < 4.0


def test_a_browser_that_cannot_unpack_says_so_and_goes_on(look: Opener, drawn_page: str) -> None:
    seen = look(drawn_page, "desk")
    seen.page.evaluate("() => { delete window.DecompressionStream; }")
    seen.page.mouse.click(*_screen_place(seen, 25.0, 58.0))
    seen.page.wait_for_selector("#card-title:has-text('This spot')")
    assert "too old" in seen.page.locator("#card-body").inner_text()
    assert seen.complaints == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_ground_as_it_was_read_is_shown_small_with_its_facts(look: Opener, drawn_page: str, scheme: str) -> None:
    seen = look(drawn_page, "phone", scheme)
    seen.page.locator("#more").click()
    seen.settle()
    picture = seen.page.locator("#card-body canvas")
    tones = picture.evaluate(
        "(one) => new Set(one.getContext('2d').getImageData(0, 0, one.width, one.height)"
        ".data.filter((value, k) => k % 4 === 0)).size"
    )
    assert tones > 8
    told = " ".join(seen.page.locator(".ground-said").all_inner_texts())
    for wanted in ("good to", "Read:", "heights are in"):
        assert wanted in told
    assert not seen.complaints
