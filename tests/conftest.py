"""What every test shares: real ground beside the project, and a CI that knows no skips."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

REAL_GROUND = Path(__file__).resolve().parents[2] / "shared" / "data"


@pytest.fixture(scope="session")
def real_ground() -> Path:
    """Folder of open data beside the project; a clone without it skips, CI does not."""
    if not REAL_GROUND.is_dir():
        pytest.skip("the open data is not beside this checkout")
    return REAL_GROUND


@pytest.hookimpl(hookwrapper=True)
def pytest_runtest_makereport(item: pytest.Item, call: pytest.CallInfo[None]) -> object:  # noqa: ARG001 (pytest names it)
    """Turn a skip into a failure where SITEPIPE_NO_SKIPS is set, as it is in CI."""
    outcome = yield
    report = outcome.get_result()  # type: ignore[attr-defined]
    if report.skipped and os.environ.get("SITEPIPE_NO_SKIPS"):
        report.outcome = "failed"
        report.longrepr = f"{item.nodeid} was skipped, and nothing may be skipped here: {report.longrepr}"
