"""Break the kernels one line at a time and count how many of the breaks the tests notice.

    .venv/bin/python -m tests.mutation                 a hundred mutants drawn over all rooms
    .venv/bin/python -m tests.mutation drainage 300    three hundred of one room

Not part of CI: each mutant compiles its room again. Survivors are listed with their line; the command fails below
85 % killed. The same seed draws the same mutants.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

from tests.mutation.mutants import Mutant, mutants_of

ROOT = Path(__file__).resolve().parents[2]
LEAST_KILLED = 0.85
WORKERS = 2
PATIENCE = 240
"""A mutant that runs longer has lost its way, and counts as killed. [s]"""

KERNELS: dict[str, tuple[str, ...]] = {
    "terrain": ("terrain/slope.py",),
    "drainage": (
        "drainage/flood.py",
        "drainage/routing.py",
        "drainage/dispersal.py",
        "drainage/hollows.py",
        "drainage/filling.py",
        "drainage/above.py",
    ),
    "sunlight": ("sunlight/position.py", "sunlight/sweep.py", "sunlight/accumulate.py"),
    "wetness": ("wetness/shallow_flow.py",),
    "works": ("works/mound_height.py", "works/volumes.py", "works/least_cost.py"),
    "planting": ("planting/match.py", "planting/counts.py", "planting/prevalence.py", "planting/nursery.py"),
}
"""Rooms, and the files in them whose every line must matter to a test of the same room."""

Case = tuple[str, str, Mutant]


def main(arguments: list[str]) -> int:
    """Draw mutants, run their rooms' tests, and say which survived."""
    rooms = [arguments[0]] if arguments else list(KERNELS)
    most = int(arguments[1]) if len(arguments) > 1 else 100
    cases: list[Case] = [
        (room, file, mutant)
        for room in rooms
        for file in KERNELS[room]
        for mutant in mutants_of((ROOT / "sitepipe" / file).read_text(encoding="utf-8"))
    ]
    random.Random(7).shuffle(cases)
    drawn = cases[:most]
    print(f"{len(cases)} mutants can be made, {len(drawn)} are tried")
    with tempfile.TemporaryDirectory() as scratch, ThreadPoolExecutor(WORKERS) as pool:
        folders = [_copied(Path(scratch) / str(k)) for k in range(WORKERS)]
        shares = [drawn[k::WORKERS] for k in range(WORKERS)]
        survivors = [case for found in pool.map(_survivors, folders, shares) for case in found]
    for _room, file, mutant in sorted(survivors, key=lambda case: (case[1], case[2].line)):
        print(f"survived: sitepipe/{file}:{mutant.line}: {mutant.change}")
    killed = 1.0 - len(survivors) / max(len(drawn), 1)
    print(f"killed {len(drawn) - len(survivors)} of {len(drawn)}, {killed:.0%}")
    return 0 if killed >= LEAST_KILLED else 1


def _copied(folder: Path) -> Path:
    leave = shutil.ignore_patterns("__pycache__", "out", ".venv", ".git")
    for name in ("sitepipe", "tests", "configs", "sample_site"):
        shutil.copytree(ROOT / name, folder / name, ignore=leave)
    shutil.copy(ROOT / "pyproject.toml", folder)
    return folder


def _survivors(folder: Path, share: list[Case]) -> list[Case]:
    return [case for case in share if _survives(folder, case)]


def _survives(folder: Path, case: Case) -> bool:
    room, file, mutant = case
    source = folder / "sitepipe" / file
    whole = source.read_text(encoding="utf-8")
    source.write_text(mutant.text, encoding="utf-8")
    # A kernel compiled into its callers is not compiled again there when it changes: the room starts cold.
    for cached in source.parent.rglob("*.nb[ci]"):
        cached.unlink()
    command = [sys.executable, "-m", "pytest", "-x", "-q", f"tests/{room}"]
    environment = {**os.environ, "PYTHONPATH": str(folder), "PYTHONDONTWRITEBYTECODE": "1"}
    try:
        done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, timeout=PATIENCE, check=False)
    except subprocess.TimeoutExpired:
        return False
    finally:
        source.write_text(whole, encoding="utf-8")
    survived = done.returncode == 0
    print("." if not survived else "s", end="", flush=True)
    return survived


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
