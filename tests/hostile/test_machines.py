"""Broken machines: cases 96 to 111 of the catalogue of bad input that want a process of their own."""

from __future__ import annotations

import json
import os
import re
import resource
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest

from sitepipe.commands.site_folder import LEAST_MEMORY
from sitepipe.writing.folder import temporary_stem
from tests.test_run import make_bowl
from tests.writing.short_run import copy_of, leftovers, make_site

ROOT = Path(__file__).resolve().parents[2]
MOST_MEMORY = 3 * 2**29
"""1.5 GiB. [B]"""


def run(site: Path, *before: Callable[[], object], **environment: str) -> subprocess.CompletedProcess[str]:
    def prepare() -> None:
        for step in before:
            step()

    command = [sys.executable, "-m", "sitepipe", "run", str(site)]
    return subprocess.run(
        command,
        capture_output=True,
        text=True,
        cwd=ROOT,
        env={**os.environ, **environment},
        timeout=300,
        preexec_fn=prepare,
        check=False,
    )


@pytest.fixture(scope="module")
def finished(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a site with the results of a run on one core."""
    site = make_bowl(tmp_path_factory.mktemp("machines") / "site")
    done = run(site, lambda: os.sched_setaffinity(0, {min(os.sched_getaffinity(0))}))
    assert done.returncode == 0, done.stderr
    return site


@pytest.fixture
def site(finished: Path, tmp_path: Path) -> Path:
    """Copy the finished site."""
    return Path(shutil.copytree(finished, tmp_path / "site"))


@pytest.mark.case(107)
@pytest.mark.parametrize("share", [0.3, 0.6, 0.99])
def test_too_little_memory_is_told_before_a_library_ends_the_process(site: Path, share: float) -> None:
    before = copy_of(site)
    bound = int(LEAST_MEMORY * share)
    done = run(site, lambda: resource.setrlimit(resource.RLIMIT_AS, (bound, bound)))
    assert done.returncode == 3
    assert re.fullmatch(r"sitepipe: this shell lets a program have [\d,]+ MiB of memory, .*\n", done.stderr)
    assert copy_of(site) == before


@pytest.mark.case(96)
def test_a_run_stopped_at_any_stage_leaves_the_earlier_one_and_the_next_is_whole(site: Path) -> None:
    """The real run, from the first stage to the last, killed and asked to stop by turns, in children of a warm one."""
    (site / "out" / "map.html").write_text("the earlier map", encoding="utf-8")
    command = [sys.executable, "-m", "tests.hostile.stopped_runs", str(site)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    *struck, last = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(struck) >= 7
    assert [told["code"] for told in struck] == [(-9, 130)[k % 2] for k in range(len(struck))]
    assert all(told["stands"] for told in struck)
    assert all(told["left"] == [] for told in struck[1::2])
    assert last == {"code": 0, "stands": False, "left": []}


@pytest.mark.case(96, 100, 104, 106, 107)
def test_a_run_makes_the_same_bytes_whatever_it_finds_and_has(finished: Path, site: Path, tmp_path: Path) -> None:
    """The leavings of killed runs, all from the future; another library's tables; every core, and little memory."""
    killed = f"{temporary_stem(site / 'out')}.new-1"
    (site / killed).mkdir()
    (site / killed / "map.html").write_text("half a m", encoding="utf-8")
    (site / f"{temporary_stem(site / 'out')}.lock").touch()
    for name in ("map.html", "summary.json", "plan.gpkg"):
        (site / "out" / name).write_bytes(b"of another time")
    for path in [site, *site.rglob("*")]:
        os.utime(path, (4e9, 4e9))
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "proj.db").write_bytes(b"SQLite format 3\x00" + bytes(4000))
    other = str(tmp_path / "other")
    little = partial(resource.setrlimit, resource.RLIMIT_AS, (MOST_MEMORY, MOST_MEMORY))
    done = run(site, little, PROJ_DATA=other, PROJ_LIB=other, GDAL_DATA=other)
    assert done.returncode == 0, done.stderr
    assert copy_of(site / "out") == copy_of(finished / "out")
    assert leftovers(site) == []


@pytest.mark.case(110)
def test_the_sheets_say_nothing_of_who_made_them_where_and_when(finished: Path) -> None:
    from pypdf import PdfReader

    reader = PdfReader(finished / "out" / "plan.pdf")
    told = {name: str(value) for name, value in (reader.metadata or {}).items()}
    assert told["/Title"] == "Small bowl: what we build"
    assert told["/Creator"] == "sitepipe"
    assert told["/Author"] == ""
    # The day that SOURCE_DATE_EPOCH says, never the clock's: the same run gives the same bytes.
    assert told["/CreationDate"].startswith("D:20270401")
    assert reader.xmp_metadata is None
    content = (finished / "out" / "plan.pdf").read_bytes()
    for name in (os.environ.get("USER", "root"), str(finished), os.uname().nodename):
        assert len(name) < 5 or name.encode() not in content


def test_a_write_that_dies_inside_a_library_leaves_the_earlier_run(tmp_path: Path) -> None:
    """The system kills the process in the middle of a write, at ever later bytes of ever later files.

    A file may not grow beyond a bound, and the signal that says so is not caught: whoever writes, Python, GDAL or
    SQLite, is gone in the middle of its own call.
    """
    site = make_site(tmp_path / "site")
    command = [sys.executable, "-m", "tests.hostile.cut_writes", str(site)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=300, check=False)
    assert done.returncode == 0, done.stderr
    told = [json.loads(line) for line in done.stdout.splitlines()]
    killed = [one for one in told if one["code"] == -int(signal.SIGXFSZ)]
    assert len(killed) >= 20
    assert len({one["writing"] for one in killed}) >= 4
    assert any(one["writing"].endswith(".tif") for one in killed)
    assert any("plan.gpkg" in one["writing"] for one in killed)
    assert all(one["stands"] == "earlier" for one in killed)
    assert told[-1] == {"code": 0, "stands": "later", "writing": ""}
    assert leftovers(site) == []
