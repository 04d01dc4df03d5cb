"""Let runs die or fail at every place where they touch the disk; prints one line of JSON for each.

A process of its own: it forks children that write the results of the drawn analysis and are killed by the system,
or told that the disk is full, at their Nth touch.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from unittest import mock

from sitepipe.answers.layers import rasters
from sitepipe.errors import WritingError
from sitepipe.mapping.page import draw_map
from sitepipe.reading.source import files_of
from sitepipe.writing.folder import claimed
from sitepipe.writing.results import write_results
from sitepipe.writing.sheets.plan import draw_plan
from sitepipe.writing.tables import tables
from tests.writing.short_run import copy_of, drawn, leftovers, make_site

GROWTH = {"open", "os.mkdir", "os.rename", "tempfile.mkdtemp", "shutil.copyfile", "os.link", "os.symlink"}
"""Events that need room on the disk."""
TOUCHES = GROWTH | {"os.remove", "os.rmdir", "shutil.rmtree", "os.chmod", "os.truncate"}


def is_touch(event: str, arguments: tuple[Any, ...], below: str, kinds: set[str]) -> bool:
    """Tell whether an audited event of the interpreter changes something below a folder."""
    if event == "ctypes.dlsym":
        return "renameat2" in str(arguments)  # The next thing is the exchange of the two names.
    if event not in kinds:
        return False
    if event == "open" and not (isinstance(arguments[2], int) and arguments[2] & (os.O_WRONLY | os.O_RDWR)):
        return False
    return any(below in os.fsdecode(part) for part in arguments if isinstance(part, str | bytes | os.PathLike))


def write(site: Path) -> None:
    """Write the results of the drawn analysis as a run does."""
    with claimed(site / "out") as fresh:
        write_results(drawn(), files_of(site, drawn().settings), fresh, lambda _: None)


def count_touches(site: Path, kinds: set[str]) -> int:
    """Return how many touches a whole run takes."""
    read, sent = os.pipe()
    child = os.fork()
    if child == 0:
        seen = 0

        def hook(event: str, arguments: tuple[Any, ...]) -> None:
            nonlocal seen
            seen += is_touch(event, arguments, str(site), kinds)

        sys.addaudithook(hook)
        write(site)
        os.write(sent, str(seen).encode())
        os._exit(0)
    os.close(sent)
    os.waitpid(child, 0)
    return int(os.read(read, 100))


def at_touch(number: int, site: Path, fate: Callable[[], None], kinds: set[str]) -> None:
    """Arrange that fate strikes at the Nth touch."""
    seen = 0

    def hook(event: str, arguments: tuple[Any, ...]) -> None:
        nonlocal seen
        if is_touch(event, arguments, str(site), kinds):
            seen += 1
            if seen == number:
                fate()

    sys.addaudithook(hook)


def killed() -> None:
    """Die at once, as when the power fails."""
    os.kill(os.getpid(), signal.SIGKILL)


def full_disk() -> None:
    """Fail as a full disk does."""
    raise OSError(28, "No space left on device")


def one(site: Path, number: int, fate: Callable[[], None], kinds: set[str]) -> int:
    """Let one run meet its fate; return 0 done, 4 told as a writing error, -9 killed, anything else a bug."""
    child = os.fork()
    if child == 0:
        code = 1
        try:
            at_touch(number, site, fate, kinds)
            write(site)
            code = 0
        except WritingError:
            code = 4
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def tell(folder: Path, fate: Callable[[], None], kinds: set[str]) -> Iterator[dict[str, Any]]:
    """Try every touch of a run over an earlier one; say what was left each time."""
    site = make_site(folder / "site")
    write(site)
    later = copy_of(site / "out")
    count = count_touches(site, kinds)
    for number in range(1, count + 1):
        (site / "out" / "map.html").write_text("the earlier run", encoding="utf-8")
        earlier = copy_of(site / "out")
        code = one(site, number, fate, kinds)
        stands = copy_of(site / "out") if (site / "out").is_dir() else {}
        found = "earlier" if stands == earlier else "later" if stands == later else "broken"
        yield {"touch": number, "of": count, "code": code, "stands": found, "left": leftovers(site)}
    write(site)
    found = "later" if copy_of(site / "out") == later else "broken"
    yield {"touch": 0, "of": count, "code": 0, "stands": found, "left": leftovers(site)}


@contextmanager
def drawn_once() -> Iterator[None]:
    """Draw the page and the sheets but once: they are bytes like any other here."""
    page, sheets = draw_map(drawn()), draw_plan(drawn())
    with (
        mock.patch("sitepipe.writing.results.draw_map", return_value=page),
        mock.patch("sitepipe.writing.results.draw_plan", return_value=sheets),
    ):
        yield


def main() -> None:
    """``python -m tests.writing.fates FOLDER``: killed at any touch, then out of room at any."""
    folder = Path(sys.argv[1])
    # A few layers and tables stand for all: those that libraries write are touched alike.
    few = (
        mock.patch("sitepipe.writing.rasters.rasters", lambda analysis: list(rasters(analysis))[:2]),
        mock.patch("sitepipe.writing.vectors.tables", lambda analysis: tables(analysis)[:2]),
    )
    with drawn_once(), few[0], few[1]:
        for name, fate, kinds in (("killed", killed, TOUCHES), ("full", full_disk, GROWTH)):
            for told in tell(folder / name, fate, kinds):
                sys.stdout.write(f"{json.dumps({'fate': name, **told})}\n")


if __name__ == "__main__":
    main()
