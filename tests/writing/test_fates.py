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
from sitepipe.reading.source import files_of
from sitepipe.writing.folder import claimed
from sitepipe.writing.results import write_results
from tests.writing.short_run import copy_of, drawn, leftovers, make_site

ROOT = Path(__file__).resolve().parents[2]


def fates(folder: Path, fate: str) -> list[dict[str, Any]]:
    """Let a run meet a fate at each of its touches; return what was left each time."""
    command = [sys.executable, "-m", "tests.writing.fates", str(folder), fate]
    done = subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT, timeout=300)
    return [json.loads(line) for line in done.stdout.splitlines()]


@pytest.mark.case(96)
def test_a_run_killed_at_any_touch_leaves_a_whole_folder(tmp_path: Path) -> None:
    *struck, afterwards = fates(tmp_path, "killed")
    assert len(struck) >= 12
    assert {told["code"] for told in struck} == {-9}
    assert {told["stands"] for told in struck} == {"earlier", "later"}
    assert any(told["left"] for told in struck)
    assert (afterwards["stands"], afterwards["left"]) == ("later", [])


@pytest.mark.case(87)
def test_a_disk_that_is_full_at_any_touch_leaves_the_earlier_run_and_nothing_else(tmp_path: Path) -> None:
    *struck, afterwards = fates(tmp_path, "full")
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


@pytest.mark.parametrize("size", [1_000, 20_000, 60_000, 100_000, 140_000, 300_000, 450_000])
@pytest.mark.case(88)
def test_a_file_cut_short_by_the_system_is_noticed(size: int, tmp_path: Path) -> None:
    site = make_site(tmp_path / "site")
    with claimed(site / "out") as fresh:
        write_results(drawn(), files_of(site, drawn().settings), fresh, lambda _: None)
    before = copy_of(site / "out")
    assert max(len(content) for content in before.values()) > size

    def write_again() -> None:
        with files_no_longer_than(size), claimed(site / "out") as fresh:
            write_results(drawn(), files_of(site, drawn().settings), fresh, lambda _: None)

    with pytest.raises(WritingError, match=r"untouched|Is the disk full"):
        write_again()
    assert copy_of(site / "out") == before
    assert leftovers(site) == []
