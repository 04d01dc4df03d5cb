"""Run cases in workers, go on behind a case that ends its worker, and list every fault."""

from __future__ import annotations

import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from tests.fuzz.seeds import make_seed, seed_names
from tests.fuzz.worker import MOST_MEMORY

ROOT = Path(__file__).resolve().parents[2]
PATIENCE = 3600
"""For one worker; each of its cases is cut much earlier. [s]"""
MOST_FAULTS = 20
"""After so many faults of one seed the chase of it ends."""


@dataclass(frozen=True, slots=True)
class Chase:
    """What came out of the cases of one seed."""

    name: str
    tried: int
    peak: int
    """Resident memory at the most. [B]"""
    faults: tuple[str, ...]


def chase_all(scratch: Path, cases: int, workers: int = 2, names: tuple[str, ...] = ()) -> list[Chase]:
    """Try ``cases`` cases, spread evenly over the seeds."""
    chosen = names or seed_names()
    each = -(-cases // len(chosen))
    with ThreadPoolExecutor(workers) as pool:
        return list(pool.map(lambda name: chase(name, scratch / name, each), chosen))


def chase(name: str, folder: Path, cases: int) -> Chase:
    """Try the first ``cases`` cases of a seed."""
    make_seed(name, folder)
    sound = (folder / name).read_bytes()
    tried, peak, faults = 0, 0, list[str]()
    while tried < cases and len(faults) < MOST_FAULTS:
        (folder / name).write_bytes(sound)
        command = [sys.executable, "-m", "tests.fuzz.worker", str(folder), name, str(tried), str(cases)]
        done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=PATIENCE, check=False)
        if not done.stdout:
            faults.append(f"{name}: the worker did not start: {done.stderr[-400:]}")
            break
        for told in done.stdout.splitlines():
            number, _, said = told.partition(" ")
            if number == "peak":
                peak = max(peak, int(said))
                continue
            tried = int(number) + 1
            if said != "ok":
                faults.append(f"{name} case {number}: {said or f'ends the process with {done.returncode}'}")
    if peak > MOST_MEMORY:
        faults.append(f"{name}: {peak / 2**20:.0f} MiB were resident")
    return Chase(name, tried, peak, tuple(faults))
