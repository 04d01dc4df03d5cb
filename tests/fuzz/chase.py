"""Run cases in workers, go on behind a case that ends its worker, and list every fault."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from tests.fuzz.seeds import make_seed, seed_names
from tests.fuzz.worker import MOST_MEMORY

ROOT = Path(__file__).resolve().parents[2]
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


class Worker:
    """A warm process that tries cases in children of its own."""

    def __enter__(self) -> Self:
        """Start it."""
        command = [sys.executable, "-m", "tests.fuzz.worker"]
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT)
        return self

    def __exit__(self, *_: object) -> None:
        """Let it end."""
        self._process.communicate()

    def tries(self, folder: Path, name: str, first: int, last: int) -> Iterator[str]:
        """Yield what the child says, its exit code at the end."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        print(folder, name, first, last, sep="\t", file=self._process.stdin, flush=True)
        for line in self._process.stdout:
            if line.strip():
                yield line.rstrip("\n")
            if line.startswith("end "):
                return
        yield "end 1"


def chase_all(scratch: Path, cases: int, workers: int = 2, names: tuple[str, ...] = ()) -> list[Chase]:
    """Try ``cases`` cases, spread evenly over the seeds."""
    chosen = names or seed_names()
    each = -(-cases // len(chosen))

    def share(number: int) -> list[Chase]:
        with Worker() as worker:
            return [chase(name, scratch / name, each, worker) for name in chosen[number::workers]]

    with ThreadPoolExecutor(workers) as pool:
        return [one for found in pool.map(share, range(workers)) for one in found]


def chase(name: str, folder: Path, cases: int, worker: Worker) -> Chase:
    """Try the first ``cases`` cases of a seed."""
    make_seed(name, folder)
    sound = (folder / name).read_bytes()
    tried, peak, faults = 0, 0, list[str]()
    while tried < cases and len(faults) < MOST_FAULTS:
        (folder / name).write_bytes(sound)
        before = tried
        *told, end = worker.tries(folder, name, tried, cases)
        for line in told:
            number, _, said = line.partition(" ")
            if number == "peak":
                peak = max(peak, int(said))
                continue
            tried = int(number) + 1
            if said != "ok":
                faults.append(f"{name} case {number}: {said or f'the process comes to its {end}'}")
        if tried == before:
            faults.append(f"{name}: the worker does not start")
            break
    if peak > MOST_MEMORY:
        faults.append(f"{name}: {peak / 2**20:.0f} MiB were resident")
    return Chase(name, tried, peak, tuple(faults))
