"""What a worker does: one parcel, as ``run`` does a site; and what is made ready in it before its first."""

from __future__ import annotations

import contextlib
import ctypes
import json
import os
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from sitepipe.answers.region import ParcelAnswer, State, answer_of
from sitepipe.errors import SitepipeError, our_bug
from sitepipe.reading.frame import BYTES_PER_CELL, MOST_CELLS
from sitepipe.region.parcel import RESULTS

BARE_PROCESS = 600 * 2**20
"""What a worker takes beside the parcel: libraries, kernels, sun tables; seen in a trial. [B]"""
M_TRIM_THRESHOLD, M_MMAP_THRESHOLD = -1, -3


@dataclass(frozen=True, slots=True)
class Task:
    """One parcel to be run.

    Parameters
    ----------
    folder : Path
        Its site folder.
    day : date
        On the page and the sheets.
    """

    key: str
    folder: Path
    day: date


@dataclass(frozen=True, slots=True)
class Outcome:
    """How it went; ``answer`` is None where the parcel needs more memory than one worker among others may take."""

    answer: ParcelAnswer | None
    cells: int = 0
    seconds: float = 0.0


class _TooLargeError(Exception):
    """The window has more cells than fit beside the other workers."""


def make_ready(digests: Mapping[tuple[str, int, int], str], core: int | None = None) -> None:
    """Prepare a process that works parcels.

    Parameters
    ----------
    digests : mapping
        Of the heights, so that not every worker reads a county to name it in ``run.json``.
    core : int or None
        The one that a worker of this machine keeps to: more threads than cores only wait for one another.
    """
    import sitepipe.reading.hardening  # noqa: F401 (before any library that reads files)
    from sitepipe.writing import provenance

    provenance.DIGESTS.update(digests)
    if core is not None and hasattr(os, "sched_setaffinity"):
        allowed = sorted(os.sched_getaffinity(0))
        os.sched_setaffinity(0, {allowed[core % len(allowed)]})
    # A parcel's arrays come and go: memory that is handed back to the system each time must be cleared each time.
    with contextlib.suppress(OSError, AttributeError):
        libc = ctypes.CDLL(None)
        libc.mallopt(M_TRIM_THRESHOLD, 2**30)
        libc.mallopt(M_MMAP_THRESHOLD, 2**25)
    from threadpoolctl import threadpool_limits

    threadpool_limits(1)


def cells_beside_others(memory: float) -> int:
    """Return how many cells a window may have in a process that may take so much memory. [B]."""
    return int(min(max(memory - BARE_PROCESS, 0.0) / BYTES_PER_CELL, MOST_CELLS))


def work(task: Task, most_cells: int) -> Outcome:
    """Run one parcel; whatever goes wrong with it is its own affair."""
    started = time.process_time()
    try:
        cells = _run(task, most_cells)
        answer = kept_answer(task)
    except (_TooLargeError, MemoryError):
        return Outcome(None, seconds=time.process_time() - started)
    except SitepipeError as error:
        return Outcome(ParcelAnswer(task.key, State.FAILED, str(error)))
    except Exception as error:  # noqa: BLE001 (one parcel fails alone)
        return Outcome(ParcelAnswer(task.key, State.FAILED, str(our_bug(error))))
    return Outcome(answer, cells, time.process_time() - started)


def _run(task: Task, most_cells: int) -> int:
    from sitepipe._compiled import note_all
    from sitepipe.analysis import analyse_site
    from sitepipe.reading.site import read_site
    from sitepipe.reading.source import open_folder
    from sitepipe.settings import read_settings
    from sitepipe.window import reached_sides
    from sitepipe.writing.folder import claimed
    from sitepipe.writing.results import write_results

    settings = read_settings(task.folder / "site.toml")
    source = open_folder(task.folder, settings)
    with claimed(task.folder / RESULTS, list(source.files.values())) as fresh:
        site = read_site(source, reached_sides)
        cells = site.grid.rows * site.grid.columns
        if cells > most_cells:
            raise _TooLargeError
        analysis = replace(analyse_site(site, settings), made_on=task.day)
        write_results(analysis, source.files, fresh, lambda _: None)
    if not _noted:
        note_all()
        _noted.append(True)
    return cells


_noted: list[bool] = []
"""Whether this process has noted the kernels that it compiled: one that is killed leaves no note at its end."""


def kept_answer(task: Task) -> ParcelAnswer:
    """Return the row of a parcel from the results that stand in its folder."""
    from sitepipe.writing.results import MAP_FILE, SUMMARY_FILE

    results = task.folder / RESULTS
    summary = json.loads((results / SUMMARY_FILE).read_text(encoding="utf-8"))
    page = f"parcels/{task.folder.name}/{RESULTS}/{MAP_FILE}" if (results / MAP_FILE).is_file() else ""
    return answer_of(task.key, summary, page)
