"""The whole job: make the site folders, run what is not done, tell the answers over all."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from sitepipe.answers.region import ParcelAnswer, State
from sitepipe.errors import InterruptedRunError, SomeParcelsFailedError, WritingError
from sitepipe.region.again import is_done
from sitepipe.region.feed import Crew, Digests
from sitepipe.region.folder import Region
from sitepipe.region.parcel import Cutter, Parcel, in_order_of_place, parcels_of, write_site
from sitepipe.region.progress import Progress
from sitepipe.region.tables import write_tables
from sitepipe.region.work import Outcome, Task, cells_beside_others, kept_answer, work
from sitepipe.writing.provenance import DIGESTS, digest_of, stamp_of

DIGESTS_FILE = "heights.json"
KILLED = (
    "its worker was ended twice, the second time while it ran by itself: most likely for memory. Set a larger "
    "[ground] cell or a smaller widest_window in region.toml"
)
TOO_LARGE = "its window has more cells than fit into the memory of a worker. Set a larger [ground] cell in region.toml"


@dataclass(frozen=True, slots=True)
class Crews:
    """Where workers come from: those of the main pass, and for the parcels that run by themselves."""

    usual: Callable[[Digests], AbstractContextManager[Crew]]
    alone: Callable[[Digests], AbstractContextManager[Crew]]


@dataclass(frozen=True, slots=True)
class District:
    """All parcels of a region with their answers, in the order of the file; ``kept`` of them were done before."""

    parcels: tuple[Parcel, ...]
    answers: tuple[ParcelAnswer, ...]
    kept: int

    @property
    def failed(self) -> int:
        """How many have no answer."""
        return sum(answer.state is State.FAILED for answer in self.answers)


def run_region(region: Region, out: Path, day: date, crews: Crews, tell: Callable[[str], None]) -> District:
    """Run every parcel that is not done, and write the answers over all.

    Raises
    ------
    WritingError
        If the folder of results cannot be written.
    InterruptedRunError
        If the user stops it; what is done is kept.
    """
    tell("Reading the parcels")
    parcels = parcels_of(region)
    answers: dict[str, ParcelAnswer] = {}
    try:
        (out / "parcels").mkdir(parents=True, exist_ok=True)
        digests = _digests(region, out)
    except OSError as error:
        raise WritingError(f"{out} could not be written ({error.strerror}). Name another folder with --out") from error
    tell("Looking what is done")
    waiting = []
    cutter = Cutter(region)
    for parcel in in_order_of_place(parcels):
        task = Task(parcel.key, out / "parcels" / parcel.folder, day)
        if parcel.fault:
            answers[parcel.key] = ParcelAnswer(parcel.key, State.FAILED, parcel.fault)
            continue
        try:
            write_site(region, parcel, cutter.drawing(parcel), task.folder)
        except OSError as error:
            answers[parcel.key] = ParcelAnswer(parcel.key, State.FAILED, f"its folder cannot be written ({error})")
            continue
        if is_done(task.folder):
            answers[parcel.key] = kept_answer(task)
        else:
            waiting.append(task)
    kept = sum(answer.state is State.DONE for answer in answers.values())
    progress = Progress(len(waiting), out, tell)
    try:
        for answer in _run(waiting, crews, digests, progress):
            answers[answer.key] = answer
    except KeyboardInterrupt as stopped:
        raise InterruptedRunError(
            f"stopped; {kept + progress.done:,} of {len(parcels):,} parcels are done and kept. Call it again for the "
            "rest"
        ) from stopped
    district = District(parcels, tuple(answers[parcel.key] for parcel in parcels), kept)
    tell("Writing the answers over all")
    write_tables(region, district.parcels, district.answers, out)
    return district


def refuse_failures(district: District, out: Path) -> None:
    """Raise where some parcels failed, now that all is written."""
    if district.failed:
        first = next(answer for answer in district.answers if answer.state is State.FAILED)
        raise SomeParcelsFailedError(
            f"{district.failed:,} of {len(district.parcels):,} parcels failed, the first {first.key}: {first.reason}. "
            f"{out / 'parcels.csv'} has a line for each"
        )


def _run(tasks: list[Task], crews: Crews, digests: Digests, progress: Progress) -> Iterator[ParcelAnswer]:
    """Yield an answer for every task: side by side, then by themselves those that were too much for that."""
    answers: list[ParcelAnswer] = []
    large: list[Task] = []

    def told(task: Task, outcome: Outcome) -> None:
        if outcome.answer is None:
            large.append(task)
        else:
            answers.append(outcome.answer)
            progress.count(outcome.answer.state is State.DONE)

    if not tasks:
        return
    from sitepipe._jit import is_cold

    if is_cold():
        # By this process, so that not every worker compiles the same kernels.
        first, *tasks = tasks
        told(first, work(first, cells_beside_others(float("inf"))))
    with crews.usual(digests) as crew:
        killed = crew.feed(tasks, crew.hands, told)
    yield from answers
    again, large = [*killed, *large], []
    answers.clear()
    if again:
        with crews.alone(digests) as crew:
            killed = crew.feed(again, 1, told)
        lost = [(task, KILLED) for task in killed] + [(task, TOO_LARGE) for task in large]
        for task, reason in lost:
            progress.count(False)
            answers.append(ParcelAnswer(task.key, State.FAILED, reason))
    yield from answers


def _digests(region: Region, out: Path) -> Digests:
    """Return the digests of all heights; those that have not changed since the last call are not read again."""
    path = out / DIGESTS_FILE
    try:
        known = {tuple(stamp): digest for *stamp, digest in json.loads(path.read_text(encoding="utf-8"))}
    except (OSError, ValueError, TypeError):
        known = {}
    stamps = [stamp_of(raster.path) for raster in region.rasters]
    DIGESTS.update({stamp: known[stamp] for stamp in stamps if stamp in known})
    digests = {stamp: digest_of(Path(stamp[0])) for stamp in stamps}
    path.write_text(json.dumps([[*stamp, digest] for stamp, digest in digests.items()]), encoding="utf-8")
    return digests
