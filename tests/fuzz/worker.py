"""Read damaged copies of a seed in processes that may crash, hang or run out of memory without harm to the tests.

A warm process forks a child for each line ``FOLDER<tab>FILE<tab>FIRST<tab>LAST`` that it is sent. The child says the
number of each case before it is tried and ``ok`` after it, so that whoever asked knows which was last; ``end`` and the
child's exit code come when it is gone.
"""

from __future__ import annotations

import contextlib
import io
import os
import resource
import signal
import sys
import traceback
import warnings
from pathlib import Path

from tests.fuzz.damage import damaged

LONGEST_CASE = 20
"""A case that takes longer hangs, and the process is cut. [s]"""
MOST_MEMORY = 2**30
"""What may be added to the address space, and what may be resident. [B]"""


def main(folder: Path, name: str, first: int, last: int) -> None:
    """Try the cases ``first`` to ``last`` of a seed."""
    whole = (folder / name).read_bytes()
    _try(folder, name)
    _bound_memory()
    for number in range(first, last):
        print(number, end=" ", flush=True)
        (folder / name).write_bytes(damaged(whole, name, number))
        signal.alarm(LONGEST_CASE)
        print(_try(folder, name), flush=True)
        signal.alarm(0)
    print("peak", _peak(), flush=True)


def _bound_memory() -> None:
    pages = int(Path("/proc/self/statm").read_text(encoding="utf-8").split()[0])
    bound = pages * resource.getpagesize() + MOST_MEMORY
    resource.setrlimit(resource.RLIMIT_AS, (bound, bound))


def _peak() -> int:
    # What getrusage tells includes the parent's size at the fork.
    (line,) = [said for said in Path("/proc/self/status").read_text().splitlines() if said.startswith("VmHWM")]
    return int(line.split()[1]) * 1024


def _try(folder: Path, name: str) -> str:
    """Return ``ok``, or what is wrong about how the program took the file."""
    if name == "palette.csv":
        return _try_palette(folder / name)
    code, out, err = _check(folder)
    lines = [line for line in err.splitlines() if not line.startswith("Reading")]
    if code == 0:
        return "ok" if out and not lines else f"is taken with {lines!r}"
    said = lines[0] if len(lines) == 1 else f"{len(lines)} lines: {lines!r}"
    if code == 1:
        return f"is our bug: {said}"
    if "too little memory" in said:
        return "takes more than 1 GiB"
    # A damaged unit may leave open what only a setting can answer; the line must then say which.
    if code != 3 and not (code == 2 and "site.toml" in said):
        return f"ends with {code}: {said}"
    return "ok" if len(lines) == 1 and said.isprintable() and len(said) < 600 else f"is told badly: {said!r}"


def _check(folder: Path) -> tuple[int, str, str]:
    """Run ``sitepipe check`` in this process; return code, stdout, stderr."""
    from sitepipe import cli

    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        code = cli.outcome(["check", str(folder)])
    return code, out.getvalue(), err.getvalue()


def _try_palette(path: Path) -> str:
    from sitepipe.errors import InputError
    from sitepipe.planting.palette import read_palette

    try:
        return "ok" if read_palette(path) else "has no plants"
    except InputError as error:
        said = str(error)
        return "ok" if said.isprintable() and len(said) < 600 else f"is told badly: {said!r}"
    except Exception:  # noqa: BLE001 (whatever else comes out is what we look for)
        return "raises " + " | ".join(traceback.format_exc().strip().splitlines()[-5:])


def serve() -> None:
    """Fork a child for each line that comes in."""
    import sitepipe.reading.hardening  # noqa: F401 (before any driver is loaded)

    warnings.simplefilter("error")
    for line in sys.stdin:
        folder, name, first, last = line.rstrip("\n").split("\t")
        _try(Path(folder), name)
        child = os.fork()
        if child == 0:
            main(Path(folder), name, int(first), int(last))
            os._exit(0)
        _, status = os.waitpid(child, 0)
        print(f"\nend {os.waitstatus_to_exitcode(status)}", flush=True)


if __name__ == "__main__":
    serve()
