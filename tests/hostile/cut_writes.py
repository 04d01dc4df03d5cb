"""Write results in children that the system kills when a file outgrows a bound; prints one line of JSON for each.

python -m tests.hostile.cut_writes SITE
"""

from __future__ import annotations

import json
import os
import resource
import signal
import sys
from pathlib import Path
from unittest import mock

from tests.writing.fates import write
from tests.writing.short_run import copy_of

SIZES = [1, 60, 500, 1_000, 2_000, 4_000, 6_000, 8_191, 12_000, 16_384, 20_000, 28_000, 36_000, 48_000, 60_000, 80_000]
SIZES += [100_000, 120_000, 150_000, 200_000, 260_000, 340_000, 450_000, 600_000, 2**40]
"""What a file may grow to. [B]"""


def one(site: Path, size: int) -> int:
    """Write in a child under a bound whose signal is deadly; return its exit code."""
    child = os.fork()
    if child == 0:
        signal.signal(signal.SIGXFSZ, signal.SIG_DFL)
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_FSIZE, (size, resource.getrlimit(resource.RLIMIT_FSIZE)[1]))
        write(site)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def being_written(site: Path) -> str:
    """Return the file of a broken run that was written to last."""
    files = [path for path in site.glob(".sitepipe-*/**/*") if path.is_file()]
    return max(files, key=lambda path: (path.stat().st_mtime_ns, path.name)).name if files else ""


def main() -> None:
    """Cut the writes at ever later bytes."""
    site = Path(sys.argv[1])
    # The page and the sheets are the largest files and Python's own; short ones let the libraries' files be cut.
    with (
        mock.patch("sitepipe.writing.results.draw_map", return_value="<html>"),
        mock.patch("sitepipe.writing.results.draw_plan", return_value=b"%PDF"),
    ):
        write(site)
        later = copy_of(site / "out")
        (site / "out" / "map.html").write_text("the earlier run", encoding="utf-8")
        earlier = copy_of(site / "out")
        for size in SIZES:
            code = one(site, size)
            writing = being_written(site)
            stands = copy_of(site / "out")
            found = "earlier" if stands == earlier else "later" if stands == later else "broken"
            sys.stdout.write(f"{json.dumps({'code': code, 'stands': found, 'writing': writing})}\n")


if __name__ == "__main__":
    main()
