"""Killed or out of room at any touch of the disk, a run leaves a whole folder and the next run clears up."""

from __future__ import annotations

import json
import resource
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from sitepipe.errors import WritingError
from tests.writing.fates import drawn_once, write
from tests.writing.short_run import copy_of, leftovers, make_site

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def fates(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[dict[str, Any]]]:
    """Let a run meet each fate at each of its touches; what was left each time, by fate."""
    command = [sys.executable, "-m", "tests.writing.fates", str(tmp_path_factory.mktemp("fates"))]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT, timeout=300)
    told = [json.loads(line) for line in done.stdout.splitlines()]
    return {fate: [one for one in told if one["fate"] == fate] for fate in ("killed", "full")}


@pytest.mark.case(96)
def test_a_run_killed_at_any_touch_leaves_a_whole_folder(fates: dict[str, list[dict[str, Any]]]) -> None:
    *struck, afterwards = fates["killed"]
    assert len(struck) >= 12
    assert {told["code"] for told in struck} == {-9}
    assert {told["stands"] for told in struck} == {"earlier", "later"}
    assert any(told["left"] for told in struck)
    assert (afterwards["stands"], afterwards["left"]) == ("later", [])


@pytest.mark.case(87)
def test_a_disk_that_is_full_at_any_touch_leaves_the_earlier_run_and_nothing_else(
    fates: dict[str, list[dict[str, Any]]],
) -> None:
    *struck, afterwards = fates["full"]
    assert sum(told["code"] == 4 for told in struck) >= 7
    assert {(told["code"], told["stands"]) for told in struck} <= {(4, "earlier"), (0, "later")}
    assert [told["left"] for told in struck] == [[]] * len(struck)
    assert afterwards["stands"] == "later"


@contextmanager
def files_no_longer_than(size: int) -> Iterator[None]:
    """Let the system refuse any file beyond a size, whoever writes it: Python, or a library below."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.fixture(scope="module")
def earlier(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """Make a site with the results of a run; the page and the sheets are not drawn again while it stands."""
    site = make_site(tmp_path_factory.mktemp("earlier") / "site")
    with drawn_once():
        write(site)
        yield site


@pytest.mark.parametrize("size", [1_000, 20_000, 60_000, 100_000, 140_000, 300_000, 450_000])
@pytest.mark.case(88)
def test_a_file_cut_short_by_the_system_is_noticed(size: int, earlier: Path) -> None:
    before = copy_of(earlier / "out")
    assert max(len(content) for content in before.values()) > size
    with pytest.raises(WritingError, match=r"untouched|Is the disk full"), files_no_longer_than(size):
        write(earlier)
    assert copy_of(earlier / "out") == before
    assert leftovers(earlier) == []
