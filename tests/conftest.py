"""What every test shares: real ground beside the project, and a CI that knows no skips."""

from __future__ import annotations

import os
import shutil
import signal
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

# The first example of a run may compile a kernel, and a CI must fail on what changed, not on luck.
settings.register_profile("house", deadline=None, derandomize=True, database=None)
settings.load_profile("house")

# The day of a run stands on page and sheets: the tests' runs are all of one day, whatever the clock and its zone say.
os.environ["SOURCE_DATE_EPOCH"] = "1806537600"

# Under ``nohup`` or behind an ``&`` signals arrive here ignored, and the programs that tests start would inherit that.
signal.signal(signal.SIGINT, signal.default_int_handler)
if hasattr(signal, "SIGHUP"):
    signal.signal(signal.SIGHUP, signal.SIG_DFL)

if TYPE_CHECKING:
    from playwright.sync_api import Browser

REAL_GROUND = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def real_ground() -> Path:
    """Folder of open data beside the project; a clone without it skips, CI does not."""
    if not REAL_GROUND.is_dir():
        pytest.skip("the open data is not beside this checkout")
    return REAL_GROUND


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """Open the system's own Chromium, without the network; a machine without one skips, CI does not."""
    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        pytest.skip("there is no Chromium on this machine")
    from playwright.sync_api import sync_playwright

    quiet = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
    quiet += ["--disable-component-update", "--disable-sync"]
    with sync_playwright() as player:
        browser = player.chromium.launch(executable_path=program, headless=True, args=quiet)
        yield browser
        browser.close()


@pytest.fixture(scope="module", autouse=True)
def _kernels_are_noted() -> Iterator[None]:
    """Let processes that a test starts find the kernels that the tests have compiled so far."""
    yield
    if "sitepipe._compiled" in sys.modules:
        sys.modules["sitepipe._compiled"].note_all()


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> object:  # noqa: ARG001 (pytest names it)
    """Turn a skip into a failure where SITEPIPE_NO_SKIPS is set, as it is in CI."""
    outcome = yield
    report = outcome.get_result()  # type: ignore[attr-defined]
    if report.skipped and os.environ.get("SITEPIPE_NO_SKIPS"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and nothing may be skipped here: {report.longrepr}"
