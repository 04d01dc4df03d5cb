"""Damage files of every format that is read, far more often than CI does.

    .venv/bin/python -m tests.fuzz 6000                  six thousand cases over all formats
    .venv/bin/python -m tests.fuzz 500 elevation.tif     five hundred of one

The same number makes the same damage. Every fault is listed with its case; the command fails if there is one.
"""

from __future__ import annotations

import sys
import tempfile
from pathlib import Path

from tests.fuzz.chase import chase_all


def main(arguments: list[str]) -> int:
    """Chase and tell."""
    cases = int(arguments[0]) if arguments else 6000
    with tempfile.TemporaryDirectory() as scratch:
        found = chase_all(Path(scratch), cases, names=tuple(arguments[1:]))
    for one in found:
        print(f"{one.name:15} {one.tried:6,} cases, {one.peak / 2**20:4.0f} MiB, {len(one.faults)} faults")
        for fault in one.faults:
            print(f"    {fault}")
    return 1 if any(one.faults for one in found) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
