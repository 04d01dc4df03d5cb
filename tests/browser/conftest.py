"""A real browser, and a page that remembers everything it asked for and complained about."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import Browser, ConsoleMessage, Dialog, Page, Request

from sitepipe.mapping.page import draw_map
from tests.mapping.drawn_analysis import make_analysis

SIZES = {"phone": (360, 640), "desk": (1200, 800)}


@dataclass
class Seen:
    """A page, with what it asked of the network and what it complained about."""

    page: Page
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def question(self, number: int) -> None:
        """Open one of the four questions."""
        self.page.locator("#questions button").nth(number).click()

    def settle(self) -> None:
        """Wait until the page has drawn itself."""
        self.page.wait_for_selector("body.is-ready")
        self.page.evaluate("() => new Promise(r => requestAnimationFrame(() => requestAnimationFrame(r)))")


Opener = Callable[..., Seen]


@pytest.fixture(scope="session")
def drawn_page() -> str:
    """Draw the page of the analysis drawn by hand."""
    return draw_map(make_analysis())


@pytest.fixture
def look(chromium: Browser, tmp_path: Path) -> Iterator[Opener]:
    """Open a page from disk, at a size and by day or night."""
    contexts = []

    def opened(html: str, size: str = "phone", scheme: str = "light", **options: object) -> Seen:
        path = tmp_path / "map.html"
        path.write_text(html, encoding="utf-8")
        width, height = SIZES[size]
        context = chromium.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if scheme == "dark" else "light",
            has_touch=size == "phone",
            **options,  # type: ignore[arg-type]
        )
        contexts.append(context)
        page = context.new_page()
        seen = Seen(page)

        def note_request(request: Request) -> None:
            is_page = request.url.startswith("file:") and request.url.endswith("map.html")
            if not is_page and not request.url.startswith(("data:", "blob:")):
                seen.asked.append(request.url)

        def note_message(message: ConsoleMessage) -> None:
            if message.type in ("error", "warning"):
                seen.complaints.append(message.text)

        def note_dialog(dialog: Dialog) -> None:
            seen.complaints.append(dialog.message)
            dialog.dismiss()

        page.on("request", note_request)
        page.on("console", note_message)
        page.on("pageerror", lambda error: seen.complaints.append(str(error)))
        page.on("dialog", note_dialog)
        page.goto(path.as_uri())
        seen.settle()
        return seen

    yield opened
    for context in contexts:
        context.close()
