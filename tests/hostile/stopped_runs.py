"""Run a site in children that are stopped at the beginning of each stage; prints one line of JSON for each.

python -m tests.hostile.stopped_runs SITE
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import signal
import sys
from pathlib import Path
from unittest import mock

from sitepipe import cli
from tests.writing.short_run import leftovers


def one(site: Path, stage: int, number: int) -> int:
    """Run the command line in a child that gets a signal when it tells its Nth stage; return its exit code."""
    child = os.fork()
    if child == 0:
        seen = 0

        def tell(_: str) -> None:
            nonlocal seen
            if seen == stage:
                os.kill(os.getpid(), number)
            seen += 1

        quiet = contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO())
        with quiet[0], quiet[1], mock.patch("sitepipe.commands.console.tell", tell), cli.stopped_by_signals():
            code = cli.outcome(["run", str(site)])
        os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def main() -> None:
    """Stop at each stage until a run comes through."""
    import sitepipe.analysis
    import sitepipe.writing.results  # noqa: F401 (warm: the children import nothing heavy)

    site = Path(sys.argv[1])
    for stage in range(30):
        code = one(site, stage, (signal.SIGKILL, signal.SIGTERM)[stage % 2])
        stands = (site / "out" / "map.html").read_text(encoding="utf-8") == "the earlier map"
        sys.stdout.write(f"{json.dumps({'code': code, 'stands': stands, 'left': leftovers(site)})}\n")
        if code == 0:
            return


if __name__ == "__main__":
    main()
